//! The signature picture: a strip of turf as a ruler with the ball at zero and the target to
//! the right; each swing is a cut beneath it, the newest on top. What is drawn is described
//! once, in the `report` room, for the window and for paper.

use eframe::egui::{
    self, Align2, Color32, FontFamily, FontId, Id, Painter, Pos2, Rect, Sense, Shape, Stroke,
    StrokeKind, TextStyle, Ui, Vec2, accesskit::Role, pos2, vec2,
};

use super::View;
use super::glance::glance_ui;
use crate::app::message::SwingMessage;
use crate::app::model::{Model, Swing};
use crate::app::theme::{Colours, strong_family};
use crate::app::words;
use crate::domain::{LengthUnit, MarkWord, SwingKind};
use crate::report::drawing::{Anchor, Drawing, Ink, Outline, Shape as Drawn, Tone};
use crate::report::ruler::{self, Bar, Place, Style};
use crate::stats::moments;
use crate::store::SwingId;
use crate::workflow::{length_words, on_ruler};

/// A swing's bar and what the window knows beside it.
struct Row {
    id: SwingId,
    bar: Bar,
    aim: Option<[f64; 2]>,
    open: bool,
    mark: MarkWord,
    /// What is said where the mark's start has no number.
    otherwise: &'static str,
}

/// A swing as the ruler draws it.
pub fn bar_of(swing: &Swing, number: usize, current: bool) -> Bar {
    let result = swing.result.as_deref();
    Bar {
        label: number.to_string(),
        start: result.and_then(|r| r.divot_start_offset.as_ref()).map(on_ruler),
        end: result.and_then(|r| r.divot_end_offset.as_ref()).map(on_ruler),
        low_point: result.and_then(|r| r.low_point.as_ref()).map(|(m, _)| on_ruler(m)),
        current,
        left_out: swing.left_out,
        practice: swing.kind == SwingKind::Practice,
    }
}

/// The newest first, at most `last` of them.
fn rows(model: &Model, last: usize) -> Vec<Row> {
    let numbered = model.swings.iter().enumerate().rev();
    numbered
        .take(last)
        .map(|(i, s)| Row {
            id: s.id,
            bar: bar_of(s, i + 1, Some(s.id) == model.current),
            aim: s.aim,
            open: !s.is_settled(),
            mark: model.mark_word(s),
            otherwise: s
                .result
                .as_ref()
                .map_or("not measured yet", |result| words::without_start(result, s.marks.ground)),
        })
        .collect()
}

fn bar_words(row: &Row, unit: LengthUnit) -> String {
    let start = match row.bar.start {
        Some(Place { value, interval_95: [low, high] }) => {
            let interval = crate::domain::Interval { low, high };
            let start = row.mark.start();
            format!("{start} {}", words::offset_with_doubt(value, interval, unit))
        }
        None => row.otherwise.into(),
    };
    let open = if row.open { ", still to be looked at" } else { "" };
    format!("Swing {}: {start}{open}", row.bar.label)
}

/// Sizes of the ruler in a panel: rows and type.
pub fn panel_style(ui: &Ui, view: &View) -> Style {
    let type_size = f64::from(TextStyle::Small.resolve(ui.style()).size);
    sized(view, f64::from(ui.available_width()), type_size, type_size * 1.5)
}

/// With less height than this the ruler in a panel says nothing: its head and two rows.
pub fn least_height(ui: &Ui, view: &View) -> f32 {
    let style = panel_style(ui, view);
    let head = ruler::head(range_of(&rows(view.model, usize::MAX)), None, &style);
    (head.height + 2.0 * style.row) as f32
}

/// The same with rows that fill `room`, within what looks well; where even the closest would
/// not all be seen they keep their usual height and are scrolled.
pub fn panel_filling(ui: &Ui, view: &View, room: f32) -> Style {
    let style = panel_style(ui, view);
    let rows = rows(view.model, usize::MAX);
    let room = f64::from(room) - head_of(&rows, &style, room).height;
    let row = room / rows.len().max(1) as f64 / style.type_size;
    if row < 1.2 { style } else { Style { row: style.type_size * row.min(2.4), ..style } }
}

/// A ruler of this width and type.
pub fn sized(view: &View, width: f64, type_size: f64, row: f64) -> Style {
    Style {
        width,
        row,
        gutter: type_size * 2.9,
        margin: type_size * 1.3,
        type_size,
        stroke: f64::from(view.colours().stroke),
        unit: view.model.settings.unit,
    }
}

/// A ruler for the range display whose rows fill `area`, within what looks well.
pub fn filling(view: &View, area: Vec2, unit: f64, last: usize) -> Style {
    let style = sized(view, f64::from(area.x), unit * 0.62, unit * 0.98);
    let rows = rows(view.model, last);
    let room = f64::from(area.y) - head_of(&rows, &style, area.y).height;
    let row = (room / rows.len().max(1) as f64).clamp(unit * 0.76, unit * 1.7);
    Style { row, ..style }
}

