//! Which files are being read in or wait for it, and what stops each of them.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::video::CancelToken;

/// What those who have files read share with the window.
#[derive(Clone, Debug, Default)]
pub struct Reading(Arc<Mutex<State>>);

#[derive(Debug, Default)]
struct State {
    files: HashMap<PathBuf, CancelToken>,
    closed: bool,
}

impl Reading {
    /// A file is to be read; what its reader is to look at. Asked for twice, one stop ends both.
    pub fn begin(&self, path: &Path) -> CancelToken {
        let mut state = self.state();
        let token = state.files.entry(path.to_path_buf()).or_default().clone();
        if state.closed {
            token.cancel();
        }
        token
    }

    /// Stops reading that file.
    pub fn stop(&self, path: &Path) {
        if let Some(token) = self.state().files.remove(path) {
            token.cancel();
        }
    }

    /// The window closes: nothing is read any more.
    pub fn close(&self) {
        let mut state = self.state();
        state.closed = true;
        state.files.values().for_each(CancelToken::cancel);
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_file_is_stopped_and_at_the_end_all() {
        let reading = Reading::default();
        let [a, b] = ["a.mp4", "b.mp4"].map(Path::new);
        let (first, other) = (reading.begin(a), reading.begin(b));
        let twice = reading.begin(a);
        reading.stop(a);
        assert!(first.is_cancelled() && twice.is_cancelled() && !other.is_cancelled());
        assert!(!reading.begin(a).is_cancelled(), "asked for anew");
        reading.close();
        assert!(other.is_cancelled() && reading.begin(Path::new("c.mp4")).is_cancelled());
    }
}
