//! What jobs report, part by part. An answer to an old request is dropped unread.

mod files;
mod pictures;
mod session;

use super::common::{mention, notify};
use super::{beside, notebook};
use crate::app::message::{Event, Job};
use crate::app::model::{Model, Settings, Sheet};

/// Applies what a job reports.
pub fn take(model: &mut Model, event: Event) -> Vec<Job> {
    match event {
        Event::Session(event) => session::take(model, event),
        Event::Picture(event) => pictures::take(model, event),
        Event::File(event) => files::take(model, event),
        Event::Beside(event) => beside::take(model, event),
        Event::Answer(answer) => notebook::take(model, answer),
        Event::Settings(settings) => take_settings(model, settings),
        Event::Notice(text) => {
            notify(model, text);
            Vec::new()
        }
        Event::Mention(text) => {
            mention(model, text);
            Vec::new()
        }
        Event::JobFailed(text) => take_failure(model, text),
    }
}

fn take_settings(model: &mut Model, settings: Settings) -> Vec<Job> {
    model.settings = settings;
    model.ready = true;
    if !model.settings.guide_dismissed {
        model.sheet = Some(Sheet::Guide(0));
    }
    Vec::new()
}

/// What is on the screen may be ahead of what is saved: what is saved is fetched.
fn take_failure(model: &mut Model, text: String) -> Vec<Job> {
    notify(model, text);
    model.edits_seen = model.edits;
    model.adding_swing = false;
    model.people.session.map(Job::LoadSession).into_iter().collect()
}
