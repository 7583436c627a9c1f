//! `update` message by message, without egui.

mod beside;
mod ground;
mod notebook;

use std::path::PathBuf;
use std::sync::Arc;

use super::update;
use crate::app::message::{
    Edit, Event, Field, FileEvent, FileMessage, Job, MarkMessage, Message, PictureEvent,
    PictureMessage, ScreenMessage, SecondJob, SessionEvent, SettingsMessage, SetupMessage,
    StripMessage, SwingMessage,
};
use crate::app::model::{
    Finding, GUIDE_PAGES, History, Look, MarkName, Model, OpenRecording, Page, People, Settings,
    Sheet, Standing, Swing, Tool,
};
use crate::app::theme::Theme;
use crate::domain::{
    ColourFrame, FrameEntry, FrameIndex, Golfer, GrayFrame, GroundAnswer, ImagePoint, Known,
    LengthUnit, LensProfile, Mark, MarkWord, Millimetres, PictureSize, ProposedLine,
    ProposedReference, Pts, Reference, ReferenceKind, Reviewable, Seconds, Setup, Surface,
    SwingKind, SwingMarks, SwingResult, TimeBase, Timeline, Warning,
};
use crate::domain::{PictureError, Pictures};
use crate::store::{CameraProfileId, GolferId, RecordingId, SessionId, SwingId};
use crate::vision::Steadying;
use crate::workflow::{KeptLens, LensChoice, ViewDoubt};

/// A measured swing with `doubtful` to look at.
pub fn swing(id: i64, doubtful: &[Reviewable]) -> Swing {
    let result = SwingResult {
        strike_time: Some(Seconds(1.0)),
        strike_frame: Some(FrameIndex(60)),
        needs_review: doubtful.to_vec(),
        ..SwingResult::without_numbers(SwingKind::Strike)
    };
    Swing {
        id: SwingId(id),
        recording: Some(RecordingId(1)),
        kind: SwingKind::Strike,
        club: None,
        aim: Some([0.0, 100.0]),
        marks: SwingMarks::default(),
        found: None,
        result: Some(Arc::new(result)),
        confirmed: Vec::new(),
        left_out: false,
        invented: false,
    }
}

fn timeline(frames: i64) -> Arc<Timeline> {
    Arc::new(Timeline {
        time_base: TimeBase { numerator: 1, denominator: 60 },
        frames: (0..frames).map(|i| FrameEntry { pts: Pts(i), key: i % 30 == 0 }).collect(),
        slow_factor: 1.0,
    })
}

fn picture() -> Arc<ColourFrame> {
    Arc::new(ColourFrame { width: 2, height: 1, data: vec![0; 8] })
}

/// A session of three swings of one open recording of 1280 x 720, 120 frames.
pub fn model() -> Model {
    let mut model = Model::default();
    model.people.session = Some(SessionId(7));
    model.swings = vec![
        swing(1, &[Reviewable::DivotEnd]),
        swing(2, &[]),
        swing(3, &[Reviewable::Ball, Reviewable::DivotStart]),
    ];
    model.recordings = vec![(RecordingId(1), PathBuf::from("a.mp4"))];
    model.current = Some(SwingId(1));
    let mut open = OpenRecording::new(RecordingId(1), PathBuf::from("a.mp4"));
    open.timeline = Some(timeline(120));
    open.size = PictureSize { width: 1280, height: 720 };
    open.frame = FrameIndex(60);
    open.shown = Some((FrameIndex(60), picture()));
    model.open = Some(open);
    model
}

fn at(x: f64, y: f64) -> ImagePoint {
    ImagePoint::new(x, y)
}

fn put(point: ImagePoint) -> Mark {
    Mark::read_in(point, Some(FrameIndex(60)))
}

fn edits(jobs: &[Job]) -> Vec<&Edit> {
    jobs.iter()
        .filter_map(|job| match job {
            Job::Edit { edit, .. } => Some(edit),
            _ => None,
        })
        .collect()
}

/// The frame asked for comes.
fn arrive(m: &mut Model) {
    let (generation, frame) = (m.generation, m.open.as_ref().unwrap().frame);
    update(m, Message::from(PictureEvent::Frame { generation, frame, picture: picture() }));
}

fn session_event(m: &Model, session: i64, recordings: &[i64]) -> Message {
    Message::from(SessionEvent::Session {
        session: SessionId(session),
        swings: m.swings.clone(),
        recordings: recordings.iter().map(|id| (RecordingId(*id), PathBuf::new())).collect(),
        history: History::default(),
        edit: m.edits,
    })
}

#[test]
fn a_session_that_was_left_comes_too_late() {
    let mut m = model();
    update(&mut m, SwingMessage::ChooseSession(SessionId(8)));
    let late = session_event(&model(), 7, &[1]);
    assert!(update(&mut m, late).is_empty());
    assert_eq!(m.people.session, Some(SessionId(8)));
    assert!(m.swings.is_empty() && m.open.is_none());
    // An edit that was on its way is still known to have arrived.
    m.edits = 3;
    let edited = Model { edits: 3, ..model() };
    update(&mut m, session_event(&edited, 7, &[1]));
    assert_eq!(m.edits_seen, 3);
}

#[test]
fn what_was_just_done_is_told_until_the_next_thing_is() {
    let mut m = model();
    update(&mut m, Message::from(Event::Notice("The disk is full.".into())));
    update(&mut m, Message::from(Event::Mention("Taken back: ball of swing 1.".into())));
    update(&mut m, PictureMessage::StepFrame(1));
    assert_eq!(m.notices.len(), 2, "whoever only looks has not gone on");
    update(&mut m, SwingMessage::StepSwing(1));
    let left: Vec<&str> = m.notices.iter().map(|notice| notice.text.as_str()).collect();
    assert_eq!(left, ["The disk is full."]);
}

#[test]
fn a_recording_that_was_undone_is_shown_no_longer() {
    let mut m = model();
    m.swings.clear();
    let gone = session_event(&m, 7, &[]);
    update(&mut m, gone);
    assert!(m.open.is_none());
}

#[test]
fn on_the_range_the_last_swing_is_the_one_left_out() {
    let mut m = model();
    m.page = Page::Range;
    let jobs = update(&mut m, SwingMessage::LeaveOut(true));
    let last = SwingId(3);
    assert!(
        matches!(edits(&jobs)[..], [Edit::LeaveOut { swing, left_out: true }] if *swing == last)
    );
    // A swing that comes in is the one that is looked at.
    let mut grown = model();
    grown.swings.push(swing(4, &[]));
    let came = session_event(&grown, 7, &[1]);
    let mut m = Model { page: Page::Range, ..model() };
    update(&mut m, came);
    assert_eq!(m.current, Some(SwingId(4)));
}

