//! Golfers, sessions, blocks, and what is said of swings.

use std::sync::Arc;

use crate::app::message::Job;
use crate::app::model::Model;
use crate::app::notebook::{
    Ask, BlockMessage, Erasing, ErasingMessage, PeopleMessage, PickedMessage, PlanEdit, PlanField,
};
use crate::app::update::common::{edit_plan, notify};
use crate::domain::{Block, Club, Golfer, Session};
use crate::store::{BlockId, GolferId, SessionId, SwingId};
use crate::workflow::{Erasure, Listed};

/// Applies what is done in the chapter. Whatever was typed elsewhere is kept first.
pub fn update(model: &mut Model, message: PeopleMessage) -> Vec<Job> {
    use PeopleMessage as M;
    let mut jobs = if keeps_typing(model, &message) { Vec::new() } else { keep(model) };
    jobs.extend(match message {
        M::Typed(field, text) => {
            model.notebook.people.draft = Some((field, text));
            Vec::new()
        }
        M::Keep => Vec::new(),
        M::Handed(handed) => change_golfer(model, "hand", |g| g.handed = handed),
        M::Child(child) => change_golfer(model, "child", |g| g.child = child),
        M::Surface(surface) => change_session(model, "surface", |s| s.surface = surface),
        M::Lie(lie) => change_session(model, "lie", |s| s.lie = lie),
        M::Erasing(message) => update_erasing(model, message),
        M::Block(message) => update_blocks(model, message),
        M::Picked(message) => update_picked(model, message),
    });
    jobs
}

/// Whether what is being typed is not left by this message.
fn keeps_typing(model: &Model, message: &PeopleMessage) -> bool {
    use PeopleMessage as M;
    match message {
        M::Typed(field, _) => {
            let draft = model.notebook.people.draft.as_ref();
            draft.is_none_or(|(typed, _)| typed == field)
        }
        M::Picked(PickedMessage::LeaveOut | PickedMessage::Tag(_)) => true,
        _ => false,
    }
}

/// Removing a golfer for good.
fn update_erasing(model: &mut Model, message: ErasingMessage) -> Vec<Job> {
    use ErasingMessage as M;
    match message {
        M::Ask => return ask_erase(model),
        M::Erase => return erase(model),
        M::Files(files) => {
            if let Some(erasing) = &mut model.notebook.people.erasing {
                erasing.files = files;
            }
        }
        M::Spare => model.notebook.people.erasing = None,
    }
    Vec::new()
}

/// Blocks of the session.
fn update_blocks(model: &mut Model, message: BlockMessage) -> Vec<Job> {
    use BlockMessage as M;
    match message {
        M::Begin => begin_block(model),
        M::Run(block) => edit_plan(model, PlanEdit::Run(block)),
        M::Phase(id, phase) => change_block(model, id, "phase", |b| b.phase = phase),
        M::Ball(id, ball) => change_block(model, id, "ball", |b| b.ball = ball),
        M::Remove(id) => edit_plan(model, PlanEdit::RemoveBlock(id)),
    }
}

/// Swings picked to be moved, tagged or left out together.
fn update_picked(model: &mut Model, message: PickedMessage) -> Vec<Job> {
    use PickedMessage as M;
    match message {
        M::Pick(swing, picked) => return pick(model, swing, picked),
        M::Block(block) => return pick_block(model, block),
        M::None => model.notebook.people.picked.clear(),
        M::Move(block) => {
            return of_picked(model, |swings| PlanEdit::Move(swings, block));
        }
        M::Tag(tag) => return set_tag(model, &tag),
        M::LeaveOut => return leave_out(model),
        M::Count => return of_picked(model, |swings| PlanEdit::LeaveOut(swings, None)),
    }
    Vec::new()
}

fn pick(model: &mut Model, swing: SwingId, picked: bool) -> Vec<Job> {
    let all = &mut model.notebook.people.picked;
    let _ = if picked { all.insert(swing) } else { all.remove(&swing) };
    Vec::new()
}

/// An edit of the picked swings, if there are any.
fn of_picked(model: &mut Model, change: impl FnOnce(Vec<SwingId>) -> PlanEdit) -> Vec<Job> {
    match picked(model) {
        swings if swings.is_empty() => Vec::new(),
        swings => edit_plan(model, change(swings)),
    }
}

