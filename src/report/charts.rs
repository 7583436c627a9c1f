//! Charts of values in time order, of two numbers against each other, and of a season; all
//! numbers are finished when they come here.

use super::drawing::{Anchor, Drawing, Ink, Outline, Shape, Tone, Words};

/// Sizes of a chart, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChartStyle {
    /// From edge to edge.
    pub width: f64,
    /// From top to foot.
    pub height: f64,
    /// Type.
    pub type_size: f64,
    /// Width of the main lines.
    pub stroke: f64,
}

/// How a value is written on an axis.
pub type Write<'a> = dyn Fn(f64) -> String + 'a;

/// A value in time order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimedValue {
    /// The swing's number in its session.
    pub number: usize,
    /// The value.
    pub value: f64,
    /// It stands apart: ringed, never removed.
    pub stands_apart: bool,
}

/// An individuals chart: values with mean and limits, and their weighted average.
#[derive(Clone, Debug, PartialEq)]
pub struct Individuals {
    /// In time order.
    pub values: Vec<TimedValue>,
    /// Lower limit, mean, upper limit.
    pub limits: [f64; 3],
    /// The weighted average after each value.
    pub average: Vec<f64>,
    /// Its limits.
    pub average_limits: Option<[f64; 2]>,
    /// The stretch aimed at.
    pub aim: Option<[f64; 2]>,
}

/// Room for the numbers to the left of a chart, in type sizes: "1000 behind".
const GUTTER: f64 = 6.3;

/// A plot area: from numbers to points.
struct Plot {
    left: f64,
    right: f64,
    top: f64,
    foot: f64,
    x: [f64; 2],
    y: [f64; 2],
}

impl Plot {
    fn x(&self, v: f64) -> f64 {
        self.left + (self.right - self.left) * (v - self.x[0]) / (self.x[1] - self.x[0])
    }

    /// Larger is higher up.
    fn y(&self, v: f64) -> f64 {
        self.foot - (self.foot - self.top) * (v - self.y[0]) / (self.y[1] - self.y[0])
    }

    fn at(&self, x: f64, y: f64) -> [f64; 2] {
        [self.x(x), self.y(y)]
    }

    fn across(&self, drawing: &mut Drawing, y: f64, width: f64, ink: Ink) {
        drawing.line([self.left, self.y(y)], [self.right, self.y(y)], width, ink);
    }
}

/// The range of numbers with a margin, never empty.
fn spanning(values: impl IntoIterator<Item = f64>) -> [f64; 2] {
    let mut range = [f64::INFINITY, f64::NEG_INFINITY];
    for value in values.into_iter().filter(|v| v.is_finite()) {
        range = [range[0].min(value), range[1].max(value)];
    }
    if range[0] > range[1] {
        range = [0.0, 0.0];
    }
    let margin = ((range[1] - range[0]) * 0.08).max(1.0);
    [range[0] - margin, range[1] + margin]
}

/// Round steps, at most `most` of them within the range: 1, 2 or 5 times a power of ten.
fn steps([low, high]: [f64; 2], most: usize) -> Vec<f64> {
    let rough = (high - low) / most.max(1) as f64;
    let power = 10f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|s| s * power).find(|s| *s >= rough);
    let step = step.unwrap_or(10.0 * power);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last).map(|i| i as f64 * step).collect()
}

fn empty(style: &ChartStyle) -> Drawing {
    Drawing { width: style.width, height: style.height, shapes: Vec::new() }
}

fn words(at: [f64; 2], anchor: Anchor, style: &ChartStyle, tone: Tone, text: String) -> Shape {
    Shape::Words(Words { at, anchor, size: style.type_size, strong: false, ink: tone.ink(), text })
}

/// Horizontal hairlines with their numbers at the left.
fn y_axis(drawing: &mut Drawing, plot: &Plot, style: &ChartStyle, write: &Write) {
    let most = ((plot.foot - plot.top) / (style.type_size * 2.6)).max(2.0) as usize;
    for value in steps(plot.y, most) {
        plot.across(drawing, value, 0.7 * style.stroke, Tone::Hairline.ink());
        let at = [plot.left - style.type_size * 0.6, plot.y(value)];
        drawing.shapes.push(words(at, Anchor::Right, style, Tone::Quiet, write(value)));
    }
}

