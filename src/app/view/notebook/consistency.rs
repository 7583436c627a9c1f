//! One block in numbers: is it repeatable?

use eframe::egui::{self, RichText, Ui, vec2};

use super::{
    axis_words, bar_of, beside, chart_style, compact, drawn, fact, heading, lead, quantity_tabs,
    ruler_style, small, subject_menu,
};
use crate::app::notebook::{ConsistencyMessage, NotebookMessage};
use crate::app::view::View;
use crate::app::words;
use crate::domain::{Club, Quantity};
use crate::report::charts::{Individuals, TimedValue, individuals, moving_ranges};
use crate::report::ruler::{self, Group};
use crate::stats::{AimWindow, Caution, OffsetSummary, ewma};
use crate::workflow::{
    BlockStudy, chance_words, clearance_of, mean_words, own_spread_words, score_words, sd_words,
    share_words, size_words, value_words,
};

/// Weight of the newest swing in the weighted average, as in the e-Handbook's example (6.3.2.4).
const WEIGHT: f64 = 0.3;

/// Shows the chapter.
pub fn consistency_ui(view: &mut View, ui: &mut Ui) {
    let page = &view.model.notebook.consistency;
    let (of, quantity, study) = (page.of, page.quantity, page.found.clone());
    ui.horizontal(|ui| {
        if let Some(of) = subject_menu(view, ui, "Which block or session", of) {
            view.send(NotebookMessage::Consistency(ConsistencyMessage::Choose(of)));
        }
        let Some(study) = &study else { return };
        ui.add_space(16.0);
        let has = |q| study.summary.offset(q).is_some();
        if let Some(quantity) = quantity_tabs(ui, quantity, has) {
            view.send(NotebookMessage::Consistency(ConsistencyMessage::Chart(quantity)));
        }
    });
    ui.add_space(8.0);
    match study.filter(|study| Some(study.of) == of) {
        None if of.is_none() => {
            ui.label("No swings yet: drop a recording on the window, and its numbers are here.");
        }
        None => {
            ui.weak("Reading…");
        }
        Some(study) => study_ui(view, ui, &study, quantity),
    }
}

fn study_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy, quantity: Quantity) {
    let Some(offset) = study.summary.offset(quantity) else {
        ui.label("No swing of this block has a number yet; measure its swings first.");
        others_ui(view, ui, study);
        return;
    };
    let unit = view.model.settings.unit;
    let mean = mean_words(offset, unit);
    lead(
        ui,
        &format!(
            "{}: {mean}, over {}.",
            words::capital(quantity.words()),
            swings(offset.moments.n)
        ),
    );
    if let Some(own) = own_spread_words(offset, unit) {
        ui.label(format!("{own}."));
    }
    if let Some((drill, score)) = &study.drill {
        ui.label(format!("{}: {}.", drill.title, score_words(drill.scoring, score)));
    }
    ui.add_space(10.0);
    let left = (ui.available_width() * 0.4).clamp(320.0, 470.0);
    let facts = |view: &mut View, ui: &mut Ui| {
        compact(ui, |ui| facts_ui(view, ui, study, offset));
        windows_ui(view, ui, study);
    };
    beside(view, ui, left, facts, |view, ui| charts_ui(view, ui, study, offset));
    cautions_ui(ui, study);
    ruler_ui(view, ui, study);
    others_ui(view, ui, study);
}

fn swings(n: usize) -> String {
    if n == 1 { "1 swing".into() } else { format!("{n} swings") }
}

