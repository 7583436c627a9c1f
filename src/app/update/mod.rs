//! The only place that changes the model. No egui, no files, no clock: line by line testable.

mod beside;
mod common;
mod events;
mod files;
mod frames;
mod ground;
mod marks;
mod notebook;
mod screens;
mod session;
mod settings;
mod setup;
mod strip;

use super::message::{Event, Job, Message, ScreenMessage, SessionEvent, SwingMessage};
use super::model::Model;

/// Applies one message and returns the work that follows from it.
pub fn update(model: &mut Model, message: impl Into<Message>) -> Vec<Job> {
    let message = message.into();
    if goes_on(&message) {
        model.notices.retain(|notice| !notice.passing);
    }
    match message {
        Message::Event(event) => {
            // What was read or changed may be what a chapter shows.
            let stirs = matches!(
                event,
                Event::Session(SessionEvent::People(_) | SessionEvent::Session { .. })
            );
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

/// Whether the person goes on to something else, so that what was just done is old.
fn goes_on(message: &Message) -> bool {
    match message {
        Message::Swing(message) => !matches!(message, SwingMessage::Glance(_)),
        Message::Screen(message) => {
            matches!(message, ScreenMessage::Show(_) | ScreenMessage::Open(_))
        }
        Message::Mark(_) | Message::Setup(_) | Message::Notebook(_) => true,
        _ => false,
    }
}

#[cfg(test)]
pub mod tests;
