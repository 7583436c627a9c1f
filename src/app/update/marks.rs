//! Placing, moving and removing marks.

use super::common::{change_setup, edit, notify};
use super::{frames, ground};
use crate::app::message::{Edit, Job, MarkMessage};
use crate::app::model::{
    Look, MarkName, Model, ReferenceDraft, ReferenceWhat, Sheet, Tool, with_point_moved,
};
use crate::domain::{FrameIndex, GroundAnswer, ImagePoint, Mark, Pixels};

/// Applies a message about marks.
pub fn update(model: &mut Model, message: MarkMessage) -> Vec<Job> {
    match message {
        MarkMessage::Choose(tool) => choose(model, tool),
        MarkMessage::Select(name) => select(model, name),
        MarkMessage::ClickAt(point) => click_at(model, point),
        MarkMessage::DragTo(name, point) => drag_to(model, name, point),
        MarkMessage::Drop => drop(model),
        MarkMessage::Nudge(by) => nudge(model, by),
        MarkMessage::RemoveMark => remove(model),
        MarkMessage::EndEdge => end_edge(model),
        MarkMessage::StrikeHere => strike_here(model),
        MarkMessage::SayGround(answer) => say_ground(model, answer),
    }
}

/// Changes what a click does; a reference object in the making is let go. What is clicked on is
/// the frame, and for a mark in the ground one that shows it.
pub fn choose(model: &mut Model, tool: Tool) -> Vec<Job> {
    let placed = if let Tool::Place(name) = &tool { Some(*name) } else { None };
    model.selected = placed.or(model.selected);
    model.tool = tool;
    model.dragging = None;
    model.sheet = None;
    model.look = Look::Frame;
    match placed {
        Some(name) => ground::show_for(model, name),
        None => ground::leave(model),
    }
}

/// Selects a mark for the arrow keys.
pub fn select(model: &mut Model, name: Option<MarkName>) -> Vec<Job> {
    model.selected = name.filter(|name| model.mark(*name).is_some());
    if model.selected.is_none() { ground::leave(model) } else { Vec::new() }
}

fn inside(model: &Model, point: ImagePoint) -> bool {
    model.open.as_ref().is_some_and(|open| {
        let (width, height) = (open.size.width as f64, open.size.height as f64);
        (-0.5..=width - 0.5).contains(&point.x) && (-0.5..=height - 0.5).contains(&point.y)
    })
}

/// Places what the tool places; with the plain tool nothing.
pub fn click_at(model: &mut Model, point: ImagePoint) -> Vec<Job> {
    if !inside(model, point) {
        if model.tool != Tool::Look {
            notify(model, "That is outside the picture; click inside it.");
        }
        return Vec::new();
    }
    let Some(open) = &model.open else { return Vec::new() };
    let mark = open.mark_at(point);
    match model.tool.clone() {
        Tool::Look => Vec::new(),
        Tool::Place(name) => {
            let mut jobs = put(model, name, Some(mark));
            model.selected = Some(name);
            model.tool = next_tool(model, name);
            // What was just placed stays in sight, to be moved by the arrow keys.
            if let Tool::Place(next) = model.tool {
                jobs.extend(ground::show_for(model, next));
            }
            jobs
        }
        Tool::Reference(draft) => reference_click(model, draft, point, mark),
        Tool::TargetLine(points) => target_line_click(model, points, mark),
        Tool::ClubHead => club_head_click(model, mark),
        Tool::Edge(mut points) => {
            points.push(mark);
            model.tool = Tool::Edge(points);
            Vec::new()
        }
    }
}

/// The frame that is asked for, if it is the one on the screen; else it is said that it is not.
fn frame_seen(model: &mut Model) -> Option<FrameIndex> {
    let open = model.open.as_ref()?;
    let seen = open.shown.as_ref().is_some_and(|(shown, _)| *shown == open.frame);
    if !seen {
        notify(model, "That frame is still being read; do it again once it is there.");
        return None;
    }
    Some(open.frame)
}

/// Marks the club head in the frame shown and goes on to the next, where it is to be marked too.
fn club_head_click(model: &mut Model, mark: Mark) -> Vec<Job> {
    let Some(frame) = frame_seen(model) else { return Vec::new() };
    let name = MarkName::ClubHead(frame);
    let mut jobs = put(model, name, Some(mark));
    model.selected = Some(name);
    jobs.extend(frames::step(model, 1));
    jobs
}