fn facts_ui(view: &View, ui: &mut Ui, study: &BlockStudy, of: &OffsetSummary) {
    let unit = view.model.settings.unit;
    let q = of.quantity;
    let value = |v| value_words(q, v, unit);
    let size = |v| size_words(q, v, unit);
    let widest = (ui.available_width() - 150.0).max(120.0);
    let grid = egui::Grid::new("facts").num_columns(2).spacing(vec2(16.0, 7.0));
    grid.max_col_width(widest).show(ui, |ui| {
        let out = match study.summary.left_out {
            0 => String::new(),
            n => format!(", {n} left out"),
        };
        fact(ui, "Swings", format!("{}{out}", of.moments.n));
        fact(ui, "Mean", mean_words(of, unit));
        fact(ui, "Spread (SD)", sd_words(of, unit).unwrap_or_else(|| "one swing has none".into()));
        let interval = of
            .median_interval
            .map_or(String::new(), |i| format!(" ({} to {})", value(i.low), value(i.high)));
        fact(ui, "Median", format!("{}{interval}", value(of.median)));
        fact(ui, "Median distance", format!("{} from the median", size(of.mad)));
        fact(ui, "Range", format!("{} to {}", value(of.range[0]), value(of.range[1])));
        if let Some(share) = &study.summary.ball_first {
            let close = match study.summary.too_close {
                0 => String::new(),
                n => format!("; {n} too close to call"),
            };
            fact(ui, "Ball first", format!("{}{close}", share_words(share)));
        }
        for (name, share) in [
            ("Divot start in window", study.summary.start_in_window),
            ("Low point in window", study.summary.low_point_in_window),
        ] {
            if let Some(share) = share {
                fact(ui, name, share_words(&share));
            }
        }
        if let Some(drift) = of.drift {
            let way = if drift.per_swing < 0.0 { "back" } else { "ahead" };
            let by = size_of_drift(q, drift.per_swing, unit);
            fact(ui, "Drift", format!("{by} {way} a swing, chance {}", chance_words(drift.p)));
        }
        if let Some(lag_1) = of.lag_1 {
            fact(ui, "Neighbours alike", format!("{lag_1:.2} (lag-1 correlation)"));
        }
        if let Some(grubbs) = of.grubbs {
            let number = study.swings.get(of.values[grubbs.index].0).map_or(0, |s| s.number);
            let verdict = if grubbs.is_outlier() { "stands apart" } else { "not out of line" };
            fact(
                ui,
                "Farthest out",
                format!(
                    "swing {number}, {verdict} (Grubbs {:.2}, limit {:.2})",
                    grubbs.g, grubbs.critical
                ),
            );
        }
        if let Some((height, n)) = study.summary.clearance {
            fact(
                ui,
                "Over the ground",
                format!(
                    "{} at the ball, mean of {} without ground contact",
                    size_words(Quantity::LowPoint, height, unit),
                    swings(n)
                ),
            );
        }
    });
}

/// One decimal more than a length has, since a drift is small.
fn size_of_drift(of: Quantity, per_swing: f64, unit: crate::domain::LengthUnit) -> String {
    match (of, unit) {
        (Quantity::AttackAngle, _) => format!("{:.2}°", per_swing.abs()),
        (_, crate::domain::LengthUnit::Mm) => format!("{:.1} mm", per_swing.abs()),
        (_, crate::domain::LengthUnit::Cm) => format!("{:.2} cm", per_swing.abs() / 10.0),
        (_, crate::domain::LengthUnit::Inch) => format!("{:.2} in", per_swing.abs() / 25.4),
    }
}

/// Aim windows of the block's club, to be changed for this golfer.
fn windows_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy) {
    let Some(club) = study.club.0.clone() else { return };
    heading(ui, &format!("Aim windows, {}", club.0));
    for (quantity, window) in
        [Quantity::DivotStart, Quantity::LowPoint].into_iter().zip(study.windows)
    {
        window_ui(view, ui, &club, quantity, window);
    }
    small(
        view,
        ui,
        "Usual windows are common practice, no source. Yours take their place for this golfer and club.",
    );
}

fn window_ui(
    view: &mut View,
    ui: &mut Ui,
    club: &Club,
    quantity: Quantity,
    window: Option<AimWindow>,
) {
    let typed = view.model.notebook.consistency.window.filter(|(q, _)| *q == quantity);
    let known = window.map(|w| [w.low_mm, w.high_mm]);
    let Some(shown) = typed.map(|(_, w)| w).or(known) else {
        ui.horizontal(|ui| {
            ui.weak(words::capital(quantity.words()));
            ui.label("nothing to aim for");
        });
        return;
    };
    ui.horizontal(|ui| {
        ui.weak(words::capital(quantity.words()));
        let (mut new, mut left) = (shown, false);
        for (i, value) in new.iter_mut().enumerate() {
            let end = if i == 0 { "from" } else { "to" };
            let name =
                format!("{} window {end}, mm ahead of the ball", words::capital(quantity.words()));
            let field = egui::DragValue::new(value).speed(1.0).suffix(" mm").max_decimals(0);
            let response = ui.add(field).accessible_name(&name).on_hover_text(name);
            left |= response.drag_stopped() || response.lost_focus();
            if i == 0 {
                ui.weak("to");
            }
        }
        if new != shown {
            view.send(NotebookMessage::Consistency(ConsistencyMessage::TypeWindow(quantity, new)));
        }
        if left {
            view.send(NotebookMessage::Consistency(ConsistencyMessage::KeepWindow(club.clone())));
        }
        if ui.small_button("Usual").on_hover_text("Back to the window of common practice").clicked()
        {
            let usual = ConsistencyMessage::UsualWindow(club.clone(), quantity);
            view.send(NotebookMessage::Consistency(usual));
        }
    });
}

