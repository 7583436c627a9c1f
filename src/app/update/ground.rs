//! While a mark in the ground is placed, a frame in which the ground shows it: at the strike the
//! turf is still whole.

use super::frames;
use crate::app::message::Job;
use crate::app::model::{Detour, MarkName, Model, Sight, Swing};
use crate::domain::{FrameIndex, Seconds, Timeline};

/// So long after the strike, in seconds of the world, the club is out of the way.
const CLEAR_S: f64 = 1.0;

/// Shows the ground as a mark in it can be read; close up, unless the person looks closely already.
/// For any other mark one is back where one was.
pub fn show_for(model: &mut Model, name: MarkName) -> Vec<Job> {
    if !matches!(name, MarkName::DivotStart | MarkName::DivotEnd) {
        return leave(model);
    }
    let (Some(frame), Some(from)) = (frame_for(model, name), home(model)) else {
        return Vec::new();
    };
    let jobs = frames::show(model, frame);
    if model.viewport.scale.is_none() {
        frames::zoom_to_ground(model);
    }
    model.detour = Some(Detour { from, to: Sight { frame, viewport: model.viewport } });
    jobs
}

/// Goes back to where one was; what the person has changed meanwhile stays.
pub fn leave(model: &mut Model) -> Vec<Job> {
    let home = home(model);
    let (Some(home), Some(_)) = (home, model.detour.take()) else { return Vec::new() };
    let is_there = model.open.as_ref().is_some_and(|open| open.frame == home.frame);
    model.viewport = home.viewport;
    if is_there { Vec::new() } else { frames::show(model, home.frame) }
}

/// Where one is back once the ground is left.
fn home(model: &Model) -> Option<Sight> {
    let mut home = Sight { frame: model.open.as_ref()?.frame, viewport: model.viewport };
    if let Some(Detour { from, to }) = model.detour {
        if home.frame == to.frame {
            home.frame = from.frame;
        }
        if home.viewport == to.viewport {
            home.viewport = from.viewport;
        }
    }
    Some(home)
}

/// The frame in which a mark of the swing looked at was read; else one in which its ground is
/// clear again. A mark that was read before the ground was touched tells of no such frame.
fn frame_for(model: &Model, name: MarkName) -> Option<FrameIndex> {
    let (open, swing) = (model.open.as_ref()?, model.current_swing()?);
    let timeline = open.timeline.as_deref()?;
    let mark = model.mark(name).map(|placed| placed.mark);
    let read = mark.and_then(|mark| mark.frame.or(mark.register.map(|register| register.frame)));
    let strike = swing.strike_frame();
    let after = read.filter(|frame| strike.is_none_or(|strike| *frame > strike));
    let frame = after.or_else(|| compared_after(swing)).or_else(|| clear(timeline, strike?))?;
    Some(FrameIndex(frame.0.min(open.last_frame())))
}

/// The frame after a swing with which the ground before it was compared.
pub fn compared_after(swing: &Swing) -> Option<FrameIndex> {
    swing.found.as_ref()?.compared.map(|(_, after)| after)
}

/// A frame well after the strike; the last one where the recording ends sooner.
fn clear(timeline: &Timeline, strike: FrameIndex) -> Option<FrameIndex> {
    let last = timeline.len().checked_sub(1)?;
    let at = timeline.time_of(FrameIndex(strike.0.min(last))).0;
    Some(timeline.nearest_frame(Seconds(at + CLEAR_S * timeline.slow_factor)))
}
