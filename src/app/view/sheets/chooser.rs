//! Golfers and their sessions.

use eframe::egui::{self, RichText, Ui};

use super::title_ui;
use crate::app::keys::{self, Act};
use crate::app::message::{Field, ScreenMessage, SwingMessage};
use crate::app::view::View;

/// Lists golfers on the left and the chosen one's sessions on the right.
pub fn chooser_ui(view: &mut View, ui: &mut Ui) {
    ui.set_width(620.0);
    title_ui(view, ui, "Golfers and sessions");
    ui.columns(2, |columns| {
        golfers_ui(view, &mut columns[0]);
        sessions_ui(view, &mut columns[1]);
    });
}

fn golfers_ui(view: &mut View, ui: &mut Ui) {
    ui.weak("Golfer");
    let people = view.model.people.clone();
    egui::ScrollArea::vertical().id_salt("golfers").max_height(320.0).show(ui, |ui| {
        let hidden = view.model.settings.sample_hidden;
        for (id, golfer) in people.golfers.iter().filter(|(_, g)| !(hidden && g.invented)) {
            let chosen = people.golfer == Some(*id);
            if ui.selectable_label(chosen, &golfer.name).clicked() {
                view.send(SwingMessage::ChooseGolfer(*id));
            }
        }
    });
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let mut name = view.model.fields.golfer.clone();
        let field = egui::TextEdit::singleline(&mut name).hint_text("A new golfer");
        // The button beside it keeps its room in large type.
        let button = 8.0 * egui::TextStyle::Body.resolve(ui.style()).size;
        let wide = (ui.available_width() - button).clamp(90.0, 170.0);
        let response = ui.add(field.desired_width(wide)).accessible_name("A new golfer's name");
        let entered = response.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Enter));
        if response.changed() {
            view.send(ScreenMessage::Typed(Field::Golfer, name));
        }
        if ui.button("Add golfer").clicked() || entered {
            view.send(SwingMessage::AddGolfer);
        }
    });
}

fn sessions_ui(view: &mut View, ui: &mut Ui) {
    ui.weak("Session");
    let people = view.model.people.clone();
    egui::ScrollArea::vertical().id_salt("sessions").max_height(320.0).show(ui, |ui| {
        if people.sessions.is_empty() {
            ui.label(RichText::new("No session yet.").color(view.colours().quiet));
        }
        for (id, title) in &people.sessions {
            if ui.selectable_label(people.session == Some(*id), title).clicked() {
                view.send(SwingMessage::ChooseSession(*id));
            }
        }
    });
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        let hint = keys::hint("A session of today", Act::NewSession);
        if ui.button("New session").on_hover_text(hint).clicked() {
            view.send(SwingMessage::AddSession);
        }
    });
}
