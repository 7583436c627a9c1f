//! What every thread needs: where it reports, how an error is said, how the next job is waited
//! for, what becomes of one that breaks down.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
#[cfg(test)]
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, RecvError, Sender, TryRecvError};

use crate::app::message::Event;
use crate::workflow::log_place;

#[cfg(test)]
type Breaks = fn(&Event) -> bool;

/// Where threads report; the window is woken after each event.
#[derive(Clone)]
pub struct Report {
    events: Sender<Event>,
    wake: Arc<dyn Fn() + Send + Sync>,
    /// At which event the thread that sends it is to break down, once.
    #[cfg(test)]
    breaks_at: Arc<Mutex<Option<Breaks>>>,
}

impl Report {
    /// Into `events`; `wake` is called after each.
    pub fn new(events: Sender<Event>, wake: impl Fn() + Send + Sync + 'static) -> Self {
        Self {
            events,
            wake: Arc::new(wake),
            #[cfg(test)]
            breaks_at: Arc::default(),
        }
    }

    /// Lets the thread that sends such an event break down in the middle of its job, once.
    #[cfg(test)]
    pub fn break_at(&self, event: Breaks) {
        *self.breaks_at.lock().unwrap() = Some(event);
    }

    #[cfg(test)]
    fn break_down_if_asked(&self, event: &Event) {
        let asked = self.breaks_at.lock().unwrap().take_if(|is_it| is_it(event));
        assert!(asked.is_none(), "invented");
    }

    /// Hands an event to the window; a window that is gone needs none.
    pub fn send(&self, event: impl Into<Event>) {
        let event = event.into();
        #[cfg(test)]
        self.break_down_if_asked(&event);
        if self.events.send(event).is_ok() {
            (self.wake)();
        }
    }
}

/// Does one job. `Err`: it broke down; what it worked on may be half done and is to be made anew.
pub fn guarded<T>(job: impl FnOnce() -> T) -> Result<T, String> {
    catch_unwind(AssertUnwindSafe(job)).map_err(|_| broke_down())
}

pub fn broke_down() -> String {
    let log = log_place().map_or(String::new(), |p| format!(" The log is in {}.", p.display()));
    format!(
        "Something went wrong inside the program; the last step was not done. Try it again.{log}"
    )
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
