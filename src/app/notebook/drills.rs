//! Drills: what to practise, and how it went.

use std::sync::Arc;

use crate::workflow::DrillStudy;

/// What the chapter shows.
#[derive(Debug, Default)]
pub struct DrillsPage {
    /// Every drill, and how the golfer does in it.
    pub found: Option<Arc<Vec<DrillStudy>>>,
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum DrillsMessage {
    /// Begin this drill: a new block in the session looked at.
    Start(&'static str),
}
