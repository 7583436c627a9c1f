//! Where a number's doubt comes from: a table and a bar.

use eframe::egui::{self, RichText, Sense, Stroke, Ui, vec2};

use super::title_ui;
use crate::app::message::ScreenMessage;
use crate::app::model::Sheet;
use crate::app::notebook::{Pooled, PooledNumber};
use crate::app::theme::Colours;
use crate::app::view::{View, strong};
use crate::app::words;
use crate::domain::{LengthUnit, Measured, Quantity, SwingNumber};
use crate::workflow::{
    Expansion, expansion, mean_words, number_words, state, swings_words, warning_words,
};

/// What one source adds to a number's doubt.
#[derive(Clone, Debug, PartialEq)]
struct Part {
    words: &'static str,
    standard: f64,
    /// Of the variance.
    share: f64,
    /// Degrees of freedom; `None`: infinite.
    freedom: Option<f64>,
}

/// The parts of a budget by source, largest first. Parts of one source add in quadrature.
fn parts_of(measured: &Measured) -> Vec<Part> {
    let mut by_source: Vec<(&'static str, Measured)> = Vec::new();
    for c in &measured.budget {
        let words = c.source.words();
        match by_source.iter_mut().find(|(w, _)| *w == words) {
            Some((_, of)) => of.budget.push(c.clone()),
            None => by_source.push((words, Measured::new(0.0, vec![c.clone()]))),
        }
    }
    let total = measured.standard_uncertainty().powi(2);
    let part = |(words, of): (&'static str, Measured)| {
        let standard = of.standard_uncertainty();
        let share = if total > 0.0 { standard.powi(2) / total } else { 0.0 };
        Part { words, standard, share, freedom: of.effective_freedom() }
    };
    let mut parts: Vec<Part> = by_source.into_iter().map(part).collect();
    parts.sort_by(|a, b| b.standard.total_cmp(&a.standard));
    parts
}

/// A part with less than this share of the variance has no row of its own.
const SMALL_SHARE: f64 = 0.005;

/// "Hardly anything comes from lens and model.": parts without a row of their own.
fn rest_words(parts: &[Part]) -> Option<String> {
    let small = parts.iter().filter(|part| part.share < SMALL_SHARE);
    let names: Vec<&str> = small.map(|part| part.words).collect();
    let (last, first) = names.split_last()?;
    Some(match first {
        [] => format!("Hardly anything comes from {last}."),
        first => format!("Hardly anything comes from {} and {last}.", first.join(", ")),
    })
}

/// Shows the budget of one number.
pub fn budget_ui(view: &mut View, ui: &mut Ui, number: SwingNumber) {
    ui.set_width(460.0);
    let mark = view.model.current_mark_word();
    title_ui(view, ui, &words::capital(&number.words_of(mark)));
    let result = view.model.current_swing().and_then(|s| s.result.clone());
    let Some(measured) = result.as_ref().and_then(|r| r.number(number)) else {
        ui.label("There is no number yet; mark the ball and the mark in the ground first.");
        return;
    };
    let unit = view.model.settings.unit;
    ui.label(stated_words(&measured, number, unit));
    parts_ui(view, ui, &measured, number);
    ui.add(egui::Label::new(RichText::new(where_from(&measured, number, unit)).weak()).wrap());
    for warning in &measured.warnings {
        ui.add(egui::Label::new(RichText::new(warning_words(warning, unit)).small()).wrap());
    }
    let start = SwingNumber::Collected(Quantity::DivotStart);
    let contact = result.as_ref().and_then(|r| r.predicted_contact.as_ref());
    if let Some(contact) = contact.filter(|_| number == start) {
        path_ui(view, ui, contact);
    }
}

/// Shows the budget of a mean or of a difference of means.
pub fn pooled_ui(view: &mut View, ui: &mut Ui, which: Pooled, quantity: Quantity) {
    ui.set_width(460.0);
    let unit = view.model.settings.unit;
    let told = view.model.notebook.pooled(which, quantity).map(|number| {
        let (title, stated) = pooled_words(number, unit);
        (title, stated, number.measured().clone())
    });
    let Some((title, stated, measured)) = told else {
        title_ui(view, ui, &words::capital(quantity.words()));
        ui.label("It is no longer shown: close this, and choose it anew.");
        return;
    };
    title_ui(view, ui, &title);
    ui.label(stated);
    parts_ui(view, ui, &measured, quantity.into());
    let from = where_from(&measured, quantity.into(), unit);
    ui.add(egui::Label::new(RichText::new(from).weak()).wrap());
    ui.add_space(4.0);
    ui.add(egui::Label::new(RichText::new(POOLED).weak()).wrap());
}

/// What more swings do to a mean.
const POOLED: &str = "More swings make the scatter's part smaller, and no other: what all swings of \
                      one standing of the camera share stays in their mean. Between two blocks of \
                      one standing most of that cancels.";

/// Title and value of a mean or of a difference of means.
fn pooled_words(number: PooledNumber, unit: LengthUnit) -> (String, String) {
    match number {
        PooledNumber::Mean(of) => {
            let title = format!("Mean of {}", of.quantity.words_of(of.mark));
            let swings = swings_words(of.moments.n);
            (title, format!("{} (95 %), over {swings}", mean_words(of, unit)))
        }
        PooledNumber::Difference(of) => {
            let title = format!("Difference of means, {}", of.quantity.words_of(of.mark));
            (title, format!("{}, 95 % in brackets", of.difference_words(unit)))
        }
    }
}

/// Where the path alone meets the ground; a click opens the budget of that.
fn path_ui(view: &mut View, ui: &mut Ui, contact: &Measured) {
    let number = SwingNumber::PredictedContact;
    let words = number_words(number, &state(contact), view.model.settings.unit);
    ui.add_space(8.0);
    ui.label("By its path alone the club head reaches the ground");
    let button = ui.button(words).on_hover_text("Click for where this doubt comes from");
    if button.clicked() {
        view.send(ScreenMessage::Open(Sheet::Budget(number)));
    }
}

/// The heading of a column that most budgets do without.
const FREEDOM: &str = "Degrees of\nfreedom";

/// The parts of a number's doubt as a table, each with its bar.
fn parts_ui(view: &View, ui: &mut Ui, measured: &Measured, number: SwingNumber) {
    let size = |v: f64| part_words(v, number, view.model.settings.unit);
    let colours = *view.colours();
    let parts = parts_of(measured);
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
            ui.label(part.words);
            ui.label(size(part.standard));
            if free {
                ui.label(part.freedom.map_or(String::new(), |nu| format!("{nu:.0}")));
            }
            ui.label(format!("{:.0} %", part.share * 100.0));
            share_ui(ui, part.share, &colours);
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

/// The size of a part of a number's doubt: "1.6 mm", "0.05°", "0.5 %".
fn part_words(size: f64, number: SwingNumber, unit: LengthUnit) -> String {
    match number {
        SwingNumber::Collected(Quantity::AttackAngle) | SwingNumber::ArcPlane => {
            format!("{size:.2}°")
        }
        SwingNumber::StanceShare => format!("{size:.1} %"),
        _ => unit.fine_words(size),
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
fn stated_words(measured: &Measured, number: SwingNumber, unit: LengthUnit) -> String {
    format!("{} (95 %)", number_words(number, &state(measured), unit))
}

/// How far the truth may lie to either side, where that differs.
fn sides(measured: &Measured, number: SwingNumber, unit: LengthUnit) -> String {
    let stated = state(measured);
    if !stated.is_lopsided() {
        return String::new();
    }
    let [below, above] = [stated.value - stated.interval.low, stated.interval.high - stated.value]
        .map(|side| part_words(side, number, unit));
    format!(
        " It reaches {below} below the value and {above} above it; the ± is the larger of the two."
    )
}

/// How the ± of the line above comes from the table.
fn where_from(measured: &Measured, number: SwingNumber, unit: LengthUnit) -> String {
    let Expansion { standard, freedom, factor } = expansion(measured);
    let together = part_words(standard, number, unit);
    let few = freedom.map_or(String::new(), |nu| {
        format!(" It is known from {nu:.1} effective degrees of freedom.")
    });
    let sum = format!(
        "The parts add up as the root of the sum of their squares: {together}, the standard \
         uncertainty.{few}"
    );
    match factor {
        Some(factor) => format!(
            "{sum} The ± is {factor:.2} times that (the coverage factor), so that it holds the \
             truth 95 times in a hundred."
        ),
        None => format!(
            "{sum} The ± comes from thousands of random draws of these parts instead, because the \
             number does not change in proportion with parts this large: their sum would misplace \
             the ends of the interval.{}",
            sides(measured, number, unit)
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Contribution, Interval, Source};

    const START: SwingNumber = SwingNumber::Collected(Quantity::DivotStart);

    #[test]
    fn where_the_drawn_interval_differs_it_is_the_one_shown() {
        let mut m = Measured::new(80.0, vec![Contribution::new(Source::ArcFit, 10.0)]);
        let told = |m: &Measured| {
            let unit = LengthUnit::Mm;
            (stated_words(m, START, unit), where_from(m, START, unit))
        };
        let (stated, from) = told(&m);
        assert_eq!(stated, "80 mm ahead ± 20 (95 %)");
        assert!(from.contains("10.0 mm, the standard uncertainty. The ± is 1.96 times"), "{from}");
        m.monte_carlo = Some(Interval { low: 40.0, high: 95.0 });
        let (stated, from) = told(&m);
        assert_eq!(stated, "80 mm ahead ± 40 (95 %)");
        assert!(from.contains("thousands of random draws") && !from.contains("factor"), "{from}");
        assert!(from.contains("reaches 40.0 mm below the value and 15.0 mm above"), "{from}");
    }

    #[test]
    fn few_observations_are_named_and_widen() {
        // 2 of 5 degrees of freedom alone: t at 95 % is 2.57 (JCGM 100:2008, table G.2).
        let few = Contribution { source: Source::Model, standard: 2.0, freedom: Some(5.0) };
        let m = Measured::new(80.0, vec![few]);
        let from = where_from(&m, START, LengthUnit::Mm);
        assert!(from.contains("from 5.0 effective degrees of freedom. The ± is 2.57"), "{from}");
        assert_eq!(parts_of(&m)[0].freedom, Some(5.0));
    }

    #[test]
    fn a_part_is_told_in_the_numbers_own_unit() {
        let told = |number| part_words(1.55, number, LengthUnit::Cm);
        assert_eq!(told(SwingNumber::ReachLine), "0.15 cm");
        assert_eq!(told(Quantity::AttackAngle.into()), "1.55°");
        assert_eq!(told(SwingNumber::StanceShare), "1.6 %");
    }

    #[test]
    fn what_hardly_counts_is_named_in_one_line() {
        let part = |words, standard, share| Part { words, standard, share, freedom: None };
        let parts =
            [part("mark position", 4.0, 0.99), part("lens", 0.0, 0.0), part("model", 0.01, 0.001)];
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
        let parts = parts_of(&m);
        assert_eq!(parts.len(), 2);
        for Part { standard, share, .. } in parts {
            assert!((standard - 5.0).abs() < 1e-12);
            assert!((share - 0.5).abs() < 1e-12);
        }
    }
}
