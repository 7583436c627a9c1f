//! Golfers, sessions and the way from swing to swing.

use std::path::PathBuf;

use super::common::{edit, mention, middle_and_spread, notify};
use super::{frames, ground};
use crate::app::message::{Edit, Job, SecondJob, SwingMessage};
use crate::app::model::{Glance, Model, OpenRecording, Page, Swing, Tool};
use crate::domain::{Club, FrameIndex, ImagePoint, Reviewable, SwingKind};
use crate::store::{GolferId, RecordingId, SessionId, SwingId};

/// Applies a message about golfers, sessions or swings.
pub fn update(model: &mut Model, message: SwingMessage) -> Vec<Job> {
    match message {
        SwingMessage::ChooseGolfer(id) => choose_golfer(model, id),
        SwingMessage::ChooseSession(id) => choose_session(model, id),
        SwingMessage::AddGolfer => add_golfer(model),
        SwingMessage::AddSession => add_session(model),
        SwingMessage::ShowSwing(id) => show_swing(model, id),
        SwingMessage::Glance(id) => glance(model, id),
        SwingMessage::ShowRecording(id) => show_recording(model, id),
        SwingMessage::StepSwing(by) => step_swing(model, by),
        SwingMessage::Accept => accept(model),
        SwingMessage::LeaveOut(left_out) => leave_out(model, left_out),
        SwingMessage::SetClub(name) => set_club(model, name),
        SwingMessage::SetKind(kind) => set_kind(model, kind),
        SwingMessage::Undo => undo(model),
        SwingMessage::Redo => redo(model),
    }
}

/// Turns to another golfer.
pub fn choose_golfer(model: &mut Model, id: GolferId) -> Vec<Job> {
    leave_session(model);
    model.people.golfer = Some(id);
    model.people.session = None;
    vec![Job::LoadGolfer(id)]
}

/// Nobody is looked at.
pub fn leave_golfer(model: &mut Model) {
    leave_session(model);
    model.people.golfer = None;
    model.people.session = None;
    model.people.sessions.clear();
}

/// Turns to another session.
pub fn choose_session(model: &mut Model, id: SessionId) -> Vec<Job> {
    leave_session(model);
    model.people.session = Some(id);
    model.sheet = None;
    vec![Job::LoadSession(id)]
}

pub(super) fn leave_session(model: &mut Model) {
    model.swings.clear();
    model.recordings.clear();
    model.current = None;
    model.open = None;
    leave_swing(model);
    model.glances.clear();
    model.generation += 1;
}

/// What was being done with a swing, and was shown of it alone, ends with it.
fn leave_swing(model: &mut Model) {
    model.selected = None;
    model.dragging = None;
    model.tool = Tool::Look;
    ground::leave(model);
    model.before_after = None;
    model.before_after_asked = None;
    model.before_after_refused = false;
}

/// How many small looks are kept.
const GLANCES: usize = 64;

/// Fetches a small look at a swing's ground, unless it is at hand or on its way.
fn glance(model: &mut Model, id: SwingId) -> Vec<Job> {
    if model.glances.contains_key(&id) {
        return Vec::new();
    }
    let Some(swing) = model.swings.iter().find(|swing| swing.id == id) else { return Vec::new() };
    let file = model.recordings.iter().find(|(recording, _)| Some(*recording) == swing.recording);
    let (Some((recording, path)), Some((frame, about))) = (file, ground_of(swing)) else {
        return Vec::new();
    };
    let (recording, path) = (*recording, path.clone());
    if model.glances.len() >= GLANCES {
        model.glances.clear();
    }
    model.glances.insert(id, Glance { about, picture: None });
    vec![Job::Second(SecondJob::Glance { swing: id, recording, path, frame, about })]
}

/// The frame in which a swing's ground is clear again, and where on it the swing took place: the
/// middle of its mark, else what is known, and the width of what is worth seeing.
fn ground_of(swing: &Swing) -> Option<(FrameIndex, (ImagePoint, f64))> {
    let result = swing.result.as_ref()?;
    let frame = ground::compared_after(swing).or(result.strike_frame)?;
    let points = |marks: &[Option<ImagePoint>]| -> Vec<ImagePoint> {
        marks.iter().flatten().copied().collect()
    };
    let mark = points(&[result.divot_start, result.divot_end]);
    let all = points(&[result.divot_start, result.divot_end, result.ball]);
    let (middle, _) = middle_and_spread(if mark.len() == 2 { &mark } else { &all })?;
    let farthest = all.iter().map(|point| point.distance(middle)).fold(0.0, f64::max);
    Some((frame, (middle, (3.0 * farthest).max(200.0))))
}

/// Adds the golfer whose name was typed.
pub fn add_golfer(model: &mut Model) -> Vec<Job> {
    let name = model.fields.golfer.trim().to_owned();
    if name.is_empty() {
        notify(model, "A golfer needs a name; type one.");
        return Vec::new();
    }
    model.fields.golfer.clear();
    leave_session(model);
    vec![Job::AddGolfer(name)]
}