#[test]
fn stepping_stays_within_the_recording() {
    let mut m = model();
    let jobs = update(&mut m, PictureMessage::StepFrame(1));
    assert_eq!(jobs, vec![Job::Frame { frame: FrameIndex(61), generation: 0 }]);
    update(&mut m, PictureMessage::StepFrame(i64::MAX / 2));
    assert_eq!(m.open.as_ref().unwrap().frame, FrameIndex(119));
    update(&mut m, PictureMessage::StepFrame(i64::MIN / 2));
    assert_eq!(m.open.as_ref().unwrap().frame, FrameIndex(0));
    // One that is on the screen is asked for all the same while another is on its way to it.
    let back = update(&mut m, PictureMessage::ShowFrame(FrameIndex(60)));
    assert_eq!(back, vec![Job::Frame { frame: FrameIndex(60), generation: 0 }]);
    // The frame at hand is not read again.
    assert_eq!(update(&mut m, PictureMessage::ShowFrame(FrameIndex(60))), vec![]);
    // Without a recording nothing happens.
    assert_eq!(
        update(&mut Model::default(), Message::Picture(PictureMessage::StepFrame(1))),
        vec![]
    );
}

#[test]
fn late_answers_are_dropped_unread() {
    let mut m = model();
    m.generation = 5;
    let late = |generation| {
        Message::from(PictureEvent::Frame { generation, frame: FrameIndex(3), picture: picture() })
    };
    update(&mut m, late(4));
    assert_eq!(m.open.as_ref().unwrap().shown.as_ref().unwrap().0, FrameIndex(60));
    update(&mut m, late(5));
    assert_eq!(m.open.as_ref().unwrap().shown.as_ref().unwrap().0, FrameIndex(3));
}

#[test]
fn a_session_older_than_the_last_edit_is_dropped() {
    let mut m = model();
    update(&mut m, MarkMessage::Select(None));
    m.tool = Tool::Place(MarkName::Ball);
    update(&mut m, MarkMessage::ClickAt(at(640.0, 600.0)));
    let stale = |edit| {
        Message::from(SessionEvent::Session {
            session: SessionId(7),
            swings: vec![swing(1, &[])],
            recordings: Vec::new(),
            history: History::default(),
            edit,
        })
    };
    update(&mut m, stale(0));
    assert_eq!(m.swings.len(), 3);
    assert!(m.mark(MarkName::Ball).is_some());
    update(&mut m, stale(1));
    assert_eq!(m.swings.len(), 1);
}

#[test]
fn the_club_head_is_marked_frame_by_frame() {
    let mut m = model();
    update(&mut m, MarkMessage::Choose(Tool::ClubHead));
    let mut saved = Vec::new();
    for (i, x) in [600.0, 640.0, 690.0].into_iter().enumerate() {
        let jobs = update(&mut m, MarkMessage::ClickAt(at(x, 600.0 + i as f64)));
        saved.extend(edits(&jobs).into_iter().cloned());
        assert!(jobs.iter().any(|job| matches!(job, Job::Frame { .. })), "the next frame follows");
        // Until it is there nothing can be marked in it.
        let early = update(&mut m, MarkMessage::ClickAt(at(x, 600.0)));
        assert!(early.is_empty() && m.notices.last().unwrap().text.contains("still being read"));
        arrive(&mut m);
    }
    assert_eq!(m.tool, Tool::ClubHead, "until Esc");
    let head = |frame| MarkName::ClubHead(FrameIndex(frame));
    assert!(matches!(&saved[1], Edit::Mark { name, mark: Some(_), .. } if *name == head(61)));
    assert_eq!(m.mark(head(62)).unwrap().mark.point, at(690.0, 602.0));
    assert_eq!(
        m.marks().iter().filter(|(name, _)| matches!(name, MarkName::ClubHead(_))).count(),
        3
    );
    // Placed again in its frame it takes the old one's place; taken away, only it goes.
    update(&mut m, PictureMessage::ShowFrame(FrameIndex(61)));
    arrive(&mut m);
    update(&mut m, MarkMessage::ClickAt(at(641.0, 601.0)));
    assert_eq!(m.current_swing().unwrap().marks.club_head.len(), 3);
    let jobs = update(&mut m, MarkMessage::RemoveMark);
    assert!(matches!(edits(&jobs)[..], [Edit::Mark { name, mark: None, .. }] if *name == head(61)));
    assert_eq!((m.mark(head(61)), m.mark(head(60)).is_some()), (None, true));
}

#[test]
fn marks_are_placed_one_after_the_other() {
    let mut m = model();
    update(&mut m, MarkMessage::Choose(Tool::Place(MarkName::Ball)));
    let jobs = update(&mut m, MarkMessage::ClickAt(at(640.25, 600.5)));
    let expected =
        Edit::Mark { swing: SwingId(1), name: MarkName::Ball, mark: Some(put(at(640.25, 600.5))) };
    assert_eq!(edits(&jobs), vec![&expected]);
    assert_eq!(m.tool, Tool::Place(MarkName::DivotStart));
    update(&mut m, MarkMessage::ClickAt(at(650.0, 601.0)));
    assert_eq!(m.tool, Tool::Place(MarkName::DivotEnd));
    update(&mut m, MarkMessage::ClickAt(at(700.0, 601.0)));
    assert_eq!(m.tool, Tool::Look);
    assert_eq!(m.selected, Some(MarkName::DivotEnd));
}

#[test]
fn a_click_outside_the_picture_changes_nothing_and_says_so() {
    let mut m = model();
    m.tool = Tool::Place(MarkName::Ball);
    for outside in [at(-1.0, 5.0), at(1280.0, 5.0), at(5.0, 720.0), at(f64::NAN, 5.0)] {
        assert_eq!(update(&mut m, MarkMessage::ClickAt(outside)), vec![]);
    }
    assert_eq!(m.mark(MarkName::Ball), None);
    assert_eq!(m.notices.len(), 1, "the same sentence once");
    // Pixel centres are whole numbers: the picture reaches half a pixel beyond them.
    assert_eq!(edits(&update(&mut m, MarkMessage::ClickAt(at(-0.4, 719.4)))).len(), 1);
}

#[test]
fn arrow_keys_move_by_tenths() {
    let mut m = model();
    m.tool = Tool::Place(MarkName::DivotEnd);
    update(&mut m, MarkMessage::ClickAt(at(700.0, 601.0)));
    update(&mut m, MarkMessage::Nudge([0.1, 0.0]));
    let jobs = update(&mut m, MarkMessage::Nudge([0.1, -1.0]));
    let point = m.mark(MarkName::DivotEnd).unwrap().mark.point;
    assert!((point.x - 700.2).abs() < 1e-9 && (point.y - 600.0).abs() < 1e-9);
    assert!(matches!(jobs[..], [Job::Edit { number: 3, .. }]));
    // Without a selection nothing moves.
    update(&mut m, MarkMessage::Select(None));
    assert_eq!(update(&mut m, MarkMessage::Nudge([0.1, 0.0])), vec![]);
}

