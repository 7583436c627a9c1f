//! A flag that stops long work from another thread.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A shared flag; its clones see the same one. Once cancelled it stays so: make a new one for
/// the next piece of work.
#[derive(Clone, Debug, Default)]
pub struct CancelToken(Arc<AtomicBool>);

impl CancelToken {
    /// A flag that is not set.
    pub fn new() -> Self {
        Self::default()
    }

    /// Sets the flag.
    pub fn cancel(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether the flag is set.
    pub fn is_cancelled(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}
