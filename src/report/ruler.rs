//! The signature picture: a strip of turf as a ruler with the ball at zero and the target to
//! the right; each swing is a bar beneath it from divot start to divot end with a tick for
//! the low point and whiskers for the ±, the newest on top.

use super::content::{Content, Figure, SwingRow};
use super::drawing::{Anchor, Drawing, Ink, Outline, Shape, Tone, Words};
use crate::domain::{LengthUnit, Millimetres, SwingKind};

/// A place on the ruler and its 95 % interval, mm from the ball.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// The value.
    pub value: f64,
    /// Lower and upper limit.
    pub interval_95: [f64; 2],
}

impl From<&Figure> for Place {
    fn from(figure: &Figure) -> Self {
        Self { value: figure.value, interval_95: figure.interval_95 }
    }
}

/// One swing as it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// What stands beside it, usually its number.
    pub label: String,
    /// Divot start.
    pub start: Option<Place>,
    /// Divot end.
    pub end: Option<Place>,
    /// Low point.
    pub low_point: Option<Place>,
    /// The one that is talked about.
    pub current: bool,
    /// Not counted: drawn faintly.
    pub left_out: bool,
    /// A practice swing: drawn hollow.
    pub practice: bool,
}

impl From<&SwingRow> for Bar {
    fn from(swing: &SwingRow) -> Self {
        Self {
            label: swing.number.to_string(),
            start: swing.divot_start_mm.as_ref().map(Place::from),
            end: swing.divot_end_mm.as_ref().map(Place::from),
            low_point: swing.low_point_mm.as_ref().map(Place::from),
            current: false,
            left_out: swing.left_out.is_some(),
            practice: swing.kind == SwingKind::Practice,
        }
    }
}

/// Bars under one heading.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Group {
    /// The heading, such as "before"; empty for none.
    pub name: String,
    /// From the top; the newest first.
    pub bars: Vec<Bar>,
}

/// Sizes of one drawing of the ruler, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// From edge to edge.
    pub width: f64,
    /// Height of a swing's row.
    pub row: f64,
    /// Room for labels to the left of the bars.
    pub gutter: f64,
    /// Room to the right of the bars.
    pub margin: f64,
    /// Type on the ruler.
    pub type_size: f64,
    /// Width of the main lines.
    pub stroke: f64,
    /// The unit of the graduation.
    pub unit: LengthUnit,
}

/// From millimetres on the ground to points in the drawing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Along {
    /// Where the stretch begins, points.
    pub left: f64,
    /// Where it ends, points.
    pub right: f64,
    /// The stretch of ground, mm.
    pub range: [f64; 2],
}

impl Along {
    /// The drawing's x for an offset in mm; ahead lies to the right.
    pub fn at(&self, mm: f64) -> f64 {
        let part = (mm - self.range[0]) / (self.range[1] - self.range[0]);
        self.left + (self.right - self.left) * part
    }

    /// The same, kept within the stretch.
    fn within(&self, mm: f64) -> f64 {
        self.at(mm.clamp(self.range[0], self.range[1]))
    }
}

impl Style {
    /// Where the stretch `range` lies in a drawing of this style.
    pub fn along(&self, range: [f64; 2]) -> Along {
        Along { left: self.gutter, right: self.width - self.margin, range }
    }
}

/// How far behind and ahead of the ball the ruler reaches at most, mm: one slip of the hand
/// shall not squeeze every other swing together.
const FARTHEST: [f64; 2] = [-600.0, 900.0];

/// The stretch of ground to show, mm: whole fifties around the aim window and every bar.
pub fn range_of<'a>(bars: impl IntoIterator<Item = &'a Bar>, aim: Option<[f64; 2]>) -> [f64; 2] {
    let aim = aim.unwrap_or([0.0, 0.0]);
    let mut low = (aim[0] - 30.0).min(-80.0);
    let mut high = (aim[1] + 30.0).max(160.0);
    for bar in bars {
        let places = [bar.start, bar.end, bar.low_point];
        for place in places.into_iter().flatten() {
            for value in [place.value, place.interval_95[0], place.interval_95[1]] {
                if value.is_finite() {
                    low = low.min(value);
                    high = high.max(value);
                }
            }
        }
    }
    let low = low.max(FARTHEST[0]);
    let high = high.min(FARTHEST[1]);
    [(low / 50.0).floor() * 50.0, (high / 50.0).ceil() * 50.0]
}

