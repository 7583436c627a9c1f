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
pub use merge::{Plan, merge, plan};

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
    /// The library can't be read or written.
    #[error(transparent)]
    Store(#[from] StoreError),
}

fn file_error(path: &Path) -> impl Fn(std::io::Error) -> BundleError + '_ {
    |error| BundleError::File { reason: error.to_string(), path: path.to_owned() }
}
