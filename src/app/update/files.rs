//! Recordings on their way in.

use std::path::{Path, PathBuf};

use super::notebook::dropped;
use crate::app::message::{FileMessage, Job};
use crate::app::model::{Model, QueueItem};
use crate::store::SessionId;
use crate::workflow::send::Form;

/// Applies a message about files.
pub fn update(model: &mut Model, message: FileMessage) -> Vec<Job> {
    match message {
        FileMessage::AskForFiles => vec![Job::AskForFiles],
        FileMessage::Import(paths) => import(model, paths),
        FileMessage::CancelImport(path) => cancel_import(model, path),
        FileMessage::Watch(true) => vec![Job::Watch],
        FileMessage::Watch(false) => {
            model.watched = None;
            vec![Job::StopWatching]
        }
    }
}

/// How many recent files are remembered.
const RECENT: usize = 8;

/// Puts files into the queue; one that is already in it is not read twice.
pub fn import(model: &mut Model, paths: Vec<PathBuf>) -> Vec<Job> {
    let mut jobs = Vec::new();
    for path in paths {
        if is_bundle(&path) {
            jobs.extend(dropped(model, path));
            continue;
        }
        if model.queue.iter().any(|item| item.path == path) {
            continue;
        }
        model.queue.push_back(QueueItem::waiting(path.clone()));
        model.settings.recent_files.retain(|recent| *recent != path);
        model.settings.recent_files.insert(0, path.clone());
        model.settings.recent_files.truncate(RECENT);
        jobs.push(Job::Import { path, session: own_session(model) });
    }
    if jobs.iter().any(|job| matches!(job, Job::Import { .. })) {
        jobs.push(Job::SaveSettings(model.settings.clone()));
    }
    jobs
}

/// A golfer carried over, not a recording.
fn is_bundle(path: &Path) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case(Form::Bundle.ending()))
}

/// The session looked at, unless it is the invented golfer's: real swings don't go there.
fn own_session(model: &Model) -> Option<SessionId> {
    let golfer = model.people.golfers.iter().find(|(id, _)| Some(*id) == model.people.golfer);
    let invented = golfer.is_some_and(|(_, golfer)| golfer.invented);
    model.people.session.filter(|_| !invented)
}

/// Takes a file out of the queue and stops reading it.
fn cancel_import(model: &mut Model, path: PathBuf) -> Vec<Job> {
    model.queue.retain(|item| item.path != path);
    vec![Job::CancelImport(path)]
}
