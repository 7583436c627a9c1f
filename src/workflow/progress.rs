//! How far a long job is, and whether to go on.

/// Told how far a job is; asked whether to go on.
pub struct Progress<'a> {
    listener: Option<&'a mut Listener<'a>>,
}

/// Hears what is being done and which part of it, 0 to 1, is done; answers whether to go on.
pub type Listener<'a> = dyn FnMut(&str, f64) -> bool + 'a;

impl<'a> Progress<'a> {
    /// Nobody listens; the job runs to its end.
    pub fn silent() -> Self {
        Self { listener: None }
    }

    /// The job stops when `listener` answers false.
    pub fn new(listener: &'a mut Listener<'a>) -> Self {
        Self { listener: Some(listener) }
    }

    /// Reports; returns whether to go on.
    pub fn report(&mut self, what: &str, done: f64) -> bool {
        self.listener.as_mut().is_none_or(|listener| listener(what, done))
    }
}
