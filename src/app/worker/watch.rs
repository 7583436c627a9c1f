//! Watching a folder: a finished new recording is reported, one still being copied waits.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::Report;
use crate::app::message::Event;
use crate::video::CancelToken;

/// How often the folder is looked at; a file must keep its size over two looks.
const LOOK: Duration = Duration::from_secs(1);

/// What is known of each file in the folder.
#[derive(Debug, Default)]
pub struct Seen {
    sizes: HashMap<PathBuf, u64>,
    told: Vec<PathBuf>,
}

impl Seen {
    /// Takes note of what the folder holds now, and returns the recordings that are new and
    /// have kept their size since the last look. What was there at the first look is not new.
    pub fn look(&mut self, files: &[(PathBuf, u64)], first: bool) -> Vec<PathBuf> {
        let mut finished = Vec::new();
        for (path, size) in files {
            if first {
                self.told.push(path.clone());
            } else if !self.told.contains(path) {
                let kept = self.sizes.insert(path.clone(), *size) == Some(*size);
                if kept && *size > 0 {
                    self.told.push(path.clone());
                    finished.push(path.clone());
                }
            }
        }
        finished
    }
}

/// The recordings in a folder with their sizes, by name.
fn recordings_in(folder: &Path) -> Vec<(PathBuf, u64)> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut files: Vec<(PathBuf, u64)> = entries
        .filter_map(|entry| {
            let entry = entry.ok()?;
            let path = entry.path();
            let ending = path.extension()?.to_str()?.to_lowercase();
            let known = super::ENDINGS.contains(&ending.as_str());
            Some((path, entry.metadata().ok()?.len())).filter(|_| known)
        })
        .collect();
    files.sort();
    files
}

/// Looks until it is stopped.
pub fn run(folder: &Path, stop: &CancelToken, report: &Report) {
    let mut seen = Seen::default();
    seen.look(&recordings_in(folder), true);
    while !stop.is_cancelled() {
        std::thread::sleep(LOOK);
        let finished = seen.look(&recordings_in(folder), false);
        if !finished.is_empty() && !stop.is_cancelled() {
            report.send(Event::Chosen(finished));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_still_growing_waits() {
        let file = |name: &str, size| (PathBuf::from(name), size);
        let mut seen = Seen::default();
        let none: Vec<PathBuf> = Vec::new();
        assert_eq!(seen.look(&[file("old.mp4", 9)], true), none);
        assert_eq!(seen.look(&[file("old.mp4", 9), file("new.mp4", 3)], false), none);
        assert_eq!(seen.look(&[file("old.mp4", 9), file("new.mp4", 7)], false), none);
        let new = vec![PathBuf::from("new.mp4")];
        assert_eq!(seen.look(&[file("old.mp4", 9), file("new.mp4", 7)], false), new);
        assert_eq!(seen.look(&[file("old.mp4", 9), file("new.mp4", 7)], false), none);
    }
}