/// A line of dashes.
fn dashed(drawing: &mut Drawing, plot: &Plot, y: f64, style: &ChartStyle, tone: Tone) {
    let (dash, gap) = (style.type_size * 0.5, style.type_size * 0.35);
    let mut x = plot.left;
    while x < plot.right {
        let to = (x + dash).min(plot.right);
        drawing.line([x, plot.y(y)], [to, plot.y(y)], 1.1 * style.stroke, tone.ink());
        x += dash + gap;
    }
}

fn polyline(drawing: &mut Drawing, points: &[[f64; 2]], width: f64, ink: Ink) {
    for pair in points.windows(2) {
        drawing.line(pair[0], pair[1], width, ink);
    }
}

fn dot(
    drawing: &mut Drawing,
    centre: [f64; 2],
    radius: f64,
    fill: Option<Ink>,
    width: f64,
    ink: Ink,
) {
    let outline = Some(Outline { ink, width });
    drawing.shapes.push(Shape::Circle { centre, radius, fill, outline });
}

/// Values in time order with mean, limits, aim window and weighted average. `write` writes a
/// value on the axis; `mean` is what stands beside the mean's line.
pub fn individuals(chart: &Individuals, style: &ChartStyle, write: &Write) -> Drawing {
    let mut drawing = empty(style);
    let n = chart.values.len();
    let values = chart.values.iter().map(|v| v.value);
    let plot = Plot {
        left: style.type_size * GUTTER,
        right: style.width - style.type_size * 6.6,
        top: style.type_size * 0.8,
        foot: style.height - style.type_size * 2.0,
        x: [0.4, n as f64 + 0.6],
        y: spanning(values.chain(chart.limits).chain(chart.aim.into_iter().flatten())),
    };
    if let Some([from, to]) = chart.aim {
        let (top, foot) = (plot.y(to), plot.y(from));
        drawing.fill([plot.left, top], [plot.right, foot], 0.0, Tone::Accent.faint(0.12));
    }
    y_axis(&mut drawing, &plot, style, write);
    limits(&mut drawing, &plot, chart, style);
    for limit in chart.average_limits.into_iter().flatten() {
        plot.across(&mut drawing, limit, 0.8 * style.stroke, Tone::Accent.faint(0.6));
    }
    let average: Vec<_> =
        chart.average.iter().enumerate().map(|(i, v)| plot.at(i as f64 + 1.0, *v)).collect();
    polyline(&mut drawing, &average, 2.2 * style.stroke, Tone::Accent.faint(0.85));
    let points: Vec<_> =
        chart.values.iter().enumerate().map(|(i, v)| plot.at(i as f64 + 1.0, v.value)).collect();
    polyline(&mut drawing, &points, 0.9 * style.stroke, Tone::Quiet.faint(0.7));
    let every = (n as f64 * style.type_size * 1.9 / (plot.right - plot.left)).ceil().max(1.0);
    for (i, (value, at)) in chart.values.iter().zip(&points).enumerate() {
        value_dot(&mut drawing, value, *at, chart.limits, style);
        if i % every as usize == 0 {
            let foot = [at[0], plot.foot + style.type_size];
            let text = value.number.to_string();
            drawing.shapes.push(words(foot, Anchor::Centre, style, Tone::Quiet, text));
        }
    }
    drawing
}

