//! Keeping what was measured: nothing lost, everything undoable.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use scuffline::domain::{
    Block, Club, ContactOrder, Contribution, FrameEntry, FrameIndex, Golfer, GroundMark, Handed,
    ImagePoint, Interval, LowPointMethod, Mark, MarkKind, Measured, Millimetres, Part, Phase,
    Pixels, PlacedBy, PlacedMark, Pts, Quantity, Reference, ReferenceKind, Register, Reviewable,
    Seconds, Session, Setup, Source, SwingKind, SwingResult, TimeBase, Timeline, Warning,
};
use scuffline::store::{
    AimWindowRow, FileIdentity, KeptIndex, Library, NewRecording, NewSwing, Of, RecordingId,
    SCHEMA_VERSION, Scope, SessionId, StoreError, SwingId, TapeCheck, identify_file,
};

fn library_in(folder: &Path) -> Library {
    Library::open(folder.join("test.scuffline")).expect("a fresh library opens")
}

pub fn golfer() -> Golfer {
    Golfer {
        name: "Robin Example (invented)".into(),
        handed: Handed::Left,
        notes: "likes \"quotes\", ünïcode and\nnew lines".into(),
        invented: true,
        ..Golfer::default()
    }
}

pub fn session() -> Session {
    Session {
        place: "Invented Range, bay 4".into(),
        cue: "brush the reach line".into(),
        ..Session::on(jiff::civil::date(2026, 5, 17))
    }
}

pub fn recording(name: &str) -> NewRecording {
    let identity = FileIdentity { size_bytes: 123_456, quick_hash: format!("hash of {name}") };
    NewRecording { path: PathBuf::from(format!("/range/{name}.mp4")), identity }
}

fn setup() -> Setup {
    Setup {
        club: Some(Club("7-iron".into())),
        references: vec![Reference {
            kind: ReferenceKind::Line {
                length: Millimetres(1219.2),
                ends: [ImagePoint::new(354.1, 627.1), ImagePoint::new(962.1, 631.0)],
            },
            height: Millimetres(8.0),
            along_target: true,
            frame: Some(FrameIndex(3)),
            point_sigma: None,
        }],
        ..Setup::default()
    }
}

#[test]
fn a_library_that_is_only_looked_at_stays_as_it_is() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("50 % of #3?.scuffline");
    let names = || {
        let entries = std::fs::read_dir(folder.path()).expect("folder").flatten();
        let mut names: Vec<_> = entries.map(|entry| entry.file_name()).collect();
        names.sort();
        names
    };
    let glance = || Library::glance_at_setting(&path, "unit");
    assert_eq!((glance(), names().len()), (None, 0), "none is made");
    let mut library = Library::open(&path).expect("library");
    library.save(|edit| edit.set_setting("unit", "cm")).expect("saved");
    // While somebody has it open, with its newest change still in the log.
    assert_eq!(glance().as_deref(), Some("cm"));
    drop(library);
    let (before, bytes) = (names(), std::fs::read(&path).expect("file"));
    assert_eq!(glance().as_deref(), Some("cm"));
    assert_eq!((names(), std::fs::read(&path).expect("file")), (before, bytes));
    std::fs::write(&path, "no library").expect("written");
    assert_eq!(glance(), None);
}

pub fn result(value: f64) -> SwingResult {
    let measured = |v: f64| Measured {
        value: v,
        budget: vec![
            Contribution::new(Source::Mark, 1.5),
            Contribution { source: Source::Calibration(0), standard: -0.8, freedom: Some(7.0) },
        ],
        monte_carlo: Some(Interval { low: v - 3.4, high: v + 3.3 }),
        warnings: vec![Warning::CameraYaw { degrees: 3.1 }],
    };
    SwingResult {
        kind: SwingKind::Strike,
        strike_time: Some(Seconds(1.5513)),
        strike_frame: Some(FrameIndex(186)),
        ball: Some(ImagePoint::new(660.2, 592.0)),
        divot_start: Some(ImagePoint::new(651.6, 601.7)),
        divot_end: None,
        ground_mark: Some(GroundMark::Divot),
        divot_start_offset: Some(measured(value)),
        divot_end_offset: Some(measured(value + 0.1 + 0.2)),
        low_point: Some((measured(85.0), LowPointMethod::ArcAndMark)),
        attack_angle: Some(measured(-2.7)),
        height_at_ball: None,
        arc_radius: None,
        arc_plane: None,
        predicted_contact: None,
        ball_position: None,
        from_trail_heel: None,
        reach_line: None,
        contact_order: Some(ContactOrder::TurfFirst),
        needs_review: vec![Reviewable::DivotEnd],
        warnings: vec![Warning::SurfaceAssumed],
    }
}

fn mark(kind: MarkKind, x: f64, y: f64) -> PlacedMark {
    PlacedMark::by_person(kind, Mark::steadied(ImagePoint::new(x, y)))
}

/// A golfer, a session, a recording and a swing.
fn one_swing(library: &mut Library) -> (SessionId, RecordingId, SwingId) {
    library
        .save(|edit| {
            let golfer = edit.add_golfer(&golfer())?;
            let session = edit.add_session(golfer, &session())?;
            let recording = edit.add_recording(session, &recording("one"))?;
            let new = NewSwing::on(recording, SwingKind::Strike, Seconds(1.55), PlacedBy::Program);
            let swing = edit.add_swing(session, &new)?;
            Ok((session, recording, swing))
        })
        .expect("a swing is added")
}

