//! Threads that break down in the middle of a job, and windows that close in the middle of one.

use std::path::{Path, PathBuf};
use std::time::Duration;

use super::*;
use crate::app::message::{BesideEvent, Edit, PictureEvent, SessionEvent};
use crate::app::notebook::{Answer, Ask};
use crate::domain::{Club, FrameIndex, ImagePoint};
use crate::report::page::Paper;
use crate::store::{Library, RecordingId, SwingId};
use crate::workflow::send::{Form, Order};
use crate::workflow::{CoachSays, Progress, golfer_named, read_in, session_on};

const LONG: Duration = Duration::from_secs(60);

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-frames").join(name)
}

/// A library with one recording of one swing, and its threads.
struct Room {
    worker: Worker,
    options: Options,
    recording: RecordingId,
    swing: SwingId,
    session: SessionId,
    folder: tempfile::TempDir,
}

impl Room {
    fn open() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("library.scuffline");
        let mut library = Library::open(&path).unwrap();
        let golfer = golfer_named(&mut library, Some("Robin Invented")).unwrap();
        let session = session_on(&mut library, golfer, jiff::civil::date(2026, 5, 14)).unwrap();
        let clip = folder.path().join("swing.mp4");
        std::fs::copy(sample("iron_turf_sheet.mp4"), &clip).unwrap();
        let mut file = crate::video::Recording::open(&clip).unwrap();
        let progress = &mut Progress::silent();
        let recording = read_in(&mut library, session, &mut file, None, progress).unwrap();
        let swing = library.swings(crate::store::Of::Recording(recording)).unwrap()[0].id;
        drop(library);
        let options = Options { library: Some(path), files: Vec::new(), sample: false };
        let worker = Worker::start(&options, || {});
        let mut room = Self { worker, options, recording, swing, session, folder };
        room.worker.send(Job::LoadSession(session));
        room.until("the session", |event| {
            matches!(event, Event::Session(SessionEvent::Session { .. }))
        });
        room
    }

    fn library(&self) -> Library {
        Library::open(self.options.place().unwrap()).unwrap()
    }

    /// Waits for an event; all that come before it are passed over.
    fn until(&mut self, what: &str, is_it: impl Fn(&Event) -> bool) -> Event {
        loop {
            let event = self.worker.wait(LONG).unwrap_or_else(|| panic!("waited in vain: {what}"));
            if is_it(&event) {
                return event;
            }
        }
    }

    fn open_recording(&mut self, generation: u64) {
        self.worker.send(Job::OpenRecording { recording: self.recording, generation });
        self.until("the recording", |e| matches!(e, Event::Picture(PictureEvent::Opened { .. })));
    }

    fn club(&mut self, number: u64) {
        let edit = Edit::Club { swing: self.swing, club: Club(format!("iron {number}")) };
        self.worker.send(Job::Edit { edit, number });
    }

    /// Nothing but the library, its journal, its logs and the kept frames lies in the folder.
    fn names(&self) -> Vec<String> {
        names(self.folder.path())
    }
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap().flatten();
    let mut names: Vec<String> =
        entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

fn is_told(text: &str) -> bool {
    text.starts_with("Something went wrong inside the program")
}

#[test]
fn a_library_that_breaks_down_in_an_edit_goes_on_with_the_next() {
    let mut room = Room::open();
    room.open_recording(1);
    room.club(1);
    room.until("the first edit", |e| {
        matches!(e, Event::Session(SessionEvent::Session { edit: 1, .. }))
    });
    // In the middle: the edit is kept, its session not told yet.
    room.worker
        .report
        .break_at(|event| matches!(event, Event::Session(SessionEvent::Session { .. })));
    room.club(2);
    let told = |e: &Event| matches!(e, Event::JobFailed(text) if is_told(text));
    room.until("that it broke down", told);
    // As the window does then.
    let session = room.session;
    room.worker.send(Job::LoadSession(session));
    let event =
        room.until("what is kept", |e| matches!(e, Event::Session(SessionEvent::Session { .. })));
    let Event::Session(SessionEvent::Session { swings, edit, .. }) = event else { unreachable!() };
    assert_eq!((edit, swings[0].club.clone()), (2, Some(Club("iron 2".into()))));
    room.club(3);
    let event = room.until("the next edit", |e| {
        matches!(e, Event::Session(SessionEvent::Session { edit: 3, .. }))
    });
    let Event::Session(SessionEvent::Session { swings, .. }) = event else { unreachable!() };
    assert_eq!(swings[0].club, Some(Club("iron 3".into())));
    // The recording in the picture is still the one that edits tell of.
    let recording = room.recording;
    room.until(
        "its set-up",
        |e| matches!(e, Event::Picture(PictureEvent::Setup { recording: of, edit: 3, .. }) if *of == recording),
    );
    room.worker.send(Job::Undo { number: 4 });
    room.until("undone", |e| matches!(e, Event::Session(SessionEvent::Session { edit: 4, .. })));
    assert!(room.library().check().unwrap().is_sound());
}

