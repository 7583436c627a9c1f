//! What a tape said beside the program's numbers: does the ± keep its word?

use std::sync::Arc;

use super::Ask;
use crate::app::message::{Edit, Job};
use crate::app::model::Model;
use crate::app::update::{edit, notify};
use crate::app::words::read_length;
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

/// Applies what is done in the chapter.
pub fn update(model: &mut Model, message: TapeMessage) -> Vec<Job> {
    use TapeMessage as M;
    let page = &mut model.notebook.tape;
    match message {
        M::Swing(swing) => page.swing = Some(swing),
        M::Of(quantity) => page.quantity = quantity,
        M::Typed(text) => page.length = text,
        M::Behind(behind) => page.behind = behind,
        M::Keep => return keep(model),
    }
    Vec::new()
}

/// The swing that a length is kept with.
pub fn swing(model: &Model) -> Option<SwingId> {
    let chosen = model.notebook.tape.swing.filter(|id| model.number_of(*id).is_some());
    chosen.or(model.current).or(model.swings.last().map(|swing| swing.id))
}

fn keep(model: &mut Model) -> Vec<Job> {
    let Some(swing) = swing(model) else {
        notify(model, "There is no swing yet that a tape could have measured.");
        return Vec::new();
    };
    let page = &model.notebook.tape;
    let nothing = page.length.trim().parse::<f64>() == Ok(0.0);
    let length = if nothing { Some(0.0) } else { read_length(&page.length, model.settings.unit) };
    let Some(length) = length.filter(|mm| *mm <= 2000.0) else {
        notify(model, "A length such as 22 mm or 1 in, up to two metres; type it again.");
        return Vec::new();
    };
    let tape_mm = if page.behind && length > 0.0 { -length } else { length };
    let quantity = page.quantity;
    model.notebook.tape.length.clear();
    edit(model, Edit::Tape { swing, quantity, tape_mm })
}

/// Asks for all pairs.
pub fn ask(model: &mut Model) -> Vec<Job> {
    model.people.golfer.map(|golfer| Job::Ask(Ask::Tape(golfer))).into_iter().collect()
}
