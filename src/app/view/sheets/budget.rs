//! Where a number's doubt comes from: a table and a bar.

use eframe::egui::{self, RichText, Sense, Stroke, Ui, vec2};

use super::title_ui;
use crate::app::message::ScreenMessage;
use crate::app::model::Sheet;
use crate::app::notebook::Shown;
use crate::app::theme::Colours;
use crate::app::view::{BUDGET_HINT, View, small, strong};
use crate::app::words;
use crate::domain::{MarkWord, Measured, Quantity, SwingNumber};
use crate::geometry::CameraNumber;
use crate::store::SwingId;
use crate::workflow::{
    Doubt, DoubtPart, doubt_of_camera, doubt_of_number, number_words, state, warning_words,
};

/// A part with less than this share of the variance has no row of its own.
const SMALL_SHARE: f64 = 0.005;

/// "Hardly anything comes from the lens and the model.": parts without a row of their own.
fn rest_words(parts: &[DoubtPart]) -> Option<String> {
    let small = parts.iter().filter(|part| part.share < SMALL_SHARE);
    let names: Vec<&str> = small.map(|part| part.words.as_str()).collect();
    let (last, first) = names.split_last()?;
    Some(match first {
        [] => format!("Hardly anything comes from the {last}."),
        first => format!("Hardly anything comes from the {} and the {last}.", first.join(", the ")),
    })
}

/// Shows the budget of one number.
pub fn budget_ui(view: &mut View, ui: &mut Ui, number: SwingNumber) {
    let mark = view.model.current_mark_word();
    let unit = view.model.settings.unit;
    let result = view.model.current_swing().and_then(|s| s.result.clone());
    let Some(measured) = result.as_ref().and_then(|r| r.number(number)) else {
        let missing = "There is no number yet; mark the ball and the mark in the ground first.";
        return missing_ui(view, ui, &words::capital(&number.words_of(mark)), missing);
    };
    doubt_ui(view, ui, &doubt_of_number(&measured, number, mark, unit));
    warnings_ui(view, ui, &measured);
    let start = SwingNumber::Collected(Quantity::DivotStart);
    let contact = result.as_ref().and_then(|r| r.predicted_contact.as_ref());
    if let Some(contact) = contact.filter(|_| number == start) {
        path_ui(view, ui, contact);
    }
}

/// Shows the budget of a number of any one swing.
pub fn swing_ui(view: &mut View, ui: &mut Ui, id: SwingId, number: SwingNumber) {
    let unit = view.model.settings.unit;
    match view.model.measured_of(id, number) {
        Some((measured, mark, whose)) => {
            doubt_ui(view, ui, &doubt_of_number(&measured, number, mark, unit).of(whose));
            warnings_ui(view, ui, &measured);
        }
        None => {
            let title = words::capital(&number.words_of(MarkWord::default()));
            missing_ui(view, ui, &title, NO_LONGER);
        }
    }
}

/// Shows the budget of a number of the notebook.
pub fn shown_ui(view: &mut View, ui: &mut Ui, which: Shown, quantity: Quantity) {
    match view.model.notebook.doubt(which, quantity, view.model.settings.unit) {
        Some(doubt) => doubt_ui(view, ui, &doubt),
        None => missing_ui(view, ui, &words::capital(quantity.words()), NO_LONGER),
    }
}

/// Shows the budget of a number of the camera.
pub fn camera_ui(view: &mut View, ui: &mut Ui, number: CameraNumber) {
    let seen = view.model.open.as_ref().and_then(|open| open.standing.view.as_ref());
    match seen.and_then(|seen| doubt_of_camera(seen, number, view.model.settings.unit)) {
        Some(doubt) => doubt_ui(view, ui, &doubt),
        None => missing_ui(view, ui, &words::capital(number.words()), NO_LONGER),
    }
}

const NO_LONGER: &str = "It is no longer shown: close this, and choose it anew.";

fn missing_ui(view: &mut View, ui: &mut Ui, title: &str, why: &str) {
    ui.set_width(width(ui));
    title_ui(view, ui, title);
    ui.label(why);
}

/// Width of the sheet, in widths of the text's type.
const WIDTH: f32 = 38.0;

