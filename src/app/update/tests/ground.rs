//! A mark in the ground is placed where the ground shows it.

use std::sync::Arc;

use super::{arrive, at, model, put};
use crate::app::message::{Job, MarkMessage, PictureMessage, ScreenMessage, SwingMessage};
use crate::app::model::{Look, MarkName, Model, Tool, Viewport};
use crate::app::update::update;
use crate::domain::{
    Found, FoundSwing, FrameIndex, Mark, Pixels, Register, Seconds, SwingKind, Timeline,
};
use crate::store::SwingId;

const START: Tool = Tool::Place(MarkName::DivotStart);
const END: Tool = Tool::Place(MarkName::DivotEnd);

fn frame(m: &Model) -> usize {
    m.open.as_ref().unwrap().frame.0
}

/// The ball is marked, so that there is something to look at closely.
fn with_ball() -> Model {
    let mut m = model();
    m.current_swing_mut().unwrap().marks.ball = Some(put(at(640.0, 600.0)));
    m
}

fn compared(m: &mut Model, frames: [usize; 2]) {
    let found = FoundSwing {
        kind: Found { value: SwingKind::Strike, sigma: 0.0, confidence: 1.0 },
        strike_time: Found { value: Seconds(1.0), sigma: 0.0, confidence: 1.0 },
        strike_frame: FrameIndex(60),
        heading: None,
        ball: None,
        ground_mark: None,
        divot_start: None,
        divot_end: None,
        mark_line: None,
        club_head: Vec::new(),
        compared: Some((FrameIndex(frames[0]), FrameIndex(frames[1]))),
        steadying_sigma: Pixels(0.1),
        warnings: Vec::new(),
    };
    m.current_swing_mut().unwrap().found = Some(Arc::new(found));
}

#[test]
fn it_is_the_frame_that_was_compared_else_one_well_after_the_strike() {
    let mut m = with_ball();
    let jobs = update(&mut m, MarkMessage::Choose(START));
    assert!(matches!(jobs[..], [.., Job::Frame { frame: FrameIndex(119), .. }]), "{jobs:?}");
    let mut m = with_ball();
    compared(&mut m, [20, 95]);
    update(&mut m, MarkMessage::Choose(START));
    assert_eq!(frame(&m), 95);
    // In a slow-motion file a second of the world lasts longer.
    let mut m = with_ball();
    let slow = |timeline: &Timeline| Timeline { slow_factor: 0.5, ..timeline.clone() };
    let open = m.open.as_mut().unwrap();
    open.timeline = open.timeline.as_deref().map(|timeline| Arc::new(slow(timeline)));
    update(&mut m, MarkMessage::Choose(START));
    assert_eq!(frame(&m), 90);
}

#[test]
fn a_mark_is_seen_again_in_the_frame_it_was_read_in() {
    let read = |frame: usize| {
        let register = Some(Register { frame: FrameIndex(frame), sigma: Pixels(0.1) });
        Mark { register, ..Mark::steadied(at(650.0, 600.0)) }
    };
    for (mark, expected) in [
        (read(77), 77),
        (Mark::read_in(at(650.0, 600.0), Some(FrameIndex(80))), 80),
        // At the strike nothing was to be seen yet.
        (read(60), 95),
        (Mark::steadied(at(650.0, 600.0)), 95),
    ] {
        let mut m = with_ball();
        compared(&mut m, [20, 95]);
        m.current_swing_mut().unwrap().marks.divot_start = Some(mark);
        update(&mut m, MarkMessage::Choose(START));
        assert_eq!(frame(&m), expected, "{mark:?}");
    }
}

#[test]
fn escape_goes_back_to_where_one_was() {
    let mut m = with_ball();
    m.look = Look::Blink;
    update(&mut m, MarkMessage::Choose(START));
    assert!(m.viewport.scale.is_some() && frame(&m) == 119, "close up");
    assert_eq!(m.look, Look::Frame, "what is clicked on");
    update(&mut m, ScreenMessage::Escape);
    assert_eq!((frame(&m), m.viewport, m.detour), (60, Viewport::default(), None));
    // So does another tool: the ball lies there before the strike.
    update(&mut m, MarkMessage::Choose(END));
    update(&mut m, MarkMessage::Choose(Tool::Place(MarkName::Ball)));
    assert_eq!((frame(&m), m.viewport), (60, Viewport::default()));
}

#[test]
fn what_was_placed_stays_in_sight_until_it_is_let_go() {
    let mut m = with_ball();
    update(&mut m, MarkMessage::Choose(START));
    arrive(&mut m);
    update(&mut m, MarkMessage::ClickAt(at(650.0, 601.0)));
    assert_eq!((m.tool.clone(), frame(&m)), (END, 119));
    update(&mut m, MarkMessage::ClickAt(at(700.0, 601.0)));
    update(&mut m, MarkMessage::Nudge([0.1, 0.0]));
    assert_eq!((m.tool.clone(), frame(&m)), (Tool::Look, 119));
    assert_eq!(m.mark(MarkName::DivotStart).unwrap().mark.frame, Some(FrameIndex(119)));
    update(&mut m, MarkMessage::Select(None));
    assert_eq!((frame(&m), m.viewport), (60, Viewport::default()));
}

#[test]
fn what_the_person_changes_meanwhile_stays() {
    let mut m = with_ball();
    let own = Viewport { centre: at(600.0, 590.0), scale: Some(3.0) };
    m.viewport = own;
    update(&mut m, MarkMessage::Choose(START));
    assert_eq!(m.viewport, own, "the person looks closely already");
    update(&mut m, PictureMessage::Fit);
    update(&mut m, PictureMessage::ShowFrame(FrameIndex(100)));
    update(&mut m, ScreenMessage::Escape);
    assert_eq!((frame(&m), m.viewport), (100, Viewport::default()));
}

#[test]
fn the_next_swing_is_looked_at_as_the_last_one_was() {
    let mut m = with_ball();
    update(&mut m, MarkMessage::Choose(START));
    update(&mut m, SwingMessage::ShowSwing(SwingId(2)));
    assert_eq!((frame(&m), m.viewport, m.detour), (60, Viewport::default(), None));
    update(&mut m, MarkMessage::Choose(START));
    update(&mut m, SwingMessage::ChooseSession(crate::store::SessionId(8)));
    assert_eq!((m.detour, m.open.is_none()), (None, true));
}
