//! Pages, sheets, settings and text fields.

use super::{notify, session};
use crate::app::message::{Field, Job};
use crate::app::model::{Model, Page, Settings, Sheet, Tool};
use crate::store::SessionId;

/// Fills the window with a page.
pub fn show(model: &mut Model, page: Page) -> Vec<Job> {
    model.page = page;
    model.sheet = None;
    match (page, model.swings.last().map(|swing| swing.id)) {
        (Page::Compare, _) => begin_comparing(model),
        // The range is about the last swing; what is done there is done to it.
        (Page::Range, Some(last)) => session::show_swing(model, last),
        _ => Vec::new(),
    }
}

/// The session looked at, against the one before it.
fn begin_comparing(model: &mut Model) -> Vec<Job> {
    let sessions = &model.people.sessions;
    let here = sessions.iter().position(|(id, _)| Some(*id) == model.people.session);
    // Newest first: the earlier one stands below.
    let later = here.or((!sessions.is_empty()).then_some(0));
    let earlier = later.map(|i| if i + 1 < sessions.len() { i + 1 } else { i });
    let id = |i: Option<usize>| i.map(|i| sessions[i].0);
    model.compared.sessions = [id(earlier), id(later)];
    ask_to_compare(model)
}

/// Puts a session into the comparison.
pub fn compare(model: &mut Model, place: usize, session: SessionId) -> Vec<Job> {
    model.compared.sessions[place.min(1)] = Some(session);
    ask_to_compare(model)
}

fn ask_to_compare(model: &mut Model) -> Vec<Job> {
    model.compared.found = None;
    match model.compared.sessions {
        [Some(earlier), Some(later)] if earlier != later => vec![Job::Compare([earlier, later])],
        _ => Vec::new(),
    }
}

/// Lays a sheet over the page; the same again takes it away.
pub fn open(model: &mut Model, sheet: Sheet) -> Vec<Job> {
    model.sheet = if model.sheet == Some(sheet) { None } else { Some(sheet) };
    Vec::new()
}

/// Takes the sheet away.
pub fn close_sheet(model: &mut Model) -> Vec<Job> {
    model.sheet = None;
    Vec::new()
}

/// Steps out of whatever is going on: the sheet, a drag, a tool, the selection, the page.
pub fn escape(model: &mut Model) -> Vec<Job> {
    if model.sheet.take().is_some() || model.dragging.take().is_some() {
    } else if model.tool != Tool::Look {
        model.tool = Tool::Look;
    } else if model.selected.take().is_some() {
    } else {
        model.page = Page::Measure;
    }
    Vec::new()
}

/// Puts the guide away; it stays reachable from the menu.
pub fn dismiss_guide(model: &mut Model) -> Vec<Job> {
    model.sheet = None;
    set(model, |settings| settings.guide_dismissed = true)
}

/// Changes a setting and keeps it.
pub fn set(model: &mut Model, change: impl FnOnce(&mut Settings)) -> Vec<Job> {
    change(&mut model.settings);
    vec![Job::SaveSettings(model.settings.clone())]
}

/// Sets the aim window; its limits are put in order.
pub fn set_aim(model: &mut Model, [a, b]: [f64; 2]) -> Vec<Job> {
    if !(a.is_finite() && b.is_finite()) || a.abs() > 1000.0 || b.abs() > 1000.0 {
        notify(model, "The aim window lies within a metre of the ball; type it again.");
        return Vec::new();
    }
    set(model, |settings| settings.aim = [a.min(b), a.max(b)])
}

/// Takes what was typed.
pub fn typed(model: &mut Model, field: Field, text: String) -> Vec<Job> {
    let fields = &mut model.fields;
    match field {
        Field::Length => fields.length = text,
        Field::Width => fields.width = text,
        Field::Height => fields.height = text,
        Field::Golfer => fields.golfer = text,
    }
    Vec::new()
}

/// Takes a notice away.
pub fn dismiss_notice(model: &mut Model, id: u64) -> Vec<Job> {
    model.notices.retain(|notice| notice.id != id);
    Vec::new()
}
