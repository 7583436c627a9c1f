//! All keys on one sheet.

use eframe::egui::{self, RichText, Ui};

use super::title_ui;
use crate::app::keys;
use crate::app::view::View;

/// Lists every key by group.
pub fn keys_ui(view: &mut View, ui: &mut Ui) {
    ui.set_width(680.0);
    title_ui(view, ui, "Keys");
    let bindings = keys::bindings();
    let mut groups: Vec<&str> = bindings.iter().map(|b| b.group).collect();
    groups.dedup();
    egui::ScrollArea::vertical().show(ui, |ui| {
        ui.columns(2, |columns| {
            for (i, group) in groups.iter().enumerate() {
                // Swings, frames and picture on the left, marks and window on the right.
                let ui = &mut columns[usize::from(i == 2 || i == 4)];
                ui.weak(*group);
                group_ui(ui, group, &bindings);
                ui.add_space(10.0);
            }
        });
    });
}

fn group_ui(ui: &mut Ui, group: &str, bindings: &[keys::Binding]) {
    let listed = bindings.iter().filter(|b| b.group == group && !b.keys.is_empty());
    let held = [
        ("Hold B", "Blink between before and after"),
        ("Hold D", "What has changed on the ground"),
        ("Wheel", "Zoom to the pointer; drag to move"),
    ];
    let rows = listed.map(|b| (b.keys, b.words));
    let rows: Vec<_> = if group == "Picture" { rows.chain(held).collect() } else { rows.collect() };
    egui::Grid::new(group).num_columns(2).spacing([12.0, 4.0]).show(ui, |ui| {
        for (keys, words) in rows {
            ui.label(RichText::new(keys).text_style(crate::app::view::strong()));
            ui.add(egui::Label::new(words).wrap());
            ui.end_row();
        }
    });
}