#[test]
fn everything_is_still_there_tomorrow() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session_id, recording_id, swing) = one_swing(&mut library);
    let timeline = Timeline {
        time_base: TimeBase { numerator: 1, denominator: 90_000 },
        frames: [(0, true), (375, false), (751, false)]
            .map(|(p, key)| FrameEntry { pts: Pts(p), key })
            .to_vec(),
        slow_factor: 1.0,
    };
    let block = Block { title: "before".into(), phase: Phase::Before, ..Block::default() };
    let elsewhere = Warning::ViewDiffers { from: "zero.mp4".into(), pixels: Some(8.25) };
    let register = Some(Register { frame: FrameIndex(11), sigma: Pixels(0.08) });
    let point = ImagePoint::new(0.1 + 0.2, -7.0);
    let frame_mark = Mark { point, frame: Some(FrameIndex(9)), register };
    let start = PlacedMark {
        sigma: Some(Pixels(0.7)),
        ..PlacedMark::by_person(MarkKind::DivotStart, frame_mark)
    };
    library
        .edit(Scope::Session(session_id), "all of it", |edit| {
            edit.set_facts(recording_id, &timeline, "{\"codec\":\"h264\"}")?;
            edit.set_setup(recording_id, &setup())?;
            edit.set_view_differs(recording_id, Some(&elsewhere))?;
            edit.set_mark(recording_id, Some(swing), &start)?;
            edit.set_mark(recording_id, None, &mark(MarkKind::Origin, 5.0, 6.0))?;
            let block = edit.add_block(session_id, &block)?;
            edit.put_in_block(&[swing], Some(block))?;
            edit.set_tags(swing, &["thin".into(), "toe".into()])?;
            edit.leave_out(swing, Some("somebody walked by"))?;
            edit.set_confirmed(swing, &[Reviewable::Ball])?;
            // Typed wrongly first: the later of one distance counts.
            for tape_mm in [-81.0, -18.0] {
                let check = TapeCheck { quantity: Quantity::DivotStart, tape_mm, notes: "".into() };
                edit.add_tape_check(swing, &check)?;
            }
            edit.set_result(swing, &result(-18.3))
        })
        .expect("the edit is kept");
    drop(library);

    let library = library_in(folder.path());
    let (golfer_id, read) = library.golfers().expect("golfers").remove(0);
    assert_eq!(read, golfer());
    let row = library.sessions(golfer_id).expect("sessions").remove(0);
    assert_eq!((row.session, row.recordings, row.swings), (session(), 1, 1));
    assert_eq!(library.timeline(recording_id).expect("timeline"), Some(timeline));
    let row = library.recording(recording_id).expect("recording");
    assert_eq!(row.identity, recording("one").identity);
    assert_eq!(row.view_differs, Some(elsewhere));
    assert_eq!(library.recordings_with(&row.identity).expect("by content"), vec![row]);
    let blocks = library.blocks(session_id).expect("blocks");
    assert_eq!(blocks[0].1, block);
    let row = library.swing(swing).expect("swing");
    assert_eq!(row.result, Some(result(-18.3)));
    assert!(row.result_is_current);
    assert_eq!(row.left_out.as_deref(), Some("somebody walked by"));
    assert_eq!((row.tags.len(), row.confirmed), (2, vec![Reviewable::Ball]));
    assert_eq!(row.block, Some(blocks[0].0));
    let read = library.setup(recording_id).expect("set-up");
    assert_eq!(read.references, setup().references);
    assert_eq!(read.origin, Some(Mark::steadied(ImagePoint::new(5.0, 6.0))));
    assert_eq!(read.swings[0].divot_start, Some(frame_mark));
    assert_eq!(read.swings[0].strike_time, None, "the program's time is no person's");
    assert_eq!(library.marks(recording_id, Some(swing)).expect("marks"), vec![start]);
    let tape = library.tape_checks(swing).expect("tape");
    assert_eq!(tape.iter().map(|check| check.tape_mm).collect::<Vec<_>>(), [-18.0]);
    let start = row.result.expect("a result").divot_start_offset.expect("a start");
    assert_eq!(start.value, -18.3);
    assert!((start.standard_uncertainty() - 1.7).abs() < 1e-12, "root of 1.5² + 0.8²");
    assert!(library.check().expect("a check").is_sound());
}

#[test]
fn numbers_are_out_of_date_as_soon_as_something_below_them_changes() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, recording, swing) = one_swing(&mut library);
    let scope = Scope::Session(session);
    type Change<'a> = Box<dyn FnOnce(&mut Library) -> Result<(), StoreError> + 'a>;
    let changes: Vec<(&str, Change<'_>)> = vec![
        (
            "set-up",
            Box::new(|l| l.edit(scope, "a", |e| e.set_setup(recording, &setup()).map(drop))),
        ),
        (
            "mark",
            Box::new(|l| {
                let ball = mark(MarkKind::Ball, 1.0, 2.0);
                l.edit(scope, "b", |e| e.set_mark(recording, Some(swing), &ball).map(drop))
            }),
        ),
        ("undone mark", Box::new(|l| l.undo(scope).map(drop))),
        ("redone mark", Box::new(|l| l.redo(scope).map(drop))),
        ("club", Box::new(|l| l.edit(scope, "c", |e| e.set_club(swing, Some(&Club("PW".into())))))),
        (
            "view",
            Box::new(|l| {
                let elsewhere = Warning::ViewDiffers { from: "a.mp4".into(), pixels: None };
                l.save(|e| e.set_view_differs(recording, Some(&elsewhere)))
            }),
        ),
        (
            "recording's own mark",
            Box::new(|l| {
                let heel = mark(MarkKind::LeadHeel, 1.0, 2.0);
                l.edit(scope, "d", |e| e.set_mark(recording, None, &heel).map(drop))
            }),
        ),
        ("what all stand on", Box::new(|l| l.save(|e| e.measure_all_anew()))),
    ];
    for (what, change) in changes {
        library.save(|e| e.set_result(swing, &result(1.0))).expect("a result");
        assert!(library.swings_to_measure(recording).expect("list").is_empty());
        change(&mut library).expect(what);
        assert_eq!(library.swings_to_measure(recording).expect("list"), vec![swing], "{what}");
    }
    library.save(|e| e.set_result(swing, &result(1.0))).expect("a result");
    library.edit(scope, "notes", |e| e.set_swing_notes(swing, "good one")).expect("notes");
    assert!(library.swing(swing).expect("swing").result_is_current, "notes change no number");
}

#[test]
fn steps_are_undone_and_redone_by_their_words_also_after_a_restart() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, recording, swing) = one_swing(&mut library);
    let scope = Scope::Session(session);
    for x in 0..30 {
        let start = mark(MarkKind::DivotStart, f64::from(x), 0.1);
        library
            .edit(scope, "divot start of swing 1", |e| e.set_mark(recording, Some(swing), &start))
            .expect("an edit");
    }
    let x = |library: &Library| {
        library.marks(recording, Some(swing)).expect("marks").first().map(|m| m.mark.point.x)
    };
    for expected in (0..29).rev() {
        // A restart between any two steps.
        library = library_in(folder.path());
        let words = library.undo(scope).expect("undo");
        assert_eq!(words.as_deref(), Some("divot start of swing 1"));
        assert_eq!(x(&library), Some(f64::from(expected)));
    }
    assert!(library.undo(scope).expect("undo").is_some());
    assert_eq!(x(&library), None);
    assert_eq!(library.undo(scope).expect("undo"), None);
    assert_eq!(library.undo_words(scope).expect("words"), None);
    for expected in 0..30 {
        assert!(library.redo_words(scope).expect("words").is_some());
        library.redo(scope).expect("redo");
        assert_eq!(x(&library), Some(f64::from(expected)));
    }
    assert_eq!(library.redo(scope).expect("redo"), None);
    library.undo(scope).expect("undo");
    library
        .edit(scope, "another", |e| {
            e.set_mark(recording, Some(swing), &mark(MarkKind::Ball, 1.0, 1.0))
        })
        .expect("an edit");
    assert_eq!(library.redo_words(scope).expect("words"), None, "a new step ends the redoing");
}

