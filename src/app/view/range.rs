//! The range display: the last swing in big type, its place among the last ten.

use eframe::egui::{self, Align, Frame, Layout, Margin, RichText, Ui, accesskit::Role, vec2};

use super::waiting::stop_button;
use super::{BUDGET_HINT, View, turf_ruler};
use crate::app::keys::{self, Act};
use crate::app::message::{FileMessage, ScreenMessage, SwingMessage};
use crate::app::model::{Model, Page, Sheet};
use crate::app::theme::strong_family;
use crate::app::words;
use crate::domain::{GroundAnswer, LengthUnit, Quantity, SwingResult};
use crate::report::content::cautions;
use crate::workflow::state;

/// How many swings are shown.
const LAST: usize = 10;

/// The offset's type is so many units.
const GIANT: f32 = 3.6;

/// The size on which all type here is built, for a window this high.
fn unit_for(height: f32) -> f32 {
    (height / 24.0).clamp(18.0, 60.0)
}

/// Fills the window.
pub fn range_ui(view: &mut View, ui: &mut Ui) {
    let colours = *view.colours();
    Frame::new().fill(colours.panel).inner_margin(Margin::same(32)).show(ui, |ui| {
        ui.set_min_size(ui.available_size());
        let unit = unit_for(ui.available_height());
        ui.horizontal(|ui| {
            ui.label(RichText::new(swing_words(view)).size(unit).color(colours.quiet));
            ui.with_layout(Layout::right_to_left(Align::TOP), |ui| {
                if ui.button("Back").on_hover_text(keys::shown(Act::StepOut)).clicked() {
                    view.send(ScreenMessage::Show(Page::Measure));
                }
                watch_ui(view, ui);
                if let Some(item) = view.model.queue.front().cloned() {
                    let stop = FileMessage::CancelImport(item.path);
                    stop_button(view, ui, "reading the recording", stop);
                }
            });
        });
        last_swing_ui(view, ui, unit);
        ui.add_space(unit * 0.5);
        let area = vec2(ui.available_width(), ui.available_height() - unit * 3.9);
        let style = turf_ruler::filling(view, area, f64::from(unit), LAST);
        ui.allocate_ui_with_layout(area, Layout::top_down(Align::Min), |ui| {
            ui.set_min_size(area);
            turf_ruler::turf_ruler_ui(view, ui, &style, LAST);
        });
        foot_ui(view, ui, unit);
    });
}

fn watch_ui(view: &mut View, ui: &mut Ui) {
    let watched = view.model.watched.clone();
    let text = if watched.is_some() { "Stop watching" } else { "Watch a folder…" };
    let hint = match &watched {
        Some(folder) => format!("New recordings in {} are read at once", folder.display()),
        None => "New recordings in a folder are read as soon as they are complete".into(),
    };
    if ui.button(text).on_hover_text(keys::hint(&hint, Act::Watch)).clicked() {
        view.send(FileMessage::Watch(watched.is_none()));
    }
}

fn swing_words(view: &View) -> String {
    let reading = view.model.queue.front();
    match (view.model.swings.last(), reading) {
        (_, Some(item)) => format!("{}, {:.0} %", item.doing, item.done * 100.0),
        (Some(swing), None) => {
            let club = swing.club.as_ref().map_or(String::new(), |c| format!(", {}", c.0));
            let left_out = if swing.left_out { ", left out" } else { "" };
            let what = swing.result.as_ref().and_then(|r| r.divot_start_offset.as_ref());
            let what = what.map_or("", |_| view.model.mark_word(swing).start());
            let what = if what.is_empty() { String::new() } else { format!(": {what}") };
            format!("Swing {}{club}{left_out}{what}", view.model.swings.len())
        }
        (None, None) => "Waiting for the first swing".into(),
    }
}

