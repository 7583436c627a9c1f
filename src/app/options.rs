//! What the window is started with.

use std::path::PathBuf;

use crate::store::Library;

/// What the window is started with.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// The library; `None`: at its usual place.
    pub library: Option<PathBuf>,
    /// Recordings to read at once.
    pub files: Vec<PathBuf>,
    /// Into a library in which nobody is yet, put the invented golfer.
    pub sample: bool,
}

impl Options {
    /// Where the library lies: named, or at its usual place.
    pub fn place(&self) -> Option<PathBuf> {
        self.library.clone().or_else(Library::default_path)
    }
}
