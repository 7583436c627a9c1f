//! A golfer carried from one library to another in one file.
//!
//! The file is a zip archive whose entries are stored as they are, without compression, so
//! that nothing can swell on unpacking. `bundle.json` lists every other entry with its size
//! and BLAKE3 hash; `golfer.json` is the golfer's part of the library; `recordings/` holds the
//! recordings, if they were wanted. All is checked before anything is written.

mod archive;
mod merge;
mod parts;

use std::path::{Path, PathBuf};

pub use archive::{Bundle, WrittenBundle, write_bundle};
pub use merge::{Plan, merge, plan, usual_folder};

use super::Progress;
use crate::domain::excerpt;
use crate::store::StoreError;

/// Why a bundle could not be written or read.
#[derive(Debug, thiserror::Error)]
pub enum BundleError {
    /// Not one of ours.
    #[error("The file is not a scuffline bundle ({}); ask for it again.", excerpt(.why))]
    NotABundle {
        /// What is wrong.
        why: String,
    },
    /// Cut short or changed on the way.
    #[error("The bundle is damaged at {}; ask for it again.", excerpt(.entry))]
    Damaged {
        /// Which entry.
        entry: String,
    },
    /// An entry that no bundle has.
    #[error("The bundle holds something that does not belong in it ({}); do not use it.", excerpt(.entry))]
    Hostile {
        /// Which entry.
        entry: String,
    },
    /// Of a newer program.
    #[error(
        "The bundle has schema {found}, this program reads up to {known}; use a newer scuffline."
    )]
    NewerSchema {
        /// The file's schema.
        found: u64,
        /// The newest one read here.
        known: u64,
    },
    /// A file can't be read or written.
    #[error("The file cannot be read or written ({reason}); check folder and free space: {path}")]
    File {
        /// What the system says.
        reason: String,
        /// Which file.
        path: PathBuf,
    },
    /// The person stopped it.
    #[error("Stopped; nothing was changed.")]
    Stopped,
    /// The library can't be read or written.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Bytes on their way, so many of so many; told to whoever listens.
struct Copying<'p, 'l> {
    doing: &'static str,
    bytes: u64,
    of: u64,
    progress: &'p mut Progress<'l>,
}

impl<'p, 'l> Copying<'p, 'l> {
    fn new(doing: &'static str, of: u64, progress: &'p mut Progress<'l>) -> Self {
        Self { doing, bytes: 0, of, progress }
    }

    fn copied(&mut self, bytes: u64) -> Result<(), BundleError> {
        self.bytes += bytes;
        let done = (self.bytes as f64 / self.of.max(1) as f64).min(1.0);
        if self.progress.report(self.doing, done) { Ok(()) } else { Err(BundleError::Stopped) }
    }
}

fn file_error(path: &Path) -> impl Fn(std::io::Error) -> BundleError + '_ {
    |error| BundleError::File { reason: error.to_string(), path: path.to_owned() }
}