/// The stretch of ground that holds all rows and their windows; clubs differ in what they aim
/// for.
fn range_of(rows: &[Row]) -> [f64; 2] {
    let aims = rows.iter().filter_map(|row| row.aim);
    let aim = aims.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]);
    ruler::range_of(rows.iter().map(|row| &row.bar), aim)
}

/// So many rows are seen, if there are as many, before the aim window is named.
const ROWS_FIRST: usize = 5;

/// The ruler's head; it names the aim window where all rows that have one have the same, and in a
/// `room` of this height enough of them are seen below it.
fn head_of(rows: &[Row], style: &Style, room: f32) -> Drawing {
    let mut aims = rows.iter().filter_map(|row| row.aim);
    let first = aims.next().filter(|first| aims.all(|aim| aim == *first));
    let named = ruler::head(range_of(rows), first, style);
    let seen = rows.len().min(ROWS_FIRST) as f64 * style.row;
    // Rows that fill the room do so but for rounding.
    match named.height + seen <= f64::from(room) + 0.5 {
        true => named,
        false => ruler::head(range_of(rows), None, style),
    }
}

/// Shows the ruler and the session's swings, the last so many of them; a click on a bar looks
/// at that swing, and the pointer on it shows its ground.
pub fn turf_ruler_ui(view: &mut View, ui: &mut Ui, style: &Style, last: usize) {
    let rows = rows(view.model, last);
    let range = range_of(&rows);
    ui.spacing_mut().item_spacing.y = 0.0;
    let head = drawing_ui(view, ui, &head_of(&rows, style, ui.available_height()));
    head.widget_info(|| {
        egui::WidgetInfo::labeled(Role::Label, true, "Ruler: ball at zero, target to the right")
    });
    let resized = is_resized(ui);
    let area = egui::ScrollArea::vertical().id_salt("swings").auto_shrink([false, true]);
    area.min_scrolled_height(style.row as f32).show(ui, |ui| {
        for row in &rows {
            row_ui(view, ui, row, range, style, resized);
        }
    });
}

/// Whether there is more or less room than in the last pass, since rows above came or went: then
/// the swing looked at would slip out of sight.
fn is_resized(ui: &Ui) -> bool {
    let (id, room) = (ui.make_persistent_id("room"), ui.available_height());
    let before = ui.data_mut(|data| {
        let before = data.get_temp::<f32>(id);
        data.insert_temp(id, room);
        before
    });
    before.is_some_and(|before| (before - room).abs() > 0.5)
}

fn row_ui(view: &mut View, ui: &mut Ui, row: &Row, range: [f64; 2], style: &Style, resized: bool) {
    let (rect, _) =
        ui.allocate_exact_size(vec2(style.width as f32, style.row as f32), Sense::hover());
    let response = ui.interact(rect, Id::unique(("bar", row.id)), Sense::click());
    let text = bar_words(row, view.model.settings.unit);
    response
        .widget_info(|| egui::WidgetInfo::selected(Role::ListItem, true, row.bar.current, &text));
    let painter = ui.painter_at(rect);
    let colours = *view.colours();
    if response.hovered() || response.has_focus() {
        painter.rect_filled(rect, 4.0, colours.raised);
    }
    paint(&painter, rect.min, &ruler::row(&row.bar, range, row.aim, style), &colours);
    if row.bar.start.is_none() && row.bar.end.is_none() && row.bar.low_point.is_none() {
        let font = FontId::proportional(style.type_size as f32);
        let at = pos2(rect.left() + style.gutter as f32, rect.center().y);
        painter.text(at, Align2::LEFT_CENTER, row.otherwise, font, colours.quiet);
    }
    if row.open {
        let dot = pos2(rect.left() + 6.0, rect.center().y);
        let ink = if row.bar.current { colours.accent } else { colours.quiet };
        painter.circle_stroke(dot, 3.0, Stroke::new(1.4 * colours.stroke, ink));
    }
    if response.clicked() {
        view.send(SwingMessage::ShowSwing(row.id));
    }
    if row.bar.current && resized {
        response.scroll_to_me(Some(egui::Align::Center));
    } else if row.bar.current && view.scroll_to_current {
        response.scroll_to_me(None);
    }
    glance_ui(view, ui, response, row.id, &text);
}

/// Takes room for a drawing and paints it.
pub fn drawing_ui(view: &View, ui: &mut Ui, drawing: &Drawing) -> egui::Response {
    let size = vec2(drawing.width as f32, drawing.height as f32);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    // The soft edge of what ends with the drawing reaches a little beyond it.
    paint(&ui.painter_at(rect.expand(1.0)), rect.min, drawing, view.colours());
    response
}

