//! Pages, sheets, text fields and notices.

use super::{beside, frames, ground, notebook, session, settings};
use crate::app::message::{Field, Job, ScreenMessage};
use crate::app::model::{GUIDE_PAGES, Look, Model, Page, Sheet, Tool};

/// Applies a message about what is on the screen.
pub fn update(model: &mut Model, message: ScreenMessage) -> Vec<Job> {
    match message {
        ScreenMessage::Show(page) => show(model, page),
        ScreenMessage::Open(sheet) => open(model, sheet),
        ScreenMessage::CloseSheet => close_sheet(model),
        ScreenMessage::Escape => escape(model),
        ScreenMessage::Closing => notebook::people::keep(model),
        ScreenMessage::TurnPage(by) => turn_page(model, by),
        ScreenMessage::DismissGuide => dismiss_guide(model),
        ScreenMessage::Typed(field, text) => typed(model, field, text),
        ScreenMessage::DismissNotice(id) => dismiss_notice(model, id),
    }
}

/// Fills the window with a page.
fn show(model: &mut Model, page: Page) -> Vec<Job> {
    if let Page::Notebook(chapter) = page {
        return notebook::open(model, chapter);
    }
    model.page = page;
    model.sheet = None;
    let mut jobs = notebook::people::keep(model);
    jobs.extend(match (page, model.swings.last().map(|swing| swing.id)) {
        (Page::Beside, _) => beside::begin(model),
        // The range is about the last swing; what is done there is done to it.
        (Page::Range, Some(last)) => session::show_swing(model, last),
        _ => Vec::new(),
    });
    jobs
}

/// Lays a sheet over the page; the same again takes it away.
fn open(model: &mut Model, sheet: Sheet) -> Vec<Job> {
    model.sheet = if model.sheet == Some(sheet) { None } else { Some(sheet) };
    Vec::new()
}

/// Takes the sheet away.
/// A budget of the camera gives way to the sheet that it was opened from.
fn close_sheet(model: &mut Model) -> Vec<Job> {
    let from = matches!(model.sheet, Some(Sheet::Camera(_))).then_some(Sheet::Reference);
    model.sheet = from;
    Vec::new()
}

/// Steps out of whatever is going on: the sheet, a drag, a tool, the selection, the page.
fn escape(model: &mut Model) -> Vec<Job> {
    if matches!(model.sheet, Some(Sheet::Guide(_))) {
        return dismiss_guide(model);
    } else if model.sheet.is_some() {
        return close_sheet(model);
    } else if model.dragging.take().is_some() {
    } else if model.tool != Tool::Look {
        model.tool = Tool::Look;
        return ground::leave(model);
    } else if model.look != Look::Frame || model.before_after_asked.is_some() {
        return frames::stop_before_after(model);
    } else if model.selected.take().is_some() || model.detour.is_some() {
        return ground::leave(model);
    } else {
        model.page = Page::Measure;
        return notebook::people::keep(model);
    }
    Vec::new()
}

/// Turns the guide's pages.
fn turn_page(model: &mut Model, by: isize) -> Vec<Job> {
    let Some(Sheet::Guide(page)) = model.sheet else { return Vec::new() };
    let next = page.saturating_add_signed(by);
    if next >= GUIDE_PAGES {
        return dismiss_guide(model);
    }
    model.sheet = Some(Sheet::Guide(next));
    Vec::new()
}

/// Puts the guide away; it stays reachable from the menu.
fn dismiss_guide(model: &mut Model) -> Vec<Job> {
    model.sheet = None;
    settings::set(model, |settings| settings.guide_dismissed = true)
}

/// Takes what was typed.
fn typed(model: &mut Model, field: Field, text: String) -> Vec<Job> {
    let fields = &mut model.fields;
    match field {
        Field::Length => fields.length = text,
        Field::Width => fields.width = text,
        Field::FourPoints(place) => {
            if let Some(length) = fields.four_points.get_mut(place) {
                *length = text;
            }
        }
        Field::Height => fields.height = text,
        Field::Golfer => fields.golfer = text,
        Field::Lens => fields.lens = text,
    }
    Vec::new()
}

/// Takes a notice away.
fn dismiss_notice(model: &mut Model, id: u64) -> Vec<Job> {
    model.notices.retain(|notice| notice.id != id);
    Vec::new()
}
