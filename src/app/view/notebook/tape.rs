//! The program's numbers beside a tape's: one line a pair, the tape at its middle.

use eframe::egui::{
    self, Align2, Color32, Rect, RichText, Sense, Stroke, TextEdit, Ui, accesskit::Role, pos2, vec2,
};

use super::{WHERE_FROM, beside, doubt_link, heading, lead, reading_ui, small};
use crate::app::notebook::{NotebookMessage, Shown, TapeMessage, TapePage};
use crate::app::view::{View, pen::Pen, strong};
use crate::app::words;
use crate::domain::{Interval, LengthUnit, Quantity};
use crate::store::SwingId;
use crate::workflow::{
    PAIRS_TO_JUDGE, Stated, TapePair, TapeStudy, TapeVerdict, length_words, place_words,
    words_for_offset,
};

/// With less room than this, in points, what the pairs say stands below the entry.
const ROOM_BESIDE: f32 = 980.0;

/// Shows the chapter.
pub fn tape_ui(view: &mut View, ui: &mut Ui) {
    lead(ui, "Does the ± keep its word?");
    small(
        view,
        ui,
        "Lay a tape from where the ball lay along the target line, read off where the mark begins or ends, and type it in.",
    );
    let wide = ui.available_width();
    if wide < ROOM_BESIDE {
        laying_ui(view, ui);
        said_ui(view, ui);
    } else {
        beside(view, ui, (wide * 0.47).min(DRAWN), laying_ui, said_ui);
    }
    if let Some(study) = view.model.notebook.tape.found.clone() {
        pairs_ui(view, ui, &study);
    }
}

/// What is measured with the tape, and how.
fn laying_ui(view: &mut View, ui: &mut Ui) {
    entry_ui(view, ui);
    ui.add_space(12.0);
    tape_picture_ui(view, ui);
}

/// What all pairs say together.
fn said_ui(view: &mut View, ui: &mut Ui) {
    heading(ui, "What the pairs say");
    let Some(study) = view.model.notebook.tape.found.clone() else {
        reading_ui(view, ui, "Reading the pairs…");
        return;
    };
    for (place, line) in study.words(view.model.settings.unit).into_iter().enumerate() {
        ui.add(egui::Label::new(line).wrap());
        if let Some(told) = study.verdicts.get(place).filter(|told| told.agreement.is_some()) {
            doubt_link(view, ui, WHERE_FROM, Shown::Tape(place), told.quantity);
        }
    }
    let most = study.verdicts.iter().map(|verdict| verdict.pairs).max().unwrap_or(0);
    if most < PAIRS_TO_JUDGE {
        steps_ui(view, ui, most);
    }
}

/// What so many pairs of one distance tell: a dot for what is told already, a ring for what is not.
fn steps_ui(view: &View, ui: &mut Ui, pairs: usize) {
    ui.add_space(8.0);
    let colours = *view.colours();
    for (needed, tells) in [
        (1, "how far off the program was, that once"),
        (2, "how far ahead or behind it lies on the whole, and how far single ones stray"),
        (PAIRS_TO_JUDGE, "whether the ± keeps its word"),
    ] {
        let told = pairs >= needed;
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(vec2(16.0, 16.0), Sense::hover());
            let ring = Stroke::new(1.0 + 0.5 * colours.stroke, colours.quiet);
            let fill = if told { colours.quiet } else { Color32::TRANSPARENT };
            ui.painter().circle(rect.center(), 4.5, fill, ring);
            let many = if needed == 1 { "1 pair tells".into() } else { format!("{needed} tell") };
            let ink = if told { colours.text } else { colours.quiet };
            ui.add(egui::Label::new(RichText::new(format!("{many} {tells}")).color(ink)).wrap());
        });
    }
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
    which_ui(view, ui, swing);
    typed_ui(view, ui);
}

/// Which swing was measured, and which distance of it.
fn which_ui(view: &mut View, ui: &mut Ui, swing: SwingId) {
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
}

