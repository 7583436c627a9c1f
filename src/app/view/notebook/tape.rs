//! The program's numbers beside a tape's: one line a pair, the tape at its middle.

use eframe::egui::{
    self, Align2, Color32, Rect, RichText, Sense, Stroke, TextEdit, Ui, accesskit::Role, pos2, vec2,
};

use super::{heading, lead, reading_ui, small};
use crate::app::notebook::{NotebookMessage, TapeMessage, TapePage};
use crate::app::theme::Colours;
use crate::app::view::{View, strong};
use crate::app::words;
use crate::domain::Quantity;
use crate::workflow::{Stated, TapePair, TapeStudy, place_words, words_for_offset};

/// Width of a pair's line, in points.
const LINE: f32 = 300.0;

/// Shows the chapter.
pub fn tape_ui(view: &mut View, ui: &mut Ui) {
    lead(ui, "Does the ± keep its word?");
    small(
        view,
        ui,
        "Lay a tape from where the ball lay along the target line, read off where the mark begins or ends, and type it in. Five pairs or more tell.",
    );
    entry_ui(view, ui);
    ui.add_space(12.0);
    tape_picture_ui(view, ui);
    let Some(study) = view.model.notebook.tape.found.clone() else {
        reading_ui(view, ui, "Reading the pairs…");
        return;
    };
    heading(ui, "What the pairs say");
    for line in study.words(view.model.settings.unit) {
        ui.add(egui::Label::new(line).wrap());
    }
    pairs_ui(view, ui, &study);
}

fn send(view: &mut View, message: TapeMessage) {
    view.send(NotebookMessage::Tape(message));
}

fn entry_ui(view: &mut View, ui: &mut Ui) {
    heading(ui, "A tape's value");
    let Some(swing) = view.model.tape_swing() else {
        ui.weak("There is no swing yet.");
        return;
    };
    let number = |id| view.model.number_of(id).unwrap_or(0);
    let swings: Vec<_> = view.model.swings.iter().map(|s| (s.id, number(s.id))).collect();
    let text = format!("Swing {}", number(swing));
    ui.horizontal(|ui| {
        let menu = ui.menu_button(text, |ui| {
            egui::ScrollArea::vertical().max_height(360.0).show(ui, |ui| {
                for (id, number) in swings.into_iter().rev() {
                    if ui.selectable_label(id == swing, format!("Swing {number}")).clicked() {
                        send(view, TapeMessage::Swing(id));
                        ui.close();
                    }
                }
            });
        });
        menu.response.on_hover_text("Which swing was measured");
        for quantity in TapePage::QUANTITIES {
            let chosen = view.model.notebook.tape.quantity == quantity;
            if ui.selectable_label(chosen, words::capital(quantity.words())).clicked() {
                send(view, TapeMessage::Of(quantity));
            }
        }
    });
    ui.horizontal(|ui| {
        let mut length = view.model.notebook.tape.length.clone();
        let edit = TextEdit::singleline(&mut length).hint_text("22 mm").desired_width(110.0);
        let response = ui.add(edit).accessible_name("What the tape said");
        let entered = response.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Enter));
        if response.changed() {
            send(view, TapeMessage::Typed(length));
        }
        for (behind, name) in [(false, "ahead of the ball"), (true, "behind it")] {
            let chosen = view.model.notebook.tape.behind == behind;
            if ui.selectable_label(chosen, name).clicked() {
                send(view, TapeMessage::Behind(behind));
            }
        }
        let colours = *view.colours();
        let text = RichText::new("Keep").text_style(strong()).color(colours.on_accent);
        let button = ui.add(egui::Button::new(text).fill(colours.accent));
        if button.on_hover_text("Undo takes it back").clicked() || entered {
            send(view, TapeMessage::Keep);
        }
    });
}

/// Width and height of the drawn tape, in points.
const DRAWN: [f32; 2] = [620.0, 168.0];

/// How the tape lies, from above: from the ball along the target line, read off where what is
/// chosen above lies.
fn tape_picture_ui(view: &View, ui: &mut Ui) {
    let page = &view.model.notebook.tape;
    let way = if page.behind { -1.0 } else { 1.0 };
    let width = ui.available_width().min(DRAWN[0]);
    let (rect, response) = ui.allocate_exact_size(vec2(width, DRAWN[1]), Sense::hover());
    let side = if page.behind { "behind" } else { "ahead of" };
    let says = format!("A tape from the ball to the {}, {side} it", page.quantity.words());
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Image, true, &says));
    let (colours, painter) = (*view.colours(), ui.painter_at(rect));
    painter.rect_filled(rect, 8.0, colours.ground);
    let font = egui::TextStyle::Small.resolve(ui.style());
    let words = |at, align: Align2, text: &str| {
        painter.text(at, align, text, font.clone(), colours.text);
    };
    let line = Stroke::new(1.2 * colours.stroke, colours.text);
    let target = pos2(rect.right() - 16.0, rect.top() + 20.0);
    words(target - vec2(34.0, 0.0), Align2::RIGHT_CENTER, "target");
    painter.arrow(target - vec2(28.0, 0.0), vec2(28.0, 0.0), line);
    let ball = pos2(rect.center().x - 130.0 * way, rect.top() + 66.0);
    let read = draw_mark_beside(&painter, ball, page, &colours);
    painter.circle(ball, 16.0, Color32::WHITE, line);
    let top = ball.y + 30.0;
    draw_tape(&painter, ball.x, way, top, &colours);
    painter.vline(ball.x, ball.y..=top, line);
    let chosen = Stroke::new(2.0 * colours.stroke, colours.accent);
    painter.vline(read, ball.y - 22.0..=top + 22.0, chosen);
    words(pos2(ball.x, top + 36.0), Align2::CENTER_CENTER, "0 at the ball");
    let text = format!("read it here: {}", page.quantity.words());
    words(pos2(read, ball.y - 34.0), Align2::CENTER_CENTER, &text);
}

