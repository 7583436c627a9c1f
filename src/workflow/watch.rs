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
        let known = |(path, look)| (path, Known { look, told: true });
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
    /// second. A folder that can't be reached just now has nothing new.
    pub fn look(&mut self) -> Vec<PathBuf> {
        match recordings_in(&self.folder) {
            Ok(files) => self.take(files),
            Err(_) => Vec::new(),
        }
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
            let before = self.files.get(&path).filter(|known| known.look == look);
            let told = before.is_some() && look.size > 0;
            if told && before.is_some_and(|known| !known.told) {
                finished.push(path.clone());
            }
            now.insert(path, Known { look, told });
        }
        // Files that are gone are forgotten: one that comes back is new.
        self.files = now;
        finished
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
        assert_eq!(watch.take(vec![file("slow.mp4", 8, 5)]).len(), 0);
        assert_eq!(watch.take(vec![file("slow.mp4", 8, 5)]).len(), 1);
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
        assert!(watch.look().is_empty() && all.look().is_empty());
        assert_eq!(watch.look(), [folder.path().join("new.mov")]);
        assert_eq!(all.look(), ["new.mov", "old.MP4"].map(|n| folder.path().join(n)));
        assert!(FolderWatch::new(&folder.path().join("nowhere")).is_err());
    }
}