/// The groups of a report: its blocks, the latest first; the newest swing first in each.
pub fn groups_of(content: &Content) -> Vec<Group> {
    let mut names: Vec<&str> = Vec::new();
    for swing in &content.swings {
        if !names.contains(&swing.block.as_str()) {
            names.push(&swing.block);
        }
    }
    let bars_of = |name: &str| {
        content.swings.iter().rev().filter(|s| s.block == name).map(Bar::from).collect()
    };
    names.iter().rev().map(|name| Group { name: (*name).into(), bars: bars_of(name) }).collect()
}

/// Draws the whole ruler: head, then every group's bars beneath it.
///
/// ```
/// use scuffline::domain::LengthUnit;
/// use scuffline::report::ruler::{Bar, Group, Place, Style, draw};
///
/// let bar = Bar {
///     label: "1".into(),
///     start: Some(Place { value: 12.0, interval_95: [8.0, 16.0] }),
///     end: Some(Place { value: 150.0, interval_95: [145.0, 155.0] }),
///     low_point: None,
///     current: true,
///     left_out: false,
///     practice: false,
/// };
/// let style = Style {
///     width: 400.0, row: 16.0, gutter: 30.0, margin: 14.0, type_size: 10.0, stroke: 1.0,
///     unit: LengthUnit::Mm,
/// };
/// let drawing = draw(&[Group { name: String::new(), bars: vec![bar] }], Some([0.0, 100.0]), &style);
/// let picture = scuffline::report::svg::write(&drawing, "One swing");
/// assert!(picture.starts_with("<svg") && picture.contains("One swing"));
/// ```
pub fn draw(groups: &[Group], aim: Option<[f64; 2]>, style: &Style) -> Drawing {
    let range = range_of(groups.iter().flat_map(|g| &g.bars), aim);
    let mut drawing = head(range, aim, style);
    for group in groups {
        if !group.name.is_empty() {
            let at = [0.0, drawing.height];
            drawing.place(heading(&group.name, range, aim, style), at);
        }
        for bar in &group.bars {
            let at = [0.0, drawing.height];
            drawing.place(row(bar, range, aim, style), at);
        }
    }
    drawing
}

/// A block as one lane of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Lane {
    /// What it is called.
    pub name: String,
    /// Its swings' values, mm, in the order they were played.
    pub values: Vec<f64>,
    /// Their mean.
    pub mean: Option<f64>,
    /// The mean's interval.
    pub interval: Option<[f64; 2]>,
    /// One standard deviation to either side of the mean.
    pub spread: Option<[f64; 2]>,
    /// In the accent: what is new.
    pub accent: bool,
}

/// Several blocks in lanes beneath one ruler, so that it is seen how far they overlap.
pub fn draw_lanes(lanes: &[Lane], aim: Option<[f64; 2]>, style: &Style) -> Drawing {
    let place = |value: &f64| Bar {
        label: String::new(),
        start: Some(Place { value: *value, interval_95: [*value, *value] }),
        end: None,
        low_point: None,
        current: false,
        left_out: false,
        practice: false,
    };
    let all: Vec<Bar> = lanes.iter().flat_map(|lane| &lane.values).map(place).collect();
    let range = range_of(&all, aim);
    let mut drawing = head(range, aim, style);
    for one in lanes {
        let at = [0.0, drawing.height];
        drawing.place(heading(&one.name, range, aim, style), at);
        let at = [0.0, drawing.height];
        drawing.place(lane(one, range, aim, style), at);
    }
    drawing
}

