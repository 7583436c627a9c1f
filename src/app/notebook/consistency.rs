//! One block in numbers.

use std::sync::Arc;

use crate::domain::{Club, Quantity};
use crate::store::Of;
use crate::workflow::BlockStudy;

/// What the chapter shows.
#[derive(Debug)]
pub struct ConsistencyPage {
    /// Which block or session.
    pub of: Option<Of>,
    /// Which number is charted.
    pub quantity: Quantity,
    /// In numbers.
    pub found: Option<Arc<BlockStudy>>,
    /// The club whose aim windows are shown, where several were played; `None`: the first.
    pub club: Option<Club>,
    /// An aim window being typed, before it is kept: of which number, from and to.
    pub window: Option<(Quantity, [f64; 2])>,
}

impl Default for ConsistencyPage {
    fn default() -> Self {
        Self { of: None, quantity: Quantity::DivotStart, found: None, club: None, window: None }
    }
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum ConsistencyMessage {
    /// Look at this block or session.
    Choose(Of),
    /// Chart this number.
    Chart(Quantity),
    /// Show the aim windows of this club.
    AimWith(Club),
    /// An aim window is being typed.
    TypeWindow(Quantity, [f64; 2]),
    /// It is to be kept for this club.
    KeepWindow(Club),
    /// Back to the window of common practice.
    UsualWindow(Club, Quantity),
}
