//! The ruler that lies on the ground, in perspective, with the ball at zero.

use eframe::egui::{Align2, Color32, Painter, Pos2, Shape, Stroke, TextStyle};

use super::View;
use super::canvas::Placement;
use super::shapes::{MarkLook, double_edge};
use crate::app::model::Ground;
use crate::domain::{GroundPoint, LengthUnit, Mark};
use crate::workflow::state;

/// The ruler's near and far edge, mm from the ball's line toward the camera.
const NEAR: f64 = -150.0;
const FAR: f64 = -110.0;
/// How far it reaches behind and ahead of the ball at least, mm.
const REACH: f64 = 300.0;

/// Draws the ruler, the target arrow, and the whiskers of the measured offsets.
pub fn draw(view: &View, painter: &Painter, placement: Placement) {
    let Some(ground) = view.model.ground() else { return };
    let Some(open) = &view.model.open else { return };
    let project = |x: f64, y: f64| -> Option<Pos2> {
        let image = ground.project(GroundPoint::new(x, y))?;
        Some(placement.to_screen(open.place_in_shown(Mark::steadied(image))))
    };
    let from = -REACH;
    let to = reach_ahead(view);
    let look = MarkLook {
        ink: Color32::WHITE,
        edge: Color32::from_black_alpha(190),
        size: 6.0,
        width: 1.2 * view.colours().stroke,
        dashed: false,
        toward_target: 1.0,
    };
    band(painter, &project, from, to);
    outline(painter, &project, from, to, &look);
    graduate(view, painter, &project, from, to);
    ball_line(painter, &project, &look);
    whiskers(view, painter, &project, ground);
}

fn reach_ahead(view: &View) -> f64 {
    let end = view
        .model
        .current_swing()
        .and_then(|s| s.result.as_ref())
        .and_then(|r| r.divot_end_offset.as_ref())
        .map_or(0.0, |m| m.value);
    ((end + 60.0) / 100.0).ceil().clamp(3.0, 6.0) * 100.0
}

type Project<'a> = dyn Fn(f64, f64) -> Option<Pos2> + 'a;

fn along(project: &Project, from: f64, to: f64, y: f64) -> Vec<Pos2> {
    // Lens distortion bends a straight line, so it is drawn in short pieces.
    (0..=24).filter_map(|i| project(from + (to - from) * f64::from(i) / 24.0, y)).collect()
}

fn band(painter: &Painter, project: &Project, from: f64, to: f64) {
    let (near, far) = (along(project, from, to, NEAR), along(project, from, to, FAR));
    for (n, f) in near.windows(2).zip(far.windows(2)) {
        let quad = vec![n[0], n[1], f[1], f[0]];
        painter.add(Shape::convex_polygon(quad, Color32::from_black_alpha(120), Stroke::NONE));
    }
}

fn outline(painter: &Painter, project: &Project, from: f64, to: f64, look: &MarkLook) {
    double_edge(painter, along(project, from, to, FAR), look);
    let arrow = [(to - 28.0, FAR + 18.0), (to, FAR), (to - 28.0, FAR - 18.0)];
    let arrow: Vec<Pos2> = arrow.iter().filter_map(|(x, y)| project(*x, *y)).collect();
    double_edge(painter, arrow, look);
}

fn graduate(view: &View, painter: &Painter, project: &Project, from: f64, to: f64) {
    // Inches get inch marks, so that whole numbers stand at the ticks.
    let (fine, labelled, scale) = match view.model.settings.unit {
        LengthUnit::Mm => (10.0, 100.0, 1.0),
        LengthUnit::Cm => (10.0, 100.0, 10.0),
        LengthUnit::Inch => (25.4, 101.6, 25.4),
    };
    let stroke = Stroke::new(view.colours().stroke, Color32::WHITE);
    let font = TextStyle::Small.resolve(&painter.ctx().global_style());
    let first = (from / fine).ceil() as i64;
    let last = (to / fine).floor() as i64;
    for i in first..=last {
        let x = i as f64 * fine;
        let whole = (x / labelled).fract().abs() < 1e-9;
        let half = (x / labelled * 2.0).fract().abs() < 1e-9;
        let depth = if whole {
            1.0
        } else if half {
            0.6
        } else {
            0.32
        };
        if let (Some(a), Some(b)) = (project(x, FAR), project(x, FAR + (NEAR - FAR) * depth)) {
            painter.line_segment([a, b], stroke);
        }
        if whole && let Some(at) = project(x, NEAR - 8.0) {
            let text = format!("{:.0}", (x / scale).abs());
            shadowed(painter, at, Align2::CENTER_TOP, &text, &font);
        }
    }
}

fn shadowed(painter: &Painter, at: Pos2, align: Align2, text: &str, font: &eframe::egui::FontId) {
    for (dx, dy) in [(-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0)] {
        let by = eframe::egui::vec2(dx, dy);
        painter.text(at + by, align, text, font.clone(), Color32::from_black_alpha(190));
    }
    painter.text(at, align, text, font.clone(), Color32::WHITE);
}

/// A line across at the ball, so that "ahead" and "behind" are seen at once.
fn ball_line(painter: &Painter, project: &Project, look: &MarkLook) {
    let line: Vec<Pos2> =
        (0..=8).filter_map(|i| project(0.0, NEAR + f64::from(i) * 19.0)).collect();
    double_edge(painter, line, look);
}

/// Each measured offset: a line at its place and its 95 % interval lying on the ruler.
fn whiskers(view: &View, painter: &Painter, project: &Project, _: &Ground) {
    let Some(result) = view.model.current_swing().and_then(|s| s.result.as_ref()) else { return };
    let measured = [
        (result.divot_start_offset.as_ref(), -62.0),
        (result.divot_end_offset.as_ref(), -62.0),
        (result.low_point.as_ref().map(|(m, _)| m), -86.0),
    ];
    let look = MarkLook {
        ink: view.colours().accent,
        edge: Color32::WHITE,
        size: 6.0,
        width: 2.4,
        dashed: false,
        toward_target: 1.0,
    };
    for (measured, y) in measured.iter().filter_map(|(m, y)| m.map(|m| (m, *y))) {
        let stated = state(measured);
        let (low, high) = (stated.interval.low, stated.interval.high);
        double_edge(painter, along(project, low, high, y), &look);
        for x in [low, high] {
            let cap = [project(x, y - 9.0), project(x, y + 9.0)].into_iter().flatten().collect();
            double_edge(painter, cap, &look);
        }
        let foot = [project(stated.value, FAR), project(stated.value, y + 14.0)];
        double_edge(painter, foot.into_iter().flatten().collect(), &look);
    }
}
