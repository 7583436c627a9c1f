//! The signature picture: a strip of turf as a ruler with the ball at zero and the target to
//! the right; each swing is a cut beneath it, the newest on top.

use eframe::egui::{
    self, Align2, Color32, CursorIcon, FontId, Id, Painter, Pos2, Rect, Sense, Shape, Stroke,
    StrokeKind, TextStyle, Ui, accesskit::Role, pos2, vec2,
};

use super::View;
use crate::app::message::Message;
use crate::app::model::{Model, Swing};
use crate::app::theme::Colours;
use crate::app::words;
use crate::domain::{Interval, LengthUnit, SwingKind};
use crate::store::SwingId;
use crate::workflow::state;

/// The smallest diameter of a ball, mm (The R&A and USGA, Equipment Rules, part 4).
const BALL_MM: f64 = 42.67;

/// One swing as it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// Which.
    pub id: SwingId,
    /// Its number in the session.
    pub number: usize,
    /// Divot start, mm from the ball, with its interval.
    pub start: Option<(f64, Interval)>,
    /// Divot end.
    pub end: Option<f64>,
    /// Low point with its interval.
    pub low_point: Option<(f64, Interval)>,
    /// Looked at.
    pub current: bool,
    /// Not counted.
    pub left_out: bool,
    /// A practice swing.
    pub practice: bool,
    /// Still to be looked at.
    pub open: bool,
}

impl Bar {
    fn new(swing: &Swing, number: usize, current: bool) -> Self {
        let result = swing.result.as_deref();
        let stated = |m: &crate::domain::Measured| (m.value, state(m).interval);
        Self {
            id: swing.id,
            number,
            start: result.and_then(|r| r.divot_start_offset.as_ref()).map(stated),
            end: result.and_then(|r| r.divot_end_offset.as_ref()).map(|m| m.value),
            low_point: result.and_then(|r| r.low_point.as_ref()).map(|(m, _)| stated(m)),
            current,
            left_out: swing.left_out,
            practice: swing.kind == SwingKind::Practice,
            open: !swing.is_settled(),
        }
    }

    fn words(&self, unit: LengthUnit) -> String {
        let start = match self.start {
            Some((mm, interval)) => {
                format!("divot start {}", words::offset_with_doubt(mm, interval, unit))
            }
            None => "no divot start".into(),
        };
        let open = if self.open { ", still to be looked at" } else { "" };
        format!("Swing {}: {start}{open}", self.number)
    }
}

/// The session's bars, newest first.
pub fn bars(model: &Model) -> Vec<Bar> {
    let numbered = model.swings.iter().enumerate();
    numbered.rev().map(|(i, s)| Bar::new(s, i + 1, Some(s.id) == model.current)).collect()
}

/// The stretch of ground shown, mm: whole fifties around everything there is to see.
pub fn range_of(bars: &[Bar], aim: [f64; 2]) -> [f64; 2] {
    let mut low: f64 = (aim[0] - 30.0).min(-80.0);
    let mut high: f64 = (aim[1] + 30.0).max(160.0);
    for bar in bars {
        let values = [
            bar.start.map(|(_, i)| i.low),
            bar.start.map(|(_, i)| i.high),
            bar.end,
            bar.low_point.map(|(v, _)| v),
        ];
        for value in values.into_iter().flatten().filter(|v| v.is_finite()) {
            low = low.min(value.max(-600.0));
            high = high.max(value.min(900.0));
        }
    }
    [(low / 50.0).floor() * 50.0, (high / 50.0).ceil() * 50.0]
}

/// Sizes of one drawing of the ruler, in points.
#[derive(Clone, Copy, Debug)]
pub struct RulerSize {
    /// Height of a swing's row.
    pub row: f32,
    /// Room for the swing's number to the left of its bar.
    pub gutter: f32,
    /// Type on the ruler.
    pub type_size: f32,
}