#[test]
fn a_drag_is_one_edit() {
    let mut m = model();
    m.tool = Tool::Place(MarkName::Ball);
    update(&mut m, MarkMessage::ClickAt(at(640.0, 600.0)));
    m.tool = Tool::Look;
    for x in 0..20 {
        let to = at(640.0 + f64::from(x), 600.0);
        assert_eq!(update(&mut m, MarkMessage::DragTo(MarkName::Ball, to)), vec![]);
    }
    assert_eq!(m.mark(MarkName::Ball).unwrap().mark.point, at(659.0, 600.0));
    let jobs = update(&mut m, MarkMessage::Drop);
    assert_eq!(edits(&jobs).len(), 1);
    assert_eq!(m.dragging, None);
    assert_eq!(m.mark(MarkName::Ball).unwrap().mark.point, at(659.0, 600.0));
}

#[test]
fn a_sheet_takes_four_corners_in_one_frame() {
    let mut m = model();
    let a4 = [Millimetres(297.0), Millimetres(210.0)];
    update(&mut m, SetupMessage::BeginSheet(Some(a4)));
    let corners = [at(500.0, 600.0), at(600.0, 600.0), at(590.0, 570.0), at(510.0, 570.0)];
    for corner in &corners[..3] {
        assert_eq!(update(&mut m, MarkMessage::ClickAt(*corner)), vec![]);
    }
    let jobs = update(&mut m, MarkMessage::ClickAt(corners[3]));
    let Edit::Setup { setup, recording, .. } = edits(&jobs)[0] else { panic!("{jobs:?}") };
    assert_eq!(*recording, RecordingId(1));
    assert_eq!(setup.references.len(), 1);
    assert_eq!(setup.references[0].kind, ReferenceKind::Sheet { size: a4, corners });
    assert_eq!(setup.references[0].frame, Some(FrameIndex(60)));
    assert_eq!(m.tool, Tool::Look);
    // Its corners can be moved like any mark.
    let corner = MarkName::Reference { object: 0, point: 2 };
    update(&mut m, MarkMessage::Select(Some(corner)));
    update(&mut m, MarkMessage::Nudge([0.0, -0.1]));
    assert_eq!(m.mark(corner).unwrap().mark.point, at(590.0, 569.9));
}

#[test]
fn four_points_take_their_lengths_from_the_fields() {
    let mut m = model();
    for (place, text) in ["100 cm", "500", "98cm", "520 mm"].into_iter().enumerate() {
        update(&mut m, ScreenMessage::Typed(Field::FourPoints(place), text.into()));
    }
    update(&mut m, SetupMessage::BeginFourPoints);
    assert_eq!(m.tool, Tool::Look, "four lengths are too few");
    assert!(m.notices.iter().any(|notice| notice.text.contains("known: diagonal 1-3; type")));
    update(&mut m, ScreenMessage::Typed(Field::FourPoints(4), "111.8 cm".into()));
    update(&mut m, SetupMessage::BeginFourPoints);
    let points = [at(500.0, 600.0), at(600.0, 600.0), at(590.0, 570.0), at(510.0, 570.0)];
    let jobs: Vec<Job> =
        points.iter().flat_map(|p| update(&mut m, MarkMessage::ClickAt(*p))).collect();
    let Edit::Setup { setup, .. } = edits(&jobs)[0] else { panic!("{jobs:?}") };
    let sides = [1000.0, 500.0, 980.0, 520.0].map(Millimetres);
    let four = ReferenceKind::FourPoints { sides, diagonal: Millimetres(1118.0), points };
    assert_eq!(setup.references[0].kind, four);
    let third = MarkName::Reference { object: 0, point: 2 };
    update(&mut m, MarkMessage::Select(Some(third)));
    update(&mut m, MarkMessage::Nudge([0.0, -0.1]));
    assert_eq!(m.mark(third).unwrap().mark.point, at(590.0, 569.9));
}

#[test]
fn corners_on_one_line_are_refused() {
    let mut m = model();
    update(&mut m, SetupMessage::BeginSheet(Some([Millimetres(297.0), Millimetres(210.0)])));
    for corner in [at(500.0, 600.0), at(550.0, 600.5), at(600.0, 601.0), at(510.0, 570.0)] {
        assert_eq!(update(&mut m, MarkMessage::ClickAt(corner)), vec![]);
    }
    assert!(m.notices[0].text.contains("one line"));
    assert!(m.open.as_ref().unwrap().setup.references.is_empty());
}

#[test]
fn a_length_that_is_none_is_refused() {
    let mut m = model();
    for text in ["", "0", "-5", "wide"] {
        update(&mut m, ScreenMessage::Typed(Field::Length, text.into()));
        update(&mut m, SetupMessage::BeginLine { along_target: true });
        assert_eq!(m.tool, Tool::Look, "{text}");
    }
    update(&mut m, ScreenMessage::Typed(Field::Length, "48 in".into()));
    update(&mut m, SetupMessage::BeginLine { along_target: true });
    update(&mut m, MarkMessage::ClickAt(at(300.0, 600.0)));
    update(&mut m, MarkMessage::ClickAt(at(900.0, 604.0)));
    let reference = &m.open.as_ref().unwrap().setup.references[0];
    // 48 in = 1219.2 mm exactly (NIST SP 811).
    let ReferenceKind::Line { length, .. } = reference.kind else { panic!() };
    assert!((length.0 - 1219.2).abs() < 1e-9);
    assert!(reference.along_target);
}

#[test]
fn a_height_is_kept_where_the_measuring_takes_it() {
    let mut m = model();
    let ends = [at(300.0, 600.0), at(900.0, 604.0)];
    let line = Reference {
        kind: ReferenceKind::Line { length: Millimetres(1219.2), ends },
        height: Millimetres(8.0),
        along_target: true,
        frame: None,
        point_sigma: None,
    };
    m.open.as_mut().unwrap().setup.references = vec![line];
    let mut set = |mm: f64| {
        let jobs = update(&mut m, SetupMessage::SetReferenceHeight(0, Millimetres(mm)));
        let kept = m.open.as_ref().unwrap().setup.references[0].height;
        (!jobs.is_empty(), kept.0)
    };
    assert_eq!(set(-300.0), (true, -300.0));
    for wrong in [1000.0, -1500.0, f64::NAN] {
        assert_eq!(set(wrong), (false, -300.0), "{wrong}");
    }
}