/// After the ball comes the divot start, after that its end; each only where missing.
fn next_tool(model: &Model, placed: MarkName) -> Tool {
    let next = match placed {
        MarkName::Ball | MarkName::BallLine => MarkName::DivotStart,
        MarkName::DivotStart => MarkName::DivotEnd,
        _ => return Tool::Look,
    };
    if model.mark(next).is_none() { Tool::Place(next) } else { Tool::Look }
}

fn reference_click(
    model: &mut Model,
    mut draft: ReferenceDraft,
    point: ImagePoint,
    mark: Mark,
) -> Vec<Job> {
    if draft.points.is_empty() {
        draft.frame = mark.frame;
    }
    draft.register = Pixels(draft.register.0.max(mark.register_sigma().0));
    let Some(open) = &model.open else { return Vec::new() };
    // All points of an object are kept in the space of the first, also when the motion of the
    // frame has become known between two clicks.
    draft.points.push(open.shown_point_in(point, draft.frame));
    let Some(reference) = draft.finish(open.setup.surface) else {
        model.tool = Tool::Reference(draft);
        return Vec::new();
    };
    model.tool = Tool::Look;
    if let Some(fault) = fault_in(&draft) {
        notify(model, fault);
        return Vec::new();
    }
    change_setup(model, "reference object", |setup| setup.references.push(reference))
}

/// Why the points of a draft can't be those of its object, in a sentence.
fn fault_in(draft: &ReferenceDraft) -> Option<&'static str> {
    let p = &draft.points;
    let close = |a: usize, b: usize| p[a].distance(p[b]) < 3.0;
    // Twice the area of the triangle over its longest side is its height in pixels.
    let flat = |a: usize, b: usize, c: usize| {
        let area = (p[b].x - p[a].x) * (p[c].y - p[a].y) - (p[c].x - p[a].x) * (p[b].y - p[a].y);
        let longest = p[a].distance(p[b]).max(p[b].distance(p[c])).max(p[a].distance(p[c]));
        area.abs() < 2.0 * longest
    };
    match draft.what {
        ReferenceWhat::Sheet(_) | ReferenceWhat::FourPoints(_)
            if flat(0, 1, 2) || flat(1, 2, 3) || flat(2, 3, 0) || flat(3, 0, 1) =>
        {
            Some(
                "Three of these corners lie on one line; click the four corners again, going round.",
            )
        }
        ReferenceWhat::Line { .. } | ReferenceWhat::Ball if close(0, 1) => {
            Some("The two points lie on one another; click both ends again.")
        }
        ReferenceWhat::LinePair(_) if close(0, 1) || close(2, 3) => {
            Some("The two points of a line lie on one another; click both lines again.")
        }
        _ => None,
    }
}

fn target_line_click(model: &mut Model, mut points: Vec<Mark>, mark: Mark) -> Vec<Job> {
    points.push(mark);
    if points.len() < 2 {
        model.tool = Tool::TargetLine(points);
        return Vec::new();
    }
    model.tool = Tool::Look;
    if points[0].point.distance(points[1].point) < 3.0 {
        notify(
            model,
            "The two points lie on one another; click two points far apart on the target line.",
        );
        return Vec::new();
    }
    change_setup(model, "target line", |setup| setup.target_line = Some([points[0], points[1]]))
}

/// Keeps the straight edge being marked; the next one can begin at once.
fn end_edge(model: &mut Model) -> Vec<Job> {
    let Tool::Edge(points) = &model.tool else { return Vec::new() };
    if points.len() < 3 {
        notify(model, "A straight edge takes three points or more, well apart; click on.");
        return Vec::new();
    }
    let points = points.clone();
    model.tool = Tool::Look;
    model.sheet = Some(Sheet::Lens);
    change_setup(model, "straight edge", |setup| setup.straight_edges.push(points))
}

/// Moves a mark under the pointer without saving.
pub fn drag_to(model: &mut Model, name: MarkName, point: ImagePoint) -> Vec<Job> {
    if inside(model, point) {
        model.selected = Some(name);
        model.dragging = Some((name, point));
    }
    Vec::new()
}

/// Saves a dragged mark where it was let go.
pub fn drop(model: &mut Model) -> Vec<Job> {
    let (Some((name, point)), Some(open)) = (model.dragging.take(), &model.open) else {
        return Vec::new();
    };
    let mark = match name {
        // A point of an object stays in the space of the object's other points.
        MarkName::Reference { object, .. } => {
            let frame = open.setup.references.get(object).and_then(|reference| reference.frame);
            Mark::read_in(open.shown_point_in(point, frame), frame)
        }
        _ => open.mark_at(point),
    };
    put(model, name, Some(mark))
}