fn limits(drawing: &mut Drawing, plot: &Plot, chart: &Individuals, style: &ChartStyle) {
    let [lower, mean, upper] = chart.limits;
    plot.across(drawing, mean, 1.3 * style.stroke, Tone::Text.ink());
    for (value, text) in [(upper, "limit"), (mean, "mean"), (lower, "limit")] {
        let at = [plot.right + style.type_size * 0.6, plot.y(value)];
        drawing.shapes.push(words(at, Anchor::Left, style, Tone::Quiet, text.into()));
        if value != mean {
            dashed(drawing, plot, value, style, Tone::Quiet);
        }
    }
    if let Some(last) = chart.average.last() {
        let near = [lower, mean, upper]
            .iter()
            .any(|v| (plot.y(*v) - plot.y(*last)).abs() < style.type_size * 1.2);
        if !near {
            let at = [plot.right + style.type_size * 0.6, plot.y(*last)];
            drawing.shapes.push(words(at, Anchor::Left, style, Tone::Accent, "average".into()));
        }
    }
}

/// A dot; outside the limits a square; one that stands apart has a ring.
fn value_dot(
    drawing: &mut Drawing,
    value: &TimedValue,
    at: [f64; 2],
    [lower, _, upper]: [f64; 3],
    style: &ChartStyle,
) {
    let radius = style.type_size * 0.3;
    let ink = Tone::Text.ink();
    if value.value < lower || value.value > upper {
        let (min, max) = ([at[0] - radius, at[1] - radius], [at[0] + radius, at[1] + radius]);
        drawing.fill(min, max, 0.0, ink);
    } else {
        dot(drawing, at, radius, Some(ink), 0.0, ink);
    }
    if value.stands_apart {
        dot(drawing, at, radius * 2.3, None, 1.6 * style.stroke, Tone::Accent.ink());
    }
}

/// Moving ranges in time order, with their mean and upper limit. `numbers`: of the later swing
/// of each pair.
pub fn moving_ranges(
    ranges: &[f64],
    mean: f64,
    upper: f64,
    style: &ChartStyle,
    write: &Write,
) -> Drawing {
    let mut drawing = empty(style);
    let highest = ranges.iter().copied().fold(upper, f64::max);
    let plot = Plot {
        left: style.type_size * GUTTER,
        right: style.width - style.type_size * 6.6,
        top: style.type_size * 0.8,
        foot: style.height - style.type_size * 0.8,
        // Each range stands below the later of its two swings.
        x: [-0.6, ranges.len() as f64 + 0.6],
        y: [0.0, highest * 1.08 + 1e-9],
    };
    y_axis(&mut drawing, &plot, style, write);
    for (value, text) in [(mean, "mean range"), (upper, "limit")] {
        let at = [plot.right + style.type_size * 0.6, plot.y(value)];
        drawing.shapes.push(words(at, Anchor::Left, style, Tone::Quiet, text.into()));
    }
    plot.across(&mut drawing, mean, 1.1 * style.stroke, Tone::Text.ink());
    dashed(&mut drawing, &plot, upper, style, Tone::Quiet);
    let half = ((plot.right - plot.left) / (ranges.len() as f64 + 2.0) * 0.22).min(7.0);
    for (i, range) in ranges.iter().enumerate() {
        let [x, y] = plot.at(i as f64 + 1.0, *range);
        let strong = if *range > upper { 1.0 } else { 0.45 };
        drawing.fill([x - half, y], [x + half, plot.foot], 1.0, Tone::Text.faint(strong));
    }
    drawing
}

/// Points, and a line through them with the limits of its interval.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scatter {
    /// x and y of each point.
    pub points: Vec<[f64; 2]>,
    /// x, y, lower and upper limit along the line; empty: no line.
    pub line: Vec<[f64; 4]>,
    /// What x is, in words.
    pub x_words: String,
    /// What y is, in words.
    pub y_words: String,
}