/// Begins a new session for the chosen golfer.
pub fn add_session(model: &mut Model) -> Vec<Job> {
    let Some(golfer) = model.people.golfer else {
        notify(model, "Choose a golfer first.");
        return Vec::new();
    };
    leave_session(model);
    model.sheet = None;
    vec![Job::AddSession(golfer)]
}

/// Looks at a swing; its recording is opened and its strike frame shown.
pub fn show_swing(model: &mut Model, id: SwingId) -> Vec<Job> {
    let Some(recording) = model.swings.iter().find(|s| s.id == id).map(|s| s.recording) else {
        return Vec::new();
    };
    model.current = Some(id);
    leave_swing(model);
    let Some(recording) = recording else {
        model.open = None;
        return Vec::new();
    };
    if model.open.as_ref().is_some_and(|open| open.id == recording && open.timeline.is_some()) {
        return frames::show_strike(model);
    }
    open_recording(model, recording)
}

fn open_recording(model: &mut Model, recording: RecordingId) -> Vec<Job> {
    model.generation += 1;
    model.open = Some(OpenRecording::new(recording, PathBuf::new()));
    model.viewport = Default::default();
    vec![Job::OpenRecording { recording, generation: model.generation }]
}

/// Looks at a recording: at its first swing, or at none if there is none.
pub fn show_recording(model: &mut Model, id: RecordingId) -> Vec<Job> {
    if let Some(first) = model.swings.iter().find(|s| s.recording == Some(id)).map(|s| s.id) {
        return show_swing(model, first);
    }
    model.current = None;
    leave_swing(model);
    open_recording(model, id)
}

/// Looks at a swing further on or back.
pub fn step_swing(model: &mut Model, by: i64) -> Vec<Job> {
    if model.swings.is_empty() {
        return Vec::new();
    }
    let last = model.swings.len() as i64 - 1;
    let here = model.swings.iter().position(|s| Some(s.id) == model.current);
    let to = here.map_or(0, |i| (i as i64).saturating_add(by).clamp(0, last));
    show_swing(model, model.swings[to as usize].id)
}

/// Accepts what is proposed and goes on to the next swing that is still open.
pub fn accept(model: &mut Model) -> Vec<Job> {
    let Some(swing) = model.current_swing_mut() else { return Vec::new() };
    let id = swing.id;
    let doubtful = swing.doubtful();
    let mut jobs = Vec::new();
    if !doubtful.is_empty() {
        let mut accepted: Vec<Reviewable> = swing.confirmed.clone();
        accepted.extend(doubtful);
        swing.confirmed = accepted.clone();
        jobs = edit(model, Edit::Confirm { swing: id, accepted });
    }
    match next_open(model) {
        Some(next) => jobs.extend(show_swing(model, next)),
        None => mention(model, "Every swing of this session has been looked at."),
    }
    jobs
}

/// The next swing after the current one that is still open, round the end.
pub fn next_open(model: &Model) -> Option<SwingId> {
    let here = model.swings.iter().position(|s| Some(s.id) == model.current).unwrap_or(0);
    let n = model.swings.len();
    (1..=n).map(|i| &model.swings[(here + i) % n]).find(|s| !s.is_settled()).map(|s| s.id)
}

/// Counts the swing looked at, or leaves it out.
pub fn leave_out(model: &mut Model, left_out: bool) -> Vec<Job> {
    // On the range it is the one in large figures.
    let swing = match model.page {
        Page::Range => model.swings.last_mut(),
        _ => model.current_swing_mut(),
    };
    let Some(swing) = swing else { return Vec::new() };
    if swing.left_out == left_out {
        return Vec::new();
    }
    swing.left_out = left_out;
    let swing = swing.id;
    edit(model, Edit::LeaveOut { swing, left_out })
}

/// Names the club of the swing looked at.
pub fn set_club(model: &mut Model, name: String) -> Vec<Job> {
    let Some(swing) = model.current_swing_mut() else { return Vec::new() };
    let club = Club(name);
    if swing.club.as_ref() == Some(&club) {
        return Vec::new();
    }
    swing.club = Some(club.clone());
    let swing = swing.id;
    edit(model, Edit::Club { swing, club })
}

/// Says whether it was a strike or a practice swing.
pub fn set_kind(model: &mut Model, kind: SwingKind) -> Vec<Job> {
    let Some(swing) = model.current_swing_mut() else { return Vec::new() };
    if swing.kind == kind {
        return Vec::new();
    }
    swing.kind = kind;
    let swing = swing.id;
    edit(model, Edit::Kind { swing, kind })
}

/// Takes back the last edit; says so when there is none.
pub fn undo(model: &mut Model) -> Vec<Job> {
    if model.history.undo.is_none() && model.edits == model.edits_seen {
        return Vec::new();
    }
    model.edits += 1;
    vec![Job::Undo { number: model.edits }]
}

/// Does it again.
pub fn redo(model: &mut Model) -> Vec<Job> {
    if model.history.redo.is_none() && model.edits == model.edits_seen {
        return Vec::new();
    }
    model.edits += 1;
    vec![Job::Redo { number: model.edits }]
}