/// Keeps what was typed in the field that is left; a name or day that can't be is told.
pub fn keep(model: &mut Model) -> Vec<Job> {
    let Some((field, text)) = model.notebook.people.draft.take() else { return Vec::new() };
    let text = text.trim().to_owned();
    match field {
        PlanField::GolferName if text.is_empty() => {
            notify(model, "A golfer needs a name; type one.");
            Vec::new()
        }
        PlanField::GolferName => change_golfer(model, "name", |g| g.name = text),
        PlanField::GolferNotes => change_golfer(model, "notes", |g| g.notes = text),
        PlanField::Consent => change_golfer(model, "consent", |g| g.consent = text),
        PlanField::Date => match text.parse() {
            Ok(date) => change_session(model, "day", |s| s.date = date),
            Err(_) => {
                notify(model, "A day is written as 2026-05-31; type it again.");
                Vec::new()
            }
        },
        PlanField::Place => change_session(model, "place", |s| s.place = text),
        PlanField::Camera => change_session(model, "camera", |s| s.camera = text),
        PlanField::Cue => change_session(model, "cue", |s| s.cue = text),
        PlanField::SessionNotes => change_session(model, "notes", |s| s.notes = text),
        PlanField::BlockTitle(id) => change_block(model, id, "title", |b| b.title = text),
        PlanField::BlockClub(id) => change_block(model, id, "club", |b| {
            b.club = (!text.is_empty()).then_some(Club(text));
        }),
        PlanField::BlockCue(id) => change_block(model, id, "cue", |b| b.cue = text),
        PlanField::SwingNotes(id) => match listed(model, id).is_some_and(|s| s.notes == text) {
            true => Vec::new(),
            false => edit_plan(model, PlanEdit::Notes(id, text)),
        },
        // These two wait for their buttons.
        PlanField::Reason | PlanField::Tag => {
            model.notebook.people.draft = Some((field, text));
            Vec::new()
        }
    }
}

fn listed(model: &Model, id: SwingId) -> Option<&Listed> {
    model.notebook.people.swings.as_ref()?.1.iter().find(|s| s.id == id)
}

/// Changes the golfer looked at; nothing is saved where nothing changed.
fn change_golfer(
    model: &mut Model,
    what: &'static str,
    change: impl FnOnce(&mut Golfer),
) -> Vec<Job> {
    let id = model.people.golfer;
    let Some((id, golfer)) = model.people.golfers.iter_mut().find(|(g, _)| Some(*g) == id) else {
        return Vec::new();
    };
    let (id, before) = (*id, golfer.clone());
    change(golfer);
    let after = golfer.clone();
    if after == before {
        return Vec::new();
    }
    edit_plan(model, PlanEdit::Golfer(id, Box::new(after), what))
}

fn change_session(
    model: &mut Model,
    what: &'static str,
    change: impl FnOnce(&mut Session),
) -> Vec<Job> {
    let (Some(id), Some(outline)) = (model.people.session, &mut model.notebook.outline) else {
        return Vec::new();
    };
    // Shown at once; the library's own answer follows.
    let outline = Arc::make_mut(outline);
    let Some(session) = outline.sessions.iter_mut().find(|s| s.id == id) else {
        return Vec::new();
    };
    let before = session.session.clone();
    change(&mut session.session);
    let after = session.session.clone();
    if after == before {
        return Vec::new();
    }
    edit_plan(model, PlanEdit::Session(id, Box::new(after), what))
}

fn change_block(
    model: &mut Model,
    id: BlockId,
    what: &'static str,
    change: impl FnOnce(&mut Block),
) -> Vec<Job> {
    let Some(outline) = &mut model.notebook.outline else { return Vec::new() };
    let outline = Arc::make_mut(outline);
    let blocks = outline.sessions.iter_mut().flat_map(|s| &mut s.blocks);
    let Some((row, _)) = blocks.into_iter().find(|(row, _)| row.id == id) else {
        return Vec::new();
    };
    let before = row.block.clone();
    change(&mut row.block);
    let after = row.block.clone();
    if after == before {
        return Vec::new();
    }
    edit_plan(model, PlanEdit::Block(id, Box::new(after), what))
}

/// A new block like the last one of the session: the condition to change is changed after.
fn begin_block(model: &mut Model) -> Vec<Job> {
    let Some(session) = model.people.session else {
        notify(model, "Begin a session first: a block is part of one.");
        return Vec::new();
    };
    let known = model.notebook.outline.as_ref().and_then(|outline| outline.session(session));
    let last = known.and_then(|s| s.blocks.last()).map(|(row, _)| row.block.clone());
    let count = known.map_or(0, |s| s.blocks.len());
    let like = last.unwrap_or_default();
    let block = Block {
        title: format!("Block {}", count + 1),
        club: like.club,
        ball: like.ball,
        ..Block::default()
    };
    edit_plan(model, PlanEdit::Begin(session, Box::new(block)))
}