/// What the tape said.
fn typed_ui(view: &mut View, ui: &mut Ui) {
    ui.horizontal(|ui| {
        let mut length = view.model.notebook.tape.length.clone();
        let hint = format!("such as {}", words::length(22.0, view.model.settings.unit));
        let edit = TextEdit::singleline(&mut length)
            .hint_text(hint)
            .desired_width(5.0 * ui.spacing().interact_size.y);
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

/// Greatest width of the drawn tape, in points, and its height as a part of its width.
const DRAWN: f32 = 900.0;
const DRAWN_HIGH: f32 = 0.29;

/// How the tape lies, from above: from the ball along the target line, read off where what is
/// chosen above lies.
fn tape_picture_ui(view: &View, ui: &mut Ui) {
    let page = &view.model.notebook.tape;
    let way = if page.behind { -1.0 } else { 1.0 };
    let width = ui.available_width().min(DRAWN);
    let side = if page.behind { "behind" } else { "ahead of" };
    let says = format!("A tape from the ball to the {}, {side} it", page.quantity.words());
    let pen = Pen::new(view, ui, vec2(width, width * DRAWN_HIGH), &says);
    // In sunlight the ground is as white as the page.
    let edge = Stroke::new(pen.colours.stroke, pen.colours.line);
    pen.painter.rect_stroke(pen.rect, 8.0, edge, egui::StrokeKind::Inside);
    // A hundredth of the width.
    let u = width / 100.0;
    pen.target(pos2(pen.rect.right() - 2.5 * u, pen.rect.top() + 3.0 * u));
    let ball = pos2(pen.rect.center().x - 27.0 * u * way, pen.rect.top() + 11.0 * u);
    let read = draw_mark_beside(&pen, (ball, u), page);
    pen.ball(ball, 2.6 * u);
    let top = ball.y + 5.0 * u;
    draw_tape(&pen, (ball.x, top, u), way);
    pen.painter.vline(ball.x, ball.y..=top, pen.thin());
    let chosen = Stroke::new(2.0 * pen.colours.stroke, pen.colours.accent);
    pen.painter.vline(read, ball.y - 3.6 * u..=top + 3.6 * u, chosen);
    pen.words(pos2(ball.x, top + 5.8 * u), Align2::CENTER_CENTER, "0 at the ball");
    let text = format!("read it here: {}", page.quantity.words());
    pen.words(pos2(read, ball.y - 5.4 * u), Align2::CENTER_CENTER, &text);
}

/// A mark in the ground ahead of the ball or behind it; returns where the tape is read. `u` is a
/// hundredth of the picture's width.
fn draw_mark_beside(pen: &Pen, (ball, u): (egui::Pos2, f32), page: &TapePage) -> f32 {
    const LONG: f32 = 26.0;
    // Its start is the end away from the target.
    let left = ball.x + if page.behind { -(LONG + 10.0) } else { 10.0 } * u;
    let (low, high) = (pos2(left, ball.y - 2.1 * u), pos2(left + LONG * u, ball.y + 2.1 * u));
    let mark = Rect::from_min_max(low, high);
    pen.painter.rect_filled(mark, u, pen.colours.quiet.gamma_multiply(0.6));
    match page.quantity {
        Quantity::DivotStart => mark.left(),
        Quantity::DivotEnd => mark.right(),
        _ => mark.left() + 0.56 * mark.width(),
    }
}

/// A tape with its zero below the ball, unrolled that way, a finger's breadth from tick to tick;
/// it goes on where the picture leaves off.
fn draw_tape(pen: &Pen, (zero, top, u): (f32, f32, f32), way: f32) {
    let (ends, high) = ([zero, zero + way * 52.0 * u], 3.2 * u);
    let tape = Rect::from_x_y_ranges(ends[0].min(ends[1])..=ends[0].max(ends[1]), top..=top + high);
    let line = Stroke::new(pen.colours.stroke, pen.colours.text);
    pen.painter.rect(tape, 1.0, pen.colours.panel, line, egui::StrokeKind::Middle);
    for tick in 0..=26 {
        let long = high * if tick % 5 == 0 { 0.5 } else { 0.25 };
        pen.painter.vline(zero + way * 2.0 * u * tick as f32, top..=top + long, line);
    }
    let end = pos2(ends[1] + way * u, top + high / 2.0);
    pen.arrow(end, end + vec2(way * 5.0 * u, 0.0));
}

/// What lies side by side in every pair's line: differences of program and tape, in mm.
struct Line {
    width: f32,
    /// What the line's ends stand for.
    reach: f64,
    unit: LengthUnit,
}

impl Line {
    fn of(study: &TapeStudy, width: f32, unit: LengthUnit) -> Self {
        let ends = |p: &TapePair| {
            let Interval { low, high } = p.stated().interval;
            [low - p.tape_mm, high - p.tape_mm]
        };
        let limits = study.verdicts.iter().filter_map(limits_of);
        let all = study.pairs.iter().map(ends).chain(limits).flatten();
        let far = all.fold(0.0, |far: f64, v| far.max(v.abs()));
        Self { width, reach: nice_reach(far, unit), unit }
    }

    fn x(&self, rect: Rect, difference: f64) -> f32 {
        let half = f64::from(self.width) / 2.0 - 8.0;
        rect.center().x + (difference / self.reach * half) as f32
    }
}

/// The limits of agreement of a distance's pairs.
fn limits_of(verdict: &TapeVerdict) -> Option<[f64; 2]> {
    verdict.agreement.map(|a| [a.limits.low, a.limits.high])
}

/// The next 1, 2 or 5 times a power of ten in the unit shown, in mm; at least the smallest length
/// that is told, so that the words at a line's ends say where they lie.
fn nice_reach(far: f64, unit: LengthUnit) -> f64 {
    let least = 0.1f64.powi(unit.decimals() as i32);
    let far = unit.from_mm(far).max(least);
    let power = 10f64.powf(far.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|step| step * power);
    steps.into_iter().find(|reach| *reach >= far).unwrap_or(far) * unit.in_mm()
}

/// Height of a pair's row, in points.
const ROW: f32 = 26.0;
/// What the columns before the lines take, in heights of the small type.
const COLUMNS: f32 = 32.0;

fn pairs_ui(view: &mut View, ui: &mut Ui, study: &TapeStudy) {
    if study.pairs.is_empty() {
        return;
    }
    heading(ui, "Pair by pair");
    let unit = view.model.settings.unit;
    let taken = COLUMNS * egui::TextStyle::Small.resolve(ui.style()).size;
    let line = Line::of(study, (ui.available_width() - taken).clamp(280.0, 1000.0), unit);
    ui.spacing_mut().interact_size.y = ROW;
    egui::Grid::new("pairs").num_columns(5).spacing([20.0, 0.0]).show(ui, |ui| {
        for name in ["Swing", "", "Tape", "Program"] {
            ui.label(RichText::new(name).small().color(view.colours().quiet));
        }
        axis_ui(view, ui, &line);
        ui.end_row();
        for (place, pair) in study.pairs.iter().enumerate().rev() {
            let number = view.model.number_of(pair.swing);
            ui.label(number.map_or("earlier".into(), |n| n.to_string()));
            ui.label(pair.quantity.words());
            ui.label(place_words(pair.tape_mm, unit));
            let text = words_for_offset(&pair.stated(), unit);
            doubt_link(view, ui, &text, Shown::Pair(place), pair.quantity);
            let limits = study.verdict(pair.quantity).and_then(limits_of);
            pair_line(view, ui, pair, limits, &line);
            ui.end_row();
        }
    });
    ui.add_space(4.0);
    let shaded = match study.verdicts.iter().any(|verdict| limits_of(verdict).is_some()) {
        true => " Shaded: within the limits of agreement of that distance.",
        false => "",
    };
    let text = "Upright: the tape. Dot and line: the program and its ±. A ring: the ± missed.";
    small(view, ui, format!("{text}{shaded}"));
}

/// What the lines' ends and their middle stand for.
fn axis_ui(view: &View, ui: &mut Ui, line: &Line) {
    let (rect, response) = ui.allocate_exact_size(vec2(line.width, ROW), Sense::hover());
    let end = format!("{} {}", length_words(line.reach, line.unit), line.unit.short_name());
    let says = format!("Program against tape, from {end} farther behind to {end} farther ahead");
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Label, true, &says));
    let font = egui::TextStyle::Small.resolve(ui.style());
    for (align, x, words) in [
        (Align2::LEFT_BOTTOM, rect.left(), format!("{end} farther behind")),
        (Align2::CENTER_BOTTOM, rect.center().x, "tape".into()),
        (Align2::RIGHT_BOTTOM, rect.right(), format!("{end} farther ahead")),
    ] {
        ui.painter().text(
            pos2(x, rect.bottom() - 3.0),
            align,
            words,
            font.clone(),
            view.colours().quiet,
        );
    }
}

fn pair_line(view: &View, ui: &mut Ui, pair: &TapePair, limits: Option<[f64; 2]>, scale: &Line) {
    let colours = *view.colours();
    let (rect, response) = ui.allocate_exact_size(vec2(scale.width, ROW), Sense::hover());
    let says = if pair.held() { "the ± holds the tape's value" } else { "the ± missed it" };
    response.widget_info(|| egui::WidgetInfo::labeled(Role::Image, true, says));
    let x = |mm: f64| scale.x(rect, mm - pair.tape_mm);
    let (y, painter) = (rect.center().y, ui.painter_at(rect));
    if let Some(limits) = limits {
        let [low, high] = limits.map(|mm| scale.x(rect, mm));
        let band = Rect::from_x_y_ranges(low..=high, rect.y_range());
        painter.rect_filled(band, 0.0, colours.accent.gamma_multiply(0.12));
    }
    painter.vline(x(pair.tape_mm), rect.y_range(), Stroke::new(colours.stroke, colours.quiet));
    let ink = if pair.held() { colours.text } else { colours.accent };
    let line = Stroke::new(1.6 * colours.stroke, ink);
    let Stated { value, interval } = pair.stated();
    painter.hline(x(interval.low)..=x(interval.high), y, line);
    for end in [interval.low, interval.high] {
        painter.vline(x(end), y - 4.0..=y + 4.0, line);
    }
    let dot = pos2(x(value), y);
    painter.circle_filled(dot, 3.5, ink);
    if !pair.held() {
        painter.circle_stroke(dot, 7.0, line);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_ends_at_a_round_number_beyond_everything() {
        let cases = [(0.0, 1.0), (1.0, 1.0), (1.1, 2.0), (4.0, 5.0), (20.0, 20.0), (63.0, 100.0)];
        for (far, reach) in cases {
            assert!((nice_reach(far, LengthUnit::Mm) - reach).abs() < 1e-9, "{far}");
        }
        // Round in the unit that is shown: 0.1 in, 0.2 in and 1 in.
        for (far, reach) in [(0.4, 2.54), (3.0, 5.08), (20.0, 25.4)] {
            assert!((nice_reach(far, LengthUnit::Inch) - reach).abs() < 1e-9, "{far}");
        }
    }
}
