//! What every thread needs: where it reports, how an error is said, how the next job is waited for.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvError, Sender, TryRecvError};

use crate::app::message::Event;

/// Where threads report; the window is woken after each event.
#[derive(Clone)]
pub struct Report {
    events: Sender<Event>,
    wake: Arc<dyn Fn() + Send + Sync>,
}

impl Report {
    /// Into `events`; `wake` is called after each.
    pub fn new(events: Sender<Event>, wake: impl Fn() + Send + Sync + 'static) -> Self {
        Self { events, wake: Arc::new(wake) }
    }

    /// Hands an event to the window; a window that is gone needs none.
    pub fn send(&self, event: Event) {
        if self.events.send(event).is_ok() {
            (self.wake)();
        }
    }
}

/// An error's sentence, as a sentence.
pub fn sentence(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    if !text.ends_with(['.', '!', '?']) {
        text.push('.');
    }
    text
}

/// The next job: waits for one while there is nothing else to do, else only looks. `Err`: the
/// window is gone.
pub fn next_job<T>(jobs: &Receiver<T>, idle: bool) -> Result<Option<T>, RecvError> {
    if idle {
        return jobs.recv().map(Some);
    }
    match jobs.try_recv() {
        Ok(job) => Ok(Some(job)),
        Err(TryRecvError::Empty) => Ok(None),
        Err(TryRecvError::Disconnected) => Err(RecvError),
    }
}