/// Shows the ruler and the session's swings; a click on a bar looks at that swing.
pub fn turf_ruler_ui(view: &mut View, ui: &mut Ui, size: RulerSize) {
    let bars = bars(view.model);
    let range = range_of(&bars, view.model.settings.aim);
    let unit = view.model.settings.unit;
    ui.spacing_mut().item_spacing.y = 2.0;
    let head = head_ui(view, ui, size, range);
    let x = Along { left: head.left() + size.gutter, right: head.right() - size.type_size, range };
    egui::ScrollArea::vertical().id_salt("swings").auto_shrink([false, true]).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        for bar in &bars {
            let desired = vec2(ui.available_width(), size.row);
            let (rect, _) = ui.allocate_exact_size(desired, Sense::hover());
            let response = ui.interact(rect, Id::unique(("bar", bar.id)), Sense::click());
            let text = bar.words(unit);
            response.widget_info(|| {
                egui::WidgetInfo::selected(Role::ListItem, true, bar.current, &text)
            });
            let painter = ui.painter_at(rect);
            row_back(view.colours(), &painter, rect, &x, view.model.settings.aim, &response);
            draw_bar(view.colours(), &painter, rect, &x, bar, size);
            if response.clicked() {
                view.send(Message::ShowSwing(bar.id));
            }
            if bar.current && view.scroll_to_current {
                response.scroll_to_me(None);
            }
            response.on_hover_cursor(CursorIcon::PointingHand).on_hover_text(text);
        }
    });
}

/// From millimetres to the screen.
#[derive(Clone, Copy, Debug)]
pub struct Along {
    /// Where the range begins on the screen.
    pub left: f32,
    /// Where it ends.
    pub right: f32,
    /// The stretch of ground, mm.
    pub range: [f64; 2],
}

impl Along {
    /// The screen's x for an offset in mm.
    pub fn at(&self, mm: f64) -> f32 {
        let part = (mm - self.range[0]) / (self.range[1] - self.range[0]);
        self.left + (self.right - self.left) * part as f32
    }
}

/// The strip of turf with its graduation and the ball; returns its rectangle.
fn head_ui(view: &View, ui: &mut Ui, size: RulerSize, range: [f64; 2]) -> Rect {
    let width = ui.available_width();
    let probe = Along { left: size.gutter, right: width - size.type_size, range };
    let ball = (probe.at(BALL_MM) - probe.at(0.0)) / 2.0;
    let height = ball * 2.0 + size.type_size * 2.5;
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    response.widget_info(|| {
        egui::WidgetInfo::labeled(Role::Label, true, "Ruler: ball at zero, target to the right")
    });
    let x = Along { left: rect.left() + size.gutter, right: rect.right() - size.type_size, range };
    draw_head(view, &ui.painter_at(rect), rect, &x, size);
    rect
}

/// Draws the strip of turf: ball, target arrow, graduation.
pub fn draw_head(view: &View, painter: &Painter, rect: Rect, x: &Along, size: RulerSize) {
    let colours = view.colours();
    let font = FontId::proportional(size.type_size);
    let radius = (x.at(BALL_MM) - x.at(0.0)) / 2.0;
    let ground = rect.top() + radius * 2.0 + size.type_size * 0.5;
    let base = ground + size.type_size * 0.55;
    let turf = Rect::from_min_max(pos2(x.left, ground), pos2(x.right, base));
    painter.rect_filled(turf, 0.0, colours.line);
    painter.hline(x.left..=x.right, ground, Stroke::new(1.4 * colours.stroke, colours.text));
    let centre = pos2(x.at(0.0), ground - radius);
    painter.circle(centre, radius, Color32::WHITE, Stroke::new(1.4 * colours.stroke, colours.text));
    target_arrow(painter, pos2(x.right, ground - size.type_size * 0.9), colours, &font);
    graduation(view, painter, x, ground, base, &font);
}

fn target_arrow(painter: &Painter, tip: Pos2, colours: &Colours, font: &FontId) {
    let text = painter.text(
        tip - vec2(24.0, 0.0),
        Align2::RIGHT_CENTER,
        "target",
        font.clone(),
        colours.quiet,
    );
    let from = pos2(text.right() + 6.0, tip.y);
    let stroke = Stroke::new(1.4 * colours.stroke, colours.quiet);
    painter.line_segment([from, tip], stroke);
    painter.line_segment([tip - vec2(5.0, 4.0), tip], stroke);
    painter.line_segment([tip - vec2(5.0, -4.0), tip], stroke);
}

