//! Stopping what is waited for, also while it still waits for its turn.

use std::sync::{Arc, Mutex, PoisonError};

use crate::video::CancelToken;

/// One thing at a time that can be stopped from another thread; each has a number of its own.
#[derive(Clone, Debug, Default)]
pub struct Halt(Arc<Mutex<State>>);

#[derive(Debug, Default)]
struct State {
    /// What was begun last.
    running: Option<(u64, CancelToken)>,
    /// What was stopped before it was begun.
    stopped: Option<u64>,
}

impl Halt {
    /// Begins a thing, which ends what ran before. Its token is set already where it was stopped
    /// while it waited.
    pub fn begin(&self, number: u64) -> CancelToken {
        let mut state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, before)) = state.running.take() {
            before.cancel();
        }
        let token = CancelToken::new();
        if state.stopped.take_if(|stopped| *stopped == number).is_some() {
            token.cancel();
        }
        state.running = Some((number, token.clone()));
        token
    }

    /// Stops that thing, whether it runs or still waits.
    pub fn stop(&self, number: u64) {
        let mut state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        match &state.running {
            Some((running, token)) if *running == number => token.cancel(),
            _ => state.stopped = Some(number),
        }
    }

    /// Stops whatever runs.
    pub fn stop_all(&self) {
        let state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, token)) = &state.running {
            token.cancel();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stop_reaches_what_runs_and_what_still_waits() {
        let halt = Halt::default();
        let first = halt.begin(1);
        halt.stop(1);
        assert!(first.is_cancelled());
        // Stopped while it waited for its turn, and asked for anew after that.
        halt.stop(2);
        assert!(halt.begin(2).is_cancelled());
        let again = halt.begin(2);
        assert!(!again.is_cancelled());
        // The next one takes its place.
        let next = halt.begin(3);
        assert!(again.is_cancelled() && !next.is_cancelled());
        halt.stop(2);
        assert!(!next.is_cancelled(), "an old one's stop");
        halt.stop_all();
        assert!(next.is_cancelled());
    }
}