fn lane(lane: &Lane, range: [f64; 2], aim: Option<[f64; 2]>, style: &Style) -> Drawing {
    let x = style.along(range);
    let height = style.row * 2.2;
    let mut drawing = row_back(range, aim, height, style);
    let tone = if lane.accent { Tone::Accent } else { Tone::Text };
    let foot = height - style.row * 0.5;
    if let Some([low, high]) = lane.spread {
        let (min, max) = ([x.within(low), foot - 4.0], [x.within(high), foot + 4.0]);
        drawing.fill(min, max, 2.0, tone.faint(0.3));
    }
    // Three heights by turns, so that equal values do not hide each other.
    let dots = foot - style.row * 0.62;
    for (i, value) in lane.values.iter().enumerate() {
        let up = (i % 3) as f64 * style.row * 0.36;
        drawing.shapes.push(Shape::Circle {
            centre: [x.within(*value), dots - up],
            radius: style.type_size * 0.27,
            fill: Some(tone.faint(0.75)),
            outline: None,
        });
    }
    if let Some([low, high]) = lane.interval {
        let width = 2.0 * style.stroke;
        drawing.line([x.within(low), foot], [x.within(high), foot], width, tone.ink());
    }
    if let Some(mean) = lane.mean {
        let at = x.within(mean);
        drawing.line([at, foot - 8.0], [at, foot + 8.0], 2.4 * style.stroke, tone.ink());
    }
    drawing
}

/// The strip of turf: ball, target arrow, graduation; beneath it the aim window begins.
pub fn head(range: [f64; 2], aim: Option<[f64; 2]>, style: &Style) -> Drawing {
    let x = style.along(range);
    let radius = (x.at(Millimetres::BALL.0) - x.at(0.0)) / 2.0;
    // The ball's outline and half a point for its soft edge lie within the drawing.
    let ground = (2.0 * radius).max(style.type_size * 1.2) + 0.7 * style.stroke + 0.5;
    let base = ground + style.type_size * 0.55;
    let height = base + style.type_size * 1.75;
    let mut drawing = Drawing { width: style.width, height, shapes: Vec::new() };
    drawing.fill([x.left, ground], [x.right, base], 0.0, Tone::Hairline.ink());
    drawing.line([x.left, ground], [x.right, ground], 1.4 * style.stroke, Tone::Text.ink());
    drawing.shapes.push(Shape::Circle {
        centre: [x.at(0.0), ground - radius],
        radius,
        fill: Some(Tone::White.ink()),
        outline: Some(Outline { ink: Tone::Text.ink(), width: 1.4 * style.stroke }),
    });
    target_arrow(&mut drawing, [x.right, ground - style.type_size * 0.8], style);
    graduation(&mut drawing, &x, ground, base, style);
    if let Some(aim) = aim {
        let at = [0.0, drawing.height];
        drawing.place(aim_head(aim, range, style), at);
    }
    drawing
}

/// The aim window's name, in its shade.
fn aim_head(aim: [f64; 2], range: [f64; 2], style: &Style) -> Drawing {
    let x = style.along(range);
    let height = style.type_size * 1.15;
    let mut drawing = row_back(range, Some(aim), height, style);
    let at = [(x.within(aim[0]) + x.within(aim[1])) / 2.0, height * 0.55];
    drawing.shapes.push(words(at, Anchor::Centre, style, Tone::Accent.ink(), "aim"));
    drawing
}

fn target_arrow(drawing: &mut Drawing, tip: [f64; 2], style: &Style) {
    let (ink, width, wing) = (Tone::Quiet.ink(), 1.2 * style.stroke, style.type_size * 0.33);
    let tail = [tip[0] - style.type_size * 1.9, tip[1]];
    drawing.line(tail, tip, width, ink);
    for side in [-1.0, 1.0] {
        drawing.line([tip[0] - wing * 1.2, tip[1] + side * wing], tip, width, ink);
    }
    let at = [tail[0] - style.type_size * 0.4, tip[1]];
    drawing.shapes.push(words(at, Anchor::Right, style, Tone::Quiet.ink(), "target"));
}

fn words(at: [f64; 2], anchor: Anchor, style: &Style, ink: Ink, text: &str) -> Shape {
    let text = text.to_owned();
    Shape::Words(Words { at, anchor, size: style.type_size, strong: false, ink, text })
}

