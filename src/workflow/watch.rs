//! A folder in which recordings arrive: a finished one is told, one still being copied waits.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// Endings of files that phones and cameras write.
pub const ENDINGS: [&str; 9] = ["mp4", "mov", "m4v", "mkv", "webm", "avi", "ts", "mts", "3gp"];

/// What a look at a file shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Look {
    size: u64,
    changed: Option<SystemTime>,
}

#[derive(Clone, Copy, Debug)]
struct Known {
    look: Look,
    told: bool,
    /// How many looks in a row it was as it is.
    still: u32,
    /// After how many it counts as finished: more each time that it went on growing after all.
    patience: u32,
}

/// The longest patience: about a minute.
const MOST_PATIENCE: u32 = 64;

impl Known {
    fn new(look: Look) -> Self {
        Self { look, told: false, still: 0, patience: 1 }
    }

    fn seen_again(self, look: Look) -> Self {
        if look != self.look {
            let more = (2 * self.patience).min(MOST_PATIENCE);
            let patience = if self.told { more } else { self.patience };
            return Self { look, told: false, still: 0, patience };
        }
        let still = self.still.saturating_add(1);
        let finished = still >= self.patience && look.size > 0;
        Self { still, told: self.told || finished, ..self }
    }
}

/// A watched folder and what is known of the files in it; folders in it are not looked into.
#[derive(Debug)]
pub struct FolderWatch {
    folder: PathBuf,
    files: HashMap<PathBuf, Known>,
}

impl FolderWatch {
    /// Watches a folder from now on: recordings that are there already are not new.
    ///
    /// # Errors
    /// The folder can't be read.
    pub fn new(folder: &Path) -> std::io::Result<Self> {
        let known = |(path, look)| (path, Known { look, told: true, still: 0, patience: 1 });
        let files = recordings_in(folder)?.into_iter().map(known).collect();
        Ok(Self { folder: folder.to_path_buf(), files })
    }

    /// As [`FolderWatch::new`], but recordings that are there already are new, too.
    ///
    /// # Errors
    /// The folder can't be read.
    pub fn with_those_there(folder: &Path) -> std::io::Result<Self> {
        std::fs::read_dir(folder)?;
        Ok(Self { folder: folder.to_path_buf(), files: HashMap::new() })
    }

    /// The recordings that are new, or have changed since they were told, and are finished:
    /// size and time of change are as they were at the last look. To be called about once a
    /// second. Each is told once for each content.
    ///
    /// # Errors
    /// The folder can't be read just now. What was known of it stays known, so that nothing is
    /// told twice when it is back.
    pub fn look(&mut self) -> std::io::Result<Vec<PathBuf>> {
        Ok(self.take(recordings_in(&self.folder)?))
    }

    /// Files are there that are not finished yet.
    pub fn is_waiting(&self) -> bool {
        self.files.values().any(|known| !known.told)
    }

    fn take(&mut self, mut files: Vec<(PathBuf, Look)>) -> Vec<PathBuf> {
        files.sort_by(|a, b| a.0.cmp(&b.0));
        let mut finished = Vec::new();
        let mut now = HashMap::with_capacity(files.len());
        for (path, look) in files {
            let before = self.files.get(&path).copied();
            let known = before.map_or(Known::new(look), |before| before.seen_again(look));
            if known.told && !before.is_some_and(|before| before.told) {
                finished.push(path.clone());
            }
            now.insert(path, known);
        }
        // Files that are gone are forgotten: one that comes back is new.
        self.files = now;
        finished
    }
}

/// That a watched folder can't be read any more, and why; or, without a reason, that it is back.
pub fn folder_words(folder: &Path, error: Option<&std::io::Error>) -> String {
    let folder = folder.display();
    match error {
        Some(error) => format!(
            "The watched folder cannot be read just now ({error}); bring it back, and it is watched on: {folder}"
        ),
        None => format!("The watched folder is back and is watched on: {folder}"),
    }
}

