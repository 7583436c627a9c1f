//! A golfer removed for good.

use std::path::{Path, PathBuf};

use crate::store::{GolferId, Library, RecordingRow, StoreError, identify_file};

/// What goes, or has gone, with a golfer.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Erasure {
    /// The golfer's name.
    pub name: String,
    /// How many sessions.
    pub sessions: usize,
    /// How many swings.
    pub swings: usize,
    /// The recordings that only this golfer has; the files stay unless they are to go along.
    pub recordings: Vec<PathBuf>,
    /// Backups beside the library, in which the golfer may still be.
    pub backups: Vec<PathBuf>,
    /// Recordings that could not be removed, with the reason.
    pub kept: Vec<(PathBuf, String)>,
}

impl Erasure {
    /// What became of the golfer, in a sentence or more; `files`: the recordings were to go too.
    pub fn words(&self, files: bool) -> String {
        let mut text = format!("{} is removed for good.", self.name);
        match self.recordings.len() - self.kept.len() {
            0 => {}
            1 if files => text.push_str(" The recording went too."),
            n if files => text.push_str(&format!(" The {n} recordings went too.")),
            _ => text.push_str(" The recordings stay where they are."),
        }
        for (path, reason) in &self.kept {
            text.push_str(&format!(
                " One could not be removed ({reason}); remove it by hand: {}",
                path.display()
            ));
        }
        text
    }
}

/// What erasing a golfer would remove; nothing is changed.
///
/// # Errors
/// There is no such golfer, or the library can't be read.
pub fn plan_erasure(library: &Library, golfer: GolferId) -> Result<Erasure, StoreError> {
    let name = library.golfer(golfer)?.name;
    let sessions = library.sessions(golfer)?;
    let mut recordings = Vec::new();
    for session in &sessions {
        for row in library.recordings(session.id)? {
            let goes = belongs_to(library, golfer, &row)? && !is_exchanged(&row);
            if goes && !recordings.contains(&row.path) {
                recordings.push(row.path);
            }
        }
    }
    Ok(Erasure {
        name,
        swings: sessions.iter().map(|row| row.swings).sum(),
        sessions: sessions.len(),
        recordings,
        backups: backups_beside(library.path()),
        kept: Vec::new(),
    })
}

/// Another file lies in the recording's place, which is nobody's to remove.
fn is_exchanged(recording: &RecordingRow) -> bool {
    identify_file(&recording.path).is_ok_and(|found| found != recording.identity)
}

/// Nobody else in the library has this recording.
fn belongs_to(
    library: &Library,
    golfer: GolferId,
    recording: &RecordingRow,
) -> Result<bool, StoreError> {
    for twin in library.recordings_with(&recording.identity)? {
        if library.session(twin.session)?.golfer != golfer {
            return Ok(false);
        }
    }
    Ok(true)
}

/// Removes a golfer with sessions, swings and marks for good; `with_files`: the recordings
/// that only this golfer has, too.
///
/// # Errors
/// There is no such golfer, or the library can't be written; all files are still there then.
pub fn erase(
    library: &mut Library,
    golfer: GolferId,
    with_files: bool,
) -> Result<Erasure, StoreError> {
    let mut erasure = plan_erasure(library, golfer)?;
    library.erase_golfer(golfer)?;
    if with_files {
        for path in &erasure.recordings {
            match std::fs::remove_file(path) {
                Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                    erasure.kept.push((path.clone(), error.to_string()));
                }
                _ => {}
            }
        }
    }
    Ok(erasure)
}

/// The folder beside a library for backups that were given no place.
pub fn backup_folder(library: &Path) -> PathBuf {
    library.parent().unwrap_or(Path::new("")).join("backups")
}

fn backups_beside(library: &Path) -> Vec<PathBuf> {
    let stem = library.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let beside = library.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut found = Vec::new();
    for folder in [beside.to_path_buf(), backup_folder(library)] {
        let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let is_copy = |path: &PathBuf| {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let rest = name.strip_prefix(&stem).unwrap_or_default();
            rest.ends_with(".backup") || rest.starts_with(".damaged")
        };
        found.extend(entries.map(|entry| entry.path()).filter(is_copy));
    }
    found.sort();
    found
}