/// Ticks each centimetre (or inch); numbers where they have room, without a sign: left of the
/// ball is behind, right of it is ahead. The unit stands beside the zero.
fn graduation(drawing: &mut Drawing, x: &Along, top: f64, base: f64, style: &Style) {
    let fine = style.unit.tick_mm();
    let room = style.type_size * 3.4 / (x.right - x.left) * (x.range[1] - x.range[0]);
    let steps = [1, 2, 5, 10, 20, 50];
    let every = steps.into_iter().find(|s| f64::from(*s) * fine >= room).unwrap_or(50);
    let first = (x.range[0] / fine).ceil() as i32;
    let last = (x.range[1] / fine).floor() as i32;
    for i in first..=last {
        let at = x.at(f64::from(i) * fine);
        let labelled = i % every == 0;
        let foot = top + (base - top) * if labelled { 1.0 } else { 0.5 };
        drawing.line([at, top], [at, foot], 0.8 * style.stroke, Tone::Quiet.ink());
        if labelled {
            let text = format!("{:.0}", style.unit.from_mm(f64::from(i) * fine).abs());
            let below = [at, base + style.type_size * 0.75];
            drawing.shapes.push(words(below, Anchor::Centre, style, Tone::Quiet.ink(), &text));
            if i == 0 {
                let beside = [at + style.type_size * 0.5, below[1]];
                let unit = style.unit.short_name();
                drawing.shapes.push(words(beside, Anchor::Left, style, Tone::Quiet.ink(), unit));
            }
        }
    }
}

/// A group's heading, with the aim window and the ball's line running on behind it.
pub fn heading(name: &str, range: [f64; 2], aim: Option<[f64; 2]>, style: &Style) -> Drawing {
    let height = style.type_size * 2.0;
    let mut drawing = row_back(range, aim, height, style);
    drawing.shapes.push(Shape::Words(Words {
        at: [0.0, height * 0.55],
        anchor: Anchor::Left,
        size: style.type_size,
        strong: true,
        ink: Tone::Text.ink(),
        text: name.to_owned(),
    }));
    drawing
}

fn row_back(range: [f64; 2], aim: Option<[f64; 2]>, height: f64, style: &Style) -> Drawing {
    let x = style.along(range);
    let mut drawing = Drawing { width: style.width, height, shapes: Vec::new() };
    if let Some([from, to]) = aim {
        let (from, to) = (x.within(from), x.within(to));
        drawing.fill([from, 0.0], [to, height], 0.0, Tone::Accent.faint(0.12));
        for edge in [from, to] {
            drawing.line([edge, 0.0], [edge, height], style.stroke, Tone::Accent.faint(0.55));
        }
    }
    drawing.line([x.at(0.0), 0.0], [x.at(0.0), height], 0.8 * style.stroke, Tone::Quiet.ink());
    drawing
}

/// One swing's row: aim window, ball line, label, bar, whiskers, low point.
pub fn row(bar: &Bar, range: [f64; 2], aim: Option<[f64; 2]>, style: &Style) -> Drawing {
    let x = style.along(range);
    let mut drawing = row_back(range, aim, style.row, style);
    let tone = if bar.current { Tone::Accent } else { Tone::Text };
    let opacity = if bar.left_out { 0.35 } else { 1.0 };
    let pen = Pen { x, y: style.row / 2.0, half: style.row * 0.26, tone, opacity, style };
    drawing.shapes.push(Shape::Words(Words {
        at: [style.gutter - style.type_size * 0.8, pen.y],
        anchor: Anchor::Right,
        size: style.type_size,
        strong: bar.current,
        ink: tone.faint(opacity),
        text: bar.label.clone(),
    }));
    pen.body(&mut drawing, bar);
    if let Some(start) = bar.start {
        pen.whisker(&mut drawing, start);
    }
    if let Some(low_point) = bar.low_point {
        pen.low_point(&mut drawing, low_point);
    }
    drawing
}

/// What one row is drawn with.
struct Pen<'a> {
    x: Along,
    y: f64,
    half: f64,
    tone: Tone,
    opacity: f64,
    style: &'a Style,
}

