//! Two swings side by side.

use crate::app::message::{BesideEvent, BesideMessage, Job, SecondJob};
use crate::app::model::{Beside, Model, Page, Swing};
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
        BesideMessage::Stop => stop(model),
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
fn take_swings(model: &mut Model, session: SessionId, swings: Vec<Swing>) -> Vec<Job> {
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
    vec![Job::Second(SecondJob::Open { recording, path, generation: model.beside.generation })]
}

/// The other's recording is not opened after all; whatever still comes of it is dropped.
fn stop(model: &mut Model) -> Vec<Job> {
    let beside = &mut model.beside;
    if !beside.is_opening() {
        return Vec::new();
    }
    beside.trouble = Some("It was not opened: it was stopped. Choose a swing to open it.".into());
    let stopped = beside.generation;
    beside.generation += 1;
    vec![Job::StopBeside(stopped)]
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
    let Some(frame) = model.other_frame(frame) else { return Vec::new() };
    if model.beside.shown.as_ref().is_some_and(|(shown, _)| *shown == frame) {
        return Vec::new();
    }
    vec![Job::Second(SecondJob::Frame { frame, generation: model.beside.generation })]
}

/// Applies what is told of the other swing; an answer to an old request is dropped unread.
pub fn take(model: &mut Model, event: BesideEvent) -> Vec<Job> {
    let beside = &mut model.beside;
    match event {
        BesideEvent::Swings { session, swings, files } => {
            beside.files = files;
            return take_swings(model, session, swings);
        }
        BesideEvent::Opened { generation, timeline, size } => {
            if generation == beside.generation {
                beside.recording = Some((timeline, size));
            }
            return follow(model);
        }
        BesideEvent::Frame { generation, frame, picture } if generation == beside.generation => {
            beside.shown = Some((frame, picture));
        }
        BesideEvent::Trouble { generation, sentence } if generation == beside.generation => {
            beside.trouble = Some(sentence);
        }
        BesideEvent::Frame { .. } | BesideEvent::Trouble { .. } => {}
    }
    Vec::new()
}