/// Paints a drawing with its top left at `origin`.
pub fn paint(painter: &Painter, origin: Pos2, drawing: &Drawing, colours: &Colours) {
    let at = |[x, y]: [f64; 2]| origin + Vec2::new(x as f32, y as f32);
    let ink = |ink: Ink| colour(ink, colours);
    let edge = |outline: &Option<Outline>| {
        outline.map_or(Stroke::NONE, |o| Stroke::new(o.width as f32, ink(o.ink)))
    };
    let inside = |fill: &Option<Ink>| fill.map_or(Color32::TRANSPARENT, ink);
    for shape in &drawing.shapes {
        match shape {
            Drawn::Line { from, to, outline } => {
                let stroke = Stroke::new(outline.width as f32, ink(outline.ink));
                painter.line_segment([at(*from), at(*to)], stroke);
            }
            Drawn::Rect { min, max, radius, fill, outline } => {
                let rect = Rect::from_min_max(at(*min), at(*max));
                painter.rect(rect, *radius as f32, inside(fill), edge(outline), StrokeKind::Middle);
            }
            Drawn::Circle { centre, radius, fill, outline } => {
                painter.circle(at(*centre), *radius as f32, inside(fill), edge(outline));
            }
            Drawn::Polygon { points, fill, outline } => {
                let points = points.iter().map(|p| at(*p)).collect();
                painter.add(Shape::convex_polygon(points, inside(fill), edge(outline)));
            }
            Drawn::Words(words) => {
                let align = aligned(words.anchor);
                let family = if words.strong { strong_family() } else { FontFamily::Proportional };
                let font = FontId::new(words.size as f32, family);
                painter.text(at(words.at), align, &words.text, font, ink(words.ink));
            }
        }
    }
}

/// How words stand about their place.
pub(super) fn aligned(anchor: Anchor) -> Align2 {
    match anchor {
        Anchor::Left => Align2::LEFT_CENTER,
        Anchor::Centre => Align2::CENTER_CENTER,
        Anchor::Right => Align2::RIGHT_CENTER,
    }
}

fn colour(ink: Ink, colours: &Colours) -> Color32 {
    let base = match ink.tone {
        Tone::Text => colours.text,
        Tone::Quiet => colours.quiet,
        Tone::Hairline => colours.turf,
        Tone::Accent => colours.accent,
        Tone::Surface => colours.panel,
        Tone::White => Color32::WHITE,
    };
    base.gamma_multiply(ink.opacity as f32)
}

/// Mean, spread and n of divot start and low point in words, for the session's counted swings.
pub fn summary_words(model: &Model) -> Vec<(String, String)> {
    let unit = model.settings.unit;
    let counted = || model.swings.iter().filter(|s| !s.left_out).filter_map(|s| s.result.as_ref());
    let mark = session_mark_word(model);
    let starts: Vec<f64> =
        counted().filter_map(|r| r.divot_start_offset.as_ref()).map(|m| m.value).collect();
    let lows: Vec<f64> =
        counted().filter_map(|r| r.low_point.as_ref()).map(|(m, _)| m.value).collect();
    [(mark.start_title().to_owned(), starts), ("Low point".to_owned(), lows)]
        .into_iter()
        .map(|(name, values)| (name, mean_words(&values, unit)))
        .collect()
}

/// What the session's marks are called: a divot where they are of several kinds.
fn session_mark_word(model: &Model) -> MarkWord {
    let counted = model.swings.iter().filter(|swing| !swing.left_out);
    MarkWord::of_all(counted.map(|swing| model.mark_word(swing)))
}

fn mean_words(values: &[f64], unit: LengthUnit) -> String {
    let Some(moments) = moments(values) else { return "none yet".into() };
    let mean = words::offset(moments.mean, unit);
    match moments.sd {
        Some(sd) => {
            let swings = words::counted(moments.n, "swing");
            format!("{mean}, spread {}, {swings}", length_words(sd, unit))
        }
        None => format!("{mean}, 1 swing"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(start: Option<f64>) -> Row {
        let place = |v: f64| Place { value: v, interval_95: [v - 4.0, v + 4.0] };
        let bar = Bar {
            label: "3".into(),
            start: start.map(place),
            end: None,
            low_point: None,
            current: false,
            left_out: false,
            practice: false,
        };
        let mark = MarkWord::Scuff;
        Row { id: SwingId(1), bar, aim: None, open: false, mark, otherwise: "no ground contact" }
    }

    #[test]
    fn a_bar_says_where_it_starts() {
        let words = |start| bar_words(&row(start), LengthUnit::Mm);
        assert_eq!(words(Some(-18.2)), "Swing 3: scuff start 18 mm behind ± 4");
        assert_eq!(words(None), "Swing 3: no ground contact");
    }

    #[test]
    fn one_swing_has_no_spread() {
        assert_eq!(mean_words(&[], LengthUnit::Mm), "none yet");
        assert_eq!(mean_words(&[12.0], LengthUnit::Mm), "12 mm ahead, 1 swing");
        // Mean 20, SD 10 by hand.
        let words = mean_words(&[10.0, 20.0, 30.0], LengthUnit::Mm);
        assert_eq!(words, "20 mm ahead, spread 10, 3 swings");
    }
}
