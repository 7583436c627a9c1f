//! One block in numbers.

use std::sync::Arc;

use super::{Ask, PlanEdit, edit, first_subject, is_there};
use crate::app::message::Job;
use crate::app::model::Model;
use crate::app::update::notify;
use crate::domain::{Club, Quantity};
use crate::store::{AimWindowRow, Of};
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
    /// An aim window being typed, before it is kept: of which number, from and to.
    pub window: Option<(Quantity, [f64; 2])>,
}

impl Default for ConsistencyPage {
    fn default() -> Self {
        Self { of: None, quantity: Quantity::DivotStart, found: None, window: None }
    }
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum ConsistencyMessage {
    /// Look at this block or session.
    Choose(Of),
    /// Chart this number.
    Chart(Quantity),
    /// An aim window is being typed.
    TypeWindow(Quantity, [f64; 2]),
    /// It is to be kept for this club.
    KeepWindow(Club),
    /// Back to the window of common practice.
    UsualWindow(Club, Quantity),
}

/// Applies what is done in the chapter.
pub fn update(model: &mut Model, message: ConsistencyMessage) -> Vec<Job> {
    let page = &mut model.notebook.consistency;
    match message {
        ConsistencyMessage::Choose(of) => {
            page.of = Some(of);
            page.window = None;
            return ask(model);
        }
        ConsistencyMessage::Chart(quantity) => page.quantity = quantity,
        ConsistencyMessage::TypeWindow(quantity, window) => page.window = Some((quantity, window)),
        ConsistencyMessage::KeepWindow(club) => return keep_window(model, club),
        ConsistencyMessage::UsualWindow(club, quantity) => {
            page.window = None;
            let Some(golfer) = model.people.golfer else { return Vec::new() };
            return edit(model, PlanEdit::UsualAim(golfer, club, quantity));
        }
    }
    Vec::new()
}

/// Keeps the window that was typed; its limits are put in order.
fn keep_window(model: &mut Model, club: Club) -> Vec<Job> {
    let typed = model.notebook.consistency.window.take();
    let (Some((quantity, [a, b])), Some(golfer)) = (typed, model.people.golfer) else {
        return Vec::new();
    };
    let sane = |v: f64| v.is_finite() && v.abs() <= 1000.0;
    if !(sane(a) && sane(b)) || a == b {
        notify(
            model,
            "An aim window lies within a metre of the ball and has two ends; type it again.",
        );
        return Vec::new();
    }
    let window = AimWindowRow { club, quantity, low_mm: a.min(b), high_mm: a.max(b) };
    edit(model, PlanEdit::Aim(golfer, window))
}

/// Asks for the block's numbers.
pub fn ask(model: &mut Model) -> Vec<Job> {
    let wanted = model.notebook.consistency.of.filter(|of| is_there(model, *of));
    let of = wanted.or_else(|| first_subject(model));
    model.notebook.consistency.of = of;
    match (model.people.golfer, of) {
        (Some(golfer), Some(of)) => vec![Job::Ask(Ask::Block(golfer, of))],
        _ => Vec::new(),
    }
}

/// Takes the numbers.
pub fn take(model: &mut Model, study: Arc<BlockStudy>) {
    let page = &mut model.notebook.consistency;
    if page.of == Some(study.of) {
        let has = |q| study.summary.offset(q).is_some();
        if !has(page.quantity) {
            page.quantity = Quantity::ALL.into_iter().find(|q| has(*q)).unwrap_or(page.quantity);
        }
        page.found = Some(study);
    }
}