#[test]
fn a_step_of_the_library_comes_first_until_something_done_later_stands() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (here, _, swing) = one_swing(&mut library);
    let owner = library.session(here).expect("session").golfer;
    let seen = Some(here);
    let (own, session) = (Some(Scope::Library), Some(Scope::Session(here)));
    let note = |library: &mut Library, scope, text| {
        library.edit(scope, "notes", |e| e.set_swing_notes(swing, text)).expect("notes");
    };
    note(&mut library, Scope::Session(here), "before");
    let there = library
        .edit(Scope::Library, "another session", |e| e.add_session(owner, &session_of_today()))
        .expect("a session");
    assert_eq!(library.next_undo(seen).expect("next"), own);
    assert_eq!(library.next_undo(None).expect("next"), own);

    // Done later, here or elsewhere: the library's step waits, and takes nothing of it away.
    note(&mut library, Scope::Session(here), "after");
    assert_eq!(library.next_undo(seen).expect("next"), session);
    assert_eq!(library.next_undo(None).expect("next"), None);
    note(&mut library, Scope::Session(there), "from there");
    library.undo(Scope::Session(there)).expect("undo");
    library.undo(Scope::Session(here)).expect("undo");

    // Both ways in the order in which they were done, also after a restart.
    library = library_in(folder.path());
    for expected in [own, session] {
        assert_eq!(library.next_undo(seen).expect("next"), expected);
        library.undo(expected.expect("a scope")).expect("undo");
    }
    assert_eq!(library.sessions(owner).expect("sessions").len(), 1);
    for expected in [session, own] {
        assert_eq!(library.next_redo(seen).expect("next"), expected);
        library.redo(expected.expect("a scope")).expect("redo");
    }
    assert_eq!(library.sessions(owner).expect("sessions").len(), 2);

    // What was undone in the library before something else was done is not brought back.
    library.undo(Scope::Library).expect("undo");
    note(&mut library, Scope::Session(here), "anew");
    assert_eq!(library.next_redo(seen).expect("next"), session);
    assert_eq!(library.redo_words(Scope::Session(here)).expect("words"), None);
}

fn session_of_today() -> Session {
    Session::on(jiff::civil::date(2026, 5, 18))
}

/// Everything a person entered, in one comparable text.
fn everything(library: &Library) -> String {
    use std::fmt::Write as _;
    let mut text = String::new();
    for (golfer, g) in library.golfers().expect("golfers") {
        let windows = library.aim_windows(golfer).expect("windows");
        let _ = writeln!(text, "{golfer} {g:?} {windows:?}");
        for s in library.sessions(golfer).expect("sessions") {
            let _ = writeln!(text, "{s:?} {:?}", library.blocks(s.id).expect("blocks"));
            for r in library.recordings(s.id).expect("recordings") {
                let timeline = library.timeline(r.id).expect("timeline");
                let marks = library.marks(r.id, None).expect("marks");
                let setup = library.setup(r.id).expect("set-up");
                let _ = writeln!(text, "{r:?} {timeline:?} {marks:?} {setup:?}");
            }
            for w in library.swings(Of::Session(s.id)).expect("swings") {
                let marks = w.recording.map(|r| library.marks(r, Some(w.id)).expect("marks"));
                let tape = library.tape_checks(w.id).expect("tape");
                let w = scuffline::store::SwingRow { result: None, result_is_current: false, ..w };
                let _ = writeln!(text, "{w:?} {marks:?} {tape:?}");
            }
        }
    }
    text
}

/// One random edit; deletions with their cascades among them.
fn random_edit(library: &mut Library, scope: Scope, rng: &mut ChaCha8Rng) {
    let golfers = library.golfers().expect("golfers");
    let Some(&(golfer, _)) = golfers.first() else {
        library.edit(scope, "golfer", |e| e.add_golfer(&golfer())).expect("golfer");
        return;
    };
    let sessions = library.sessions(golfer).expect("sessions");
    let pick = |n: usize, rng: &mut ChaCha8Rng| rng.random_range(0..n);
    if sessions.is_empty() || rng.random_bool(0.05) {
        library.edit(scope, "session", |e| e.add_session(golfer, &session())).expect("session");
        return;
    }
    let s = sessions[pick(sessions.len(), rng)].id;
    let recordings = library.recordings(s).expect("recordings");
    let swings = library.swings(Of::Session(s)).expect("swings");
    let blocks = library.blocks(s).expect("blocks");
    let case = rng.random_range(0..16);
    let x: f64 = rng.random_range(-1.0e4..1.0e4);
    let r = (!recordings.is_empty()).then(|| recordings[pick(recordings.len(), rng)].id);
    let w = (!swings.is_empty()).then(|| swings[pick(swings.len(), rng)].clone());
    let b = (!blocks.is_empty()).then(|| blocks[pick(blocks.len(), rng)].0);
    let kinds = [MarkKind::Ball, MarkKind::DivotStart, MarkKind::DivotEnd];
    let kind = kinds[pick(3, rng)];
    library
        .edit(scope, "step", |e| {
            match (case, r, w) {
                (0, ..) => drop(e.add_block(s, &Block::default())?),
                (1, ..) if b.is_some() => e.remove_block(b.expect("checked"))?,
                (2, Some(r), _) if x > 5000.0 => e.remove_recording(r)?,
                (3, _, Some(w)) => e.leave_out(w.id, (x > 0.0).then_some("a test"))?,
                (4, ..) => e.update_session(s, &session())?,
                (5, Some(r), _) => drop(e.set_setup(r, &setup())?),
                (6, _, Some(w)) => e.put_in_block(&[w.id], b)?,
                (7, _, Some(w)) => e.set_strike_time(w.id, Seconds(x), PlacedBy::Person)?,
                (8, Some(r), _) => {
                    let frames = vec![FrameEntry { pts: Pts(x as i64), key: true }];
                    let time_base = TimeBase { numerator: 1, denominator: 240 };
                    e.set_facts(r, &Timeline { time_base, frames, slow_factor: 1.0 }, "{}")?;
                }
                (9, ..) => e.set_aim_window(
                    golfer,
                    &AimWindowRow {
                        club: Club("PW".into()),
                        quantity: Quantity::LowPoint,
                        low_mm: x,
                        high_mm: x + 75.0,
                    },
                )?,
                (10, Some(r), Some(w)) => e.remove_mark(r, Some(w.id), kind, Part::FIRST)?,
                (11 | 12, Some(r), _) => {
                    let new = NewSwing::on(r, SwingKind::Strike, Seconds(x), PlacedBy::Program);
                    let w = e.add_swing(s, &new)?;
                    e.set_mark(r, Some(w), &mark(kind, x, -x))?;
                }
                (13.., _, Some(w)) if w.recording.is_some() => {
                    e.set_mark(w.recording.expect("checked"), Some(w.id), &mark(kind, x, x / 3.0))?;
                }
                _ => drop(e.add_recording(s, &recording("more"))?),
            }
            Ok(())
        })
        .expect("an edit");
}