/// A mark in the ground ahead of the ball or behind it; returns where the tape is read.
fn draw_mark_beside(
    painter: &egui::Painter,
    ball: egui::Pos2,
    page: &TapePage,
    colours: &Colours,
) -> f32 {
    // 160 points long; its start is the end away from the target.
    let left = if page.behind { ball.x - 220.0 } else { ball.x + 60.0 };
    let mark = Rect::from_min_max(pos2(left, ball.y - 13.0), pos2(left + 160.0, ball.y + 13.0));
    painter.rect_filled(mark, 6.0, colours.quiet.gamma_multiply(0.6));
    match page.quantity {
        Quantity::DivotStart => mark.left(),
        Quantity::DivotEnd => mark.right(),
        _ => mark.left() + 90.0,
    }
}

/// A tape with its zero at `zero`, unrolled that way, a finger's breadth from tick to tick.
fn draw_tape(painter: &egui::Painter, zero: f32, way: f32, top: f32, colours: &Colours) {
    let ends = [zero, zero + way * 260.0];
    let tape = Rect::from_x_y_ranges(ends[0].min(ends[1])..=ends[0].max(ends[1]), top..=top + 20.0);
    let line = Stroke::new(colours.stroke, colours.text);
    painter.rect(tape, 1.0, colours.panel, line, egui::StrokeKind::Middle);
    for tick in 0..=26 {
        let long = if tick % 5 == 0 { 10.0 } else { 5.0 };
        painter.vline(zero + way * 10.0 * tick as f32, top..=top + long, line);
    }
}

/// Half of what the lines show, mm: the farthest end of an interval from its tape value.
fn reach(study: &TapeStudy) -> f64 {
    let far =
        |p: &TapePair| (p.interval.low - p.tape_mm).abs().max((p.interval.high - p.tape_mm).abs());
    study.pairs.iter().map(far).fold(10.0, f64::max)
}

fn pairs_ui(view: &mut View, ui: &mut Ui, study: &TapeStudy) {
    if study.pairs.is_empty() {
        return;
    }
    heading(ui, "Pair by pair");
    let (unit, reach) = (view.model.settings.unit, reach(study));
    egui::Grid::new("pairs").num_columns(5).spacing([20.0, 4.0]).show(ui, |ui| {
        for name in ["Swing", "", "Tape", "Program", "the ± about the tape's value"] {
            small(view, ui, name);
        }
        ui.end_row();
        for pair in study.pairs.iter().rev() {
            let number = view.model.number_of(pair.swing);
            ui.label(number.map_or("earlier".into(), |n| n.to_string()));
            ui.label(pair.quantity.words());
            ui.label(place_words(pair.tape_mm, unit));
            let stated = Stated { value: pair.measured_mm, interval: pair.interval };
            ui.label(words_for_offset(&stated, unit));
            pair_line(view, ui, pair, reach);
            ui.end_row();
        }
    });
    small(
        view,
        ui,
        "Upright: the tape. Dot and line: the program and its ±. A ring: the ± missed.",
    );
}

fn pair_line(view: &View, ui: &mut Ui, pair: &TapePair, reach: f64) {
    let colours = *view.colours();
    let (rect, response) = ui.allocate_exact_size(vec2(LINE, 20.0), Sense::hover());
    let says = if pair.held() { "the ± holds the tape's value" } else { "the ± missed it" };
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Image, true, says));
    let x = |mm: f64| rect.center().x + ((mm - pair.tape_mm) / reach) as f32 * (LINE / 2.0 - 8.0);
    let (y, painter) = (rect.center().y, ui.painter_at(rect));
    painter.vline(x(pair.tape_mm), rect.y_range(), Stroke::new(colours.stroke, colours.quiet));
    let ink = if pair.held() { colours.text } else { colours.accent };
    let line = Stroke::new(1.6 * colours.stroke, ink);
    painter.hline(x(pair.interval.low)..=x(pair.interval.high), y, line);
    for end in [pair.interval.low, pair.interval.high] {
        painter.vline(x(end), y - 4.0..=y + 4.0, line);
    }
    let dot = pos2(x(pair.measured_mm), y);
    painter.circle_filled(dot, 3.5, ink);
    if !pair.held() {
        painter.circle_stroke(dot, 7.0, line);
    }
}
