//! Theme, text size, units, brightness.

use eframe::egui::{self, Ui};

use super::title_ui;
use crate::app::message::{PictureMessage, SettingsMessage};
use crate::app::theme::{TextSize, Theme};
use crate::app::view::{View, edged};
use crate::domain::LengthUnit;
use crate::workflow::SURE_ENOUGH;

/// Shows everything that can be set.
pub fn settings_ui(view: &mut View, ui: &mut Ui) {
    ui.set_width(420.0);
    title_ui(view, ui, "Look and units");
    let settings = view.model.settings.clone();
    egui::Grid::new("settings").num_columns(2).spacing([24.0, 12.0]).show(ui, |ui| {
        ui.weak("Theme");
        choices(ui, &Theme::ALL, settings.theme, Theme::words, |t| {
            view.send(SettingsMessage::SetTheme(t))
        });
        ui.end_row();
        ui.weak("Text");
        choices(ui, &TextSize::ALL, settings.text_size, TextSize::words, |t| {
            view.send(SettingsMessage::SetTextSize(t));
        });
        ui.end_row();
        ui.weak("Lengths in");
        let units = [LengthUnit::Mm, LengthUnit::Cm, LengthUnit::Inch];
        choices(ui, &units, settings.unit, unit_words, |u| view.send(SettingsMessage::SetUnit(u)));
        ui.end_row();
        ui.weak("Brightness");
        tone_ui(view, ui, true);
        ui.end_row();
        ui.weak("Contrast");
        tone_ui(view, ui, false);
        ui.end_row();
        ui.weak("Ask if less than");
        let chosen = settings.review_below.unwrap_or(SURE_ENOUGH);
        choices(ui, &THRESHOLDS, chosen, threshold_words, |share| {
            view.send(SettingsMessage::SetReviewBelow(share));
        });
        ui.end_row();
        ui.weak("On the range");
        let mut speak = settings.speak;
        let hint = "Uses the system's speech program, where there is one";
        if edged(ui, |ui| ui.checkbox(&mut speak, "say each result aloud"))
            .on_hover_text(hint)
            .changed()
        {
            view.send(SettingsMessage::SetSpeak(speak));
        }
        ui.end_row();
    });
    ui.add_space(6.0);
    ui.weak("Brightness and contrast change the view only; what is measured stays as filmed.");
}

/// How sure the program must be to leave the person alone.
const THRESHOLDS: [f64; 3] = [0.5, SURE_ENOUGH, 0.95];

fn threshold_words(share: f64) -> &'static str {
    match share {
        s if s < SURE_ENOUGH => "50 % sure",
        s if s > SURE_ENOUGH => "95 % sure",
        _ => "80 % sure",
    }
}

fn unit_words(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Mm => "Millimetres",
        LengthUnit::Cm => "Centimetres",
        LengthUnit::Inch => "Inches",
    }
}

fn choices<T: Copy + PartialEq>(
    ui: &mut Ui,
    all: &[T],
    chosen: T,
    words: fn(T) -> &'static str,
    mut choose: impl FnMut(T),
) {
    ui.horizontal(|ui| {
        for one in all {
            if ui.selectable_label(*one == chosen, words(*one)).clicked() {
                choose(*one);
            }
        }
    });
}

fn tone_ui(view: &mut View, ui: &mut Ui, brightness: bool) {
    let mut tone = view.model.tone;
    let (value, range, name) = if brightness {
        (&mut tone.brightness, -0.5..=0.5, "Brightness")
    } else {
        (&mut tone.contrast, 0.3..=4.0, "Contrast")
    };
    let slider = egui::Slider::new(value, range).show_value(false).trailing_fill(true);
    // A rail that is seen on the sheet.
    let rail = view.colours().line;
    let response = ui.scope(|ui| {
        ui.visuals_mut().widgets.inactive.bg_fill = rail;
        ui.add(slider).accessible_name(name)
    });
    let response = response.inner;
    if response.changed() {
        view.send(PictureMessage::SetTone(tone));
    }
}
