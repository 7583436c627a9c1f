//! Golfers, sessions and swings as they are in the library.

use std::path::PathBuf;

use crate::app::message::{Job, SessionEvent};
use crate::app::model::{History, Model, Page, People, Swing};
use crate::app::update::{session, settings};
use crate::app::words::without_start;
use crate::store::{RecordingId, SessionId};
use crate::workflow::place_words;

/// Applies what is told of them.
pub fn take(model: &mut Model, event: SessionEvent) -> Vec<Job> {
    match event {
        SessionEvent::People(people) => take_people(model, people),
        SessionEvent::Session { session, swings, recordings, history, edit } => {
            if is_late(model, session, edit) {
                // Nothing is waited for, though another session is looked at by now.
                if edit >= model.edits {
                    model.edits_seen = edit;
                }
                return Vec::new();
            }
            (model.history, model.edits_seen) = (history, edit);
            take_session(model, session, swings, recordings)
        }
        SessionEvent::History { history, edit } => {
            if edit >= model.edits {
                (model.history, model.edits_seen) = (history, edit);
            }
            Vec::new()
        }
        SessionEvent::Look(swing) => session::show_swing(model, swing),
    }
}

/// Whether a session comes too late: an edit is on its way, or it was left meanwhile.
fn is_late(model: &Model, session: SessionId, edit: u64) -> bool {
    let put_away = model.settings.sample_hidden && model.people.golfer.is_none();
    let left = model.people.session.is_some_and(|chosen| chosen != session);
    edit < model.edits || put_away || left
}

/// What is said aloud on the range when a session has got a new swing.
fn newest_in_words(model: &Model, session: SessionId, swings: &[Swing]) -> Option<String> {
    let wanted = model.settings.speak && model.page == Page::Range;
    let grown = model.people.session == Some(session) && swings.len() > model.swings.len();
    let last = swings.last().filter(|_| wanted && grown)?;
    let result = last.result.as_ref()?;
    match &result.divot_start_offset {
        Some(start) => Some(place_words(start.value, model.settings.unit)),
        None => Some(without_start(result, last.marks.ground).into()),
    }
}

fn take_people(model: &mut Model, people: People) -> Vec<Job> {
    let left = model.people.session.is_some() && model.people.session != people.session;
    model.people = people;
    if left || model.people.session.is_none() {
        // Nobody's swings stay on the screen under another's name.
        session::leave_session(model);
        model.history = History::default();
    }
    settings::away_from_sample(model)
}

fn take_session(
    model: &mut Model,
    session: SessionId,
    swings: Vec<Swing>,
    recordings: Vec<(RecordingId, PathBuf)>,
) -> Vec<Job> {
    let said = newest_in_words(model, session, &swings);
    let another = model.people.session != Some(session);
    let grown = swings.len() > model.swings.len();
    model.people.session = Some(session);
    (model.swings, model.recordings) = (swings, recordings);
    model.adding_swing = false;
    // A recording that was undone is gone.
    model.open.take_if(|open| !model.recordings.iter().any(|(id, _)| *id == open.id));
    let mut jobs = look_on(model, another, grown);
    jobs.extend(said.map(Job::Speak));
    jobs
}

/// Goes on looking at the same swing, or turns to the one that is to be looked at now.
fn look_on(model: &mut Model, another: bool, grown: bool) -> Vec<Job> {
    if grown
        && model.page == Page::Range
        && let Some(last) = model.swings.last().map(|swing| swing.id)
    {
        return session::show_swing(model, last);
    }
    if model.current.is_some_and(|id| model.number_of(id).is_none()) {
        model.current = None;
    }
    // A swing without a recording is left for the first one that can be seen.
    let unseen = model.current_swing().is_some_and(|s| s.recording.is_none());
    let looking = model.current.is_some() || model.open.is_some();
    if looking && !another && !(unseen && grown) {
        return Vec::new();
    }
    let seen = |s: &&Swing| s.recording.is_some();
    let swings = &model.swings;
    let open = swings.iter().filter(seen).find(|s| !s.is_settled());
    let first = open.or(swings.iter().rfind(seen)).or(swings.last());
    match (first.map(|s| s.id), model.recordings.first().map(|r| r.0)) {
        (Some(id), _) => session::show_swing(model, id),
        (None, Some(recording)) => session::show_recording(model, recording),
        (None, None) => {
            model.open = None;
            Vec::new()
        }
    }
}