#[test]
fn an_opening_that_breaks_down_is_told_and_the_next_one_opens() {
    let mut room = Room::open();
    room.worker
        .report
        .break_at(|event| matches!(event, Event::Picture(PictureEvent::Setup { .. })));
    room.worker.send(Job::OpenRecording { recording: room.recording, generation: 1 });
    room.until(
        "that it broke down",
        |e| matches!(e, Event::Picture(PictureEvent::NotOpened { generation: 1, sentence }) if is_told(sentence)),
    );
    room.worker
        .report
        .break_at(|event| matches!(event, Event::Picture(PictureEvent::Opened { .. })));
    room.worker.send(Job::OpenRecording { recording: room.recording, generation: 2 });
    room.until(
        "that it broke down",
        |e| matches!(e, Event::Picture(PictureEvent::NotOpened { generation: 2, sentence }) if is_told(sentence)),
    );
    room.open_recording(3);
    // One that is no longer in the library is no endless opening either.
    room.worker.send(Job::OpenRecording { recording: RecordingId(99), generation: 4 });
    room.until("that it is gone", |e| {
        matches!(e, Event::Picture(PictureEvent::NotOpened { generation: 4, .. }))
    });
}

#[test]
fn a_picture_that_breaks_down_leaves_the_recording_open() {
    let mut room = Room::open();
    room.open_recording(1);
    room.worker
        .report
        .break_at(|event| matches!(event, Event::Picture(PictureEvent::Frame { .. })));
    let ask = |room: &mut Room, number: usize| {
        room.worker.send(Job::Frame { frame: FrameIndex(number), generation: 1 });
    };
    ask(&mut room, 20);
    room.until("that it broke down", |e| {
        matches!(e, Event::Picture(PictureEvent::NoFrame { frame: FrameIndex(20), sentence, .. }) if is_told(sentence))
    });
    ask(&mut room, 20);
    room.until("the same frame", |e| {
        matches!(e, Event::Picture(PictureEvent::Frame { frame: FrameIndex(20), .. }))
    });
    // In the background, too: the ground is followed again after that.
    room.worker
        .report
        .break_at(|event| matches!(event, Event::Picture(PictureEvent::Moved { .. })));
    ask(&mut room, 21);
    room.until("that it broke down", |e| match e {
        Event::Notice(text) | Event::Picture(PictureEvent::NoFrame { sentence: text, .. }) => {
            is_told(text)
        }
        _ => false,
    });
    ask(&mut room, 22);
    room.until("the next frame", |e| {
        matches!(e, Event::Picture(PictureEvent::Frame { frame: FrameIndex(22), .. }))
    });
}

#[test]
fn small_pictures_and_the_other_swing_outlive_a_break_down() {
    let mut room = Room::open();
    room.open_recording(1);
    room.worker.report.break_at(|event| matches!(event, Event::Picture(PictureEvent::Film { .. })));
    let frames = vec![FrameIndex(0), FrameIndex(30)];
    room.worker.send(Job::Film { frames, within: 0, generation: 1 });
    room.until("that it broke down", |e| matches!(e, Event::Notice(text) if is_told(text)));
    room.until("the others", |e| {
        matches!(e, Event::Picture(PictureEvent::Film { frame: FrameIndex(30), .. }))
    });

    let (recording, path) = (room.recording, room.folder.path().join("swing.mp4"));
    let open = |generation| SecondJob::Open { recording, path: path.clone(), generation };
    let frame = |generation| SecondJob::Frame { frame: FrameIndex(5), generation };
    room.worker.send(Job::Second(open(1)));
    room.until("the other swing", |e| matches!(e, Event::Beside(BesideEvent::Opened { .. })));
    room.worker.report.break_at(|event| matches!(event, Event::Beside(BesideEvent::Frame { .. })));
    room.worker.send(Job::Second(frame(1)));
    room.until(
        "that it broke down",
        |e| matches!(e, Event::Beside(BesideEvent::Trouble { generation: 1, sentence }) if is_told(sentence)),
    );
    room.worker.send(Job::Second(open(2)));
    room.until("the other swing", |e| {
        matches!(e, Event::Beside(BesideEvent::Opened { generation: 2, .. }))
    });
    room.worker.send(Job::Second(frame(2)));
    room.until("its frame", |e| {
        matches!(e, Event::Beside(BesideEvent::Frame { generation: 2, .. }))
    });
    let about = (ImagePoint::new(600.0, 600.0), 200.0);
    let (swing, frame) = (room.swing, FrameIndex(3));
    let glance = SecondJob::Glance { swing, recording, path, frame, about };
    room.worker.send(Job::Second(glance));
    room.until("a small look", |e| matches!(e, Event::Picture(PictureEvent::Glanced { .. })));
}

