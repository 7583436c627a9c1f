//! The only place that changes the model. No egui, no files, no clock: line by line testable.

mod beside;
mod events;
mod files;
mod frames;
mod marks;
mod screens;
mod session;
mod settings;
mod setup;
mod strip;

use super::message::{Edit, Event, Job, Message};
use super::model::Model;
use super::notebook;

/// Applies one message and returns the work that follows from it.
pub fn update(model: &mut Model, message: impl Into<Message>) -> Vec<Job> {
    match message.into() {
        Message::Event(event) => {
            // What was read or changed may be what a chapter shows.
            let stirs = matches!(event, Event::People(_) | Event::Session { .. });
            let mut jobs = events::take(model, event);
            if stirs {
                jobs.extend(notebook::refresh(model));
                jobs.extend(notebook::write_agreed(model));
            }
            jobs
        }
        Message::File(message) => files::update(model, message),
        Message::Swing(message) => session::update(model, message),
        Message::Picture(message) => frames::update(model, message),
        Message::Strip(message) => strip::update(model, message),
        Message::Mark(message) => marks::update(model, message),
        Message::Setup(message) => setup::update(model, message),
        Message::Screen(message) => screens::update(model, message),
        Message::Settings(message) => settings::update(model, message),
        Message::Beside(message) => beside::update(model, message),
        Message::Notebook(message) => notebook::update(model, message),
    }
}

/// Counts an edit and wraps it as work.
pub(super) fn edit(model: &mut Model, edit: Edit) -> Vec<Job> {
    model.edits += 1;
    vec![Job::Edit { edit, number: model.edits }]
}

/// Adds a notice; the oldest of more than four gives way, and what is already said is not said
/// twice.
pub(super) fn notify(model: &mut Model, text: impl Into<String>) {
    let text = text.into();
    model.notices.retain(|notice| notice.text != text);
    let id = model.notices.last().map_or(0, |n| n.id + 1);
    model.notices.push(super::model::Notice { id, text });
    if model.notices.len() > 4 {
        model.notices.remove(0);
    }
}

#[cfg(test)]
pub mod tests;