#[test]
fn any_chain_of_edits_can_be_walked_back_and_forth() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let scope = Scope::Library;
    let mut states = vec![everything(&library)];
    while states.len() < 120 {
        random_edit(&mut library, scope, &mut rng);
        let now = everything(&library);
        // A step that changed nothing is none.
        if states.last() != Some(&now) {
            states.push(now);
        }
    }
    let mut place = states.len() - 1;
    for goal in [0, 119, 60, 119] {
        while place != goal {
            let step = if goal < place { library.undo(scope) } else { library.redo(scope) };
            assert!(step.expect("a step").is_some());
            place = if goal < place { place - 1 } else { place + 1 };
            assert_eq!(everything(&library), states[place], "at {place}");
        }
    }
    assert!(library.check().expect("a check").is_sound());
}

#[test]
fn undoing_keeps_what_the_program_added_since() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, recording, swing) = one_swing(&mut library);
    let scope = Scope::Session(session);
    let start = mark(MarkKind::DivotStart, 1.0, 2.0);
    library
        .edit(scope, "divot start", |e| e.set_mark(recording, Some(swing), &start))
        .expect("an edit");
    let ball = PlacedMark {
        by: PlacedBy::Program,
        confidence: Some(0.93),
        ..mark(MarkKind::Ball, 660.2, 592.0)
    };
    library
        .save(|e| {
            e.set_mark(recording, Some(swing), &ball)?;
            e.set_result(swing, &result(4.0))
        })
        .expect("a proposal");
    library.undo(scope).expect("undo");
    assert_eq!(library.marks(recording, Some(swing)).expect("marks"), vec![ball]);
}

#[test]
fn a_step_whose_place_was_changed_elsewhere_says_so_and_blocks_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, recording, swing) = one_swing(&mut library);
    let scope = Scope::Session(session);
    let edit = |library: &mut Library, words: &str, kind, x| {
        let placed = mark(kind, x, 0.0);
        library.edit(scope, words, |e| e.set_mark(recording, Some(swing), &placed)).expect(words);
    };
    edit(&mut library, "ball", MarkKind::Ball, 1.0);
    edit(&mut library, "start", MarkKind::DivotStart, 1.0);
    edit(&mut library, "start again", MarkKind::DivotStart, 2.0);
    let moved = mark(MarkKind::DivotStart, 3.0, 0.0);
    library.save(|e| e.set_mark(recording, Some(swing), &moved)).expect("outside of any step");
    let error = library.undo(scope).expect_err("the place was changed");
    assert!(error.to_string().contains("start again"), "{error}");
    let x = library.marks(recording, Some(swing)).expect("marks")[1].mark.point.x;
    assert_eq!(x, 3.0, "nothing was overwritten");
    assert_eq!(library.undo_words(scope).expect("words").as_deref(), Some("start"));
}

#[test]
fn a_persons_mark_is_never_overwritten_by_the_program() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, recording, swing) = one_swing(&mut library);
    let person = mark(MarkKind::Ball, 1.0, 2.0);
    library
        .edit(Scope::Session(session), "ball", |e| e.set_mark(recording, Some(swing), &person))
        .expect("an edit");
    let program = PlacedMark { by: PlacedBy::Program, ..mark(MarkKind::Ball, 9.0, 9.0) };
    let placed = library.save(|e| e.set_mark(recording, Some(swing), &program)).expect("no error");
    assert_eq!(placed, None);
    assert_eq!(library.marks(recording, Some(swing)).expect("marks"), vec![person]);
}

#[test]
fn a_failing_edit_changes_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, recording, swing) = one_swing(&mut library);
    let before = everything(&library);
    let bad = mark(MarkKind::DivotEnd, f64::NAN, 0.0);
    let error = library.edit(Scope::Session(session), "two marks", |e| {
        e.set_mark(recording, Some(swing), &mark(MarkKind::Ball, 1.0, 1.0))?;
        e.set_mark(recording, Some(swing), &bad)
    });
    assert!(matches!(error, Err(StoreError::BadValue { what: "mark" })), "{error:?}");
    assert_eq!(everything(&library), before);
    assert_eq!(library.undo_words(Scope::Session(session)).expect("words"), None);
    let nan =
        SwingResult { divot_start_offset: Some(Measured::new(f64::NAN, vec![])), ..result(0.0) };
    let error = library.save(|e| e.set_result(swing, &nan));
    assert!(matches!(error, Err(StoreError::BadValue { what: "result" })), "{error:?}");
    let gone = library.save(|e| e.set_swing_notes(SwingId(999), "x"));
    assert!(matches!(gone, Err(StoreError::Missing { what: "swing" })), "{gone:?}");
}

#[test]
fn recordings_may_share_one_standing_of_the_camera() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, first, _) = one_swing(&mut library);
    let second = library.save(|e| e.add_recording(session, &recording("two"))).expect("a second");
    let calibration = library.save(|e| e.set_setup(first, &setup())).expect("set up");
    library.save(|e| e.share_setup(second, Some(calibration))).expect("shared");
    assert_eq!(library.shared_setup(second).expect("set-up"), setup());
    let corrected = Setup { on_tee: Some(true), ..setup() };
    library.save(|e| e.set_setup(second, &corrected)).expect("corrected");
    assert_eq!(library.shared_setup(first).expect("set-up"), corrected);
}

#[test]
fn two_programs_on_one_library_lose_nothing_and_see_each_other() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, ..) = one_swing(&mut library);
    assert!(!library.changed_since().expect("version"));
    let path = library.path().to_path_buf();
    let writers: Vec<_> = (0..4)
        .map(|_| {
            let path = path.clone();
            std::thread::spawn(move || {
                let mut library = Library::open(path).expect("opens beside others");
                for _ in 0..25 {
                    let block = Block::default();
                    library
                        .edit(Scope::Session(session), "block", |e| e.add_block(session, &block))
                        .expect("no stuck lock");
                }
            })
        })
        .collect();
    for writer in writers {
        writer.join().expect("a writer finishes");
    }
    assert_eq!(library.blocks(session).expect("blocks").len(), 100);
    assert!(library.changed_since().expect("version"), "the others' changes show");
    assert!(!library.changed_since().expect("version"), "once");
    for _ in 0..100 {
        assert!(library.undo(Scope::Session(session)).expect("undo").is_some());
    }
    assert!(library.blocks(session).expect("blocks").is_empty());
}

