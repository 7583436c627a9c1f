//! Film slowed down without a note of it: told apart from film that shows no swing.

use std::path::Path;

use scuffline::domain::{Reviewable, SwingKind, Warning};
use scuffline::store::{Library, Of, RecordingId, SessionId};
use scuffline::video::CancelToken;
use scuffline::workflow::{evaluate_kept, reopen};

use crate::support::numbered::rewrap;
use crate::support::{sample, scuffline};

fn scan(folder: &Path, library: &Path, before: &str) -> (Library, RecordingId) {
    let original = folder.join("original.mp4");
    std::fs::copy(sample("iron_turf_sheet.mp4"), &original).expect("room for a copy");
    let clip = rewrap(&original, "slowed.mp4", before, "-an");
    let output =
        scuffline(["scan".as_ref(), clip.as_os_str(), "--library".as_ref(), library.as_ref()]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let library = Library::open(library).expect("a library was made");
    let rows = library.recordings(SessionId(1)).expect("its session");
    let id = rows.last().expect("its recording").id;
    (library, id)
}

#[test]
fn a_strike_in_film_slowed_down_without_a_note_is_found_and_put_before_a_person() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    let (library, id) =
        scan(folder.path(), &folder.path().join("lessons.scuffline"), "-itsscale 8");
    let swings = library.swings(Of::Recording(id)).expect("its swings");
    let [swing] = &swings[..] else { panic!("{} swings", swings.len()) };
    let found = swing.found.as_ref().expect("found");
    assert_eq!((found.kind.value, found.strike_frame.0), (SwingKind::Strike, 186));
    let evaluation = evaluate_kept(&library, id).expect("readable").expect("was read");
    assert!(evaluation.warnings.contains(&Warning::SlowMotionGuessed { factor: 8.0 }));
    let result = &evaluation.swings[0];
    for what in [Reviewable::Swing, Reviewable::Strike] {
        assert!(result.needs_review.contains(&what), "{:?}", result.needs_review);
    }
    // The ball is the only ruler here; the truth is 18 mm behind.
    let start = result.divot_start_offset.as_ref().expect("a start");
    assert!((start.value + 18.0).abs() < 2.0 * start.standard_uncertainty(), "{start:?}");
    // Looked at again it plays as it was taken to.
    let row = library.recording(id).expect("its row");
    let mut library = library;
    let recording = reopen(&mut library, &row, CancelToken::new()).expect("still there");
    assert_eq!(scuffline::domain::Pictures::timeline(&recording).slow_factor, 8.0);
}

#[test]
fn slowed_film_without_a_strike_shows_no_swing() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    // Address, takeaway and the way down until just before the ball.
    let before = "-itsscale 8 -t 12";
    let (library, id) = scan(folder.path(), &folder.path().join("lessons.scuffline"), before);
    assert_eq!(library.swings(Of::Recording(id)).expect("readable").len(), 0);
    let evaluation = evaluate_kept(&library, id).expect("readable").expect("was read");
    let guessed = |w: &Warning| matches!(w, Warning::SlowMotionGuessed { .. });
    assert!(!evaluation.warnings.iter().any(guessed));
}
