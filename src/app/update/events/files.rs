//! Recordings on their way in.

use std::path::{Path, PathBuf};

use crate::app::message::{FileEvent, Job};
use crate::app::model::{Finding, Model, Page, QueueItem};
use crate::app::update::common::notify;
use crate::app::update::{files, session};
use crate::store::{GolferId, SessionId, SwingId};
use crate::workflow::file_name;

/// Applies what is told of files.
pub fn take(model: &mut Model, event: FileEvent) -> Vec<Job> {
    match event {
        FileEvent::Importing { path, doing, done } => importing(model, path, doing, done),
        FileEvent::Finding { path, number, finding } => found(model, &path, number, finding),
        FileEvent::Imported { path, session, swing, whose } => {
            tell_whose(model, whose);
            return imported(model, path, session, swing);
        }
        FileEvent::NotImported { path, sentence } => not_imported(model, &path, sentence),
        FileEvent::Watching(folder) => model.watched = Some(folder),
        FileEvent::Chosen(paths) => return files::import(model, paths),
    }
    Vec::new()
}

fn importing(model: &mut Model, path: PathBuf, doing: String, done: f64) {
    let done = done.clamp(0.0, 1.0);
    match model.queue.iter_mut().find(|item| item.path == path) {
        Some(item) => (item.doing, item.done) = (doing, done),
        // Nobody asked for it here: the sample's own recordings.
        None => model.queue.push_back(QueueItem { doing, done, ..QueueItem::waiting(path) }),
    }
}

/// Takes note of a swing in a file that is still being read; one told again is known better.
fn found(model: &mut Model, path: &Path, number: usize, finding: Finding) {
    if let Some(item) = model.queue.iter_mut().find(|item| item.path == path) {
        match item.found.get_mut(number) {
            Some(known) => *known = finding,
            None => item.found.push(finding),
        }
    }
}

fn not_imported(model: &mut Model, path: &Path, sentence: Option<String>) {
    model.queue.retain(|item| item.path != path);
    if let Some(sentence) = sentence {
        model.settings.recent_files.retain(|recent| *recent != path);
        notify(model, sentence);
    }
}

/// Says whose swings were read where that is not the golfer who is looked at; once for many files.
fn tell_whose(model: &mut Model, whose: Option<(GolferId, String)>) {
    let Some((golfer, name)) = whose else { return };
    if model.people.golfer.is_some_and(|shown| shown != golfer) {
        let sentence = format!(
            "What was read is with the golfer {name}; to read for another, choose that golfer at the top first."
        );
        notify(model, sentence);
    }
}

fn imported(
    model: &mut Model,
    path: PathBuf,
    session: SessionId,
    swing: Option<SwingId>,
) -> Vec<Job> {
    model.queue.retain(|item| item.path != path);
    if swing.is_none() {
        let name = file_name(&path);
        let is_shown = model.open.as_ref().is_none_or(|open| open.path == path);
        let look = if is_shown { "" } else { "look at it by the panel's button, " };
        notify(
            model,
            format!(
                "No swing was found in {name}; {look}step to the strike and press Shift S to begin one."
            ),
        );
    }
    if model.people.session != Some(session) {
        // What the person is looking at stays, unless nothing is there to look at.
        let elsewhere = model.queue.is_empty() || model.swings.is_empty();
        if elsewhere { session::choose_session(model, session) } else { Vec::new() }
    } else {
        // Whoever is looking at a swing is not torn away from it, except on the range.
        match (model.current, swing) {
            (None, Some(swing)) => session::show_swing(model, swing),
            (_, Some(swing)) if model.page == Page::Range => session::show_swing(model, swing),
            _ => Vec::new(),
        }
    }
}