#[test]
fn a_proposed_stick_is_accepted_with_one_key_or_with_the_length_typed_in() {
    let stick = Reference {
        kind: ReferenceKind::Line {
            length: Millimetres(1219.2),
            ends: [at(300.0, 600.0), at(900.0, 604.0)],
        },
        height: Millimetres(8.0),
        along_target: true,
        frame: None,
        point_sigma: None,
    };
    let length_of = |typed: &str| {
        let mut m = model();
        let proposed = ProposedReference { reference: stick.clone(), confidence: 0.9 };
        m.open.as_mut().unwrap().setup.proposed = vec![proposed];
        update(&mut m, ScreenMessage::Typed(Field::Length, typed.into()));
        update(&mut m, SetupMessage::AcceptReference(None));
        let setup = &m.open.as_ref().unwrap().setup;
        assert_eq!(setup.references.len() + setup.proposed.len(), 1);
        setup.references.first().map(|r| match r.kind {
            ReferenceKind::Line { length, .. } => length.0,
            _ => panic!("{r:?}"),
        })
    };
    assert_eq!(length_of(""), Some(1219.2));
    assert_eq!(length_of("1000"), Some(1000.0));
    assert_eq!(length_of("0"), None);
}

#[test]
fn a_mats_edge_becomes_the_target_line_with_one_key_after_the_objects() {
    let ends = [at(200.0, 660.0), at(1000.0, 668.0)];
    let mut m = model();
    let yes = crate::app::keys::bindings().iter().find(|key| key.keys == "Y").expect("a key");
    let press = |m: &Model| (yes.message)(m);
    assert!(press(&m).is_none());
    fn setup(m: &mut Model) -> &mut Setup {
        &mut m.open.as_mut().expect("open").setup
    }
    setup(&mut m).proposed_line = Some(ProposedLine { ends, confidence: 0.9 });
    let message = press(&m).expect("the line is asked about");
    update(&mut m, message);
    let taken = setup(&mut m).clone();
    assert_eq!(taken.target_line, Some(ends.map(Mark::steadied)));
    assert_eq!((taken.proposed_line, taken.references.len()), (None, 0));
    // No is an answer, too.
    *setup(&mut m) =
        Setup { proposed_line: Some(ProposedLine { ends, confidence: 0.9 }), ..Setup::default() };
    update(&mut m, SetupMessage::DismissLine);
    assert_eq!((setup(&mut m).target_line, setup(&mut m).proposed_line), (None, None));
}

#[test]
fn a_lens_of_the_same_phone_is_offered_and_used_only_when_told() {
    let known = |value, standard| Known { value, standard };
    let lens = LensProfile {
        radial: [known(-0.1, 0.01), known(0.0, 0.01)],
        correlation: 0.0,
        focal: None,
        centre: None,
        residual: 0.3,
        size: PictureSize { width: 1280, height: 720 },
    };
    let id = CameraProfileId(4);
    let kept = KeptLens { id, name: "the wide one".into(), camera: "a phone".into(), lens };
    let lenses = LensChoice { offered: vec![kept.clone()], ..LensChoice::default() };
    let told = |m: &mut Model, setup: Setup| {
        let standing = Box::new(Standing { lenses: lenses.clone(), ..Standing::default() });
        let (recording, setup, edit) = (RecordingId(1), Box::new(setup), m.edits);
        update(m, PictureEvent::Setup { recording, setup, standing, edit });
    };
    let mut m = model();
    assert_eq!(m.offered_lens(), None);
    told(&mut m, Setup::default());
    assert_eq!(m.offered_lens().map(|kept| kept.id), Some(id));
    assert_eq!(m.open.as_ref().unwrap().setup.lens, None, "not used unasked");
    let jobs = update(&mut m, SetupMessage::UseLens(Some(id)));
    let recording = RecordingId(1);
    assert_eq!(edits(&jobs), vec![&Edit::Lens { recording, lens: Some(id) }]);
    told(&mut m, Setup { lens: Some(kept.lens), ..Setup::default() });
    assert_eq!(m.offered_lens(), None, "it is used now");
}

#[test]
fn a_line_whose_ends_coincide_is_refused() {
    let mut m = model();
    update(&mut m, ScreenMessage::Typed(Field::Length, "1000".into()));
    update(&mut m, SetupMessage::BeginLine { along_target: false });
    update(&mut m, MarkMessage::ClickAt(at(300.0, 600.0)));
    assert_eq!(update(&mut m, MarkMessage::ClickAt(at(301.0, 600.0))), vec![]);
    assert!(m.open.as_ref().unwrap().setup.references.is_empty());
    assert_eq!(m.notices.len(), 1);
}

#[test]
fn accept_settles_a_swing_and_goes_to_the_next_doubtful_one() {
    let mut m = model();
    assert_eq!(m.open_count(), 2);
    let jobs = update(&mut m, SwingMessage::Accept);
    let accepted = vec![Reviewable::DivotEnd];
    assert_eq!(edits(&jobs), vec![&Edit::Confirm { swing: SwingId(1), accepted }]);
    // Swing 2 has no doubt and is passed over.
    assert_eq!(m.current, Some(SwingId(3)));
    assert_eq!(m.open_count(), 1);
    update(&mut m, SwingMessage::Accept);
    assert_eq!(m.open_count(), 0);
    assert!(m.notices.last().unwrap().text.contains("looked at"));
}

#[test]
fn eight_right_proposals_take_eight_keys() {
    let mut m = model();
    m.swings = (1..=8).map(|id| swing(id, &[Reviewable::DivotStart])).collect();
    for _ in 0..8 {
        update(&mut m, SwingMessage::Accept);
    }
    assert_eq!(m.open_count(), 0);
}

#[test]
fn leaving_out_settles_and_counts_again() {
    let mut m = model();
    update(&mut m, SwingMessage::LeaveOut(true));
    assert!(m.current_swing().unwrap().is_settled());
    update(&mut m, SwingMessage::LeaveOut(false));
    assert!(!m.current_swing().unwrap().is_settled());
}

#[test]
fn zooming_keeps_the_point_under_the_pointer() {
    let mut m = model();
    let (fit, about) = (0.75, at(1000.0, 500.0));
    // Where `about` lies on the screen, in points from the frame's middle.
    let on_screen = |m: &Model| {
        let scale = m.viewport.scale.unwrap_or(fit);
        let centre = match m.viewport.scale {
            Some(_) => m.viewport.centre,
            None => at(639.5, 359.5),
        };
        ((about.x - centre.x) * scale, (about.y - centre.y) * scale)
    };
    let before = on_screen(&m);
    for factor in [2.0, 1.5, 0.8] {
        update(&mut m, PictureMessage::Zoom { about, factor, fit });
        let after = on_screen(&m);
        assert!((before.0 - after.0).abs() < 1e-9 && (before.1 - after.1).abs() < 1e-9);
    }
    update(&mut m, PictureMessage::Zoom { about, factor: 1e-6, fit });
    assert_eq!(m.viewport.scale, None);
    update(&mut m, PictureMessage::Zoom { about, factor: f64::NAN, fit });
    assert_eq!(m.viewport.scale, None);
}