impl Pen<'_> {
    fn ink(&self, share: f64) -> Ink {
        self.tone.faint(self.opacity * share)
    }

    /// The bar itself; without an end it is only the edge that is known.
    fn body(&self, drawing: &mut Drawing, bar: &Bar) {
        let (Some(start), end) = (bar.start, bar.end) else { return };
        let at = self.x.within(start.value);
        let (top, foot) = (self.y - self.half, self.y + self.half);
        let Some(end) = end else {
            return drawing.line([at, top], [at, foot], 2.0 * self.style.stroke, self.ink(1.0));
        };
        let to = self.x.within(end.value);
        let (min, max) = ([at.min(to), top], [at.max(to), foot]);
        if bar.practice {
            let outline = Some(Outline { ink: self.ink(1.0), width: 1.2 * self.style.stroke });
            drawing.shapes.push(Shape::Rect { min, max, radius: 1.5, fill: None, outline });
        } else {
            drawing.fill(min, max, 1.5, self.ink(if bar.current { 0.9 } else { 0.5 }));
        }
        for place in [start, end] {
            self.beyond(drawing, place.value);
        }
    }

    /// An arrow head at the ruler's end for what lies farther out.
    fn beyond(&self, drawing: &mut Drawing, value: f64) {
        let (edge, way) = if value > self.x.range[1] {
            (self.x.right, 1.0)
        } else if value < self.x.range[0] {
            (self.x.left, -1.0)
        } else {
            return;
        };
        let tip = [edge + way * self.half, self.y];
        let points = vec![tip, [edge, self.y - self.half], [edge, self.y + self.half]];
        drawing.shapes.push(Shape::Polygon { points, fill: Some(self.ink(1.0)), outline: None });
    }

    /// The divot start's 95 % interval as a fine line with caps above the bar, so that nothing
    /// hides where that begins.
    fn whisker(&self, drawing: &mut Drawing, place: Place) {
        let [low, high] = place.interval_95.map(|mm| self.x.within(mm));
        let (top, foot) = (self.y - self.half * 1.85, self.y - self.half * 1.15);
        let (y, width) = ((top + foot) / 2.0, self.style.stroke);
        drawing.line([low, y], [high, y], width, self.ink(1.0));
        for end in [low, high] {
            drawing.line([end, top], [end, foot], width, self.ink(1.0));
        }
    }

    /// A tick with a point beneath it: the bottom of the swing; its ± as a fine line there. Where
    /// the point would run together with the tick there is only the tick.
    fn low_point(&self, drawing: &mut Drawing, place: Place) {
        let reach = self.half * 1.5;
        let foot = self.y + reach;
        let [low, high] = place.interval_95.map(|mm| self.x.within(mm));
        drawing.line([low, foot], [high, foot], 0.8 * self.style.stroke, self.ink(1.0));
        if place.value < self.x.range[0] || place.value > self.x.range[1] {
            return;
        }
        let at = self.x.at(place.value);
        let (top, wing) = (self.y - reach, self.half * 0.62);
        drawing.line([at, top], [at, foot], 3.6 * self.style.stroke, Tone::Surface.ink());
        drawing.line([at, top], [at, foot], 1.6 * self.style.stroke, self.ink(1.0));
        if wing < 2.0 * 1.6 * self.style.stroke {
            return;
        }
        drawing.shapes.push(Shape::Polygon {
            points: vec![
                [at, foot + wing * 0.3],
                [at - wing, foot - wing * 1.1],
                [at + wing, foot - wing * 1.1],
            ],
            fill: Some(self.ink(1.0)),
            outline: Some(Outline { ink: Tone::Surface.ink(), width: 0.8 * self.style.stroke }),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(value: f64) -> Place {
        Place { value, interval_95: [value - 4.0, value + 4.0] }
    }

    fn bar(start: Option<f64>, end: Option<f64>) -> Bar {
        Bar {
            label: "3".into(),
            start: start.map(place),
            end: end.map(place),
            low_point: None,
            current: false,
            left_out: false,
            practice: false,
        }
    }

    fn style() -> Style {
        let unit = LengthUnit::Mm;
        Style {
            width: 330.0,
            row: 20.0,
            gutter: 30.0,
            margin: 0.0,
            type_size: 9.0,
            stroke: 1.0,
            unit,
        }
    }

    #[test]
    fn range_holds_every_swing_and_the_aim_window() {
        let aim = Some([0.0, 100.0]);
        assert_eq!(range_of(&[], aim), [-100.0, 200.0]);
        assert_eq!(range_of(&[], None), [-100.0, 200.0]);
        assert_eq!(range_of(&[bar(Some(-186.0), Some(20.0))], aim), [-200.0, 200.0]);
        assert_eq!(range_of(&[bar(Some(30.0), Some(331.0))], aim), [-100.0, 350.0]);
        // A slip of the mouse does not squeeze everything else together.
        assert_eq!(range_of(&[bar(Some(-99_999.0), Some(f64::NAN))], aim), [-600.0, 200.0]);
    }

    #[test]
    fn the_ball_lies_at_zero_in_true_size_and_ahead_is_right() {
        let drawing = head([-100.0, 200.0], None, &style());
        let Some(Shape::Circle { centre, radius, .. }) =
            drawing.shapes.iter().find(|s| matches!(s, Shape::Circle { .. }))
        else {
            panic!("no ball")
        };
        // 300 mm lie on 300 points, so a millimetre is a point.
        assert_eq!(centre[0], 130.0);
        assert!((radius - 42.67 / 2.0).abs() < 1e-9);
        assert!(style().along([-100.0, 200.0]).at(50.0) > centre[0]);
    }

    #[test]
    fn a_bar_runs_from_divot_start_to_divot_end() {
        let drawing = row(&bar(Some(10.0), Some(110.0)), [-100.0, 200.0], None, &style());
        let body = drawing.shapes.iter().find_map(|s| match s {
            Shape::Rect { min, max, .. } => Some([min[0], max[0]]),
            _ => None,
        });
        assert_eq!(body, Some([140.0, 240.0]));
    }

    #[test]
    fn its_doubt_leaves_the_bars_beginning_uncovered() {
        let drawing = row(&bar(Some(10.0), Some(110.0)), [-100.0, 200.0], None, &style());
        let top = drawing.shapes.iter().find_map(|s| match s {
            Shape::Rect { min, .. } => Some(min[1]),
            _ => None,
        });
        let above = drawing.shapes.iter().filter(|s| {
            matches!(s, Shape::Line { from, to, .. }
                if from[1].max(to[1]) < top.unwrap() && from[1].min(to[1]) >= 0.0)
        });
        assert_eq!(above.count(), 3, "a line with two caps");
    }

    #[test]
    fn in_close_rows_the_low_point_is_a_tick_alone() {
        let low = Bar { low_point: Some(place(60.0)), ..bar(Some(10.0), Some(110.0)) };
        let points = |height: f64| {
            let style = Style { row: height, ..style() };
            let drawing = row(&low, [-100.0, 200.0], None, &style);
            drawing.shapes.iter().filter(|s| matches!(s, Shape::Polygon { .. })).count()
        };
        assert_eq!([points(12.0), points(28.0)], [0, 1]);
    }

    #[test]
    fn the_head_names_the_unit_and_the_aim_window() {
        let said = |aim| -> Vec<String> {
            let drawing = head([-100.0, 200.0], aim, &style());
            let words = drawing.shapes.into_iter().filter_map(|shape| match shape {
                Shape::Words(words) => Some(words.text),
                _ => None,
            });
            words.filter(|text| text.parse::<f64>().is_err()).collect()
        };
        assert_eq!(said(None), ["target", "mm"]);
        assert_eq!(said(Some([0.0, 100.0])), ["target", "mm", "aim"]);
    }

    #[test]
    fn what_lies_beyond_the_ruler_is_pointed_at() {
        let arrows = |bar: &Bar| {
            let drawing = row(bar, [-100.0, 200.0], None, &style());
            drawing.shapes.iter().filter(|s| matches!(s, Shape::Polygon { .. })).count()
        };
        assert_eq!(arrows(&bar(Some(10.0), Some(110.0))), 0);
        assert_eq!(arrows(&bar(Some(10.0), Some(310.0))), 1);
    }

    #[test]
    fn latest_block_and_newest_swing_stand_on_top() {
        let swing = |number, block: &str| SwingRow {
            number,
            block: block.into(),
            club: String::new(),
            kind: SwingKind::Strike,
            ground_mark: None,
            divot_start_mm: None,
            divot_end_mm: None,
            low_point_mm: None,
            low_point_method: None,
            attack_angle_deg: None,
            contact_order: None,
            needs_review: Vec::new(),
            left_out: None,
            notes: String::new(),
        };
        let swings = vec![swing(1, "before"), swing(2, "before"), swing(3, "after")];
        let groups = groups_of(&Content { swings, ..Content::default() });
        let labels: Vec<Vec<&str>> =
            groups.iter().map(|g| g.bars.iter().map(|b| b.label.as_str()).collect()).collect();
        assert_eq!(labels, [vec!["3"], vec!["2", "1"]]);
        assert_eq!(groups[0].name, "after");
    }
}