/// Points against each other with a fitted line in its interval. `write`: for x and for y.
pub fn scatter(chart: &Scatter, style: &ChartStyle, write: [&Write; 2]) -> Drawing {
    let mut drawing = empty(style);
    let band = chart.line.iter().flat_map(|l| [l[2], l[3]]);
    let plot = Plot {
        left: style.type_size * GUTTER,
        right: style.width - style.type_size,
        top: style.type_size * 2.4,
        foot: style.height - style.type_size * 3.8,
        x: spanning(chart.points.iter().map(|p| p[0])),
        y: spanning(chart.points.iter().map(|p| p[1]).chain(band)),
    };
    y_axis(&mut drawing, &plot, style, write[1]);
    let most = ((plot.right - plot.left) / (style.type_size * 5.0)).max(2.0) as usize;
    for value in steps(plot.x, most) {
        let foot = [plot.x(value), plot.foot + style.type_size];
        drawing.line([foot[0], plot.foot], [foot[0], plot.foot - 4.0], 0.8, Tone::Quiet.ink());
        drawing.shapes.push(words(foot, Anchor::Centre, style, Tone::Quiet, write[0](value)));
    }
    for pair in chart.line.windows(2) {
        // Slices, since a band is not convex as a whole.
        let points = vec![
            plot.at(pair[0][0], pair[0][2]),
            plot.at(pair[1][0], pair[1][2]),
            plot.at(pair[1][0], pair[1][3]),
            plot.at(pair[0][0], pair[0][3]),
        ];
        let fill = Some(Tone::Accent.faint(0.14));
        drawing.shapes.push(Shape::Polygon { points, fill, outline: None });
    }
    let line: Vec<_> = chart.line.iter().map(|l| plot.at(l[0], l[1])).collect();
    polyline(&mut drawing, &line, 2.0 * style.stroke, Tone::Accent.ink());
    for [x, y] in &chart.points {
        let fill = Some(Tone::Text.faint(0.6));
        dot(&mut drawing, plot.at(*x, *y), style.type_size * 0.28, fill, 0.0, Tone::Text.ink());
    }
    let at = [plot.left, style.type_size * 0.9];
    drawing.shapes.push(words(at, Anchor::Left, style, Tone::Quiet, chart.y_words.clone()));
    let at = [plot.right, style.height - style.type_size * 1.1];
    drawing.shapes.push(words(at, Anchor::Right, style, Tone::Quiet, chart.x_words.clone()));
    drawing
}

/// One session of a season.
#[derive(Clone, Debug, PartialEq)]
pub struct SeasonDot {
    /// The day, as short as it can be.
    pub day: String,
    /// Days since the first of them.
    pub at: f64,
    /// The mean.
    pub mean: f64,
    /// Its interval; `None`: one swing.
    pub interval: Option<[f64; 2]>,
    /// From a mat: drawn hollow.
    pub hollow: bool,
}

/// Sessions as points with their intervals, in their distance in time.
pub fn season(
    dots: &[SeasonDot],
    aim: Option<[f64; 2]>,
    style: &ChartStyle,
    write: &Write,
) -> (Drawing, Vec<[f64; 2]>) {
    let mut drawing = empty(style);
    let limits = dots.iter().flat_map(|d| d.interval.into_iter().flatten().chain([d.mean]));
    let last = dots.iter().map(|d| d.at).fold(1.0, f64::max);
    let plot = Plot {
        left: style.type_size * GUTTER,
        right: style.width - style.type_size,
        top: style.type_size * 0.8,
        foot: style.height - style.type_size * 2.2,
        x: [-0.08 * last, 1.08 * last],
        y: spanning(limits.chain(aim.into_iter().flatten())),
    };
    if let Some([from, to]) = aim {
        let (top, foot) = (plot.y(to), plot.y(from));
        drawing.fill([plot.left, top], [plot.right, foot], 0.0, Tone::Accent.faint(0.12));
    }
    y_axis(&mut drawing, &plot, style, write);
    let mut free = f64::NEG_INFINITY;
    for d in dots {
        season_dot(&mut drawing, &plot, d, style);
        let [x, _] = plot.at(d.at, d.mean);
        // A day is written where it has room.
        let half = style.type_size * 0.3 * d.day.len() as f64;
        if x - half > free {
            let foot = [x, plot.foot + style.type_size * 1.2];
            drawing.shapes.push(words(foot, Anchor::Centre, style, Tone::Quiet, d.day.clone()));
            free = x + half;
        }
    }
    let places = dots.iter().map(|d| plot.at(d.at, d.mean)).collect();
    (drawing, places)
}