fn width(ui: &Ui) -> f32 {
    WIDTH * egui::TextStyle::Body.resolve(ui.style()).size
}

/// A number, the table of its parts, and how they become its interval.
fn doubt_ui(view: &mut View, ui: &mut Ui, doubt: &Doubt) {
    ui.set_width(width(ui));
    title_ui(view, ui, &doubt.title);
    if let Some(whose) = &doubt.whose {
        ui.add(egui::Label::new(RichText::new(words::capital(whose)).weak()).wrap());
    }
    ui.add(egui::Label::new(&doubt.stated).wrap());
    parts_ui(view, ui, doubt);
    for (place, text) in doubt.how.iter().enumerate() {
        if place > 0 {
            ui.add_space(4.0);
        }
        ui.add(egui::Label::new(RichText::new(text).weak()).wrap());
    }
}

/// What was odd about a number.
fn warnings_ui(view: &View, ui: &mut Ui, measured: &Measured) {
    for warning in &measured.warnings {
        small(view, ui, warning_words(warning, view.model.settings.unit));
    }
}

/// Where the path alone meets the ground; a click opens the budget of that.
fn path_ui(view: &mut View, ui: &mut Ui, contact: &Measured) {
    let number = SwingNumber::PredictedContact;
    let words = number_words(number, &state(contact), view.model.settings.unit);
    ui.add_space(8.0);
    ui.label("By its path alone the club head reaches the ground");
    let button = ui.button(words).on_hover_text(BUDGET_HINT);
    if button.clicked() {
        view.send(ScreenMessage::Open(Sheet::Budget(number)));
    }
}

/// The heading of a column that most budgets do without.
const FREEDOM: &str = "Degrees of\nfreedom";

/// The parts of a number's doubt as a table, each with its bar.
fn parts_ui(view: &View, ui: &mut Ui, doubt: &Doubt) {
    let size = |v: f64| doubt.unit.words(v, view.model.settings.unit);
    let colours = *view.colours();
    let parts = &doubt.parts;
    // Most budgets have no part that was estimated from few observations.
    let free = parts.iter().any(|part| part.freedom.is_some());
    let headings = ["Source", "Standard\nuncertainty", FREEDOM, "Share", ""];
    ui.add_space(8.0);
    egui::Grid::new("budget").spacing([16.0, 6.0]).show(ui, |ui| {
        for heading in headings.into_iter().filter(|heading| free || *heading != FREEDOM) {
            ui.weak(heading);
        }
        ui.end_row();
        for part in parts.iter().filter(|part| part.share >= SMALL_SHARE) {
            ui.label(&part.words);
            ui.label(size(part.standard));
            if free {
                ui.label(part.freedom.map_or(String::new(), |nu| format!("{nu:.0}")));
            }
            ui.label(format!("{:.0} %", part.share * 100.0));
            share_ui(ui, part.share, &colours);
            ui.end_row();
        }
        ui.label(RichText::new("together").text_style(strong()));
        ui.label(RichText::new(size(doubt.standard)).text_style(strong()));
        ui.end_row();
    });
    ui.add_space(8.0);
    if let Some(words) = rest_words(parts) {
        ui.add(egui::Label::new(RichText::new(words).weak()).wrap());
    }
}

/// A bar filled as far as the share goes.
fn share_ui(ui: &mut Ui, share: f64, colours: &Colours) {
    let (rect, _) = ui.allocate_exact_size(vec2(110.0, 10.0), Sense::hover());
    let mut bar = rect;
    bar.set_width(rect.width() * share as f32);
    let outline = Stroke::new(1.0, colours.line);
    ui.painter().rect_stroke(rect, 2.0, outline, egui::StrokeKind::Inside);
    ui.painter().rect_filled(bar, 2.0, colours.accent);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_hardly_counts_is_named_in_one_line() {
        let part = |words: &str, standard, share| DoubtPart {
            words: words.into(),
            standard,
            share,
            freedom: None,
        };
        let parts =
            [part("mark position", 4.0, 0.99), part("lens", 0.0, 0.0), part("model", 0.01, 0.001)];
        let words = rest_words(&parts).expect("two small parts");
        assert_eq!(words, "Hardly anything comes from the lens and the model.");
        assert_eq!(rest_words(&parts[..1]), None);
    }
}
