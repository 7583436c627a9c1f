//! Film that shows a strike otherwise than usual: slowed down without a note of it, or from so near
//! that little of the club is seen; and told apart from film that shows none.

use std::path::Path;
use std::process::Command;

use scuffline::domain::{Pictures, Reviewable, Setup, SwingKind, Warning};
use scuffline::store::{Library, Of, RecordingId, SessionId};
use scuffline::video::CancelToken;
use scuffline::workflow::{Measurement, Progress, evaluate_kept, measure_file, reopen};

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
    let (mut library, id) =
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
    let recording = reopen(&mut library, &row, CancelToken::new()).expect("still there");
    assert_eq!(recording.timeline().slow_factor, 8.0);
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

/// Part of a sample, 480 by 270 pixels, as a picture of 1280 by 720.
fn near(folder: &Path, name: &str, [left, top]: [u32; 2], more: &[&str]) -> Measurement {
    let clip = folder.join("near.mp4");
    let cut = format!("crop=480:270:{left}:{top},scale=1280:720");
    let done = Command::new("ffmpeg")
        .args(["-v", "error", "-y", "-nostdin", "-i"])
        .arg(sample(&format!("{name}.mp4")))
        .args(["-vf", &cut, "-c:v", "libx264", "-preset", "ultrafast", "-crf", "18"])
        .args(more)
        .arg(&clip)
        .status()
        .expect("ffmpeg is in the list of packages");
    assert!(done.success());
    measure_file(&clip, &Setup::default(), &mut Progress::silent()).expect("a recording")
}

#[test]
fn a_ball_that_leaves_is_a_strike_where_the_club_is_cut_off() {
    let folder = tempfile::tempdir().expect("a temporary folder can be made");
    // The ball, 53 pixels wide then, lies at (660.2, 592.0) of the whole picture.
    let at = [420, 424];
    let centre = [640.5, 448.0];
    let measured = near(folder.path(), "iron_turf_sheet", at, &["-c:a", "copy"]);
    let [swing] = &measured.swings[..] else { panic!("{} swings", measured.swings.len()) };
    assert_eq!(swing.strike_frame.map(|frame| frame.0), Some(186));
    assert_eq!(swing.kind, SwingKind::Strike);
    assert!(swing.warnings.contains(&Warning::ClubUnseen));
    assert!(!swing.needs_review.contains(&Reviewable::Swing), "its click is heard");
    let ball = swing.ball.expect("a ball");
    assert!((ball.x - centre[0]).hypot(ball.y - centre[1]) < 5.0, "{ball:?}");
    let start = swing.divot_start_offset.as_ref().expect("a start");
    assert!((start.value + 18.0).abs() < 2.0 * start.standard_uncertainty(), "{start:?}");
    // Without its click a person is asked.
    let silent = near(folder.path(), "iron_turf_sheet", at, &["-an"]);
    assert!(silent.swings[0].needs_review.contains(&Reviewable::Swing));
    // Until shortly before the strike nothing has left.
    let before = near(folder.path(), "iron_turf_sheet", at, &["-an", "-t", "1.45"]);
    assert_eq!(before.swings.len(), 0);
}
