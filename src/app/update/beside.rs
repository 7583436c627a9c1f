//! Two swings side by side.

use crate::app::beside::{Beside, other_frame};
use crate::app::message::{BesideMessage, Job, SecondJob};
use crate::app::model::{Model, Page, Swing};
use crate::domain::FrameIndex;
use crate::store::{SessionId, SwingId};

/// Applies a message about two swings side by side.
pub fn update(model: &mut Model, message: BesideMessage) -> Vec<Job> {
    match message {
        BesideMessage::ChooseSession(session) => {
            model.beside = Beside { choice: None, swing: None, ..forgotten(model) };
            vec![Job::BesideSwings(session)]
        }
        BesideMessage::Choose(swing) => choose(model, swing),
        BesideMessage::Step(by) => step(model, by),
        BesideMessage::Shift(by) => {
            model.beside.shift += by;
            follow(model)
        }
        BesideMessage::AtTheStrike => {
            model.beside.shift = 0;
            follow(model)
        }
        BesideMessage::Over(over) => {
            model.beside.over = over;
            Vec::new()
        }
        BesideMessage::Fade(fade) => {
            model.beside.fade = fade.clamp(0.0, 1.0);
            Vec::new()
        }
    }
}

/// The state without the other recording, whose late answers are dropped from now on.
fn forgotten(model: &Model) -> Beside {
    let Beside { choice, files, swing, over, fade, generation, .. } = model.beside.clone();
    let generation = generation + 1;
    Beside { choice, files, swing, over, fade, generation, ..Beside::default() }
}

/// The swing looked at, against one of the same session unless one was chosen before.
pub fn begin(model: &mut Model) -> Vec<Job> {
    match (&model.beside.choice, model.people.session) {
        (None, Some(session)) => vec![Job::BesideSwings(session)],
        _ => follow(model),
    }
}

/// The swings of the session the other is chosen from. The one before the swing looked at is
/// put beside it, or the one after the first.
pub fn take_swings(model: &mut Model, session: SessionId, swings: Vec<Swing>) -> Vec<Job> {
    let seen: Vec<SwingId> =
        swings.iter().filter(|s| s.recording.is_some()).map(|s| s.id).collect();
    let here = seen.iter().position(|id| Some(*id) == model.current);
    let first = match here {
        Some(0) => seen.get(1),
        Some(i) => seen.get(i - 1),
        None => seen.last(),
    };
    let first = first.copied();
    model.beside.choice = Some((session, swings));
    first.map_or(Vec::new(), |id| choose(model, id))
}

/// Puts a swing of the chosen session beside the one looked at.
fn choose(model: &mut Model, swing: SwingId) -> Vec<Job> {
    let swings = model.beside.choice.as_ref().map_or(&[][..], |(_, swings)| swings);
    let Some(recording) = swings.iter().find(|s| s.id == swing).and_then(|s| s.recording) else {
        return Vec::new();
    };
    let path = model.beside.files.iter().find(|(id, _)| *id == recording);
    let Some(path) = path.map(|(_, path)| path.clone()) else { return Vec::new() };
    model.beside = Beside { swing: Some(swing), ..forgotten(model) };
    vec![Job::Second(SecondJob::Open { path, generation: model.beside.generation })]
}

/// The next or the previous swing of the chosen session.
fn step(model: &mut Model, by: i64) -> Vec<Job> {
    let swings = model.beside.choice.as_ref().map_or(&[][..], |(_, swings)| swings);
    let seen: Vec<SwingId> =
        swings.iter().filter(|s| s.recording.is_some()).map(|s| s.id).collect();
    let Some(here) = seen.iter().position(|id| Some(*id) == model.beside.swing) else {
        return Vec::new();
    };
    let to = (here as i64 + by).clamp(0, seen.len() as i64 - 1) as usize;
    if to == here { Vec::new() } else { choose(model, seen[to]) }
}