#[test]
fn programs_that_start_together_make_one_library() {
    let folder = tempfile::tempdir().expect("a folder");
    for round in 0..40 {
        let path = folder.path().join(format!("{round}/fresh.scuffline"));
        let start = std::sync::Barrier::new(4);
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| {
                    start.wait();
                    let mut library = Library::open(&path).expect("it opens");
                    library.save(|edit| edit.add_golfer(&golfer())).expect("it is written to");
                });
            }
        });
        let library = Library::open(&path).expect("it opens");
        assert_eq!(library.golfers().expect("golfers").len(), 4, "round {round}");
        assert!(library.check().expect("a check").is_sound());
    }
}

#[test]
fn a_newer_library_is_refused_with_its_version() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = library_in(folder.path()).path().to_path_buf();
    let raw = rusqlite::Connection::open(&path).expect("raw access");
    raw.pragma_update(None, "user_version", SCHEMA_VERSION + 1).expect("a newer version");
    drop(raw);
    let error = Library::open(&path).expect_err("refused").to_string();
    assert!(error.contains(&format!("version {}", SCHEMA_VERSION + 1)), "{error}");
}

/// Found by spoiled files: a version that the tables are not of led to half a schema in the
/// sentence.
#[test]
fn a_library_whose_version_was_damaged_is_called_damaged() {
    for version in [-9, 1, 2] {
        let folder = tempfile::tempdir().expect("a folder");
        let path = library_in(folder.path()).path().to_path_buf();
        let raw = rusqlite::Connection::open(&path).expect("raw access");
        raw.pragma_update(None, "user_version", version).expect("a wrong version");
        drop(raw);
        let error = Library::open(&path).expect_err("refused");
        assert!(matches!(error, StoreError::Damaged(_)), "version {version}: {error:?}");
    }
}

#[test]
fn files_that_are_no_library_are_refused_and_left_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = folder.path().join("notes.txt");
    std::fs::write(&text, "not a database, but long enough to be taken for one ".repeat(50))
        .expect("a text file");
    let before = std::fs::read(&text).expect("the text");
    let error = Library::open(&text).expect_err("refused");
    assert!(matches!(error, StoreError::NotALibrary(_)), "{error:?}");
    assert_eq!(std::fs::read(&text).expect("the text"), before);

    let other = folder.path().join("other.db");
    let raw = rusqlite::Connection::open(&other).expect("another program's database");
    raw.execute_batch("CREATE TABLE things (id INTEGER PRIMARY KEY)").expect("a table");
    drop(raw);
    let error = Library::open(&other).expect_err("refused");
    assert!(matches!(error, StoreError::NotALibrary(_)), "{error:?}");

    let nowhere = text.join("below-a-file.scuffline");
    let error = Library::open(&nowhere).expect_err("refused");
    assert!(matches!(error, StoreError::CannotOpen(_)), "{error:?}");
    assert!(matches!(Library::open(folder.path()), Err(StoreError::CannotOpen(_))));
}

#[test]
fn a_cut_or_overwritten_library_is_reported_without_a_panic() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, recording, swing) = one_swing(&mut library);
    for x in 0..50 {
        let ball = mark(MarkKind::Ball, f64::from(x), 0.0);
        library
            .edit(Scope::Session(session), "ball", |e| e.set_mark(recording, Some(swing), &ball))
            .expect("an edit");
    }
    let whole = folder.path().join("whole.scuffline");
    library.backup_to(&whole).expect("a backup");
    let bytes = std::fs::read(&whole).expect("the backup");
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let mut reported = 0;
    for round in 0..200 {
        let mut broken = bytes.clone();
        if round % 2 == 0 {
            broken.truncate(rng.random_range(1..bytes.len()));
        } else {
            for _ in 0..20 {
                let place = rng.random_range(0..bytes.len());
                broken[place] = rng.random();
            }
        }
        let path = folder.path().join(format!("broken{round}.scuffline"));
        std::fs::write(&path, &broken).expect("a broken file");
        let looked = Library::open(&path).and_then(|library| {
            let report = library.check()?;
            library.golfers()?;
            Ok(report.is_sound())
        });
        reported += usize::from(!matches!(looked, Ok(true)));
    }
    assert!(reported >= 100, "every cut file is noticed, got {reported} of 200");
}

#[test]
fn a_backup_is_a_whole_library() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    one_swing(&mut library);
    let target = folder.path().join("backup.scuffline");
    std::fs::write(&target, "an older backup").expect("an older one");
    library.backup_to(&target).expect("a backup");
    let copy = Library::open(&target).expect("the backup opens");
    assert_eq!(everything(&copy), everything(&library));
    let lost = folder.path().join("no such folder").join("backup.scuffline");
    drop(std::fs::write(folder.path().join("no such folder"), "a file in the way"));
    assert!(library.backup_to(&lost).is_err());
}

#[test]
fn a_backup_is_restored_and_what_was_there_is_kept_aside() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    one_swing(&mut library);
    let backup = folder.path().join("good.backup");
    library.backup_to(&backup).expect("a backup");
    let good = everything(&library);
    library.save(|e| e.add_golfer(&Golfer::default())).expect("another golfer");
    let later = everything(&library);

    let text = folder.path().join("notes.txt");
    std::fs::write(&text, "no library").expect("a text");
    assert!(library.restore_from(&text).is_err());
    assert!(library.restore_from(&folder.path().join("nowhere")).is_err());
    assert_eq!(everything(&library), later, "a bad backup changes nothing");

    library.restore_from(&backup).expect("restored");
    assert_eq!(everything(&library), good);
    let aside = Library::open(library.path().with_extension("before-restore.backup"));
    assert_eq!(everything(&aside.expect("kept aside")), later);
    library.edit(Scope::Library, "golfer", |e| e.add_golfer(&golfer())).expect("goes on");
    assert!(library.undo(Scope::Library).expect("undo").is_some());
    assert!(!folder.path().join("test.restoring").exists());
}

#[test]
fn moved_recordings_are_found_again_by_their_content() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let (session, gone, _) = one_swing(&mut library);
    let old = folder.path().join("clip.mp4");
    std::fs::write(&old, vec![7; 200_000]).expect("a file");
    let identity = identify_file(&old).expect("its content");
    let new = NewRecording { path: old.clone(), identity };
    let id = library.save(|e| e.add_recording(session, &new)).expect("added");
    let deep = folder.path().join("archive/may");
    std::fs::create_dir_all(&deep).expect("folders");
    // The same size, another content: told apart by reading.
    let mut other = vec![7; 200_000];
    other[100_000] = 8;
    std::fs::write(deep.join("another.mp4"), other).expect("a file");
    std::fs::rename(&old, deep.join("renamed.mp4")).expect("moved");
    assert_eq!(library.check().expect("a check").missing.len(), 2);
    let moved = library.find_moved(folder.path()).expect("a search");
    assert_eq!(moved, vec![(id, deep.join("renamed.mp4"))]);
    assert_eq!(library.recording(id).expect("the recording").path, deep.join("renamed.mp4"));
    let missing = library.check().expect("a check").missing;
    assert_eq!(missing.into_iter().map(|(id, _)| id).collect::<Vec<_>>(), vec![gone]);
}

