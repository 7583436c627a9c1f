//! Who is writing just now: a window that closes waits until nobody is, and nobody begins.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What the threads that write share.
#[derive(Clone, Default)]
pub struct Writing(Arc<Mutex<State>>);

#[derive(Default)]
struct State {
    count: usize,
    closed: bool,
}

/// Somebody writes as long as this is held.
pub struct Held(Writing);

impl Writing {
    /// Before anything is written; `None`: the window closes, and nothing is begun any more.
    pub fn begin(&self) -> Option<Held> {
        let mut state = self.state();
        if state.closed {
            return None;
        }
        state.count += 1;
        Some(Held(self.clone()))
    }

    /// From now on nothing is begun.
    pub fn close(&self) {
        self.state().closed = true;
    }

    /// Nobody writes.
    pub fn is_idle(&self) -> bool {
        self.state().count == 0
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        self.0.state().count -= 1;
    }
}
