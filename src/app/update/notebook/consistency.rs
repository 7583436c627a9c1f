//! One block in numbers.

use std::sync::Arc;

use crate::app::message::Job;
use crate::app::model::Model;
use crate::app::notebook::{Ask, ConsistencyMessage, PlanEdit};
use crate::app::update::common::{edit_plan, notify};
use crate::domain::{Club, Quantity};
use crate::workflow::BlockStudy;

/// Applies what is done in the chapter.
pub fn update(model: &mut Model, message: ConsistencyMessage) -> Vec<Job> {
    let page = &mut model.notebook.consistency;
    match message {
        ConsistencyMessage::Choose(of) => {
            page.of = Some(of);
            (page.club, page.window) = (None, None);
            return ask(model);
        }
        ConsistencyMessage::Chart(quantity) => page.quantity = quantity,
        ConsistencyMessage::AimWith(club) => (page.club, page.window) = (Some(club), None),
        ConsistencyMessage::TypeWindow(quantity, window) => page.window = Some((quantity, window)),
        ConsistencyMessage::KeepWindow(club) => return keep_window(model, club),
        ConsistencyMessage::UsualWindow(club, quantity) => {
            page.window = None;
            let Some(golfer) = model.people.golfer else { return Vec::new() };
            return edit_plan(model, PlanEdit::UsualAim(golfer, club, quantity));
        }
    }
    Vec::new()
}

/// Keeps the window that was typed; its limits are put in order.
fn keep_window(model: &mut Model, club: Club) -> Vec<Job> {
    let typed = model.notebook.consistency.window.take();
    let (Some((quantity, ends)), Some(golfer)) = (typed, model.people.golfer) else {
        return Vec::new();
    };
    let Some(edit) = PlanEdit::aim(golfer, club, quantity, ends) else {
        let words =
            "An aim window lies within 1 m (39 in) of the ball and has two ends; type it again.";
        notify(model, words);
        return Vec::new();
    };
    edit_plan(model, edit)
}

/// Asks for the block's numbers.
pub fn ask(model: &mut Model) -> Vec<Job> {
    // Until it is known which blocks there are, what was chosen stays so.
    if model.notebook.outline.is_none() {
        return Vec::new();
    }
    let wanted = model.notebook.consistency.of.filter(|of| model.notebook.has(*of));
    let of = wanted.or_else(|| model.notebook.first_subject(model.people.session));
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
