//! Two sessions against each other.

use crate::app::message::{CompareMessage, Job};
use crate::app::model::Model;
use crate::store::SessionId;

/// Applies a message about the comparison.
pub fn update(model: &mut Model, message: CompareMessage) -> Vec<Job> {
    match message {
        CompareMessage::Choose(place, session) => choose(model, place, session),
    }
}

/// The session looked at, against the one before it.
pub fn begin(model: &mut Model) -> Vec<Job> {
    let sessions = &model.people.sessions;
    let here = sessions.iter().position(|(id, _)| Some(*id) == model.people.session);
    // Newest first: the earlier one stands below.
    let later = here.or((!sessions.is_empty()).then_some(0));
    let earlier = later.map(|i| if i + 1 < sessions.len() { i + 1 } else { i });
    let id = |i: Option<usize>| i.map(|i| sessions[i].0);
    model.compared.sessions = [id(earlier), id(later)];
    ask_to_compare(model)
}

/// Puts a session into the comparison.
fn choose(model: &mut Model, place: usize, session: SessionId) -> Vec<Job> {
    model.compared.sessions[place.min(1)] = Some(session);
    ask_to_compare(model)
}

fn ask_to_compare(model: &mut Model) -> Vec<Job> {
    model.compared.found = None;
    match model.compared.sessions {
        [Some(earlier), Some(later)] if earlier != later => vec![Job::Compare([earlier, later])],
        _ => Vec::new(),
    }
}