#[test]
fn an_erased_golfer_leaves_no_trace_in_the_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    let secret = Golfer { name: "Quillon Vanishing (invented)".into(), ..golfer() };
    let id = library.edit(Scope::Library, "golfer", |e| e.add_golfer(&secret)).expect("added");
    let session_id = library
        .edit(Scope::Library, "session", |e| {
            e.add_session(id, &Session { cue: "Quillon's cue".into(), ..session() })
        })
        .expect("a session");
    library
        .edit(Scope::Session(session_id), "notes", |e| {
            e.update_session(session_id, &Session { notes: "Quillon's notes".into(), ..session() })
        })
        .expect("notes");
    one_swing(&mut library);
    let frames = library.kept_frames_folder();
    std::fs::create_dir(&frames).expect("a folder");
    std::fs::write(frames.join("a.mp4"), "Quillon's swing").expect("frames");
    let index = KeptIndex { file_time_ns: None, full_hash: None, packets: vec![1] };
    library.save(|e| e.keep_index("content", &index)).expect("an index");
    library.erase_golfer(id).expect("erased");
    assert!(!frames.exists());
    assert_eq!(library.kept_index("content").expect("a look"), None);
    assert_eq!(library.golfers().expect("golfers").len(), 1, "the other one stays");
    assert_eq!(library.undo(Scope::Library).expect("undo"), None);
    for entry in std::fs::read_dir(folder.path()).expect("the folder") {
        let path = entry.expect("an entry").path();
        let bytes = std::fs::read(&path).expect("a file");
        let hit = bytes.windows(7).any(|w| w == b"Quillon");
        assert!(!hit, "the name is still in {}", path.display());
    }
    assert!(library.check().expect("a check").is_sound());
}

#[cfg(unix)]
#[test]
fn the_library_is_for_its_owners_eyes() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().expect("a folder");
    let mut library = library_in(folder.path());
    one_swing(&mut library);
    for entry in std::fs::read_dir(folder.path()).expect("the folder") {
        let path = entry.expect("an entry").path();
        let mode = std::fs::metadata(&path).expect("its rights").permissions().mode();
        assert_eq!(mode & 0o077, 0, "{}", path.display());
    }
}

/// Libraries written by each schema version that was ever landed, kept beside this file.
#[test]
fn every_older_library_opens_with_all_that_is_in_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let versions: [&[u8]; 7] = [
        include_bytes!("support/library_1.scuffline"),
        include_bytes!("support/library_2.scuffline"),
        include_bytes!("support/library_3.scuffline"),
        include_bytes!("support/library_4.scuffline"),
        include_bytes!("support/library_5.scuffline"),
        include_bytes!("support/library_6.scuffline"),
        include_bytes!("support/library_7.scuffline"),
    ];
    assert_eq!(versions.len() as i64, SCHEMA_VERSION);
    for (index, bytes) in versions.into_iter().enumerate() {
        let path = folder.path().join(format!("version{}.scuffline", index + 1));
        std::fs::write(&path, bytes).expect("a copy");
        let library = Library::open(&path).expect("an older library opens");
        assert!(library.check().expect("a check").is_sound());
        let (golfer_id, read) = library.golfers().expect("golfers").remove(0);
        assert_eq!(read, golfer());
        let row = library.sessions(golfer_id).expect("sessions").remove(0);
        assert_eq!(row.session, session());
        let swing = library.swings(Of::Session(row.id)).expect("swings").remove(0);
        assert_eq!(swing.result, Some(result(-18.3)));
        let recording = library.recordings(row.id).expect("recordings").remove(0);
        assert_eq!(recording.view_differs.is_some(), index + 1 >= 7, "kept from schema 7 on");
        let recording = recording.id;
        assert_eq!(library.setup(recording).expect("set-up").references, setup().references);
        assert_eq!(library.timeline(recording).expect("timeline").expect("frames").len(), 3);
        assert_eq!(library.marks(recording, Some(swing.id)).expect("marks").len(), 1);
        let kept = library.kept_index("0123abcd").expect("an index");
        assert_eq!(kept.map(|kept| kept.packets), (index > 0).then(|| vec![1, 2, 3]));
        let words = library.undo_words(Scope::Session(row.id)).expect("words");
        assert_eq!(words.as_deref(), Some("all of it"));
        let mut library = library;
        library.undo(Scope::Session(row.id)).expect("an older step can be undone");
        assert!(library.marks(recording, Some(swing.id)).expect("marks").is_empty());
    }
}

/// Where the editing process finds its library; not set: a short run.
const EDIT_LIBRARY: &str = "SCUFFLINE_TEST_EDIT_LIBRARY";

/// How many edits it makes; not set: without an end.
const EDIT_ROUNDS: &str = "SCUFFLINE_TEST_EDIT_ROUNDS";