/// Asks for the frame of the other that belongs to the one shown, while the two are looked at.
pub fn follow(model: &mut Model) -> Vec<Job> {
    if model.page != Page::Beside {
        return Vec::new();
    }
    let frame = model.open.as_ref().map_or(FrameIndex(0), |open| open.frame);
    let Some(frame) = other_frame(model, frame) else { return Vec::new() };
    if model.beside.shown.as_ref().is_some_and(|(shown, _)| *shown == frame) {
        return Vec::new();
    }
    vec![Job::Second(SecondJob::Frame { frame, generation: model.beside.generation })]
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;
    use std::sync::Arc;

    use super::super::{tests, update};
    use crate::app::beside::other_frame;
    use crate::app::message::{
        BesideMessage, Event, Job, PictureMessage, ScreenMessage, SecondJob,
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
        let mut m = tests::model();
        let jobs = update(&mut m, ScreenMessage::Show(Page::Beside));
        assert_eq!(jobs, vec![Job::BesideSwings(SessionId(7))]);
        let swings = m.swings.clone();
        let files = vec![(RecordingId(1), PathBuf::from("other.mp4"))];
        let event = Event::BesideSwings { session: SessionId(7), swings, files };
        let jobs = update(&mut m, event);
        // Swing 1 is looked at, so the one after it comes beside it.
        assert_eq!(m.beside.swing, Some(SwingId(2)));
        let path = PathBuf::from("other.mp4");
        assert_eq!(jobs, vec![Job::Second(SecondJob::Open { path, generation: 1 })]);
        let (timeline, size) = (timeline(rate, slow_factor), PictureSize { width: 64, height: 48 });
        let jobs = update(&mut m, Event::BesideOpened { generation: 1, timeline, size });
        assert_eq!(
            jobs,
            vec![Job::Second(SecondJob::Frame { frame: FrameIndex(60), generation: 1 })]
        );
        m
    }

    #[test]
    fn two_swings_step_together() {
        let mut m = beside(60, 1.0);
        let jobs = update(&mut m, PictureMessage::StepFrame(-3));
        assert!(
            jobs.contains(&Job::Second(SecondJob::Frame { frame: FrameIndex(57), generation: 1 }))
        );
    }

    #[test]
    fn a_faster_camera_steps_more_frames_in_the_same_time() {
        let mut m = beside(240, 1.0);
        update(&mut m, PictureMessage::StepFrame(2));
        assert_eq!(other_frame(&m, m.open.as_ref().unwrap().frame), Some(FrameIndex(68)));
        // The same camera, written as slow motion: 240 frames a second played at 30.
        let m = beside(30, 8.0);
        assert_eq!(other_frame(&m, FrameIndex(62)), Some(FrameIndex(68)));
    }

    #[test]
    fn any_instant_can_be_lined_up() {
        let mut m = beside(60, 1.0);
        update(&mut m, BesideMessage::Shift(4));
        assert_eq!(other_frame(&m, FrameIndex(60)), Some(FrameIndex(64)));
        let jobs = update(&mut m, PictureMessage::StepFrame(1));
        assert!(
            jobs.contains(&Job::Second(SecondJob::Frame { frame: FrameIndex(65), generation: 1 }))
        );
        update(&mut m, BesideMessage::AtTheStrike);
        assert_eq!(other_frame(&m, FrameIndex(60)), Some(FrameIndex(60)));
        // Before its first frame there is none.
        update(&mut m, BesideMessage::Shift(-500));
        assert_eq!(other_frame(&m, FrameIndex(60)), Some(FrameIndex(0)));
    }

    #[test]
    fn another_swing_drops_what_the_last_one_still_sends() {
        let mut m = beside(60, 1.0);
        update(&mut m, BesideMessage::Shift(4));
        let jobs = update(&mut m, BesideMessage::Step(1));
        assert_eq!(m.beside.swing, Some(SwingId(3)));
        assert_eq!((m.beside.shift, m.beside.generation), (0, 2));
        assert!(matches!(&jobs[..], [Job::Second(SecondJob::Open { generation: 2, .. })]));
        let late = Event::BesideTrouble { generation: 1, sentence: "late".into() };
        update(&mut m, late);
        assert_eq!(m.beside.trouble, None);
        assert_eq!(update(&mut m, BesideMessage::Step(1)), vec![]);
    }
}
