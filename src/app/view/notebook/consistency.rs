//! One block in numbers: is it repeatable?

use eframe::egui::{self, RichText, Ui};

use super::{
    WHERE_FROM, axis_words, bar_of, beside, chart_style, doubt_link, drawn, facts_ui, heading,
    lead, quantity_tabs, reading_ui, ruler_style, small, subject_menu, swing_link,
};
use crate::app::notebook::{ConsistencyMessage, NotebookMessage, Shown};
use crate::app::view::{View, length_field};
use crate::app::words;
use crate::domain::{Club, LengthUnit, MarkWord, Quantity, SwingNumber};
use crate::report::charts::{Individuals, TimedValue, individuals, moving_ranges};
use crate::report::ruler::{self, Group};
use crate::stats::{AimWindow, OffsetSummary};
use crate::workflow::{
    BlockNumber, BlockStudy, ClubAim, Listed, clearance_of, further_facts, mean_words,
    own_spread_words, plain_facts, score_words, size_words, swings_words,
};

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
        if let Some(quantity) = quantity_tabs(ui, quantity, study.summary.mark, has) {
            view.send(NotebookMessage::Consistency(ConsistencyMessage::Chart(quantity)));
        }
    });
    ui.add_space(8.0);
    match study.filter(|study| Some(study.of) == of) {
        None if of.is_none() => {
            ui.label("No swings yet: drop a recording on the window, and its numbers are here.");
        }
        None => {
            reading_ui(view, ui, "Reading the swings…");
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
    let left = (ui.available_width() * 0.4).clamp(320.0, 470.0);
    let told = |view: &mut View, ui: &mut Ui| told_ui(view, ui, study, offset);
    beside(view, ui, left, told, |view, ui| {
        charts_ui(view, ui, study, offset);
        ruler_ui(view, ui, study);
    });
    others_ui(view, ui, study);
}

/// The mean in one sentence, what speaks against it, and what else is told of the block.
fn told_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy, offset: &OffsetSummary) {
    let (unit, quantity) = (view.model.settings.unit, offset.quantity);
    let mean = mean_words(offset, unit);
    lead(
        ui,
        &format!(
            "{}: {mean}, over {}.",
            words::capital(quantity.words_of(offset.mark)),
            swings_words(offset.moments.n)
        ),
    );
    if !offset.mean.budget.is_empty() {
        doubt_link(view, ui, WHERE_FROM, Shown::Block(BlockNumber::Mean), quantity);
    }
    if let Some(own) = own_spread_words(offset, unit) {
        ui.add(egui::Label::new(format!("{own}.")).wrap());
    }
    if let Some((drill, score)) = &study.drill {
        let score = score_words(drill.scoring, score);
        ui.add(egui::Label::new(format!("The drill {}: {score}.", drill.title)).wrap());
    }
    cautions_ui(ui, study, unit);
    ui.add_space(10.0);
    // How many swings and their mean the sentence has told.
    let facts = plain_facts(study, offset, unit);
    facts_ui(view, ui, "facts", (facts, quantity, Shown::Block));
    windows_ui(view, ui, study);
    further_ui(view, ui, study, offset);
}

/// What only who knows statistics asks for, folded away.
fn further_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy, of: &OffsetSummary) {
    ui.add_space(14.0);
    let unit = view.model.settings.unit;
    egui::CollapsingHeader::new("For the statistician").show(ui, |ui| {
        let facts = further_facts(study, of, unit);
        facts_ui(view, ui, "further facts", (facts, of.quantity, Shown::Block));
        small(
            view,
            ui,
            "Limits: e-Handbook 6.3.2.2 and 6.3.2.4; the average's weight is 0.3; a ring stands at a robust z above 3.5.",
        );
    });
}

/// Aim windows of the club chosen, to be changed for this golfer.
fn windows_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy) {
    let Some(ClubAim { club: Some(club), windows }) = aim(view, study).cloned() else { return };
    heading(ui, &format!("Aim windows, {}", club.0));
    club_choice_ui(view, ui, study, &club);
    for (quantity, window) in [Quantity::DivotStart, Quantity::LowPoint].into_iter().zip(windows) {
        window_ui(view, ui, &club, (quantity, study.summary.mark), window);
    }
    small(
        view,
        ui,
        "Usual windows are common practice, no source. Yours take their place for this golfer and club.",
    );
}

/// Where to aim with the club chosen.
fn aim<'a>(view: &View, study: &'a BlockStudy) -> Option<&'a ClubAim> {
    study.aim(view.model.notebook.consistency.club.as_ref())
}

