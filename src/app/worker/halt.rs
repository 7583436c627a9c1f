//! Stopping what is waited for, also while it still waits for its turn.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::video::CancelToken;

/// One thing at a time that can be stopped from another thread. Each request has a number of its
/// own, and later ones have greater numbers.
#[derive(Clone, Debug, Default)]
pub struct Halt(Arc<Mutex<State>>);

#[derive(Debug, Default)]
struct State {
    /// What was begun last.
    running: Option<(u64, CancelToken)>,
    /// What was stopped before it was begun.
    stopped: Option<u64>,
    /// What was asked for last; all before it is over.
    newest: u64,
}

impl Halt {
    /// This one is asked for: what was asked for before it ends, whether it runs or still waits.
    pub fn ask(&self, number: u64) {
        let mut state = self.state();
        state.newest = state.newest.max(number);
        if let Some((_, token)) = state.running.take_if(|(running, _)| *running < number) {
            token.cancel();
        }
    }

    /// Begins a thing, which ends what ran before. Its token is set already where it was stopped
    /// while it waited, or a newer one was asked for.
    pub fn begin(&self, number: u64) -> CancelToken {
        let mut state = self.state();
        let token = CancelToken::new();
        if number < state.newest {
            token.cancel();
            return token;
        }
        if let Some((_, before)) = state.running.take() {
            before.cancel();
        }
        if state.stopped.take_if(|stopped| *stopped == number).is_some() {
            token.cancel();
        }
        state.running = Some((number, token.clone()));
        token
    }

    /// Stops that thing, whether it runs or still waits.
    pub fn stop(&self, number: u64) {
        let mut state = self.state();
        match &state.running {
            Some((running, token)) if *running == number => token.cancel(),
            _ => state.stopped = Some(number),
        }
    }

    /// Stops whatever runs.
    pub fn stop_all(&self) {
        if let Some((_, token)) = &self.state().running {
            token.cancel();
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
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

    #[test]
    fn what_was_asked_for_before_ends_also_while_it_waits() {
        let halt = Halt::default();
        halt.ask(1);
        let first = halt.begin(1);
        halt.ask(2);
        halt.ask(3);
        assert!(first.is_cancelled());
        assert!(halt.begin(2).is_cancelled(), "it never had its turn");
        let last = halt.begin(3);
        assert!(halt.begin(2).is_cancelled() && !last.is_cancelled(), "an old one ends nothing");
    }
}
