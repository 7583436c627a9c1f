//! The strip under the picture, and playing.

use super::frames;
use crate::app::message::{Job, StripMessage};
use crate::app::model::Model;
use crate::app::strip::SPEEDS;
use crate::domain::Seconds;

/// Applies a message about the strip.
pub fn update(model: &mut Model, message: StripMessage) -> Vec<Job> {
    use StripMessage as M;
    match message {
        M::Zoom { about, factor } => with_strip(model, |strip| strip.zoom(about, factor)),
        M::Slide(by) => with_strip(model, |strip| strip.slide(by)),
        M::Cells(cells) => with_strip(model, |strip| strip.cells = cells),
        M::Play(running) => play(model, running),
        M::StepSpeed(by) => {
            let at = SPEEDS.iter().position(|speed| *speed == model.play.speed).unwrap_or(0);
            // From fast to slow.
            let to = (at as i64 - by).clamp(0, SPEEDS.len() as i64 - 1);
            model.play.speed = SPEEDS[to as usize];
            Vec::new()
        }
        M::SetSpeed(speed) => {
            model.play.speed = speed.clamp(SPEEDS[SPEEDS.len() - 1], SPEEDS[0]);
            Vec::new()
        }
        M::SetLooped(looped) => {
            model.play.looped = looped;
            Vec::new()
        }
        M::Tick(passed) => tick(model, passed),
    }
}

fn with_strip(model: &mut Model, change: impl FnOnce(&mut crate::app::strip::Strip)) -> Vec<Job> {
    if let Some(open) = model.open.as_mut().filter(|open| open.timeline.is_some()) {
        change(&mut open.strip);
    }
    frames::want_film(model)
}

fn play(model: &mut Model, running: bool) -> Vec<Job> {
    let Some(open) = &model.open else { return Vec::new() };
    let Some(timeline) = &open.timeline else { return Vec::new() };
    model.play.running = running;
    let here = timeline.time_of(open.frame);
    let (from, to) = stretch(model).unwrap_or_default();
    // From the frame shown; from the beginning where that lies outside or at the end.
    model.play.at = if here < from || here >= to { from } else { here };
    Vec::new()
}

/// The stretch that is played.
fn stretch(model: &Model) -> Option<(Seconds, Seconds)> {
    let open = model.open.as_ref()?;
    let timeline = open.timeline.as_ref()?;
    let strike = model.strike_frame().filter(|frame| frame.0 < timeline.len());
    let strike = strike.map(|frame| timeline.time_of(frame));
    Some(model.play.stretch(open.strip.end(), timeline.slow_factor, strike))
}

fn tick(model: &mut Model, passed: f64) -> Vec<Job> {
    let Some(stretch) = stretch(model).filter(|_| model.play.running) else { return Vec::new() };
    let Some(open) = &model.open else { return Vec::new() };
    let Some(timeline) = open.timeline.clone() else { return Vec::new() };
    model.play.advance(passed, timeline.slow_factor, stretch);
    // A frame that is still on its way is waited for: each newer one would stop it.
    let waiting = open.shown.as_ref().is_none_or(|(shown, _)| *shown != open.frame);
    if waiting && open.unreadable != Some(open.frame) {
        return Vec::new();
    }
    let frame = timeline.frame_at(model.play.at);
    frames::go_to(model, frame)
}