#[test]
fn a_file_is_queued_once_and_can_be_stopped() {
    let mut m = model();
    let path = PathBuf::from("swing.mp4");
    let jobs = update(&mut m, FileMessage::Import(vec![path.clone(), path.clone()]));
    let import = Job::Import { path: path.clone(), session: Some(SessionId(7)) };
    assert_eq!(jobs, vec![import, Job::SaveSettings(m.settings.clone())]);
    assert_eq!(m.queue.len(), 1);
    assert_eq!(m.settings.recent_files, vec![path.clone()]);
    assert_eq!(
        update(&mut m, FileMessage::CancelImport(path.clone())),
        vec![Job::CancelImport(path.clone())]
    );
    assert!(m.queue.is_empty());
    // Being stopped is not an error.
    update(&mut m, Message::from(FileEvent::NotImported { path, sentence: None }));
    assert!(m.notices.is_empty());
}

#[test]
fn a_file_that_is_no_video_gets_its_sentence() {
    let mut m = model();
    let path = PathBuf::from("notes.txt");
    update(&mut m, FileMessage::Import(vec![path.clone()]));
    let sentence = Some("The file is not a video.".to_owned());
    update(&mut m, Message::from(FileEvent::NotImported { path, sentence }));
    assert!(m.queue.is_empty());
    assert_eq!(m.notices[0].text, "The file is not a video.");
    assert_eq!(m.swings.len(), 3);
}

#[test]
fn a_recording_without_a_swing_is_not_taken_for_the_one_on_the_screen() {
    let mut m = model();
    m.current = None;
    m.open = Some(OpenRecording::new(RecordingId(1), PathBuf::from("one.mp4")));
    let mut told = |name: &str| {
        let (path, session) = (PathBuf::from(name), m.people.session.unwrap_or(SessionId(1)));
        let event = FileEvent::Imported { path, session, swing: None, whose: None };
        update(&mut m, Message::from(event));
        m.notices.last().unwrap().text.clone()
    };
    let (shown, other) = (told("one.mp4"), told("two.mp4"));
    assert!(shown.contains("one.mp4; step to the strike"), "{shown}");
    assert!(other.contains("two.mp4; look at it by the panel's button"), "{other}");
}

#[test]
fn a_view_that_is_known_to_differ_is_not_forgotten_for_one_not_compared() {
    let mut open = OpenRecording::new(RecordingId(1), PathBuf::from("two.mp4"));
    let not_compared = ViewDoubt::NotCompared("It could not be compared.".into());
    open.view_differs = Some(not_compared.clone());
    assert_eq!(open.view_doubt(), Some(not_compared));
    let warning = Warning::ViewDiffers { from: "one.mp4".into(), pixels: Some(25.0) };
    open.standing.warnings = vec![warning.clone()];
    assert_eq!(open.view_doubt(), Some(ViewDoubt::Differs(warning)));
}

#[test]
fn nothing_to_undo_sends_nothing() {
    let mut m = model();
    assert_eq!(update(&mut m, SwingMessage::Undo), vec![]);
    m.history.undo = Some("ball of swing 1".into());
    assert_eq!(update(&mut m, SwingMessage::Undo), vec![Job::Undo { number: 1 }]);
    m.history.redo = Some("ball of swing 1".into());
    assert_eq!(update(&mut m, SwingMessage::Redo), vec![Job::Redo { number: 2 }]);
}

#[test]
fn a_failed_job_brings_back_what_is_saved() {
    let mut m = model();
    m.tool = Tool::Place(MarkName::Ball);
    update(&mut m, MarkMessage::ClickAt(at(640.0, 600.0)));
    let jobs = update(&mut m, Message::Event(Event::JobFailed("The disk is full.".into())));
    assert_eq!(jobs, vec![Job::LoadSession(SessionId(7))]);
    assert_eq!(m.notices[0].text, "The disk is full.");
}

#[test]
fn strike_by_hand_marks_a_swing_or_begins_one() {
    let mut m = model();
    let jobs = update(&mut m, MarkMessage::StrikeHere);
    assert_eq!(edits(&jobs), vec![&Edit::Strike { swing: SwingId(1), frame: FrameIndex(60) }]);
    m.swings.clear();
    m.current = None;
    let jobs = update(&mut m, MarkMessage::StrikeHere);
    let recording = RecordingId(1);
    let add = Edit::AddSwing { recording, strike: Some(FrameIndex(60)), mark: None };
    assert_eq!(edits(&jobs), vec![&add]);
}

#[test]
fn escape_steps_out_one_thing_at_a_time() {
    let mut m = model();
    m.page = Page::Range;
    m.selected = Some(MarkName::Ball);
    m.tool = Tool::Place(MarkName::Ball);
    m.sheet = Some(Sheet::Keys);
    update(&mut m, ScreenMessage::Escape);
    assert_eq!(m.sheet, None);
    update(&mut m, ScreenMessage::Escape);
    assert_eq!(m.tool, Tool::Look);
    update(&mut m, ScreenMessage::Escape);
    assert_eq!(m.selected, None);
    update(&mut m, ScreenMessage::Escape);
    assert_eq!(m.page, Page::Measure);
}

#[test]
fn a_guide_left_by_escape_is_put_away_for_good() {
    let mut m = model();
    m.sheet = Some(Sheet::Guide(2));
    let jobs = update(&mut m, ScreenMessage::Escape);
    assert_eq!((m.sheet, m.settings.guide_dismissed), (None, true));
    assert!(matches!(&jobs[..], [Job::SaveSettings(kept)] if kept.guide_dismissed), "{jobs:?}");
}

#[test]
fn settings_are_kept() {
    let mut m = model();
    update(&mut m, SettingsMessage::SetTheme(Theme::Sun));
    let jobs = update(&mut m, SettingsMessage::SetUnit(LengthUnit::Inch));
    let [Job::SaveSettings(kept)] = &jobs[..] else { panic!("{jobs:?}") };
    assert_eq!((kept.theme, kept.unit), (Theme::Sun, LengthUnit::Inch));
    let jobs = update(&mut m, SettingsMessage::SetReviewBelow(0.95));
    let [Job::SaveSettings(kept)] = &jobs[..] else { panic!("{jobs:?}") };
    assert_eq!(kept.review_below, Some(0.95));
}

#[test]
fn the_guide_is_shown_until_it_is_put_away() {
    let mut m = Model::default();
    update(&mut m, Message::Event(Event::Settings(Settings::default())));
    assert_eq!(m.sheet, Some(Sheet::Guide(0)));
    update(&mut m, ScreenMessage::TurnPage(-1));
    assert_eq!(m.sheet, Some(Sheet::Guide(0)));
    (1..GUIDE_PAGES).for_each(|_| drop(update(&mut m, ScreenMessage::TurnPage(1))));
    assert_eq!(m.sheet, Some(Sheet::Guide(GUIDE_PAGES - 1)));
    let jobs = update(&mut m, ScreenMessage::TurnPage(1));
    assert!(m.sheet.is_none() && matches!(jobs[..], [Job::SaveSettings(_)]));
    m.sheet = Some(Sheet::Guide(0));
    let jobs = update(&mut m, ScreenMessage::DismissGuide);
    let [Job::SaveSettings(kept)] = &jobs[..] else { panic!() };
    assert!(kept.guide_dismissed);
    update(&mut m, Message::Event(Event::Settings(kept.clone())));
    assert_eq!(m.sheet, None);
}