/// Removes the golfer for good, if that was asked for twice.
fn erase(model: &mut Model) -> Vec<Job> {
    match model.notebook.people.erasing.take() {
        Some(Erasing { golfer, files, .. }) if model.people.golfer == Some(golfer) => {
            edit_plan(model, PlanEdit::Erase(golfer, files))
        }
        _ => Vec::new(),
    }
}

/// Asks what would go along before anything does.
fn ask_erase(model: &mut Model) -> Vec<Job> {
    let Some(golfer) = model.people.golfer else { return Vec::new() };
    model.notebook.people.erasing = Some(Erasing { golfer, plan: None, files: false });
    vec![Job::Ask(Ask::Erasure(golfer))]
}

/// Takes what would go along.
pub fn take_erasure(model: &mut Model, golfer: GolferId, plan: Arc<Erasure>) {
    if let Some(erasing) = &mut model.notebook.people.erasing
        && erasing.golfer == golfer
    {
        erasing.plan = Some(plan);
    }
}

/// The picked swings, in the order they were played.
fn picked(model: &Model) -> Vec<SwingId> {
    let page = &model.notebook.people;
    let all = page.swings.iter().flat_map(|(_, swings)| swings.iter());
    all.map(|s| s.id).filter(|id| page.picked.contains(id)).collect()
}

fn pick_block(model: &mut Model, block: Option<BlockId>) -> Vec<Job> {
    let page = &mut model.notebook.people;
    let all = page.swings.iter().flat_map(|(_, swings)| swings.iter());
    page.picked = all.filter(|s| s.block == block).map(|s| s.id).collect();
    Vec::new()
}

/// Sets a tag on the picked swings; where all of them have it, it is taken away.
fn set_tag(model: &mut Model, tag: &str) -> Vec<Job> {
    let tag = tag.trim().to_lowercase();
    let swings = picked(model);
    if tag.is_empty() || swings.is_empty() {
        return Vec::new();
    }
    if model.notebook.people.draft.as_ref().is_some_and(|(field, _)| *field == PlanField::Tag) {
        model.notebook.people.draft = None;
    }
    let tags_of = |id| listed(model, id).map(|s| s.tags.clone()).unwrap_or_default();
    let before: Vec<(SwingId, Vec<String>)> = swings.iter().map(|id| (*id, tags_of(*id))).collect();
    let away = before.iter().all(|(_, tags)| tags.contains(&tag));
    let mut jobs = Vec::new();
    for (id, mut tags) in before {
        let had = tags.contains(&tag);
        match (away, had) {
            (true, _) => tags.retain(|t| *t != tag),
            (false, false) => tags.push(tag.clone()),
            (false, true) => continue,
        }
        jobs.extend(edit_plan(model, PlanEdit::Tags(id, tags)));
    }
    jobs
}

/// Leaves the picked swings out for the reason typed; without a reason nothing is left out.
fn leave_out(model: &mut Model) -> Vec<Job> {
    let swings = picked(model);
    if swings.is_empty() {
        return Vec::new();
    }
    let draft = model.notebook.people.draft.take();
    let reason = draft.filter(|(field, _)| *field == PlanField::Reason).map(|(_, text)| text);
    match reason.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty()) {
        Some(reason) => edit_plan(model, PlanEdit::LeaveOut(swings, Some(reason))),
        None => {
            notify(model, "Say why these swings do not count: type a reason beside the button.");
            Vec::new()
        }
    }
}

/// Asks for the session's swings.
pub fn ask(model: &mut Model) -> Vec<Job> {
    model.people.session.map(|id| Job::Ask(Ask::Swings(id))).into_iter().collect()
}

/// Takes the session's swings.
pub fn take(
    model: &mut Model,
    session: SessionId,
    swings: Arc<Vec<Listed>>,
    running: Option<BlockId>,
) {
    if model.people.session != Some(session) {
        return;
    }
    let page = &mut model.notebook.people;
    page.picked.retain(|id| swings.iter().any(|s| s.id == *id));
    page.swings = Some((session, swings));
    page.running = running;
}
