//! How far a long job is, and whether to go on.

use crate::domain::FoundSwing;
use crate::vision::SearchStep;

/// Told how far a job is; asked whether to go on.
pub struct Progress<'a> {
    listener: Option<&'a mut Listener<'a>>,
    finds: Option<&'a mut FindsListener<'a>>,
}

/// Hears what is being done and which part of it, 0 to 1, is done; answers whether to go on.
pub type Listener<'a> = dyn FnMut(&str, f64) -> bool + 'a;

/// Hears of each swing as it is found: its number from 0, what is known of it so far, and
/// whether the ground was looked at too.
pub type FindsListener<'a> = dyn FnMut(usize, &FoundSwing, bool) + 'a;

impl<'a> Progress<'a> {
    /// Nobody listens; the job runs to its end.
    pub fn silent() -> Self {
        Self { listener: None, finds: None }
    }

    /// The job stops when `listener` answers false.
    pub fn new(listener: &'a mut Listener<'a>) -> Self {
        Self { listener: Some(listener), finds: None }
    }

    /// The same, and `finds` hears of each swing as it is found.
    pub fn telling(self, finds: &'a mut FindsListener<'a>) -> Self {
        Self { finds: Some(finds), ..self }
    }

    /// Reports; returns whether to go on.
    pub fn report(&mut self, what: &str, done: f64) -> bool {
        self.listener.as_mut().is_none_or(|listener| listener(what, done))
    }

    /// Passes on a step of the search for swings; returns whether to go on.
    pub fn search(&mut self, step: SearchStep) -> bool {
        self.search_for("Looking for swings", step)
    }

    /// The same with what is looked for, in words.
    pub(super) fn search_for(&mut self, what: &str, step: SearchStep) -> bool {
        match step {
            SearchStep::Done(done) => self.report(what, done),
            SearchStep::Found { number, swing, complete } => {
                if let Some(finds) = &mut self.finds {
                    finds(number, swing, complete);
                }
                true
            }
        }
    }
}