#[test]
fn a_session_opens_at_its_first_doubtful_swing() {
    let mut m = Model::default();
    update(&mut m, Message::from(SessionEvent::People(People::default())));
    let jobs = update(
        &mut m,
        Message::from(SessionEvent::Session {
            session: SessionId(7),
            swings: vec![swing(1, &[]), swing(2, &[Reviewable::Ball])],
            recordings: Vec::new(),
            history: History::default(),
            edit: 0,
        }),
    );
    assert_eq!(m.current, Some(SwingId(2)));
    // Nobody's session was left before it.
    assert_eq!(jobs, vec![Job::OpenRecording { recording: RecordingId(1), generation: 2 }]);
}

#[test]
fn before_and_after_are_fetched_once() {
    let mut m = model();
    let jobs = update(&mut m, PictureMessage::WantBeforeAfter);
    assert_eq!(jobs, vec![Job::BeforeAfter { swing: SwingId(1), request: 1, generation: 0 }]);
    assert_eq!(update(&mut m, PictureMessage::WantBeforeAfter), vec![]);
}

#[test]
fn the_first_mark_begins_a_swing() {
    let mut m = model();
    m.swings.clear();
    m.current = None;
    m.tool = Tool::Place(MarkName::Ball);
    let jobs = update(&mut m, MarkMessage::ClickAt(at(640.0, 600.0)));
    let mark = Some((MarkName::Ball, put(at(640.0, 600.0))));
    let add = Edit::AddSwing { recording: RecordingId(1), strike: None, mark };
    assert_eq!(edits(&jobs), vec![&add]);
    // A second click before the library has answered does not begin another.
    m.tool = Tool::Place(MarkName::Ball);
    assert_eq!(update(&mut m, MarkMessage::ClickAt(at(641.0, 600.0))), vec![]);
}

#[test]
fn real_swings_do_not_go_to_the_invented_golfer() {
    let mut m = model();
    let invented = Golfer { name: "X".into(), invented: true, ..Golfer::default() };
    m.people.golfers = vec![(GolferId(1), invented)];
    m.people.golfer = Some(GolferId(1));
    let jobs = update(&mut m, FileMessage::Import(vec![PathBuf::from("a.mp4")]));
    assert!(matches!(&jobs[0], Job::Import { session: None, .. }));
}

#[test]
fn a_new_swing_is_spoken_on_the_range_only() {
    let mut m = model();
    m.settings.speak = true;
    let grown = |m: &Model| SessionEvent::Session {
        session: SessionId(7),
        swings: m.swings.iter().cloned().chain([swing(9, &[])]).collect(),
        recordings: Vec::new(),
        history: History::default(),
        edit: 0,
    };
    let event = grown(&m);
    assert!(!update(&mut m, Message::from(event)).iter().any(|j| matches!(j, Job::Speak(_))));
    m.page = Page::Range;
    let event = grown(&m);
    let jobs = update(&mut m, Message::from(event));
    assert!(jobs.contains(&Job::Speak("could not tell".into())));
}

#[test]
fn the_range_is_about_the_last_swing() {
    let mut m = model();
    update(&mut m, ScreenMessage::Show(Page::Range));
    assert_eq!(m.current, Some(SwingId(3)));
    let jobs = update(&mut m, SwingMessage::LeaveOut(true));
    assert_eq!(edits(&jobs), vec![&Edit::LeaveOut { swing: SwingId(3), left_out: true }]);
}

#[test]
fn a_swing_that_can_be_seen_takes_the_place_of_one_that_cannot() {
    let mut m = Model::default();
    let unseen = Swing { recording: None, ..swing(1, &[]) };
    let session = |swings| SessionEvent::Session {
        session: SessionId(7),
        swings,
        recordings: Vec::new(),
        history: History::default(),
        edit: 0,
    };
    update(&mut m, Message::from(session(vec![unseen.clone()])));
    assert_eq!(m.current, Some(SwingId(1)));
    update(&mut m, Message::from(session(vec![unseen.clone(), swing(2, &[])])));
    assert_eq!(m.current, Some(SwingId(2)));
    // Whoever then turns to the other is left there.
    update(&mut m, SwingMessage::ShowSwing(SwingId(1)));
    update(&mut m, Message::from(session(vec![unseen, swing(2, &[])])));
    assert_eq!(m.current, Some(SwingId(1)));
}

#[test]
fn corners_stay_together_when_the_motion_becomes_known_between_two_clicks() {
    // A frame whose motion is known to be none: what is read in it is steadied.
    struct Still;
    impl Pictures for Still {
        fn timeline(&self) -> &Timeline {
            unreachable!("steadying the first frame needs no times")
        }
        fn size(&self) -> PictureSize {
            PictureSize { width: 64, height: 64 }
        }
        fn gray(&mut self, _: FrameIndex) -> Result<Arc<GrayFrame>, PictureError> {
            Ok(Arc::new(GrayFrame { width: 64, height: 64, data: vec![0; 64 * 64] }))
        }
        fn colour(&mut self, _: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
            unreachable!("only luma is looked at")
        }
    }
    let motion = Steadying::new(&mut Still).unwrap().motion(&mut Still, FrameIndex(0)).unwrap();
    let mut m = model();
    update(&mut m, SetupMessage::BeginSheet(Some([Millimetres(297.0), Millimetres(210.0)])));
    update(&mut m, MarkMessage::ClickAt(at(500.0, 600.0)));
    let moved = PictureEvent::Moved { generation: 0, frame: FrameIndex(60), motion };
    update(&mut m, Message::from(moved));
    for corner in [at(600.0, 600.0), at(590.0, 570.0), at(510.0, 570.0)] {
        update(&mut m, MarkMessage::ClickAt(corner));
    }
    let reference = &m.open.as_ref().unwrap().setup.references[0];
    assert_eq!(reference.frame, Some(FrameIndex(60)));
    assert!(m.notices.is_empty());
    // A corner that is dragged afterwards stays in the same frame as the others.
    let corner = MarkName::Reference { object: 0, point: 1 };
    update(&mut m, MarkMessage::DragTo(corner, at(610.0, 601.0)));
    update(&mut m, MarkMessage::Drop);
    let mark = m.mark(corner).unwrap().mark;
    assert_eq!((mark.point, mark.frame), (at(610.0, 601.0), Some(FrameIndex(60))));
}

