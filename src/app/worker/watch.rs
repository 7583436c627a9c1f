//! Watching a folder: a finished new recording is handed to the window.

use std::path::Path;
use std::time::Duration;

use super::report::Report;
use crate::app::message::{Event, FileEvent};
use crate::video::CancelToken;
use crate::workflow::{FolderWatch, folder_words};

/// How often the folder is looked at.
const LOOK: Duration = Duration::from_secs(1);

/// Looks until it is stopped. That the folder is watched is told once it could be read.
pub fn run(folder: &Path, stop: &CancelToken, report: &Report) {
    match FolderWatch::new(folder) {
        Ok(watch) => {
            report.send(FileEvent::Watching(folder.to_path_buf()));
            go_on(watch, folder, LOOK, stop, report);
        }
        Err(error) => report.send(Event::Notice(format!(
            "The folder cannot be watched ({error}); choose another one: {}",
            folder.display()
        ))),
    }
}

/// A folder that goes away is told once, and once more when it is back.
fn go_on(
    mut watch: FolderWatch,
    folder: &Path,
    pause: Duration,
    stop: &CancelToken,
    report: &Report,
) {
    let mut is_away = false;
    while !stop.is_cancelled() {
        std::thread::sleep(pause);
        let looked = watch.look();
        if stop.is_cancelled() {
            return;
        }
        if looked.is_err() != is_away {
            is_away = looked.is_err();
            report.send(Event::Notice(folder_words(folder, looked.as_ref().err())));
        }
        let finished = looked.unwrap_or_default();
        if !finished.is_empty() {
            report.send(FileEvent::Chosen(finished));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::{Receiver, channel};

    const LONG: Duration = Duration::from_secs(60);

    fn report() -> (Report, Receiver<Event>) {
        let (events, heard) = channel();
        (Report::new(events, || {}), heard)
    }

    #[test]
    fn a_folder_that_cannot_be_read_is_not_watched() {
        let (report, heard) = report();
        run(Path::new("/no such folder"), &CancelToken::new(), &report);
        drop(report);
        let told: Vec<Event> = heard.iter().collect();
        assert!(matches!(&told[..], [Event::Notice(text)] if text.contains("cannot be watched")));
    }

    #[test]
    fn a_folder_that_goes_away_is_told_once_and_watched_on_when_it_is_back() {
        let parent = tempfile::tempdir().unwrap();
        let (here, away) = (parent.path().join("phone"), parent.path().join("away"));
        std::fs::create_dir(&here).unwrap();
        let (report, heard) = report();
        let stop = CancelToken::new();
        std::thread::scope(|scope| {
            let watch = FolderWatch::new(&here).unwrap();
            scope.spawn(|| go_on(watch, &here, Duration::from_millis(2), &stop, &report));
            let notice = |wanted: &str| {
                let event = heard.recv_timeout(LONG).expect("it is told");
                assert!(
                    matches!(&event, Event::Notice(text) if text.contains(wanted)),
                    "{event:?}"
                );
            };
            std::fs::rename(&here, &away).unwrap();
            notice("cannot be read just now");
            std::thread::sleep(Duration::from_millis(50));
            std::fs::write(away.join("new.mp4"), "x").unwrap();
            std::fs::rename(&away, &here).unwrap();
            // Nothing was said meanwhile, although it was looked at all the time.
            notice("is back");
            let event = heard.recv_timeout(LONG).expect("what came meanwhile");
            assert!(
                matches!(&event, Event::File(FileEvent::Chosen(files)) if *files == [here.join("new.mp4")]),
                "{event:?}"
            );
            stop.cancel();
        });
    }

    #[test]
    fn watching_is_told_after_the_first_reading() {
        let folder = tempfile::tempdir().unwrap();
        let (report, heard) = report();
        let stop = CancelToken::new();
        std::thread::scope(|scope| {
            scope.spawn(|| run(folder.path(), &stop, &report));
            let event = heard.recv_timeout(LONG).expect("it is told");
            assert!(
                matches!(&event, Event::File(FileEvent::Watching(path)) if path == folder.path()),
                "{event:?}"
            );
            stop.cancel();
        });
    }
}
