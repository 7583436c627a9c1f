//! Blocks against each other.

use std::sync::Arc;

use crate::store::Of;
use crate::workflow::ComparisonStudy;

/// How many blocks are held against the first at most: more are hardly looked at apart.
pub const MOST_OTHERS: usize = 4;

/// What the chapter shows.
#[derive(Debug, Default)]
pub struct ComparisonPage {
    /// The block the others are held against.
    pub first: Option<Of>,
    /// The others.
    pub others: Vec<Of>,
    /// What stands between them.
    pub found: Option<Arc<ComparisonStudy>>,
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum ComparisonMessage {
    /// Hold the others against this one.
    First(Of),
    /// This one in that place.
    Other(usize, Of),
    /// One more.
    Add(Of),
    /// One less.
    Remove(usize),
}