/// The model with a strip of four cells.
fn with_strip() -> Model {
    let mut model = model();
    let open = model.open.as_mut().unwrap();
    open.strip = crate::app::strip::Strip::of(open.timeline.as_ref().unwrap());
    update(&mut model, StripMessage::Cells(4));
    model
}

#[test]
fn small_pictures_are_asked_for_once_and_anew_after_zooming() {
    let mut model = model();
    let open = model.open.as_mut().unwrap();
    open.strip = crate::app::strip::Strip::of(open.timeline.as_ref().unwrap());
    let jobs = update(&mut model, StripMessage::Cells(4));
    let frames = [15, 45, 75, 105].map(FrameIndex).to_vec();
    assert_eq!(jobs, vec![Job::Film { frames, within: 15, generation: 0 }]);
    assert_eq!(update(&mut model, StripMessage::Cells(4)), vec![]);
    let film = |frame| PictureEvent::Film { generation: 0, frame, picture: picture() };
    update(&mut model, film(FrameIndex(15)));
    update(&mut model, film(FrameIndex(45)));
    assert_eq!(update(&mut model, StripMessage::Cells(4)), vec![], "the others are on their way");
    let zoom = StripMessage::Zoom { about: Seconds(0.0), factor: 8.0 };
    let jobs = update(&mut model, zoom);
    let frames = [1, 5, 9, 13].map(FrameIndex).to_vec();
    assert_eq!(jobs, vec![Job::Film { frames, within: 1, generation: 0 }]);
    // A frame outside the stretch brings it into sight.
    update(&mut model, PictureMessage::ShowFrame(FrameIndex(100)));
    let (from, to) = model.open.as_ref().unwrap().strip.span();
    assert!(from.0 < 100.0 / 60.0 && 100.0 / 60.0 < to.0);
}

#[test]
fn playing_waits_for_each_frame_loops_and_ends_when_a_frame_is_chosen() {
    let mut model = with_strip();
    update(&mut model, StripMessage::SetSpeed(0.5));
    update(&mut model, StripMessage::Play(true));
    assert!(model.play.running);
    // A tenth of a second at half speed is three frames at 60 a second.
    let jobs = update(&mut model, StripMessage::Tick(0.1));
    assert_eq!(jobs, vec![Job::Frame { frame: FrameIndex(63), generation: 0 }]);
    assert_eq!(update(&mut model, StripMessage::Tick(0.1)), vec![], "it is on its way");
    let frame = |n| PictureEvent::Frame { generation: 0, frame: FrameIndex(n), picture: picture() };
    update(&mut model, frame(63));
    let jobs = update(&mut model, StripMessage::Tick(0.1));
    assert_eq!(jobs, vec![Job::Frame { frame: FrameIndex(69), generation: 0 }]);
    update(&mut model, frame(69));
    // The strike is at frame 60, 1.0 s: the loop ends half a second after it.
    for _ in 0..4 {
        update(&mut model, StripMessage::Tick(0.25));
        let asked = model.open.as_ref().unwrap().frame.0;
        update(&mut model, frame(asked));
    }
    assert!(model.open.as_ref().unwrap().frame.0 < 60, "begun again a second before the strike");
    assert!(model.play.running);
    update(&mut model, PictureMessage::StepFrame(1));
    assert!(!model.play.running);
    assert_eq!(update(&mut model, StripMessage::Tick(0.1)), vec![]);
    // A frame that cannot be read does not hold it up.
    update(&mut model, StripMessage::Play(true));
    update(&mut model, StripMessage::Tick(0.25));
    let frame = model.open.as_ref().unwrap().frame;
    update(&mut model, PictureEvent::NoFrame { generation: 0, frame, sentence: "Damaged.".into() });
    assert_eq!(update(&mut model, StripMessage::Tick(0.1)).len(), 1);
    update(&mut model, StripMessage::StepSpeed(1));
    assert_eq!(model.play.speed, 1.0);
    update(&mut model, StripMessage::StepSpeed(-2));
    assert_eq!(model.play.speed, 0.25);
}

#[test]
fn swings_show_as_they_are_found() {
    let mut m = model();
    let path = PathBuf::from("eight.mp4");
    update(&mut m, FileMessage::Import(vec![path.clone()]));
    let finding = |time: f64, complete: bool| Finding {
        ground_mark: None,
        time: Seconds(time),
        kind: SwingKind::Strike,
        ball: Some(0.9),
        divot_start: complete.then_some(0.8),
        complete,
    };
    let tell = |m: &mut Model, number, finding| {
        update(m, FileEvent::Finding { path: path.clone(), number, finding })
    };
    tell(&mut m, 0, finding(3.0, false));
    tell(&mut m, 1, finding(9.0, false));
    tell(&mut m, 0, finding(3.0, true));
    assert_eq!(m.queue[0].found, vec![finding(3.0, true), finding(9.0, false)]);
    // Stopped: nothing of it stays.
    update(&mut m, FileMessage::CancelImport(path.clone()));
    tell(&mut m, 1, finding(9.0, true));
    assert!(m.queue.is_empty());
}

#[test]
fn the_picture_gives_way_to_before_and_after_and_comes_back() {
    let mut m = model();
    update(&mut m, PictureMessage::Look(Look::Blink));
    assert_eq!(m.look, Look::Blink);
    update(&mut m, PictureMessage::Look(Look::Changes));
    assert_eq!(m.look, Look::Changes);
    update(&mut m, PictureMessage::Look(Look::Changes));
    assert_eq!(m.look, Look::Frame);
    // Where there is nothing to blink between, the frame stays.
    update(&mut m, PictureMessage::Look(Look::Blink));
    update(&mut m, PictureMessage::WantBeforeAfter);
    let none = PictureEvent::NoBeforeAfter { request: 1, sentence: None };
    update(&mut m, none.clone());
    assert_eq!(m.look, Look::Frame);
    assert_eq!(m.notices.len(), 1);
    // While the key is held it is not asked again and again.
    assert_eq!(update(&mut m, PictureMessage::WantBeforeAfter), vec![]);
    update(&mut m, PictureMessage::LetGo);
    assert_eq!(update(&mut m, PictureMessage::WantBeforeAfter).len(), 1);
    update(&mut m, none);
    assert!(m.before_after_asked.is_some(), "the answer to an old request");
}

