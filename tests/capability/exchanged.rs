//! Another file lies where a recording of the library was: it is told, nothing is measured on it,
//! and nothing is done to it.

use std::path::{Path, PathBuf};

use egui_kittest::Harness;
use scuffline::app::{BesideMessage, Message, Options, Page, ScreenMessage, SwingMessage};
use scuffline::domain::{FrameIndex, ImagePoint, Mark, MarkKind, PlacedMark};
use scuffline::store::{GolferId, Library, Of, RecordingRow, Scope};
use scuffline::workflow::{Progress, erase, evaluate_kept, golfer_named, read_in, session_on};

use crate::support::window::{Driven, drive, model, until};
use crate::support::{sample, scuffline};

const ANOTHER: &str = "Another file lies where this recording was";

/// A library with one recording, and another file of the same name in its place.
struct Exchanged {
    folder: tempfile::TempDir,
    library: PathBuf,
    golfer: GolferId,
    row: RecordingRow,
}

impl Exchanged {
    fn make() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let clip = folder.path().join("swing.mp4");
        std::fs::copy(sample("iron_turf_sheet.mp4"), &clip).unwrap();
        let library_path = folder.path().join("library.scuffline");
        let mut library = Library::open(&library_path).unwrap();
        let golfer = golfer_named(&mut library, Some("Robin Invented")).unwrap();
        let session = session_on(&mut library, golfer, jiff::civil::date(2026, 5, 14)).unwrap();
        let setup = std::fs::read_to_string(sample("iron_turf_sheet.setup.json")).unwrap();
        let setup = scuffline::cli::measure::setup_file::parse_setup(&setup).unwrap();
        let mut recording = scuffline::video::Recording::open(&clip).unwrap();
        let progress = &mut Progress::silent();
        let id = read_in(&mut library, session, &mut recording, Some(&setup), progress).unwrap();
        let row = library.recording(id).unwrap();
        std::fs::copy(sample("iron_mat_stick.mp4"), &clip).unwrap();
        Self { folder, library: library_path, golfer, row }
    }

    fn bring_back(&self) {
        std::fs::copy(sample("iron_turf_sheet.mp4"), &self.row.path).unwrap();
    }

    fn open_window(&self) -> Driven {
        let library = Some(self.library.clone());
        drive(Harness::builder(), Options { library, files: Vec::new(), sample: false })
    }
}

fn names(folder: &Path) -> usize {
    std::fs::read_dir(folder).unwrap().count()
}

#[test]
fn the_window_says_so_and_shows_nothing_of_it() {
    let exchanged = Exchanged::make();
    let mut driven = exchanged.open_window();
    let trouble = |m: &scuffline::app::Model| {
        m.open.as_ref().and_then(|open| open.trouble.clone()).is_some_and(|t| t.contains(ANOTHER))
    };
    until(&mut driven, "the trouble to be told", trouble);
    let open = model(&driven).open.as_ref().unwrap();
    assert!(open.timeline.is_none() && open.shown.is_none());
    // Nor beside another one.
    let swing = model(&driven).current.unwrap();
    let window = driven.state_mut().as_mut().unwrap();
    window.handle(Message::from(ScreenMessage::Show(Page::Beside)));
    until(&mut driven, "the swings to choose from", |m| m.beside.choice.is_some());
    driven.state_mut().as_mut().unwrap().handle(BesideMessage::Choose(swing));
    let told = |m: &scuffline::app::Model| {
        m.beside.trouble.as_ref().is_some_and(|trouble| trouble.contains(ANOTHER))
    };
    until(&mut driven, "the trouble of the other", told);
    drop(driven);
    // The recording back in its place, all is as it was.
    exchanged.bring_back();
    let mut driven = exchanged.open_window();
    until(&mut driven, "the recording", |m| m.open.as_ref().is_some_and(|o| o.shown.is_some()));
    driven.state_mut().as_mut().unwrap().handle(SwingMessage::Glance(swing));
    until(&mut driven, "a look at its ground", |m| {
        m.glances.get(&swing).is_some_and(|glance| glance.picture.is_some())
    });
}

#[test]
fn nothing_is_measured_on_it_or_drawn_from_it() {
    let exchanged = Exchanged::make();
    let mut library = Library::open(&exchanged.library).unwrap();
    let id = exchanged.row.id;
    let before = evaluate_kept(&library, id).unwrap().expect("numbers of what was read in");
    // A mark in a frame of its own, which only the recording's own pictures can steady.
    let swing = library.swings(Of::Recording(id)).unwrap().remove(0);
    let mark = Mark::read_in(ImagePoint::new(652.0, 602.0), Some(FrameIndex(40)));
    let placed = PlacedMark::by_person(MarkKind::DivotStart, mark);
    library
        .edit(Scope::Session(swing.session), "start", |e| e.set_mark(id, Some(swing.id), &placed))
        .unwrap();
    let error = evaluate_kept(&library, id).expect_err("nothing is measured on it").to_string();
    assert!(error.contains(ANOTHER), "{error}");
    let picture = exchanged.folder.path().join("out.png");
    let output = scuffline([
        "--library".as_ref(),
        exchanged.library.as_os_str(),
        "export".as_ref(),
        picture.as_os_str(),
        "--consent".as_ref(),
        "Robin Invented".as_ref(),
    ]);
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(!output.status.success() && told.contains(ANOTHER), "{told}");
    assert!(!picture.exists());
    exchanged.bring_back();
    let after = evaluate_kept(&library, id).unwrap().expect("numbers again");
    assert_eq!(after.swings.len(), before.swings.len());
}

#[test]
fn a_golfer_erased_with_the_recordings_takes_no_file_of_another_content_along() {
    let exchanged = Exchanged::make();
    let mut library = Library::open(&exchanged.library).unwrap();
    let there = names(exchanged.folder.path());
    let done = erase(&mut library, exchanged.golfer, true).unwrap();
    assert!(done.recordings.is_empty(), "{done:?}");
    assert!(exchanged.row.path.exists());
    assert!(names(exchanged.folder.path()) >= there - 2, "only the journal may be gone");
}
