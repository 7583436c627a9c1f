//! The range display: the last swing in big type, its place among the last ten.

use eframe::egui::{self, Align, Frame, Layout, Margin, RichText, Ui, vec2};

use super::{View, strong, turf_ruler};
use crate::app::message::{FileMessage, ScreenMessage, SwingMessage};
use crate::app::model::Page;
use crate::app::theme::strong_family;
use crate::app::words;
use crate::workflow::state;

/// Fills the window.
pub fn range_ui(view: &mut View, ui: &mut Ui) {
    let colours = *view.colours();
    Frame::new().fill(colours.panel).inner_margin(Margin::same(32)).show(ui, |ui| {
        ui.set_min_size(ui.available_size());
        // Readable at three metres: type of at least a fortieth of the window's height.
        let unit = (ui.available_height() / 22.0).clamp(18.0, 60.0);
        ui.horizontal(|ui| {
            ui.label(RichText::new(swing_words(view)).size(unit).color(colours.quiet));
            ui.with_layout(Layout::right_to_left(Align::TOP), |ui| {
                if ui.button("Back").on_hover_text("Esc").clicked() {
                    view.send(ScreenMessage::Show(Page::Measure));
                }
                watch_ui(view, ui);
                if ui
                    .button("Leave out")
                    .on_hover_text("L: the last swing is not counted")
                    .clicked()
                {
                    view.send(SwingMessage::LeaveOut(true));
                }
            });
        });
        last_swing_ui(view, ui, unit);
        ui.add_space(unit * 0.8);
        let (wide, kind) = (f64::from(ui.available_width()), f64::from(unit));
        let style = turf_ruler::sized(view, wide, kind * 0.62, kind * 1.1);
        let area = vec2(ui.available_width(), ui.available_height() - unit * 2.2);
        ui.allocate_ui_with_layout(area, Layout::top_down(Align::Min), |ui| {
            turf_ruler::turf_ruler_ui(view, ui, &style);
        });
        caution_ui(view, ui, unit);
    });
}

fn watch_ui(view: &mut View, ui: &mut Ui) {
    let watched = view.model.watched.clone();
    let text = if watched.is_some() { "Stop watching" } else { "Watch a folder…" };
    let hint = match &watched {
        Some(folder) => format!("New recordings in {} are read at once", folder.display()),
        None => "New recordings in a folder are read as soon as they are complete".into(),
    };
    if ui.button(text).on_hover_text(hint).clicked() {
        view.send(FileMessage::Watch(watched.is_none()));
    }
}

fn swing_words(view: &View) -> String {
    match view.model.swings.last() {
        Some(swing) => {
            let club = swing.club.as_ref().map_or(String::new(), |c| format!(", {}", c.0));
            format!("Swing {}{club}", view.model.swings.len())
        }
        None => "Waiting for the first swing".into(),
    }
}

fn last_swing_ui(view: &View, ui: &mut Ui, unit: f32) {
    let colours = *view.colours();
    let Some(result) = view.model.swings.last().and_then(|s| s.result.as_ref()) else { return };
    let length = view.model.settings.unit;
    let (text, aside) = match &result.divot_start_offset {
        Some(start) => {
            let interval = state(start).interval;
            (words::offset(start.value, length), words::plus_minus(interval, length))
        }
        None => match result.contact_order {
            Some(order) => (words::contact_order(order).to_owned(), String::new()),
            None => ("could not tell".to_owned(), String::new()),
        },
    };
    let giant = egui::FontId::new(unit * 3.4, strong_family());
    ui.label(RichText::new(text).font(giant).color(colours.text));
    ui.horizontal(|ui| {
        ui.label(RichText::new(aside).size(unit * 1.2).color(colours.quiet));
        if let Some(order) = result.contact_order.filter(|_| result.divot_start_offset.is_some()) {
            let order = RichText::new(words::contact_order(order)).text_style(strong());
            ui.label(order.size(unit * 1.2));
        }
    });
}

fn caution_ui(view: &View, ui: &mut Ui, unit: f32) {
    let text = "Keep people and camera 3 to 4 m clear of the club and off the target line. Look before each swing. Stop on pain.";
    ui.with_layout(Layout::bottom_up(Align::Min), |ui| {
        ui.label(RichText::new(text).size((unit * 0.5).max(14.0)).color(view.colours().quiet));
    });
}