/// Moves two marks in one step, again and again, telling each confirmed step. Other tests run
/// it in a process of its own, to kill it or to let it run out of space.
#[test]
fn editing_process() {
    if let Some(path) = std::env::var_os(EDIT_LIBRARY) {
        let rounds = std::env::var(EDIT_ROUNDS).ok();
        let rounds = rounds.map_or(u32::MAX, |n| n.parse().expect("a number of rounds"));
        match edit_and_tell(Path::new(&path), rounds) {
            Ok(()) => println!("\nall done"),
            Err(error) => println!("\nrefused {error}"),
        }
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("short.scuffline");
    one_swing(&mut Library::open(&path).expect("opens"));
    edit_and_tell(&path, 3).expect("three edits");
    assert_eq!(last_edit(&Library::open(&path).expect("opens")), Some(2));
}

fn edit_and_tell(path: &Path, rounds: u32) -> Result<(), StoreError> {
    let mut library = Library::open(path)?;
    let (golfer, _) = library.golfers()?.remove(0);
    let session = library.sessions(golfer)?[0].id;
    let swing = library.swings(Of::Session(session))?.remove(0);
    let recording = swing.recording.expect("it has one");
    let first = try_last_edit(&library)?.map_or(0, |n| n + 1);
    for n in first..first.saturating_add(rounds) {
        library.edit(Scope::Session(session), "both marks", |e| {
            e.set_mark(recording, Some(swing.id), &mark(MarkKind::Ball, f64::from(n), 1.0))?;
            let start = mark(MarkKind::DivotStart, f64::from(n), 2.0);
            e.set_mark(recording, Some(swing.id), &start)
        })?;
        println!("\nconfirmed {n}");
    }
    Ok(())
}

/// The number both marks carry; a half-kept step would show as two numbers.
fn last_edit(library: &Library) -> Option<u32> {
    try_last_edit(library).expect("a library that can be read")
}

fn try_last_edit(library: &Library) -> Result<Option<u32>, StoreError> {
    let Some((golfer, _)) = library.golfers()?.into_iter().next() else { return Ok(None) };
    let Some(session) = library.sessions(golfer)?.into_iter().next() else { return Ok(None) };
    let swings = library.swings(Of::Session(session.id))?;
    let Some((swing, recording)) = swings.first().and_then(|s| Some((s.id, s.recording?))) else {
        return Ok(None);
    };
    let marks = library.marks(recording, Some(swing))?;
    let xs: Vec<f64> = marks.iter().map(|m| m.mark.point.x).collect();
    match xs[..] {
        [] => Ok(None),
        [ball, start] if ball == start => Ok(Some(ball as u32)),
        _ => panic!("a step is half there: {xs:?}"),
    }
}

/// Kills an editing process at random moments. 15 rounds here; the environment variable
/// `SCUFFLINE_TEST_KILL_ROUNDS` asks for more.
#[test]
fn a_killed_process_loses_no_confirmed_edit() {
    let rounds = std::env::var("SCUFFLINE_TEST_KILL_ROUNDS")
        .ok()
        .map_or(15, |n| n.parse::<u32>().expect("a number of rounds"));
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("killed.scuffline");
    one_swing(&mut Library::open(&path).expect("opens"));
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    let (mut confirmed_edits, mut last) = (0, None);
    for round in 0..rounds {
        let confirmed =
            edit_until_killed(&path, Duration::from_micros(rng.random_range(0..40_000)));
        confirmed_edits += confirmed.len();
        last = confirmed.last().copied().or(last);
        let library = Library::open(&path).expect("opens after a kill");
        let report = library.check().expect("a check");
        assert!(report.is_sound(), "round {round}: {report:?}");
        let kept = last_edit(&library);
        assert!(kept >= last, "round {round}: confirmed {last:?}, kept {kept:?}");
        // The step in flight may have been kept without having been told.
        assert!(kept <= last.map_or(Some(0), |n| Some(n + 1)), "round {round}");
        last = kept;
    }
    println!("{rounds} kills, {confirmed_edits} confirmed edits, none lost, none half there");
    assert!(confirmed_edits > 0, "the process was killed before it could edit");
}

/// Runs the editing process, kills it `after` its first confirmed edit, and returns all it
/// confirmed.
fn edit_until_killed(path: &Path, after: Duration) -> Vec<u32> {
    let mut child = Command::new(std::env::current_exe().expect("this test"))
        .args(["--exact", "store::editing_process", "--nocapture"])
        .env(EDIT_LIBRARY, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("a process");
    let lines = BufReader::new(child.stdout.take().expect("its output")).lines();
    let mut confirmed = lines
        .map_while(Result::ok)
        .filter_map(|line| line.strip_prefix("confirmed ")?.parse::<u32>().ok());
    let mut all: Vec<u32> = confirmed.next().into_iter().collect();
    std::thread::sleep(after);
    child.kill().expect("it can be killed");
    child.wait().expect("it ended");
    all.extend(confirmed);
    all
}

/// Lets files grow to a little more each time, so that the edits fail at the first write, the
/// second, and so on, until twelve edits pass.
#[cfg(unix)]
#[test]
fn no_room_left_at_any_write_is_a_sentence_and_no_loss() {
    let (mut refusals, mut limit) = (0, 0);
    loop {
        limit += 8;
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("full.scuffline");
        one_swing(&mut Library::open(&path).expect("opens"));
        let lines = edit_with_room(&path, limit);
        let confirmed = lines.iter().filter_map(|l| l.strip_prefix("confirmed ")).next_back();
        let confirmed = confirmed.map(|n| n.parse::<u32>().expect("a number"));
        let library = Library::open(&path).expect("opens again once there is room");
        assert!(library.check().expect("a check").is_sound(), "limit {limit}");
        assert_eq!(last_edit(&library), confirmed, "limit {limit}: {lines:?}");
        if lines.iter().any(|l| l == "all done") {
            break;
        }
        let refused = lines.iter().find_map(|l| l.strip_prefix("refused "));
        let refused = refused.unwrap_or_else(|| panic!("limit {limit}: no sentence in {lines:?}"));
        let told = ["disk", "library cannot be opened"].iter().any(|w| refused.contains(w));
        assert!(told, "limit {limit}: {refused}");
        refusals += 1;
    }
    println!("{refusals} refusals, each with its sentence, none lost");
    assert!(refusals > 10, "the edits were let through too early: {refusals}");
}

/// A small file system of its own that fills up; only root may make one, so elsewhere nothing is
/// shown and the test says so.
#[cfg(target_os = "linux")]
#[test]
fn a_file_system_that_is_full_is_a_sentence_and_no_loss() {
    let (mut refusals, mut size) = (0, 260);
    loop {
        size += 4;
        let folder = tempfile::tempdir().expect("a folder");
        let small = folder.path().join("small");
        std::fs::create_dir(&small).expect("a folder");
        let Some(_mounted) = SmallDisk::mount(&small, size) else {
            crate::support::say("no file system may be mounted here; nothing was shown");
            return;
        };
        let path = small.join("full.scuffline");
        let made = Library::open(&path).map(|mut library| one_swing(&mut library));
        if let Err(error) = made {
            assert!(!error.to_string().contains('\n'), "{error}");
            continue;
        }
        let lines = edit_with_room(&path, 1_000_000);
        let confirmed = lines.iter().filter_map(|l| l.strip_prefix("confirmed ")).next_back();
        let confirmed = confirmed.map(|n| n.parse::<u32>().expect("a number"));
        let roomy = folder.path().join("roomy");
        std::fs::create_dir(&roomy).expect("a folder");
        for entry in std::fs::read_dir(&small).expect("a list").flatten() {
            if entry.path().is_file() {
                std::fs::copy(entry.path(), roomy.join(entry.file_name())).expect("copied");
            }
        }
        let library = Library::open(roomy.join("full.scuffline")).expect("opens where room is");
        assert!(library.check().expect("a check").is_sound(), "{size} kB");
        assert_eq!(last_edit(&library), confirmed, "{size} kB: {lines:?}");
        if lines.iter().any(|l| l == "all done") {
            break;
        }
        assert!(lines.iter().any(|l| l.starts_with("refused ")), "{size} kB: {lines:?}");
        refusals += 1;
    }
    println!("{refusals} refusals on a full file system, none lost");
    assert!(refusals > 0, "no size was too small");
}

/// A file system in memory, gone when dropped.
#[cfg(target_os = "linux")]
struct SmallDisk(std::path::PathBuf);

#[cfg(target_os = "linux")]
impl SmallDisk {
    fn mount(at: &Path, kilobytes: u32) -> Option<Self> {
        let options = format!("size={kilobytes}k");
        let done = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &options, "tmpfs"])
            .arg(at)
            .output()
            .is_ok_and(|output| output.status.success());
        done.then(|| Self(at.to_path_buf()))
    }
}

