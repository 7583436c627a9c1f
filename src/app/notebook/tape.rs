//! What a tape said beside the program's numbers: does the ± keep its word?

use std::sync::Arc;

use crate::domain::Quantity;
use crate::store::SwingId;
use crate::workflow::TapeStudy;

/// What the chapter shows.
#[derive(Debug, Default)]
pub struct TapePage {
    /// Every pair of the golfer, and what they say together.
    pub found: Option<Arc<TapeStudy>>,
    /// Which swing was measured; `None`: the one looked at.
    pub swing: Option<SwingId>,
    /// Which distance from the ball.
    pub quantity: Quantity,
    /// What the tape said, as typed.
    pub length: String,
    /// It was behind the ball.
    pub behind: bool,
}

impl TapePage {
    /// The distances a tape can measure.
    pub const QUANTITIES: [Quantity; 3] =
        [Quantity::DivotStart, Quantity::DivotEnd, Quantity::LowPoint];
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum TapeMessage {
    /// This swing was measured.
    Swing(SwingId),
    /// This distance.
    Of(Quantity),
    /// The length was typed into.
    Typed(String),
    /// Ahead of the ball or behind it.
    Behind(bool),
    /// Keep it.
    Keep,
}