/// The last swing's offset and its ±, or what is known without one.
fn last_words(
    result: &SwingResult,
    answer: Option<GroundAnswer>,
    unit: LengthUnit,
) -> (String, String) {
    match &result.divot_start_offset {
        Some(start) => (words::offset(start.value, unit), words::plus_minus(&state(start), unit)),
        None => (words::without_start(result, answer).to_owned(), String::new()),
    }
}

fn last_swing_ui(view: &mut View, ui: &mut Ui, unit: f32) {
    let colours = *view.colours();
    let last = view.model.swings.last();
    let Some((swing, result)) = last.and_then(|s| Some((s, s.result.as_ref()?))) else { return };
    let (text, aside) = last_words(result, swing.marks.ground, view.model.settings.unit);
    let giant = egui::FontId::new(unit * GIANT, strong_family());
    let order = result.contact_order.filter(|_| result.divot_start_offset.is_some());
    let order = order.map(|order| format!("Contact: {}", words::contact_order(order)));
    let order = order.unwrap_or_default();
    let (size, ink) = (unit * 1.2, colours.text);
    let laid = |text: &str, font, ink| ui.painter().layout_no_wrap(text.to_owned(), font, ink);
    let number = laid(&text, giant, ink);
    let doubt = laid(&aside, egui::FontId::proportional(size), colours.quiet);
    let order = laid(&order, egui::FontId::new(size, strong_family()), ink);
    // Beside the number where there is room, else beneath it.
    let room = ui.available_width() - number.size().x - unit;
    let (beside, tall) = (room >= doubt.size().x.max(order.size().x), number.size().y);
    let foot = if beside { 0.0 } else { size * 1.4 };
    let area = vec2(ui.available_width(), tall + foot);
    let says = [number.text(), doubt.text(), order.text()].join(" ");
    let is_told = !order.is_empty();
    let has_budget = result.divot_start_offset.is_some();
    let (sense, role) = match has_budget {
        true => (egui::Sense::click(), Role::Button),
        false => (egui::Sense::hover(), Role::Label),
    };
    let (rect, response) = ui.allocate_exact_size(area, sense);
    let of = if has_budget { "Budget of divot start, " } else { "" };
    let says = format!("{of}{}", says.trim());
    response.widget_info(|| egui::WidgetInfo::labeled(role, true, &says));
    if has_budget {
        let swing = swing.id;
        let hint = match is_told {
            true => format!("{}\n{BUDGET_HINT}", words::CONTACT_HINT),
            false => BUDGET_HINT.into(),
        };
        if response.on_hover_text(hint).clicked() {
            view.send(SwingMessage::ShowSwing(swing));
            view.send(ScreenMessage::Open(Sheet::Budget(Quantity::DivotStart.into())));
        }
    }
    let (first, second) = match beside {
        true => {
            let left = number.size().x + unit;
            (vec2(left, tall * 0.47 - size * 1.05), vec2(left, tall * 0.47 + size * 0.15))
        }
        false => (vec2(0.0, tall), vec2(doubt.size().x + unit * 0.7, tall)),
    };
    ui.painter().galley(rect.min, number, ink);
    ui.painter().galley(rect.min + first, doubt, colours.quiet);
    ui.painter().galley(rect.min + second, order, ink);
}

/// "Ahead of the ball: 6 of the last 9. In the aim window: 4."; `None` without a number. Each
/// swing has the window of its golfer and club; where some have none, those that do are counted.
fn ahead_words(model: &Model) -> Option<String> {
    let last = model.swings.iter().rev().take(LAST).filter(|swing| !swing.left_out);
    let starts: Vec<(f64, Option<[f64; 2]>)> = last
        .filter_map(|swing| {
            Some((swing.result.as_ref()?.divot_start_offset.as_ref()?.value, swing.aim))
        })
        .collect();
    let ahead = starts.iter().filter(|(start, _)| *start > 0.0).count();
    let aimed = starts.iter().filter_map(|(start, aim)| Some((start, (*aim)?)));
    let within: Vec<bool> = aimed.map(|(start, [from, to])| (from..=to).contains(start)).collect();
    let hits = within.iter().filter(|hit| **hit).count();
    let window = match within.len() {
        0 => String::new(),
        n if n == starts.len() => format!(" In the aim window: {hits}."),
        n => format!(" In the aim window: {hits} of {n}."),
    };
    let n = starts.len();
    (n > 0).then(|| format!("Ahead of the ball: {ahead} of the last {n}.{window}"))
}