#[test]
fn a_small_look_is_fetched_once() {
    let mut m = model();
    assert_eq!(update(&mut m, SwingMessage::Glance(SwingId(1))), vec![]);
    let path = PathBuf::from("a.mp4");
    m.recordings = vec![(RecordingId(1), path.clone())];
    let mut result = m.swings[0].result.as_deref().cloned().unwrap();
    (result.ball, result.divot_end) = (Some(at(600.0, 500.0)), Some(at(700.0, 500.0)));
    m.swings[0].result = Some(Arc::new(result));
    let jobs = update(&mut m, SwingMessage::Glance(SwingId(1)));
    let (frame, about) = (FrameIndex(60), (at(650.0, 500.0), 200.0));
    let (swing, recording) = (SwingId(1), RecordingId(1));
    assert_eq!(jobs, vec![Job::Second(SecondJob::Glance { swing, recording, path, frame, about })]);
    assert_eq!(update(&mut m, SwingMessage::Glance(SwingId(1))), vec![]);
    update(&mut m, PictureEvent::Glanced { swing: SwingId(1), picture: picture() });
    let glance = &m.glances[&SwingId(1)];
    // Two pixels for two hundred, the middle of one row.
    let picture = glance.picture.as_deref().expect("it has come");
    assert_eq!(glance.place(at(650.0, 500.0), picture), [1.0, 0.5]);
    assert_eq!(glance.place(at(550.0, 500.0), picture), [0.0, 0.5]);
}

#[test]
fn the_invented_golfer_can_be_put_away_and_brought_back() {
    let mut m = model();
    let invented = Golfer { name: "X".into(), invented: true, ..Golfer::default() };
    let real = Golfer { name: "Y".into(), ..Golfer::default() };
    let people = |golfer, session| People {
        golfers: vec![(GolferId(1), invented.clone()), (GolferId(2), real.clone())],
        golfer: Some(GolferId(golfer)),
        session: Some(SessionId(session)),
        sessions: Vec::new(),
    };
    m.people = people(1, 7);
    let jobs = update(&mut m, SettingsMessage::ShowSample(false));
    assert!(jobs.contains(&Job::LoadGolfer(GolferId(2))));
    assert!(m.settings.sample_hidden && m.swings.is_empty());
    // Also when the library still names it as the one looked at last.
    let jobs = update(&mut m, SessionEvent::People(people(1, 7)));
    assert_eq!(jobs, vec![Job::LoadGolfer(GolferId(2))]);
    assert_eq!(update(&mut m, SessionEvent::People(people(2, 8))), vec![]);
    let jobs = update(&mut m, SettingsMessage::ShowSample(true));
    assert!(jobs.contains(&Job::PutSampleIn) && !m.settings.sample_hidden);
}

#[test]
fn the_answer_for_the_ground_is_kept_and_a_mark_placed_after_it_takes_it_back() {
    let mut m = model();
    m.current_swing_mut().expect("a swing").marks.divot_start =
        Some(Mark::steadied(ImagePoint::new(600.0, 500.0)));
    m.selected = Some(MarkName::DivotStart);
    let none = Some(GroundAnswer::None);
    let jobs = update(&mut m, MarkMessage::SayGround(none));
    let edit = Edit::Ground { swing: SwingId(1), answer: none };
    assert_eq!(jobs, vec![Job::Edit { edit, number: 1 }]);
    // What was placed there is not shown, and no arrow key moves it.
    assert_eq!((m.mark(MarkName::DivotStart), m.selected), (None, None));
    assert_eq!(update(&mut m, MarkMessage::SayGround(none)), vec![], "said already");
    update(&mut m, MarkMessage::Choose(Tool::Place(MarkName::DivotStart)));
    update(&mut m, MarkMessage::ClickAt(ImagePoint::new(610.0, 500.0)));
    assert_eq!(m.current_swing().expect("a swing").marks.ground, None);
    assert!(m.mark(MarkName::DivotStart).is_some());
}

#[test]
fn marks_go_by_what_is_in_the_ground() {
    let mut m = model();
    assert_eq!(m.current_mark_word(), MarkWord::Divot);
    m.open.as_mut().expect("open").setup.surface = Some(Surface::Mat);
    assert_eq!(m.current_mark_word(), MarkWord::Scuff);
    m.current_swing_mut().expect("a swing").marks.ground = Some(GroundAnswer::Smear);
    assert_eq!(m.current_mark_word(), MarkWord::Smear);
    assert_eq!(MarkName::DivotStart.title(m.current_mark_word()), "Smear start");
}

#[test]
fn an_opening_that_is_stopped_leaves_nothing_half() {
    let mut m = model();
    m.open.as_mut().expect("open").timeline = None;
    m.generation = 4;
    assert_eq!(update(&mut m, PictureMessage::StopOpening), vec![Job::StopOpening(4)]);
    assert!(m.open.as_ref().is_some_and(|open| open.trouble.is_some() && !open.is_opening()));
    assert_eq!(update(&mut m, PictureMessage::StopOpening), vec![], "stopped already");
    let size = PictureSize { width: 1280, height: 720 };
    let (recording, path) = (RecordingId(1), PathBuf::from("a.mp4"));
    let timeline = timeline(120);
    let late = PictureEvent::Opened {
        generation: 4,
        recording,
        path,
        timeline,
        size,
        warnings: Vec::new(),
    };
    update(&mut m, late);
    assert!(m.open.as_ref().is_some_and(|open| open.timeline.is_none()), "it comes too late");
    // The way back is to look at the swing again.
    let jobs = update(&mut m, SwingMessage::ShowSwing(SwingId(1)));
    assert_eq!(jobs, vec![Job::OpenRecording { recording, generation: 6 }]);
}

#[test]
fn before_and_after_are_waited_for_no_longer_once_stopped() {
    let mut m = model();
    update(&mut m, PictureMessage::Look(Look::Blink));
    let wanted = |m: &Model, request| {
        vec![Job::BeforeAfter { swing: SwingId(1), request, generation: m.generation }]
    };
    assert_eq!(update(&mut m, PictureMessage::WantBeforeAfter), wanted(&m, 1));
    let stop = |request| vec![Job::StopBeforeAfter(request)];
    assert_eq!(update(&mut m, PictureMessage::StopBeforeAfter), stop(1));
    assert_eq!((m.look, m.before_after_asked), (Look::Frame, None));
    // The key that steps out of everything stops it as well.
    update(&mut m, PictureMessage::Look(Look::Changes));
    update(&mut m, PictureMessage::WantBeforeAfter);
    assert_eq!(update(&mut m, ScreenMessage::Escape), stop(2));
    assert_eq!(m.look, Look::Frame);
    // Held, a key asks at every pass: not after a stop, until it is let go.
    update(&mut m, PictureMessage::LetGo);
    m.selected = Some(MarkName::Ball);
    assert_eq!(update(&mut m, PictureMessage::WantBeforeAfter), wanted(&m, 3));
    assert_eq!(update(&mut m, ScreenMessage::Escape), stop(3));
    assert_eq!(m.selected, Some(MarkName::Ball), "nothing else was stepped out of");
    assert_eq!(update(&mut m, PictureMessage::WantBeforeAfter), vec![]);
    update(&mut m, PictureMessage::LetGo);
    assert_eq!(update(&mut m, PictureMessage::WantBeforeAfter), wanted(&m, 4));
}