#[test]
fn reading_in_and_the_notebook_outlive_a_break_down() {
    let mut room = Room::open();
    let session = room.session;
    room.worker.report.break_at(|e| matches!(e, Event::Answer(_)));
    room.worker.send(Job::Ask(Ask::Swings(session)));
    room.until("that it broke down", |e| matches!(e, Event::Notice(text) if is_told(text)));
    room.worker.send(Job::Ask(Ask::Swings(session)));
    room.until("the list", |e| matches!(e, Event::Answer(Answer::Swings(..))));

    let path = sample("iron_mat_stick.mp4");
    let import = Job::Import { path: path.clone(), session: Some(session) };
    room.worker.report.break_at(|event| matches!(event, Event::File(FileEvent::Importing { .. })));
    room.worker.send(import.clone());
    room.until("that it broke down", |e| match e {
        Event::File(FileEvent::NotImported { path: of, sentence: Some(sentence) }) => {
            *of == path && is_told(sentence)
        }
        _ => false,
    });
    assert_eq!(room.library().recordings(session).unwrap().len(), 1, "nothing of it is kept");
    room.worker.send(import);
    room.until("the recording", |e| matches!(e, Event::File(FileEvent::Imported { .. })));
    assert_eq!(room.library().recordings(session).unwrap().len(), 2);
}

/// What is in the library, as far as it matters here.
fn standing(library: &Library) -> (usize, usize, usize) {
    assert!(library.check().unwrap().is_sound());
    let contents = library.contents().unwrap();
    (contents.golfers, contents.recordings, contents.swings)
}

#[test]
fn a_window_closed_while_it_reads_a_recording_in_has_all_of_it_or_nothing() {
    for shown in ["Opening", "Looking", "Saving"] {
        let mut room = Room::open();
        let before = standing(&room.library());
        let path = sample("iron_mat_stick.mp4");
        room.worker.send(Job::Import { path, session: Some(room.session) });
        room.until("it began", |e| match e {
            Event::File(FileEvent::Importing { doing, .. }) => {
                doing.starts_with(shown) || shown == "Looking"
            }
            Event::File(FileEvent::Imported { .. }) => true,
            _ => false,
        });
        room.club(1);
        let Room { worker, options, folder, swing, .. } = room;
        drop(worker);
        let library = Library::open(options.place().unwrap()).unwrap();
        let after = standing(&library);
        assert!(after == before || after == (before.0, before.1 + 1, before.2 + 1), "{after:?}");
        assert_eq!(library.swing(swing).unwrap().club, Some(Club("iron 1".into())));
        assert!(!names(folder.path()).iter().any(|name| name.ends_with(".part")));
    }
}

#[test]
fn a_window_closed_while_it_writes_a_file_leaves_the_whole_of_it_or_nothing() {
    for form in [Form::Clip, Form::Bundle, Form::Page] {
        let mut room = Room::open();
        let library = room.library();
        let golfer = library.golfers().unwrap()[0].0;
        let file = room.folder.path().join(format!("out.{}", form.ending()));
        let order = Order {
            form,
            golfer,
            session: room.session,
            says: CoachSays::default(),
            paper: Paper::A4,
            swings: Vec::new(),
            recordings: true,
        };
        room.worker.send(Job::Send { order: Box::new(order), path: Some(file.clone()) });
        room.until("it began", |e| matches!(e, Event::Answer(_)));
        let before = room.names();
        let Room { worker, folder, .. } = room;
        drop(worker);
        let left = names(folder.path());
        assert!(!left.iter().any(|name| name.ends_with(".part")), "{before:?} {left:?}");
        if let Ok(bytes) = std::fs::read(&file) {
            assert!(bytes.len() > 500, "{form:?}: it was finished before");
        }
        drop(library);
    }
}

