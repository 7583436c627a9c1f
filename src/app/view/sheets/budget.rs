//! Where a number's doubt comes from: a table and a bar.

use eframe::egui::{self, RichText, Sense, Stroke, Ui, vec2};

use super::title_ui;
use crate::app::theme::Colours;
use crate::app::view::{View, strong};
use crate::app::words;
use crate::domain::{LengthUnit, Measured, Quantity};
use crate::workflow::{state, warning_words};

/// The parts of a budget by source, largest first: words, standard uncertainty, share of the
/// variance. Parts of one source add in quadrature.
pub fn shares(measured: &Measured) -> Vec<(&'static str, f64, f64)> {
    let mut parts: Vec<(&'static str, f64)> = Vec::new();
    for c in &measured.budget {
        let words = c.source.words();
        match parts.iter_mut().find(|(w, _)| *w == words) {
            Some((_, variance)) => *variance += c.standard.powi(2),
            None => parts.push((words, c.standard.powi(2))),
        }
    }
    parts.sort_by(|a, b| b.1.total_cmp(&a.1));
    let total: f64 = parts.iter().map(|(_, v)| v).sum();
    let share = |v: f64| if total > 0.0 { v / total } else { 0.0 };
    parts.into_iter().map(|(words, v)| (words, v.sqrt(), share(v))).collect()
}

/// A part with less than this share of the variance has no row of its own.
const SMALL_SHARE: f64 = 0.005;

/// "Hardly anything comes from lens and model.": parts without a row of their own.
fn rest_words(parts: &[(&'static str, f64, f64)]) -> Option<String> {
    let small = parts.iter().filter(|(.., share)| *share < SMALL_SHARE);
    let names: Vec<&str> = small.map(|(words, ..)| *words).collect();
    let (last, first) = names.split_last()?;
    Some(match first {
        [] => format!("Hardly anything comes from {last}."),
        first => format!("Hardly anything comes from {} and {last}.", first.join(", ")),
    })
}

/// Shows the budget of one number.
pub fn budget_ui(view: &mut View, ui: &mut Ui, quantity: Quantity) {
    ui.set_width(460.0);
    let mark = view.model.current_mark_word();
    title_ui(view, ui, &words::capital(quantity.words_of(mark)));
    let result = view.model.current_swing().and_then(|s| s.result.clone());
    let Some(measured) = result.as_ref().and_then(|r| r.measured(quantity)) else {
        ui.label("There is no number yet; mark the ball and the mark in the ground first.");
        return;
    };
    let angle = quantity == Quantity::AttackAngle;
    let unit = view.model.settings.unit;
    ui.label(stated_words(measured, angle, unit));
    parts_ui(view, ui, measured, angle);
    ui.weak(where_from(measured));
    for warning in &measured.warnings {
        ui.add(egui::Label::new(RichText::new(warning_words(warning, unit)).small()).wrap());
    }
    let predicted = result.as_ref().and_then(|r| r.predicted_contact.as_ref());
    if let Some(contact) = predicted.filter(|_| quantity == Quantity::DivotStart) {
        let words = words::offset_with_doubt(contact.value, state(contact).interval, unit);
        let told = format!(
            "By its path alone the club head reaches the ground {words}: {}.",
            shares_words(contact)
        );
        ui.add(egui::Label::new(RichText::new(told).weak()).wrap());
    }
}

/// "arc fit 47 %, model 34 %": the parts that count, in one line.
fn shares_words(measured: &Measured) -> String {
    let parts = shares(measured).into_iter().filter(|(.., share)| *share >= SMALL_SHARE);
    let words: Vec<String> =
        parts.map(|(words, _, share)| format!("{words} {:.0} %", share * 100.0)).collect();
    words.join(", ")
}

/// The parts of a number's doubt as a table, each with its bar.
fn parts_ui(view: &View, ui: &mut Ui, measured: &Measured, angle: bool) {
    let unit = view.model.settings.unit;
    let size = |v: f64| if angle { format!("{v:.2}°") } else { unit.fine_words(v) };
    let colours = *view.colours();
    let parts = shares(measured);
    ui.add_space(8.0);
    egui::Grid::new("budget").num_columns(4).spacing([16.0, 6.0]).show(ui, |ui| {
        for heading in ["Source", "Standard", "Share", ""] {
            ui.weak(heading);
        }
        ui.end_row();
        let told = parts.iter().filter(|(.., share)| *share >= SMALL_SHARE);
        for &(words, standard, share) in told {
            ui.label(words);
            ui.label(size(standard));
            ui.label(format!("{:.0} %", share * 100.0));
            share_ui(ui, share, &colours);
            ui.end_row();
        }
        ui.label(RichText::new("together").text_style(strong()));
        ui.label(RichText::new(size(measured.standard_uncertainty())).text_style(strong()));
        ui.end_row();
    });
    ui.add_space(8.0);
    if let Some(words) = rest_words(&parts) {
        ui.add(egui::Label::new(RichText::new(words).weak()).wrap());
    }
}

/// A bar filled as far as the share goes.
fn share_ui(ui: &mut Ui, share: f64, colours: &Colours) {
    let (rect, _) = ui.allocate_exact_size(vec2(150.0, 10.0), Sense::hover());
    let mut bar = rect;
    bar.set_width(rect.width() * share as f32);
    let outline = Stroke::new(1.0, colours.line);
    ui.painter().rect_stroke(rect, 2.0, outline, egui::StrokeKind::Inside);
    ui.painter().rect_filled(bar, 2.0, colours.accent);
}

/// "80 mm ahead ± 28 (95 %)".
fn stated_words(measured: &Measured, angle: bool, unit: LengthUnit) -> String {
    let stated = state(measured);
    if angle {
        let half = stated.interval.half_width();
        return format!("{} ± {half:.1}° (95 %)", words::attack_angle(measured.value));
    }
    format!("{} (95 %)", words::offset_with_doubt(measured.value, stated.interval, unit))
}

/// Where the ± of the line above comes from.
fn where_from(measured: &Measured) -> &'static str {
    match measured.monte_carlo {
        Some(_) => {
            "The ± comes from drawing the inputs at random many times, since their sum is not straight enough here."
        }
        None => {
            "Parts add in quadrature; the ± is the interval that holds the truth 95 times in a hundred."
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Contribution, Interval, Source};

    #[test]
    fn where_the_drawn_interval_differs_it_is_the_one_shown() {
        let mut m = Measured::new(80.0, vec![Contribution::new(Source::ArcFit, 10.0)]);
        assert_eq!(stated_words(&m, false, LengthUnit::Mm), "80 mm ahead ± 20 (95 %)");
        assert!(where_from(&m).starts_with("Parts add"));
        m.monte_carlo = Some(Interval { low: 40.0, high: 95.0 });
        assert_eq!(stated_words(&m, false, LengthUnit::Mm), "80 mm ahead ± 28 (95 %)");
        assert!(where_from(&m).contains("drawing the inputs"));
    }

    #[test]
    fn what_hardly_counts_is_named_in_one_line() {
        let parts = [("mark position", 4.0, 0.99), ("lens", 0.0, 0.0), ("model", 0.01, 0.001)];
        let words = rest_words(&parts).expect("two small parts");
        assert_eq!(words, "Hardly anything comes from lens and model.");
        assert_eq!(rest_words(&parts[..1]), None);
    }

    #[test]
    fn parts_of_one_source_add_in_quadrature() {
        // 3² + 4² = 5²: the calibration's two parts make 5; with a mark's 5 each has half.
        let m = Measured::new(
            10.0,
            vec![
                Contribution::new(Source::Calibration(0), 3.0),
                Contribution::new(Source::Mark, 5.0),
                Contribution::new(Source::Calibration(1), -4.0),
            ],
        );
        assert_eq!(shares_words(&m), "scale and camera 50 %, mark position 50 %");
        let shares = shares(&m);
        assert_eq!(shares.len(), 2);
        for (_, standard, share) in shares {
            assert!((standard - 5.0).abs() < 1e-12);
            assert!((share - 0.5).abs() < 1e-12);
        }
    }
}