#[cfg(target_os = "linux")]
impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

/// Lets the system refuse one call after the other on the library's files: first the first one and
/// all that follow, then the second, until three edits pass.
#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_fails_is_a_sentence_and_no_loss() {
    for call in ["pread64", "pwrite64", "fsync"] {
        let mut refusals = 0;
        for number in 1.. {
            let folder = tempfile::tempdir().expect("a folder");
            let path = folder.path().join("failing.scuffline");
            one_swing(&mut Library::open(&path).expect("opens"));
            let (lines, injected) = edit_on_failing_disk(&path, call, number);
            let confirmed = lines.iter().filter_map(|l| l.strip_prefix("confirmed ")).next_back();
            let confirmed = confirmed.map(|n| n.parse::<u32>().expect("a number"));
            let library = Library::open(&path).expect("opens again once the disk is well");
            assert!(library.check().expect("a check").is_sound(), "{call} {number}");
            let kept = last_edit(&library);
            // The step that was refused may be on the disk all the same.
            let next = confirmed.map_or(0, |n| n + 1);
            assert!(kept == confirmed || kept == Some(next), "{call} {number}: {kept:?} {lines:?}");
            if injected == 0 {
                assert!(lines.iter().any(|l| l == "all done"), "{lines:?}");
                break;
            }
            match lines.iter().find_map(|l| l.strip_prefix("refused ")) {
                Some(told) => {
                    assert!(told.contains("disk") || told.contains("cannot be opened"), "{told}");
                    refusals += 1;
                }
                // What failed came after the last edit, at the closing.
                None => {
                    assert!(lines.iter().any(|l| l == "all done"), "{call} {number}: {lines:?}")
                }
            }
        }
        println!("{call}: {refusals} refusals, each with its sentence, none lost");
        assert!(refusals >= 3, "{call}: {refusals}");
    }
}

/// Three edits in a process to which the system refuses these calls on the library's files from
/// the `number`th on; and how many it refused.
#[cfg(target_os = "linux")]
fn edit_on_failing_disk(path: &Path, call: &str, number: u32) -> (Vec<String>, usize) {
    let trace = path.with_extension("trace");
    let journal = path.with_extension("scuffline-wal");
    let output = Command::new("strace")
        .args(["-f", "-e", &format!("trace={call},read"), "-o"])
        .arg(&trace)
        .args([Path::new("-P"), path, Path::new("-P"), &journal])
        .args(["-e", &format!("inject={call}:error=EIO:when={number}+")])
        // SQLite reads by the call above alone: this is whoever looks whether the disk is well.
        .args(if call == "pread64" { &["-e", "inject=read:error=EIO"][..] } else { &[] })
        .arg(std::env::current_exe().expect("this test"))
        .args(["--exact", "store::editing_process", "--nocapture"])
        .env(EDIT_LIBRARY, path)
        .env(EDIT_ROUNDS, "3")
        .output()
        .expect("strace is one of the packages of .ci/packages");
    let text = String::from_utf8_lossy(&output.stdout);
    let refused =
        std::fs::read_to_string(&trace).expect("what it saw").matches("(INJECTED)").count();
    (text.lines().map(str::to_owned).collect(), refused)
}

/// Twelve edits in a process whose files may not grow beyond `limit` blocks.
#[cfg(unix)]
fn edit_with_room(path: &Path, limit: u32) -> Vec<String> {
    // Ignoring the signal makes the system report the limit as a failed write.
    let script = format!("trap '' XFSZ; ulimit -f {limit}; exec \"$0\" \"$@\"");
    let output = Command::new("sh")
        .arg("-c")
        .arg(script)
        .arg(std::env::current_exe().expect("this test"))
        .args(["--exact", "store::editing_process", "--nocapture"])
        .env(EDIT_LIBRARY, path)
        .env(EDIT_ROUNDS, "12")
        .output()
        .expect("a shell");
    let text = String::from_utf8_lossy(&output.stdout);
    text.lines().map(str::to_owned).collect()
}

#[cfg(unix)]
#[test]
fn a_library_that_was_taken_away_takes_no_edits() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("drive");
    let mut library = Library::open(place.join("test.scuffline")).expect("opens");
    let (session, ..) = one_swing(&mut library);
    let away = folder.path().join("away");
    std::fs::rename(&place, &away).expect("moved");
    let add = |library: &mut Library| {
        library.edit(Scope::Session(session), "block", |e| e.add_block(session, &Block::default()))
    };
    let error = add(&mut library).expect_err("refused");
    assert!(matches!(error, StoreError::Gone(_)), "{error:?}");
    assert!(matches!(library.undo(Scope::Library), Err(StoreError::Gone(_))));
    std::fs::rename(&away, &place).expect("brought back");
    add(&mut library).expect("goes on");
    assert_eq!(library.blocks(session).expect("blocks").len(), 1);
}

/// A drive that is unmounted while its files are open still takes what is written to them, and
/// nobody sees it again.
#[cfg(target_os = "linux")]
#[test]
fn a_library_on_a_drive_that_was_unmounted_takes_no_edits() {
    let folder = tempfile::tempdir().expect("a folder");
    let drive = folder.path().join("drive");
    std::fs::create_dir(&drive).expect("a folder");
    let Some(mounted) = SmallDisk::mount(&drive, 4096) else {
        crate::support::say("no file system may be mounted here; nothing was shown");
        return;
    };
    let mut library = Library::open(drive.join("test.scuffline")).expect("opens");
    let (session, ..) = one_swing(&mut library);
    let add = |library: &mut Library| {
        library.edit(Scope::Session(session), "block", |e| e.add_block(session, &Block::default()))
    };
    add(&mut library).expect("the drive is there");
    drop(mounted);
    for error in [add(&mut library).err(), library.undo(Scope::Session(session)).err()] {
        assert!(matches!(error, Some(StoreError::Gone(_))), "{error:?}");
    }
}
