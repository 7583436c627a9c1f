//! Two swings side by side.

use std::path::PathBuf;
use std::sync::Arc;

use super::super::update;
use crate::app::message::{
    BesideEvent, BesideMessage, Job, PictureMessage, ScreenMessage, SecondJob,
};
use crate::app::model::{Model, Page};
use crate::domain::{FrameEntry, FrameIndex, PictureSize, Pts, TimeBase, Timeline};
use crate::store::{RecordingId, SessionId, SwingId};

fn timeline(rate: i32, slow_factor: f64) -> Arc<Timeline> {
    Arc::new(Timeline {
        time_base: TimeBase { numerator: 1, denominator: rate },
        frames: (0..1000).map(|i| FrameEntry { pts: Pts(i), key: i % 30 == 0 }).collect(),
        slow_factor,
    })
}

/// The test model (60 frames a second, strike at frame 60) beside a swing of its session
/// that was filmed as told and struck at frame 60 too.
fn beside(rate: i32, slow_factor: f64) -> Model {
    let mut m = super::model();
    let jobs = update(&mut m, ScreenMessage::Show(Page::Beside));
    assert_eq!(jobs, vec![Job::BesideSwings(SessionId(7))]);
    let swings = m.swings.clone();
    let files = vec![(RecordingId(1), PathBuf::from("other.mp4"))];
    let event = BesideEvent::Swings { session: SessionId(7), swings, files };
    let jobs = update(&mut m, event);
    // Swing 1 is looked at, so the one after it comes beside it.
    assert_eq!(m.beside.swing, Some(SwingId(2)));
    let (recording, path) = (RecordingId(1), PathBuf::from("other.mp4"));
    assert_eq!(jobs, vec![Job::Second(SecondJob::Open { recording, path, generation: 1 })]);
    let (timeline, size) = (timeline(rate, slow_factor), PictureSize { width: 64, height: 48 });
    let jobs = update(&mut m, BesideEvent::Opened { generation: 1, timeline, size });
    assert_eq!(jobs, vec![Job::Second(SecondJob::Frame { frame: FrameIndex(60), generation: 1 })]);
    m
}

#[test]
fn two_swings_step_together() {
    let mut m = beside(60, 1.0);
    let jobs = update(&mut m, PictureMessage::StepFrame(-3));
    assert!(jobs.contains(&Job::Second(SecondJob::Frame { frame: FrameIndex(57), generation: 1 })));
}

#[test]
fn a_faster_camera_steps_more_frames_in_the_same_time() {
    let mut m = beside(240, 1.0);
    update(&mut m, PictureMessage::StepFrame(2));
    assert_eq!(m.other_frame(m.open.as_ref().unwrap().frame), Some(FrameIndex(68)));
    // The same camera, written as slow motion: 240 frames a second played at 30.
    let m = beside(30, 8.0);
    assert_eq!(m.other_frame(FrameIndex(62)), Some(FrameIndex(68)));
}

#[test]
fn any_instant_can_be_lined_up() {
    let mut m = beside(60, 1.0);
    update(&mut m, BesideMessage::Shift(4));
    assert_eq!(m.other_frame(FrameIndex(60)), Some(FrameIndex(64)));
    let jobs = update(&mut m, PictureMessage::StepFrame(1));
    assert!(jobs.contains(&Job::Second(SecondJob::Frame { frame: FrameIndex(65), generation: 1 })));
    update(&mut m, BesideMessage::AtTheStrike);
    assert_eq!(m.other_frame(FrameIndex(60)), Some(FrameIndex(60)));
    // Before its first frame there is none.
    update(&mut m, BesideMessage::Shift(-500));
    assert_eq!(m.other_frame(FrameIndex(60)), Some(FrameIndex(0)));
}

#[test]
fn another_swing_drops_what_the_last_one_still_sends() {
    let mut m = beside(60, 1.0);
    update(&mut m, BesideMessage::Shift(4));
    let jobs = update(&mut m, BesideMessage::Step(1));
    assert_eq!(m.beside.swing, Some(SwingId(3)));
    assert_eq!((m.beside.shift, m.beside.generation), (0, 2));
    assert!(matches!(&jobs[..], [Job::Second(SecondJob::Open { generation: 2, .. })]));
    let late = BesideEvent::Trouble { generation: 1, sentence: "late".into() };
    update(&mut m, late);
    assert_eq!(m.beside.trouble, None);
    assert_eq!(update(&mut m, BesideMessage::Step(1)), vec![]);
}

#[test]
fn opening_the_other_is_stopped() {
    let mut m = beside(60, 1.0);
    update(&mut m, BesideMessage::Step(1));
    assert!(m.beside.is_opening());
    assert_eq!(update(&mut m, BesideMessage::Stop), vec![Job::StopBeside(2)]);
    assert!(!m.beside.is_opening() && m.beside.trouble.is_some());
    let (timeline, size) = (timeline(60, 1.0), PictureSize { width: 64, height: 48 });
    update(&mut m, BesideEvent::Opened { generation: 2, timeline, size });
    assert!(m.beside.recording.is_none(), "it comes too late");
    // Another one is opened as ever.
    let jobs = update(&mut m, BesideMessage::Choose(SwingId(2)));
    assert!(matches!(&jobs[..], [Job::Second(SecondJob::Open { generation: 4, .. })]));
}
