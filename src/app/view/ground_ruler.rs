//! The ruler that lies on the ground, in perspective, with the ball at zero. What is drawn is
//! described once, in the `report` room, for the window and for pictures that are sent home.

use eframe::egui::{Align2, Color32, FontId, Painter, Pos2, Shape, Stroke, TextStyle, vec2};

use super::View;
use super::placement::Placement;
use super::shapes::{MarkLook, double_edge};
use super::turf_ruler::aligned;
use crate::app::model::MarkName;
use crate::domain::{GroundPoint, Mark};
use crate::report::drawing::{Drawing, Ink, Shape as Drawn};
use crate::report::paint::ON_PICTURE;
use crate::report::picture::ground_ruler;
use crate::workflow::on_ground;

/// Type on the ruler is so many times its thinnest line.
const TYPE: f32 = 9.5;

/// Draws the ruler, the target arrow, and the whiskers of the measured offsets.
pub fn draw(view: &View, painter: &Painter, placement: Placement) {
    let (Some(ground), Some(open)) = (view.model.ground(), &view.model.open) else { return };
    let project = |x: f64, y: f64| -> Option<[f64; 2]> {
        let image = ground.project(GroundPoint::new(x, y))?;
        let at = placement.to_screen(open.place_in_shown(Mark::steadied(image)));
        Some([f64::from(at.x), f64::from(at.y)])
    };
    let small = TextStyle::Small.resolve(&painter.ctx().global_style()).size;
    let swing = view.model.current_swing();
    let result = swing.and_then(|swing| swing.result.as_deref());
    let mut shown = on_ground(result, swing.and_then(|swing| swing.aim), view.model.settings.unit);
    let seen = placement.rect;
    shown.seen = Some([f64::from(seen.left()), f64::from(seen.right())]);
    paint(painter, &ground_ruler(&project, &shown, f64::from(small / TYPE)));
    lines_across(view, painter, &project);
}

/// How far a drill's line is drawn to either side of the target line, mm.
const ACROSS: f64 = 220.0;

/// The ball line and the reach line of a drill, where they are marked.
fn lines_across(view: &View, painter: &Painter, project: &dyn Fn(f64, f64) -> Option<[f64; 2]>) {
    let ball_line = view.model.mark(MarkName::BallLine).map(|_| 0.0);
    let look = MarkLook {
        ink: Color32::WHITE,
        edge: Color32::from_black_alpha(170),
        size: 6.0,
        width: 1.2 * view.colours().stroke,
        dashed: false,
        toward_target: 1.0,
    };
    for x in [ball_line, view.model.reach()].into_iter().flatten() {
        let ends = [project(x, -ACROSS), project(x, ACROSS)];
        let ends: Vec<Pos2> =
            ends.into_iter().flatten().map(|[x, y]| Pos2::new(x as f32, y as f32)).collect();
        if ends.len() == 2 {
            double_edge(painter, ends, &look);
        }
    }
}

/// Paints a drawing over the picture: light marks with dark edges.
fn paint(painter: &Painter, drawing: &Drawing) {
    let at = |[x, y]: [f64; 2]| Pos2::new(x as f32, y as f32);
    let edge = |width: f64| Stroke::new(width as f32 + 2.2, Color32::from_black_alpha(150));
    for shape in &drawing.shapes {
        match shape {
            Drawn::Line { from, to, outline } => {
                painter.line_segment([at(*from), at(*to)], edge(outline.width));
            }
            Drawn::Polygon { points, fill, outline } => {
                let points = points.iter().map(|p| at(*p)).collect();
                let fill = fill.map_or(Color32::TRANSPARENT, colour);
                let stroke =
                    outline.map_or(Stroke::NONE, |o| Stroke::new(o.width as f32, colour(o.ink)));
                painter.add(Shape::convex_polygon(points, fill, stroke));
            }
            // The ruler on the ground has neither.
            Drawn::Rect { .. } | Drawn::Circle { .. } | Drawn::Words(_) => {}
        }
    }
    // What is light lies over every edge.
    for shape in &drawing.shapes {
        match shape {
            Drawn::Line { from, to, outline } => {
                let stroke = Stroke::new(outline.width as f32, colour(outline.ink));
                painter.line_segment([at(*from), at(*to)], stroke);
            }
            Drawn::Words(words) => {
                let align = aligned(words.anchor);
                let font = FontId::proportional(words.size as f32);
                shadowed(painter, at(words.at), align, &words.text, &font);
            }
            Drawn::Polygon { .. } | Drawn::Rect { .. } | Drawn::Circle { .. } => {}
        }
    }
}

fn colour(ink: Ink) -> Color32 {
    let [r, g, b] = ON_PICTURE.rgb(ink.tone);
    Color32::from_rgb(r, g, b).gamma_multiply(ink.opacity as f32)
}

/// Light words with a dark edge, which show on any ground.
pub fn shadowed(painter: &Painter, at: Pos2, align: Align2, text: &str, font: &FontId) {
    for (dx, dy) in [(-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0)] {
        let edge = Color32::from_black_alpha(190);
        painter.text(at + vec2(dx, dy), align, text, font.clone(), edge);
    }
    painter.text(at, align, text, font.clone(), Color32::WHITE);
}
