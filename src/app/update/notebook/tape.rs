//! What a tape said beside the program's numbers: does the ± keep its word?

use crate::app::message::{Edit, Job};
use crate::app::model::Model;
use crate::app::notebook::{Ask, TapeMessage};
use crate::app::update::common::{edit, notify};
use crate::domain::TypedLength;
use crate::workflow::TAPE_REACH;

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

fn keep(model: &mut Model) -> Vec<Job> {
    let Some(swing) = model.tape_swing() else {
        notify(model, "There is no swing yet that a tape could have measured.");
        return Vec::new();
    };
    let page = &model.notebook.tape;
    let typed = page.length.parse::<TypedLength>().map(|length| length.mm(model.settings.unit));
    let Some(length) = typed.ok().filter(|mm| mm.abs() <= TAPE_REACH.0) else {
        notify(model, "A length such as 22 mm or 1 in, up to 2 m (78 in); type it again.");
        return Vec::new();
    };
    // A minus says behind, too. Zero has no sign.
    let behind = (page.behind || length < 0.0) && length != 0.0;
    let tape_mm = if behind { -length.abs() } else { length.abs() };
    let quantity = page.quantity;
    model.notebook.tape.length.clear();
    edit(model, Edit::Tape { swing, quantity, tape_mm })
}

/// Asks for all pairs.
pub fn ask(model: &mut Model) -> Vec<Job> {
    model.people.golfer.map(|golfer| Job::Ask(Ask::Tape(golfer))).into_iter().collect()
}