/// How many were ahead, the key that leaves the last one out, and the cautions.
fn foot_ui(view: &mut View, ui: &mut Ui, unit: f32) {
    let quiet = view.colours().quiet;
    ui.add_space(unit * 0.3);
    ui.horizontal(|ui| {
        leave_out_ui(view, ui, unit);
        ui.add_space(unit);
        if let Some(text) = ahead_words(view.model) {
            ui.label(RichText::new(text).size(unit * 0.95));
        }
    });
    ui.add_space(unit * 0.3);
    let small = (unit * 0.48).max(12.5);
    let cautions =
        RichText::new(cautions(view.model.settings.unit)[..3].join(" ")).size(small).color(quiet);
    ui.add(egui::Label::new(cautions).wrap());
}

/// One large key for a golfer with a club in hand.
fn leave_out_ui(view: &mut View, ui: &mut Ui, unit: f32) {
    let Some(left_out) = view.model.swings.last().map(|swing| swing.left_out) else { return };
    let text = if left_out { "Count it again" } else { "Leave it out" };
    let text = keys::hint(text, Act::LeaveOut);
    let button = egui::Button::new(RichText::new(text).size(unit * 0.95));
    let hint = "The last swing is not counted; the same again counts it";
    if ui.add(button.min_size(vec2(0.0, unit * 1.9))).on_hover_text(hint).clicked() {
        view.send(SwingMessage::LeaveOut(!left_out));
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::app::update::tests::model;
    use crate::domain::{Measured, Millimetres};

    #[test]
    fn the_offset_is_read_from_three_metres() {
        // A screen of 13.3 inches with 1280 x 800 points; figures of Lato are 0.72 of their size.
        let point_mm =
            13.3 * Millimetres::INCH.0 as f32 / (1280f32 * 1280.0 + 800.0 * 800.0).sqrt();
        let figure_mm = 0.72 * GIANT * unit_for(800.0 - 64.0) * point_mm;
        // ISO 8596: the sign that an eye of acuity 1.0 just makes out is 5 minutes of arc high.
        let just_mm = 3000.0 * (5.0f32 / 60.0).to_radians();
        assert!(figure_mm > 3.0 * just_mm, "{figure_mm} {just_mm}");
    }

    #[test]
    fn swings_ahead_are_counted_among_the_last() {
        let mut m = model();
        assert_eq!(ahead_words(&m), None);
        for (swing, start) in m.swings.iter_mut().zip([-12.0, 30.0, 140.0]) {
            let mut result = swing.result.as_deref().cloned().unwrap();
            result.divot_start_offset = Some(Measured::new(start, Vec::new()));
            swing.result = Some(Arc::new(result));
        }
        let words = ahead_words(&m).unwrap();
        assert_eq!(words, "Ahead of the ball: 2 of the last 3. In the aim window: 1.");
        m.swings[2].left_out = true;
        let words = ahead_words(&m).unwrap();
        assert_eq!(words, "Ahead of the ball: 1 of the last 2. In the aim window: 1.");
        m.swings[0].aim = Some([-50.0, 0.0]);
        let words = ahead_words(&m).unwrap();
        assert_eq!(words, "Ahead of the ball: 1 of the last 2. In the aim window: 2.");
        m.swings[1].aim = None;
        let words = ahead_words(&m).unwrap();
        assert_eq!(words, "Ahead of the ball: 1 of the last 2. In the aim window: 1 of 1.");
    }
}