fn charts_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy, of: &OffsetSummary) {
    let Some(chart) = &of.chart else {
        small(view, ui, "A chart takes two swings.");
        return;
    };
    let number = |place: usize| study.swings.get(place).map_or(place + 1, |s| s.number);
    let plain: Vec<f64> = of.values.iter().map(|(_, v)| *v).collect();
    let (average, _) = ewma(&plain, of.moments.mean, of.moments.sd.unwrap_or(0.0), WEIGHT);
    let window = match of.quantity {
        Quantity::DivotStart => study.windows[0],
        Quantity::LowPoint => study.windows[1],
        Quantity::DivotEnd | Quantity::AttackAngle => None,
    };
    let values = of.values.iter().map(|(place, value)| TimedValue {
        number: number(*place),
        value: *value,
        stands_apart: of.outliers.contains(place),
    });
    let drawing = individuals(
        &Individuals {
            values: values.collect(),
            limits: [chart.lower, chart.centre, chart.upper],
            average,
            aim: window.map(|w| [w.low_mm, w.high_mm]),
        },
        &chart_style(view, ui, 270.0),
        &axis_words(view, of.quantity),
    );
    let says = format!(
        "Chart of {} swing by swing, {} outside the limits",
        of.quantity.words(),
        chart.outside.len()
    );
    drawn(view, ui, &drawing, &says);
    let ranges: Vec<f64> = plain.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    let unit = view.model.settings.unit;
    let drawing = moving_ranges(
        &ranges,
        chart.mean_range,
        chart.upper_range,
        &chart_style(view, ui, 96.0),
        &|v| size_words(of.quantity, v, unit),
    );
    drawn(view, ui, &drawing, "Chart of the differences from swing to swing");
    small(
        view,
        ui,
        "Dots: swings; a square lies outside the limits, a ring stands apart (robust z above 3.5). Thick line: average weighted to the newest (0.3). Shaded: aim window. Below: difference to the swing before. Limits: e-Handbook 6.3.2.2.",
    );
}

fn cautions_ui(ui: &mut Ui, study: &BlockStudy) {
    if study.summary.cautions.is_empty() {
        return;
    }
    heading(ui, "Before you believe it");
    for caution in &study.summary.cautions {
        ui.add(egui::Label::new(in_session(caution, study).text()).wrap());
    }
}

/// A caution that names swings by their numbers in the session, as everything here does.
fn in_session(caution: &Caution, study: &BlockStudy) -> Caution {
    match caution {
        Caution::StandingApart { quantity, swings } => {
            let number = |place: &usize| study.swings.get(*place).map_or(*place, |s| s.number - 1);
            let swings = swings.iter().map(number).collect();
            Caution::StandingApart { quantity: *quantity, swings }
        }
        other => other.clone(),
    }
}

fn ruler_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy) {
    heading(ui, "On the ground");
    let bars = study.swings.iter().rev().map(bar_of).collect();
    let style = ruler_style(view, ui);
    let aim = study.windows[0].map(|w| [w.low_mm, w.high_mm]);
    let drawing = ruler::draw(&[Group { name: String::new(), bars }], aim, &style);
    drawn(view, ui, &drawing, "The block's swings on the ruler, ball at zero, target to the right");
}

/// What is said of single swings: left out, tags, notes, height over untouched ground.
fn others_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy) {
    let unit = view.model.settings.unit;
    let told: Vec<(usize, String)> = study
        .swings
        .iter()
        .filter_map(|swing| {
            let mut parts = Vec::new();
            parts.extend(clearance_of(&swing.offsets, unit));
            parts.extend(swing.left_out.as_ref().map(|why| format!("left out: {why}")));
            if !swing.tags.is_empty() {
                parts.push(swing.tags.join(", "));
            }
            if !swing.notes.is_empty() {
                parts.push(swing.notes.clone());
            }
            (!parts.is_empty()).then(|| (swing.number, parts.join("; ")))
        })
        .collect();
    if told.is_empty() {
        return;
    }
    heading(ui, "Said of single swings");
    for (number, text) in told {
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(format!("Swing {number}")).color(view.colours().quiet));
            ui.label(text);
        });
    }
}