/// Whose windows are shown, where several clubs were played.
fn club_choice_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy, chosen: &Club) {
    if study.aims.len() < 2 {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        for club in study.aims.iter().filter_map(|aim| aim.club.as_ref()) {
            let tab = ui.selectable_label(club == chosen, &club.0);
            if tab.on_hover_text("Show and change the windows of this club").clicked() {
                let message = ConsistencyMessage::AimWith(club.clone());
                view.send(NotebookMessage::Consistency(message));
            }
        }
    });
}

fn window_ui(
    view: &mut View,
    ui: &mut Ui,
    club: &Club,
    (quantity, mark): (Quantity, MarkWord),
    window: Option<AimWindow>,
) {
    let typed = view.model.notebook.consistency.window.filter(|(q, _)| *q == quantity);
    let known = window.map(|w| [w.low_mm, w.high_mm]);
    let Some(shown) = typed.map(|(_, w)| w).or(known) else {
        ui.horizontal(|ui| {
            ui.weak(words::capital(quantity.words_of(mark)));
            ui.label("nothing to aim for");
        });
        return;
    };
    ui.horizontal(|ui| {
        ui.weak(words::capital(quantity.words_of(mark)));
        let unit = view.model.settings.unit;
        let (mut new, mut left) = (shown, false);
        for (i, value) in new.iter_mut().enumerate() {
            let end = if i == 0 { "from" } else { "to" };
            let name = format!(
                "{} window {end}, {} ahead of the ball",
                words::capital(quantity.words_of(mark)),
                unit.short_name()
            );
            let field = length_field(value, unit);
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
        if ui.button("Usual").on_hover_text("Back to the window of common practice").clicked() {
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
    let window = aim(view, study).and_then(|aim| aim.window(of.quantity));
    let values = of.values.iter().map(|(place, value)| TimedValue {
        number: number(*place),
        value: *value,
        stands_apart: of.outliers.contains(place),
    });
    let drawing = individuals(
        &Individuals {
            values: values.collect(),
            limits: [chart.lower, chart.centre, chart.upper],
            average: of.average.as_ref().map_or(Vec::new(), |a| a.series.clone()),
            average_limits: of.average.as_ref().map(|a| a.limits),
            aim: window.map(|w| [w.low_mm, w.high_mm]),
        },
        &chart_style(view, ui, 270.0),
        &axis_words(view, of.quantity),
    );
    let says = format!(
        "Chart of {} swing by swing, {} outside the limits",
        of.quantity.words_of(of.mark),
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
        "Dots: swings; a square lies outside the limits, a ring stands apart. Thick line: average weighted to the newest, fine lines its limits. Shaded: aim window. Below: difference to the swing before.",
    );
}

fn cautions_ui(ui: &mut Ui, study: &BlockStudy, unit: LengthUnit) {
    let cautions = study.cautions();
    if cautions.is_empty() {
        return;
    }
    heading(ui, "Before you believe it");
    for caution in cautions {
        ui.add(egui::Label::new(caution.text(unit, study.summary.mark)).wrap());
    }
}

fn ruler_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy) {
    heading(ui, "On the ground");
    let bars = study.swings.iter().rev().map(bar_of).collect();
    let style = ruler_style(view, ui);
    let aim = aim(view, study).and_then(|aim| aim.window(Quantity::DivotStart));
    let aim = aim.map(|w| [w.low_mm, w.high_mm]);
    let drawing = ruler::draw(&[Group { name: String::new(), bars }], aim, &style);
    drawn(view, ui, &drawing, "The block's swings on the ruler, ball at zero, target to the right");
}

/// What is said of single swings: left out, tags, notes, height over untouched ground.
fn others_ui(view: &mut View, ui: &mut Ui, study: &BlockStudy) {
    let unit = view.model.settings.unit;
    let told: Vec<(&Listed, Option<String>, String)> = study
        .swings
        .iter()
        .filter_map(|swing| {
            let mut parts = Vec::new();
            let height = clearance_of(&swing.offsets, unit);
            parts.extend(swing.left_out.as_ref().map(|why| format!("left out: {why}")));
            if !swing.tags.is_empty() {
                parts.push(swing.tags.join(", "));
            }
            if !swing.notes.is_empty() {
                parts.push(swing.notes.clone());
            }
            (height.is_some() || !parts.is_empty()).then(|| (swing, height, parts.join("; ")))
        })
        .collect();
    if told.is_empty() {
        return;
    }
    heading(ui, "Said of single swings");
    for (swing, height, text) in told {
        ui.horizontal_wrapped(|ui| {
            let name = format!("Swing {}", swing.number);
            ui.label(RichText::new(name).color(view.colours().quiet));
            if let Some(height) = height {
                swing_link(view, ui, height, (swing.id, SwingNumber::HeightAtBall));
            }
            ui.label(text);
        });
    }
}