/// Moves the selected mark; from then on it is the person's.
pub fn nudge(model: &mut Model, [dx, dy]: [f64; 2]) -> Vec<Job> {
    let Some(name) = model.selected else { return Vec::new() };
    let Some(placed) = model.mark(name) else { return Vec::new() };
    let moved = Mark { point: placed.mark.point.moved(dx, dy), ..placed.mark };
    if !inside(model, moved.point) {
        return Vec::new();
    }
    put(model, name, Some(moved))
}

/// Takes a reference object away.
pub fn remove_reference(model: &mut Model, object: usize) -> Vec<Job> {
    model.selected = None;
    change_setup(model, "reference object", |setup| {
        if object < setup.references.len() {
            setup.references.remove(object);
        }
    })
}

/// Takes the selected mark away.
pub fn remove(model: &mut Model) -> Vec<Job> {
    let Some(name) = model.selected.take() else { return Vec::new() };
    match name {
        MarkName::Reference { object, .. } => remove_reference(model, object),
        MarkName::TargetLine(_) => change_setup(model, "target line", |s| s.target_line = None),
        MarkName::ReachLine => change_setup(model, "reach line", |s| s.reach_line = None),
        _ => put(model, name, None),
    }
}

/// Puts a mark into the model at once and sends it off to be saved.
fn put(model: &mut Model, name: MarkName, mark: Option<Mark>) -> Vec<Job> {
    match (name, mark) {
        (MarkName::TargetLine(i), Some(mark)) => change_setup(model, "target line", |setup| {
            if let Some(line) = &mut setup.target_line {
                line[i.min(1)] = mark;
            }
        }),
        (MarkName::ReachLine, _) => change_setup(model, "reach line", |s| s.reach_line = mark),
        (MarkName::Reference { object, point }, Some(mark)) => {
            change_setup(model, "reference object", |setup| {
                if let Some(reference) = setup.references.get_mut(object) {
                    *reference = with_point_moved(reference, point, mark.point);
                }
            })
        }
        (MarkName::TargetLine(_) | MarkName::Reference { .. }, None) => Vec::new(),
        _ => put_swing_mark(model, name, mark),
    }
}

fn put_swing_mark(model: &mut Model, name: MarkName, mark: Option<Mark>) -> Vec<Job> {
    let Some(swing) = model.current_swing_mut() else {
        return begin_swing(model, name, mark);
    };
    if let Some(kind) = name.kind() {
        swing.marks.put(kind, name.part(), mark);
    }
    // Where a mark was seen to begin or end there is one.
    let of_ground = matches!(name, MarkName::DivotStart | MarkName::DivotEnd);
    if of_ground && mark.is_some() && swing.marks.has_no_mark() {
        swing.marks.ground = None;
    }
    let swing = swing.id;
    edit(model, Edit::Mark { swing, name, mark })
}

/// What the person saw in the ground; with `None` the program is believed again.
fn say_ground(model: &mut Model, answer: Option<GroundAnswer>) -> Vec<Job> {
    let Some(swing) = model.current_swing_mut().filter(|swing| swing.marks.ground != answer) else {
        return Vec::new();
    };
    swing.marks.ground = answer;
    let swing = swing.id;
    if answer.is_some_and(|answer| !answer.is_mark()) {
        let of_ground = [MarkName::DivotStart, MarkName::DivotEnd];
        model.selected.take_if(|selected| of_ground.contains(selected));
    }
    edit(model, Edit::Ground { swing, answer })
}

/// The first mark in a recording without a swing begins one; its strike can be told later.
fn begin_swing(model: &mut Model, name: MarkName, mark: Option<Mark>) -> Vec<Job> {
    let (Some(mark), Some(open)) = (mark, &model.open) else { return Vec::new() };
    if model.adding_swing {
        // The swing that the last click began is still on its way to the library and back.
        return Vec::new();
    }
    let recording = open.id;
    model.adding_swing = true;
    edit(model, Edit::AddSwing { recording, strike: None, mark: Some((name, mark)) })
}

/// Says that the strike is between the frame shown and the next; with no swing looked at, one
/// is begun there.
pub fn strike_here(model: &mut Model) -> Vec<Job> {
    let Some(open) = model.open.as_ref().filter(|open| open.timeline.is_some()) else {
        return Vec::new();
    };
    let recording = open.id;
    let Some(frame) = frame_seen(model) else { return Vec::new() };
    match model.current {
        Some(swing) => edit(model, Edit::Strike { swing, frame }),
        None if std::mem::replace(&mut model.adding_swing, true) => Vec::new(),
        None => edit(model, Edit::AddSwing { recording, strike: Some(frame), mark: None }),
    }
}
