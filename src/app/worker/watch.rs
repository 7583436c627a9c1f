//! Watching a folder: a finished new recording is handed to the window.

use std::path::Path;
use std::time::Duration;

use super::report::Report;
use crate::app::message::Event;
use crate::video::CancelToken;
use crate::workflow::FolderWatch;

/// How often the folder is looked at.
const LOOK: Duration = Duration::from_secs(1);

/// Looks until it is stopped.
pub fn run(folder: &Path, stop: &CancelToken, report: &Report) {
    let mut watch = match FolderWatch::new(folder) {
        Ok(watch) => watch,
        Err(error) => {
            report.send(Event::Notice(format!(
                "The folder cannot be watched ({error}); choose another one."
            )));
            return;
        }
    };
    while !stop.is_cancelled() {
        std::thread::sleep(LOOK);
        let finished = watch.look();
        if !finished.is_empty() && !stop.is_cancelled() {
            report.send(Event::Chosen(finished));
        }
    }
}