fn graduation(view: &View, painter: &Painter, x: &Along, top: f32, base: f32, font: &FontId) {
    let colours = view.colours();
    let (fine, scale) = match view.model.settings.unit {
        LengthUnit::Mm => (10.0, 1.0),
        LengthUnit::Cm => (10.0, 10.0),
        LengthUnit::Inch => (25.4, 25.4),
    };
    // Labels stand at least three characters apart.
    let room = f64::from(font.size * 2.6) / f64::from(x.right - x.left) * (x.range[1] - x.range[0]);
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
    let step = steps.into_iter().find(|s| s * fine >= room).unwrap_or(50.0);
    let per_label = step as i64;
    let (first, last) = ((x.range[0] / fine).ceil() as i64, (x.range[1] / fine).floor() as i64);
    for i in first..=last {
        let at = x.at(i as f64 * fine);
        let labelled = i % per_label == 0;
        let depth = if labelled { 1.0 } else { 0.5 };
        let foot = top + (base - top) * depth;
        painter.vline(at, top..=foot, Stroke::new(0.8 * colours.stroke, colours.quiet));
        if labelled {
            let text = format!("{:.0}", (i as f64 * fine / scale).abs());
            painter.text(
                pos2(at, base + 1.0),
                Align2::CENTER_TOP,
                text,
                font.clone(),
                colours.quiet,
            );
        }
    }
}

fn row_back(
    colours: &Colours,
    painter: &Painter,
    rect: Rect,
    x: &Along,
    aim: [f64; 2],
    response: &egui::Response,
) {
    if response.hovered() || response.has_focus() {
        painter.rect_filled(rect, 4.0, colours.raised);
    }
    let window = Rect::from_x_y_ranges(x.at(aim[0])..=x.at(aim[1]), rect.y_range());
    painter.rect_filled(window, 0.0, colours.accent.gamma_multiply(0.10));
    painter.vline(x.at(0.0), rect.y_range(), Stroke::new(colours.stroke, colours.quiet));
}

/// Draws one swing: bar from divot start to end, tick for the low point, whisker for the ±.
pub fn draw_bar(
    colours: &Colours,
    painter: &Painter,
    rect: Rect,
    x: &Along,
    bar: &Bar,
    size: RulerSize,
) {
    let mut ink = if bar.current { colours.accent } else { colours.text };
    if bar.left_out {
        ink = ink.gamma_multiply(0.35);
    }
    let font = FontId::new(
        size.type_size,
        if bar.current {
            crate::app::theme::strong_family()
        } else {
            egui::FontFamily::Proportional
        },
    );
    let y = rect.center().y;
    let number = pos2(rect.left() + size.gutter - 10.0, y);
    painter.text(number, Align2::RIGHT_CENTER, bar.number.to_string(), font, ink);
    if bar.open {
        let dot = pos2(rect.left() + 5.0, y);
        painter.circle_stroke(dot, 3.0, Stroke::new(1.4 * colours.stroke, ink));
    }
    let half = size.row * 0.26;
    let body = |from: f64, to: f64| {
        Rect::from_min_max(pos2(x.at(from.min(to)), y - half), pos2(x.at(from.max(to)), y + half))
    };
    match (bar.start, bar.end) {
        (Some((start, _)), Some(end)) => fill(painter, body(start, end), ink, bar, colours),
        (Some((start, _)), None) => {
            // The end is unknown: the bar opens toward the target.
            painter.vline(x.at(start), y - half..=y + half, Stroke::new(2.5, ink));
        }
        _ => {}
    }
    if let Some((_, interval)) = bar.start {
        whisker(painter, x, interval, y, half, colours, ink);
    }
    if let Some((low, _)) = bar.low_point {
        low_point(painter, pos2(x.at(low), y), half, colours, ink);
    }
}

fn fill(painter: &Painter, body: Rect, ink: Color32, bar: &Bar, colours: &Colours) {
    if bar.practice {
        let stroke = Stroke::new(1.4 * colours.stroke, ink);
        painter.rect(body, 2.0, Color32::TRANSPARENT, stroke, StrokeKind::Inside);
    } else {
        painter.rect_filled(body, 2.0, ink.gamma_multiply(if bar.current { 0.9 } else { 0.55 }));
    }
}

fn whisker(
    painter: &Painter,
    x: &Along,
    interval: Interval,
    y: f32,
    half: f32,
    colours: &Colours,
    ink: Color32,
) {
    let (low, high) = (x.at(interval.low), x.at(interval.high));
    for (width, colour) in [(3.4, colours.panel), (1.4, ink)] {
        let stroke = Stroke::new(width * colours.stroke.min(1.4), colour);
        painter.hline(low..=high, y, stroke);
        for end in [low, high] {
            painter.vline(end, y - half * 0.6..=y + half * 0.6, stroke);
        }
    }
}

