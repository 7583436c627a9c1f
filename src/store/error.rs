//! What can go wrong with a library, each in one sentence.

use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

use crate::domain::excerpt;

/// Why the library could not do what was asked. Nothing was changed in it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The file or its folder cannot be opened or made.
    #[error("The library cannot be opened; check that its folder exists and may be written to: {}", .0.display())]
    CannotOpen(PathBuf),
    /// The file was moved or its drive taken away while it was open.
    #[error("The library is no longer where it was, so nothing was saved; bring its drive or folder back and open it again: {}", .0.display())]
    Gone(PathBuf),
    /// The file is not a library of this program.
    #[error("This file is not a scuffline library; choose another one: {}", .0.display())]
    NotALibrary(PathBuf),
    /// A newer program wrote it.
    #[error("The library has version {found} and this program knows versions up to {known}; use the newer program: {}", .path.display())]
    Newer {
        /// The file's version.
        found: i64,
        /// The newest version known here.
        known: i64,
        /// The file.
        path: PathBuf,
    },
    /// The file's contents contradict each other.
    #[error("The library is damaged; restore its newest backup: {}", .0.display())]
    Damaged(PathBuf),
    /// Writing is not allowed.
    #[error("The library may not be written to; check the rights of the file and its folder: {}", .0.display())]
    ReadOnly(PathBuf),
    /// No space left.
    #[error("The disk is full, and the last change was not kept; free some space and try again: {}", .0.display())]
    DiskFull(PathBuf),
    /// Another program holds the library.
    #[error("Another program is busy with the library; try again when it has finished: {}", .0.display())]
    Busy(PathBuf),
    /// The disk reports an error.
    #[error("The disk failed while reading or writing the library ({detail}); check the drive: {}", .path.display())]
    Disk {
        /// What SQLite says.
        detail: String,
        /// The file.
        path: PathBuf,
    },
    /// An id that is not (or no longer) in the library.
    #[error("The {what} is not in the library, or no longer; look at the list again.")]
    Missing {
        /// What was looked for.
        what: &'static str,
    },
    /// A step that cannot be undone or redone any more.
    #[error(
        "\"{words}\" cannot be undone or redone, since the same place was changed elsewhere; change it by hand."
    )]
    ChangedElsewhere {
        /// The step.
        words: String,
    },
    /// A value that must not be stored.
    #[error("The {what} is not a usable value; enter it again.")]
    BadValue {
        /// Which value.
        what: &'static str,
    },
    /// A stored value this program cannot read.
    #[error("The {what} in the library cannot be read ({}); restore the newest backup.", excerpt(.detail))]
    Unreadable {
        /// Which value.
        what: &'static str,
        /// Why.
        detail: String,
    },
    /// A recording or backup file cannot be read or written.
    #[error("The file cannot be read or written ({detail}): {}", .path.display())]
    File {
        /// What the system says.
        detail: String,
        /// The file.
        path: PathBuf,
    },
    /// Anything else SQLite reports.
    #[error("The library could not carry out the change ({}); nothing was changed.", reason(.0))]
    Sql(#[source] rusqlite::Error),
}

/// SQLite's words, without the statement that they are about.
fn reason(error: &rusqlite::Error) -> String {
    match error {
        rusqlite::Error::SqlInputError { msg, .. } => excerpt(msg),
        other => excerpt(&other.to_string()),
    }
}

/// Reads a library and its journal through. SQLite calls a file damaged that the disk does not
/// give (EIO); whoever then put a backup in its place would lose what was done since.
fn read_through(path: &Path) -> std::io::Result<()> {
    let mut journal = path.as_os_str().to_owned();
    journal.push("-wal");
    for path in [path, Path::new(&journal)] {
        let mut file = match std::fs::File::open(path) {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => continue,
            file => file?,
        };
        let read = std::io::copy(&mut file, &mut std::io::sink());
        // Closing any descriptor of a file drops all of a process's POSIX locks on it (as SQLite's
        // "How to corrupt" warns): another program could then take the journal away from under
        // the connections that are open here. A descriptor left open costs nothing.
        std::mem::forget(file);
        read?;
    }
    Ok(())
}

/// What the functions of this room return.
pub type Result<T> = std::result::Result<T, StoreError>;

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        Self::Sql(error)
    }
}

impl StoreError {
    /// The same error with the library's place where the sentence names it.
    pub(super) fn at(self, path: &Path) -> Self {
        let Self::Sql(error) = self else { return self };
        let path = path.to_path_buf();
        match error.sqlite_error_code() {
            Some(ErrorCode::CannotOpen) => Self::CannotOpen(path),
            Some(ErrorCode::NotADatabase) => Self::NotALibrary(path),
            Some(ErrorCode::DatabaseCorrupt) => match read_through(&path) {
                Ok(()) => Self::Damaged(path),
                Err(error) => Self::Disk { detail: error.to_string(), path },
            },
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => Self::ReadOnly(path),
            Some(ErrorCode::DiskFull) => Self::DiskFull(path),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy(path),
            Some(ErrorCode::SystemIoFailure) => Self::Disk { detail: error.to_string(), path },
            _ => Self::Sql(error),
        }
    }

    /// A file-system error with its place.
    pub(super) fn file(error: &std::io::Error, path: &Path) -> Self {
        Self::File { detail: error.to_string(), path: path.to_path_buf() }
    }
}

#[cfg(test)]
mod tests {
    use std::process::Command;

    use super::*;
    use crate::domain::Golfer;
    use crate::store::Library;

    /// Set for the other program, which is this test started anew.
    const OTHER: &str = "SCUFFLINE_TEST_OTHER_PROGRAM";

    #[test]
    fn reading_a_library_through_leaves_its_locks_alone() {
        if let Some(path) = std::env::var_os(OTHER) {
            Library::open(&path).unwrap();
            return;
        }
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("one.scuffline");
        let mut library = Library::open(&path).unwrap();
        library.save(|edit| edit.add_golfer(&Golfer::default())).unwrap();
        read_through(&path).unwrap();
        let status = Command::new(std::env::current_exe().unwrap())
            .args([
                "--exact",
                "store::error::tests::reading_a_library_through_leaves_its_locks_alone",
            ])
            .env(OTHER, &path)
            .status()
            .unwrap();
        assert!(status.success());
        // The last program to leave takes the journal away; the other one must see that it is not.
        assert!(folder.path().join("one.scuffline-wal").exists());
    }
}