/// The recordings in a folder. Names that begin with a dot belong to programs that copy.
fn recordings_in(folder: &Path) -> std::io::Result<Vec<(PathBuf, Look)>> {
    let recording = |entry: std::fs::DirEntry| {
        let path = entry.path();
        let ending = path.extension()?.to_str()?.to_lowercase();
        let is_hidden = entry.file_name().to_string_lossy().starts_with('.');
        let data = std::fs::metadata(&path).ok()?;
        let look = Look { size: data.len(), changed: data.modified().ok() };
        let wanted = ENDINGS.contains(&ending.as_str()) && !is_hidden && data.is_file();
        wanted.then_some((path, look))
    };
    Ok(std::fs::read_dir(folder)?.flatten().filter_map(recording).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    fn file(name: &str, size: u64, second: u64) -> (PathBuf, Look) {
        let changed = Some(SystemTime::UNIX_EPOCH + Duration::from_secs(second));
        (PathBuf::from(name), Look { size, changed })
    }

    fn empty() -> FolderWatch {
        FolderWatch { folder: PathBuf::new(), files: HashMap::new() }
    }

    #[test]
    fn a_file_still_growing_waits() {
        let mut watch = empty();
        let none: Vec<PathBuf> = Vec::new();
        assert_eq!(watch.take(vec![file("new.mp4", 3, 1)]), none);
        assert_eq!(watch.take(vec![file("new.mp4", 7, 2)]), none);
        assert!(watch.is_waiting());
        assert_eq!(watch.take(vec![file("new.mp4", 7, 2)]), [PathBuf::from("new.mp4")]);
        assert_eq!(watch.take(vec![file("new.mp4", 7, 2)]), none);
        assert!(!watch.is_waiting());
        // Written in place: the size tells nothing, the time does.
        assert_eq!(watch.take(vec![file("whole.mp4", 9, 3)]), none);
        assert_eq!(watch.take(vec![file("whole.mp4", 9, 4)]), none);
        assert_eq!(watch.take(vec![file("whole.mp4", 9, 4)]), [PathBuf::from("whole.mp4")]);
    }

    #[test]
    fn a_file_that_goes_on_growing_is_told_again() {
        let mut watch = empty();
        watch.take(vec![file("slow.mp4", 3, 1)]);
        assert_eq!(watch.take(vec![file("slow.mp4", 3, 1)]).len(), 1, "the copy paused");
        // The next pause must be longer, and the one after that longer still.
        let mut at_rest = |size: u64| {
            let looks = (0..100).map(|_| watch.take(vec![file("slow.mp4", size, size)]).len());
            let told: Vec<usize> = looks.collect();
            assert_eq!(told.iter().sum::<usize>(), 1, "once for each content");
            told.iter().position(|n| *n == 1)
        };
        let waited = [8, 9, 10, 11, 12, 13, 14, 15].map(&mut at_rest);
        assert_eq!(waited, [2, 4, 8, 16, 32, 64, 64, 64].map(Some));
        // Empty files and files that went away are no news.
        assert!(watch.take(vec![file("empty.mp4", 0, 1)]).is_empty());
        assert!(watch.take(vec![file("empty.mp4", 0, 1)]).is_empty());
        assert!(watch.take(Vec::new()).is_empty() && watch.files.is_empty());
    }

    #[test]
    fn only_what_comes_later_is_new() {
        let folder = tempfile::tempdir().unwrap();
        let put = |name: &str| std::fs::write(folder.path().join(name), b"x").unwrap();
        put("old.MP4");
        let mut watch = FolderWatch::new(folder.path()).unwrap();
        let mut all = FolderWatch::with_those_there(folder.path()).unwrap();
        for name in ["new.mov", "notes.txt", ".new.mp4", "new.mp4.part"] {
            put(name);
        }
        std::fs::create_dir(folder.path().join("folder.mp4")).unwrap();
        assert!(watch.look().unwrap().is_empty() && all.look().unwrap().is_empty());
        assert_eq!(watch.look().unwrap(), [folder.path().join("new.mov")]);
        assert_eq!(all.look().unwrap(), ["new.mov", "old.MP4"].map(|n| folder.path().join(n)));
        assert!(FolderWatch::new(&folder.path().join("nowhere")).is_err());
    }

    #[test]
    fn a_folder_that_was_away_has_only_what_came_meanwhile() {
        let parent = tempfile::tempdir().unwrap();
        let (here, away) = (parent.path().join("phone"), parent.path().join("away"));
        std::fs::create_dir(&here).unwrap();
        std::fs::write(here.join("old.mp4"), "x").unwrap();
        let mut watch = FolderWatch::new(&here).unwrap();
        std::fs::rename(&here, &away).unwrap();
        assert!(watch.look().is_err() && watch.look().is_err());
        std::fs::write(away.join("new.mp4"), "x").unwrap();
        std::fs::rename(&away, &here).unwrap();
        assert!(watch.look().unwrap().is_empty());
        assert_eq!(watch.look().unwrap(), [here.join("new.mp4")]);
    }
}