/// A tick with a small point: the bottom of the swing.
fn low_point(painter: &Painter, at: Pos2, half: f32, colours: &Colours, ink: Color32) {
    let reach = half * 1.55;
    painter.vline(at.x, at.y - reach..=at.y + reach, Stroke::new(4.0, colours.panel));
    painter.vline(at.x, at.y - reach..=at.y + reach, Stroke::new(1.8, ink));
    let tip = pos2(at.x, at.y + reach + 1.0);
    let wing = half * 0.62;
    painter.add(Shape::convex_polygon(
        vec![tip, tip + vec2(-wing, -wing * 1.2), tip + vec2(wing, -wing * 1.2)],
        ink,
        Stroke::new(1.0, colours.panel),
    ));
}

/// n, mean and SD of divot start and low point in words, for the session's counted swings.
pub fn summary_words(model: &Model) -> Vec<(String, String)> {
    let unit = model.settings.unit;
    let counted = || model.swings.iter().filter(|s| !s.left_out).filter_map(|s| s.result.as_ref());
    let starts: Vec<f64> =
        counted().filter_map(|r| r.divot_start_offset.as_ref()).map(|m| m.value).collect();
    let lows: Vec<f64> =
        counted().filter_map(|r| r.low_point.as_ref()).map(|(m, _)| m.value).collect();
    [("Divot start", starts), ("Low point", lows)]
        .into_iter()
        .map(|(name, values)| (name.to_owned(), mean_words(&values, unit)))
        .collect()
}

fn mean_words(values: &[f64], unit: LengthUnit) -> String {
    let n = values.len();
    if n == 0 {
        return "none yet".into();
    }
    let mean = values.iter().sum::<f64>() / n as f64;
    if n == 1 {
        return format!("{} (1 swing)", words::offset(mean, unit));
    }
    let sd = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt();
    format!(
        "mean {}, SD {} (n = {n})",
        words::offset(mean, unit),
        crate::workflow::length_words(sd, unit)
    )
}

/// The font of the ruler's type in this theme.
pub fn ruler_size(ui: &Ui) -> RulerSize {
    let type_size = TextStyle::Small.resolve(ui.style()).size;
    RulerSize { row: type_size * 1.55, gutter: type_size * 2.9, type_size }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(start: Option<f64>, end: Option<f64>) -> Bar {
        let around = |v: f64| (v, Interval { low: v - 4.0, high: v + 4.0 });
        Bar {
            id: SwingId(1),
            number: 3,
            start: start.map(around),
            end,
            low_point: None,
            current: false,
            left_out: false,
            practice: false,
            open: false,
        }
    }

    #[test]
    fn range_holds_every_swing_and_the_aim_window() {
        assert_eq!(range_of(&[], [0.0, 100.0]), [-100.0, 200.0]);
        assert_eq!(range_of(&[bar(Some(-186.0), Some(20.0))], [0.0, 100.0]), [-200.0, 200.0]);
        assert_eq!(range_of(&[bar(Some(30.0), Some(331.0))], [0.0, 100.0]), [-100.0, 350.0]);
        // A slip of the mouse does not squeeze everything else together.
        assert_eq!(range_of(&[bar(Some(-99_999.0), None)], [0.0, 100.0]), [-600.0, 200.0]);
    }

    #[test]
    fn ahead_is_always_to_the_right() {
        let x = Along { left: 10.0, right: 310.0, range: [-100.0, 200.0] };
        assert_eq!(x.at(0.0), 110.0);
        assert!(x.at(50.0) > x.at(0.0) && x.at(-50.0) < x.at(0.0));
    }

    #[test]
    fn a_bar_says_where_it_starts() {
        let words = bar(Some(-18.2), Some(160.0)).words(LengthUnit::Mm);
        assert_eq!(words, "Swing 3: divot start 18 mm behind ± 4");
        assert_eq!(bar(None, None).words(LengthUnit::Mm), "Swing 3: no divot start");
    }

    #[test]
    fn one_swing_has_no_spread() {
        assert_eq!(mean_words(&[], LengthUnit::Mm), "none yet");
        assert_eq!(mean_words(&[12.0], LengthUnit::Mm), "12 mm ahead (1 swing)");
        // Mean 20, SD 10 by hand.
        let words = mean_words(&[10.0, 20.0, 30.0], LengthUnit::Mm);
        assert_eq!(words, "mean 20 mm ahead, SD 10 (n = 3)");
    }
}