#[test]
fn a_window_closed_while_frames_are_kept_leaves_none_half_written() {
    let mut room = Room::open();
    room.open_recording(1);
    let frames = room.library().kept_frames_folder();
    let end = std::time::Instant::now() + LONG;
    let has_begun = || frames.is_dir() && names(&frames).iter().any(|n| n.ends_with(".part"));
    // Kept already is as good.
    let is_kept = || frames.is_dir() && names(&frames).iter().any(|n| n.ends_with(".json"));
    while !has_begun() && !is_kept() && std::time::Instant::now() < end {
        while room.worker.poll().is_some() {}
        std::thread::sleep(Duration::from_millis(1));
    }
    assert!(has_begun() || is_kept());
    let Room { worker, folder: _folder, .. } = room;
    drop(worker);
    assert!(!has_begun(), "{:?}", names(&frames));
}

#[test]
fn leftovers_of_a_window_that_was_killed_go_at_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("library.scuffline");
    let frames = Library::open(&path).unwrap().kept_frames_folder();
    std::fs::create_dir(&frames).unwrap();
    std::fs::write(frames.join("a.4711-0.part"), [0; 1000]).unwrap();
    let options = Options { library: Some(path), files: Vec::new(), sample: false };
    let mut worker = Worker::start(&options, || {});
    worker.send(Job::Load);
    assert!(worker.wait(LONG).is_some());
    assert_eq!(names(&frames), ["writing"]);
}

#[test]
fn a_window_closed_while_a_golfer_is_erased_or_taken_in_has_done_it_or_not() {
    let room = Room::open();
    let library = room.library();
    let golfer = library.golfers().unwrap()[0].0;
    let bundle = room.folder.path().join("robin.zip");
    let progress = &mut Progress::silent();
    crate::workflow::bundle::write_bundle(&library, golfer, &bundle, true, progress).unwrap();
    let Room { mut worker, options, folder, .. } = room;
    let edit = Edit::Plan(crate::app::notebook::PlanEdit::Erase(golfer, true));
    worker.send(Job::Edit { edit, number: 1 });
    drop(worker);
    // Asked before the window closed: it is done to its end.
    assert_eq!(standing(&library), (0, 0, 0));
    assert!(!folder.path().join("swing.mp4").exists());

    let mut worker = Worker::start(&options, || {});
    worker.send(Job::Bundle { path: Some(bundle), take: true });
    drop(worker);
    let after = standing(&library);
    let taken = folder.path().join("recordings");
    let files = if taken.is_dir() { names(&taken) } else { Vec::new() };
    match after {
        (0, 0, 0) => assert!(files.is_empty(), "{files:?}"),
        (1, 1, 1) => assert_eq!(files.len(), 1, "{files:?}"),
        half => panic!("half of it: {half:?}"),
    }
}

#[test]
fn the_samples_recordings_are_told_of_at_once_and_can_be_stopped() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("library.scuffline");
    let options = Options { library: Some(path.clone()), files: Vec::new(), sample: true };
    let mut worker = Worker::start(&options, || {});
    let (mut told, mut over) = (Vec::new(), Vec::new());
    while told.is_empty() || over.len() < told.len() {
        match worker.wait(LONG).expect("it goes on") {
            Event::File(FileEvent::Importing { path, .. }) if !told.contains(&path) => {
                worker.send(Job::CancelImport(path.clone()));
                told.push(path);
            }
            Event::File(FileEvent::NotImported { path, sentence }) => {
                assert_eq!(sentence, None, "a stop is silence");
                over.push(path);
            }
            Event::File(FileEvent::Imported { path, .. }) => panic!("{} was read", path.display()),
            _ => {}
        }
    }
    drop(worker);
    assert!(told.iter().all(|path| over.contains(path)));
    assert!(Library::open(&path).unwrap().contents().unwrap().recordings == 0);
}

#[test]
fn another_swing_beside_ends_the_opening_of_the_one_before() {
    let mut room = Room::open();
    let (recording, path) = (room.recording, room.folder.path().join("swing.mp4"));
    let open = SecondJob::Open { recording, path, generation: 2 };
    room.worker.send(Job::Second(open));
    // The one before had not had its turn yet.
    assert!(room.worker.halts.beside.begin(1).is_cancelled());
    room.until("the other swing", |e| {
        matches!(e, Event::Beside(BesideEvent::Opened { generation: 2, .. }))
    });
    room.worker.send(Job::BeforeAfter { swing: room.swing, request: 2, generation: 1 });
    assert!(room.worker.halts.comparing.begin(1).is_cancelled());
    room.worker.send(Job::OpenRecording { recording, generation: 2 });
    assert!(room.worker.halts.opening.begin(1).is_cancelled());
}
