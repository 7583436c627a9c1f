//! Sheets laid over the page.

mod budget;
mod chooser;
mod guide;
mod guide_pictures;
mod keys;
mod lens;
mod reference;
mod settings;

use eframe::egui::{self, Color32, Id, RichText, Ui};

use super::{View, strong};
use crate::app::keys::{self as all_keys, Act};
use crate::app::message::ScreenMessage;
use crate::app::model::Sheet;

pub use lens::lens_aside;

/// Shows the sheet that lies over the page, if any.
pub fn sheets_ui(view: &mut View, ctx: &egui::Context) {
    let Some(sheet) = view.model.sheet else { return };
    let backdrop = Color32::from_black_alpha(70);
    let colours = *view.colours();
    let frame = egui::Frame::new()
        .fill(colours.panel)
        .stroke(egui::Stroke::new(colours.stroke, colours.line))
        .corner_radius(12)
        .inner_margin(24);
    let modal = egui::Modal::new(Id::unique("sheet")).backdrop_color(backdrop).frame(frame);
    let modal = modal.show(ctx, |ui| {
        ui.set_max_height(ctx.content_rect().height() - 80.0);
        match sheet {
            Sheet::Keys => keys::keys_ui(view, ui),
            Sheet::Guide(step) => guide::guide_ui(view, ui, step),
            Sheet::Budget(number) => budget::budget_ui(view, ui, number),
            Sheet::Swing(id, number) => budget::swing_ui(view, ui, id, number),
            Sheet::Shown(which, quantity) => budget::shown_ui(view, ui, which, quantity),
            Sheet::Camera(number) => budget::camera_ui(view, ui, number),
            Sheet::Settings => settings::settings_ui(view, ui),
            Sheet::Chooser => chooser::chooser_ui(view, ui),
            Sheet::Reference => reference::reference_ui(view, ui),
            Sheet::Lens => lens::lens_ui(view, ui),
        }
    });
    if modal.should_close() {
        view.send(match sheet {
            Sheet::Guide(_) => ScreenMessage::DismissGuide,
            _ => ScreenMessage::CloseSheet,
        });
    }
}

/// A sheet's title with the way out beside it.
fn title_ui(view: &mut View, ui: &mut Ui, title: &str) {
    ui.horizontal(|ui| {
        ui.label(RichText::new(title).text_style(strong()));
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if ui.button("Close").on_hover_text(all_keys::shown(Act::StepOut)).clicked() {
                view.send(ScreenMessage::CloseSheet);
            }
        });
    });
    ui.add_space(8.0);
}
