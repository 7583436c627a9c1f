//! All keys on one sheet.

use eframe::egui::{self, Sense, TextStyle, Ui, accesskit::Role, pos2, vec2};

use super::title_ui;
use crate::app::keys;
use crate::app::view::View;
use crate::app::view::key_cap::KeyCap;

/// Which groups stand in which column.
const COLUMNS: [&[&str]; 3] =
    [&["Swings", "Frames", "Files"], &["Marks"], &["Picture", "Pages", "Window"]];

/// Lists every key by group.
pub fn keys_ui(view: &mut View, ui: &mut Ui) {
    let width = (ui.ctx().content_rect().width() - 120.0).min(1160.0);
    ui.set_width(width);
    title_ui(view, ui, "Keys");
    ui.add_space(6.0);
    egui::ScrollArea::vertical().show(ui, |ui| {
        ui.spacing_mut().item_spacing = vec2(24.0, 2.0);
        ui.columns(COLUMNS.len(), |columns| {
            for (ui, groups) in columns.iter_mut().zip(COLUMNS) {
                // The words of a column begin where its widest key ends.
                let all = groups.iter().flat_map(|group| rows_of(group));
                let caps = all.map(|(keys, _)| cap_width(ui, keys)).fold(0.0, f32::max);
                for group in groups {
                    ui.weak(*group);
                    for (keys, words) in rows_of(group) {
                        row_ui(view, ui, caps, keys, words);
                    }
                    ui.add_space(8.0);
                }
            }
        });
    });
}

/// The keys of a group and what they do.
fn rows_of(group: &str) -> Vec<(&'static str, &'static str)> {
    let listed = keys::bindings().iter().filter(|b| b.group == group && !b.keys.is_empty());
    let held = [keys::BLINK.1, keys::CHANGES.1, keys::WHEEL].map(|held| (held.keys, held.words));
    let rows = listed.map(|b| (b.keys, b.words));
    if group == "Picture" { rows.chain(held).collect() } else { rows.collect() }
}

/// How wide a key is drawn.
fn cap_width(ui: &Ui, keys: &str) -> f32 {
    let least = TextStyle::Small.resolve(ui.style()).size * 3.0;
    (KeyCap::new(ui, keys).size().x + 2.0).max(least)
}

/// The key as it stands on a keyboard, and what it does beside it.
fn row_ui(view: &View, ui: &mut Ui, caps: f32, keys: &str, words: &str) {
    let colours = *view.colours();
    let small = TextStyle::Small.resolve(ui.style());
    let room = (ui.available_width() - caps - 10.0).max(80.0);
    let text = ui.painter().layout(words.to_owned(), small.clone(), colours.text, room);
    let height = text.size().y.max(small.size * 1.5) + 3.0;
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    let says = format!("{keys}: {words}");
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Label, true, &says));
    KeyCap::new(ui, keys).paint(ui.painter(), rect.min + vec2(1.0, 1.0), &colours);
    ui.painter().galley(pos2(rect.left() + caps + 10.0, rect.top() + 2.5), text, colours.text);
}