/// A session's mean on its interval.
fn season_dot(drawing: &mut Drawing, plot: &Plot, d: &SeasonDot, style: &ChartStyle) {
    let [x, y] = plot.at(d.at, d.mean);
    let ink = Tone::Text.ink();
    if let Some([low, high]) = d.interval {
        let (top, foot) = (plot.y(high), plot.y(low));
        drawing.line([x, top], [x, foot], 1.4 * style.stroke, ink);
        let cap = style.type_size * 0.3;
        for end in [top, foot] {
            drawing.line([x - cap, end], [x + cap, end], 1.4 * style.stroke, ink);
        }
    }
    let fill = if d.hollow { Tone::Surface.ink() } else { ink };
    dot(drawing, [x, y], style.type_size * 0.38, Some(fill), 1.5 * style.stroke, ink);
}

#[cfg(test)]
mod tests {
    use super::*;

    const STYLE: ChartStyle =
        ChartStyle { width: 600.0, height: 240.0, type_size: 12.0, stroke: 1.0 };

    fn within(drawing: &Drawing) -> bool {
        let inside = |p: &[f64; 2]| {
            (-0.5..=drawing.width + 0.5).contains(&p[0])
                && (-0.5..=drawing.height + 0.5).contains(&p[1])
        };
        drawing.shapes.iter().all(|shape| match shape {
            Shape::Line { from, to, .. } => inside(from) && inside(to),
            Shape::Rect { min, max, .. } => inside(min) && inside(max),
            Shape::Circle { centre, .. } => inside(centre),
            Shape::Polygon { points, .. } => points.iter().all(inside),
            Shape::Words(words) => inside(&words.at),
        })
    }

    #[test]
    fn steps_are_round_and_few() {
        assert_eq!(steps([-31.0, 64.0], 5), vec![-20.0, 0.0, 20.0, 40.0, 60.0]);
        assert_eq!(steps([0.2, 0.9], 4), vec![0.2, 0.4, 0.6000000000000001, 0.8]);
    }

    #[test]
    fn what_stands_apart_is_ringed_and_stays() {
        let value = |number, value, stands_apart| TimedValue { number, value, stands_apart };
        let chart = Individuals {
            values: vec![value(1, 3.0, false), value(2, 5.0, false), value(3, 90.0, true)],
            limits: [-20.0, 30.0, 80.0],
            average: vec![3.0, 3.6, 29.5],
            average_limits: Some([-4.0, 16.0]),
            aim: Some([0.0, 100.0]),
        };
        let drawing = individuals(&chart, &STYLE, &|v| format!("{v:.0}"));
        let rings = |s: &&Shape| matches!(s, Shape::Circle { fill: None, .. });
        assert_eq!(drawing.shapes.iter().filter(rings).count(), 1);
        // Two dots within the limits, and the one outside as a square.
        let dots = |s: &&Shape| matches!(s, Shape::Circle { fill: Some(_), .. });
        assert_eq!(drawing.shapes.iter().filter(dots).count(), 2);
        assert!(within(&drawing));
    }

    #[test]
    fn every_chart_stays_on_its_paper() {
        let write: &Write = &|v| format!("{v:.0}");
        assert!(within(&moving_ranges(&[2.0, 85.0], 43.0, 141.0, &STYLE, write)));
        let chart = Scatter {
            points: vec![[-120.0, 40.0], [-90.0, 20.0], [-150.0, 66.0]],
            line: vec![[-150.0, 64.0, 50.0, 80.0], [-90.0, 21.0, 2.0, 40.0]],
            ..Scatter::default()
        };
        assert!(within(&scatter(&chart, &STYLE, [write, write])));
        let dot = |at, mean, interval| SeasonDot {
            day: "3 May".into(),
            at,
            mean,
            interval,
            hollow: false,
        };
        let dots = [dot(0.0, 4.0, Some([-10.0, 18.0])), dot(7.0, 30.0, None)];
        assert!(within(&season(&dots, Some([0.0, 100.0]), &STYLE, write).0));
        assert!(within(&season(&[], None, &STYLE, write).0));
    }
}
