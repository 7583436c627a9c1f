//! The panel beside the picture: what is next, the number that matters, the session.

mod marks;
mod next;
mod result;
mod row;
mod session;
mod setup;

use eframe::egui::{self, Rect, RichText, Sense, Ui, vec2};

use super::{View, strong};
use crate::app::model::Finding;
use crate::app::words;
use crate::domain::Warning;
use crate::workflow::warning_words;
use session::SessionRoom;
/// Shows the panel.
pub fn panel_ui(view: &mut View, ui: &mut Ui) {
    ui.spacing_mut().item_spacing.y = 3.0;
    // In large type or a low window the swing is scrolled, and the session stays in sight; it
    // gives way to what comes and goes at the foot, and where it would take half of the panel.
    let all = ui.available_height();
    let session = SessionRoom::of(view, ui);
    let least = session.as_ref().map_or(0.0, |session| session.least + 8.0);
    let gives_way = least > all * 0.5 || !view.model.notices.is_empty();
    let room = if gives_way || !view.model.queue.is_empty() { all } else { all - least };
    let area = egui::ScrollArea::vertical().id_salt("swing").max_height(room);
    area.auto_shrink([false, true]).show(ui, |ui| swing_ui(view, ui));
    // While files are read their rows come first; what would lie over them is left away.
    if let Some(session) = session.filter(|session| session.least <= ui.available_height()) {
        part_ui(ui, "session", |ui| session::session_ui(view, ui, session));
    }
}

/// What is next, and the swing looked at with its marks.
fn swing_ui(view: &mut View, ui: &mut Ui) {
    next::next_ui(view, ui);
    ui.add_space(8.0);
    if let Some(swing) = view.model.current_swing().cloned() {
        result::swing_head_ui(view, ui, &swing);
        ui.add_space(2.0);
        result::result_ui(view, ui, &swing);
        ui.add_space(6.0);
    }
    marks::marks_ui(view, ui);
    ui.add_space(8.0);
    findings_ui(view, ui);
}

/// A part whose controls keep their names for the keyboard while rows come and go above it.
fn part_ui(ui: &mut Ui, name: &str, add: impl FnOnce(&mut Ui)) {
    let id = ui.make_persistent_id(name);
    ui.scope_builder(egui::UiBuilder::new().scope_id(id), add);
}

/// Room for a row drawn by hand that is a button; keeps the keyboard's focus by its name.
fn button_room(ui: &mut Ui, name: &str, height: f32) -> (Rect, egui::Response) {
    let (_, rect) = ui.allocate_space(vec2(ui.available_width(), height));
    let response = ui.interact(rect, ui.make_persistent_id(name), Sense::click());
    (rect, response)
}

/// The swings of files still being read, one row each as they are found.
fn findings_ui(view: &mut View, ui: &mut Ui) {
    let found: Vec<Finding> =
        view.model.queue.iter().flat_map(|item| item.found.iter().cloned()).collect();
    if found.is_empty() {
        return;
    }
    let more = if found.len() == 1 { "swing" } else { "swings" };
    ui.label(RichText::new(format!("Found so far: {} {more}", found.len())).text_style(strong()));
    let room = (ui.available_height() * 0.45).max(80.0);
    let area = egui::ScrollArea::vertical().id_salt("found").max_height(room).stick_to_bottom(true);
    area.show(ui, |ui| {
        for (i, finding) in found.iter().enumerate() {
            let words = words::finding(finding);
            ui.label(RichText::new(format!("{}   {words}", i + 1)).small());
        }
    });
    ui.add_space(8.0);
}

/// The first warning; the others under the pointer.
fn warnings_ui(view: &View, ui: &mut Ui, warnings: &[Warning]) {
    let unit = view.model.settings.unit;
    let Some(first) = warnings.first().map(|warning| warning_words(warning, unit)) else {
        return;
    };
    let n = warnings.len();
    let more = if n > 1 { format!(" ({} more)", n - 1) } else { String::new() };
    let label = ui.add(
        egui::Label::new(
            RichText::new(format!("{first}{more}")).small().color(view.colours().quiet),
        )
        .wrap(),
    );
    if n > 1 {
        label.on_hover_ui(|ui| {
            for warning in warnings {
                ui.label(warning_words(warning, unit));
            }
        });
    }
}
