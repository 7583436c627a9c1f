//! The shapes of marks: the same mark has the same shape in the picture, in the lists and
//! on the rulers. Each is drawn with a dark and a light edge so that it shows on any turf.

use eframe::egui::{Color32, Painter, Pos2, Shape, Stroke, Vec2, pos2, vec2};

use crate::app::model::MarkName;

/// How a mark is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MarkLook {
    /// The line itself.
    pub ink: Color32,
    /// The edge around it.
    pub edge: Color32,
    /// Half its height, in points.
    pub size: f32,
    /// Width of the line, in points.
    pub width: f32,
    /// A proposal that nobody has confirmed is drawn with gaps.
    pub dashed: bool,
    /// +1 where the target is to the right, -1 where it is to the left.
    pub toward_target: f32,
}

/// Draws the shape of `name` about `at`.
pub fn draw_mark(painter: &Painter, name: MarkName, at: Pos2, look: &MarkLook) {
    for line in lines(name, at, look) {
        double_edge(painter, line, look);
    }
}

/// The open polylines a mark consists of.
fn lines(name: MarkName, c: Pos2, look: &MarkLook) -> Vec<Vec<Pos2>> {
    let s = look.size;
    let t = look.toward_target;
    let at = |x: f32, y: f32| pos2(c.x + x * s, c.y + y * s);
    match name {
        MarkName::Ball => {
            vec![circle(c, s), vec![at(0.0, -0.3), at(0.0, 0.3)], vec![at(-0.3, 0.0), at(0.3, 0.0)]]
        }
        // A gate that opens toward the target, and one that closes it.
        MarkName::DivotStart => vec![
            vec![at(0.55 * t, -1.3), at(0.0, -1.3), at(0.0, 1.3), at(0.55 * t, 1.3)],
            vec![at(-0.35, 0.0), at(0.35, 0.0)],
        ],
        MarkName::DivotEnd => vec![
            vec![at(-0.55 * t, -1.3), at(0.0, -1.3), at(0.0, 1.3), at(-0.55 * t, 1.3)],
            vec![at(-0.35, 0.0), at(0.35, 0.0)],
        ],
        // A peg with its cup, standing on the ground that it goes into.
        MarkName::Tee => vec![
            vec![at(-0.5, -1.2), at(-0.3, -0.85), at(0.3, -0.85), at(0.5, -1.2)],
            vec![at(0.0, -0.85), at(0.0, 0.0)],
            vec![at(-0.7, 0.0), at(0.7, 0.0)],
        ],
        // The edge with both ends turned up, and its middle.
        MarkName::ClubHead(_) => vec![
            vec![at(-0.8, -0.5), at(-0.8, 0.0), at(0.8, 0.0), at(0.8, -0.5)],
            vec![at(0.0, -0.3), at(0.0, 0.3)],
        ],
        MarkName::BallLine => vec![vec![at(0.0, -1.5), at(0.0, 1.5)], circle(c, 0.45 * s)],
        MarkName::ReachLine => {
            let tip = |y: f32| vec![at(-0.4 * t, y - 0.4), at(0.0, y), at(-0.4 * t, y + 0.4)];
            vec![vec![at(0.0, -1.5), at(0.0, 1.5)], tip(0.0)]
        }
        MarkName::LeadHeel => vec![heel(c, s), vec![at(0.0, 0.0), at(0.0, 1.0)]],
        MarkName::TrailHeel => {
            vec![
                heel(c, s),
                vec![at(-0.25, 0.0), at(-0.25, 1.0)],
                vec![at(0.25, 0.0), at(0.25, 1.0)],
            ]
        }
        MarkName::TargetLine(_) => vec![
            vec![at(-0.8, -0.8), at(0.0, 0.0), at(-0.8, 0.8)],
            vec![at(0.0, -0.8), at(0.8, 0.0), at(0.0, 0.8)],
        ],
        MarkName::Reference { .. } => {
            vec![vec![at(-0.7, 0.0), at(0.0, -0.7), at(0.7, 0.0), at(0.0, 0.7), at(-0.7, 0.0)]]
        }
    }
}

fn circle(centre: Pos2, radius: f32) -> Vec<Pos2> {
    (0..=28)
        .map(|i| {
            let angle = i as f32 / 28.0 * std::f32::consts::TAU;
            centre + radius * Vec2::angled(angle)
        })
        .collect()
}

/// The round end of a shoe, seen from above.
fn heel(centre: Pos2, size: f32) -> Vec<Pos2> {
    let arc = (0..=14).map(|i| {
        let angle = std::f32::consts::PI * (1.0 + i as f32 / 14.0);
        centre + size * vec2(0.7 * angle.cos(), 0.7 * angle.sin())
    });
    let first = centre + size * vec2(-0.7, 1.0);
    let last = centre + size * vec2(0.7, 1.0);
    std::iter::once(first).chain(arc).chain(std::iter::once(last)).collect()
}

/// A polyline with an edge around it, with gaps for what nobody has confirmed.
pub fn double_edge(painter: &Painter, line: Vec<Pos2>, look: &MarkLook) {
    let edge = Stroke::new(look.width + 2.4, look.edge);
    let ink = Stroke::new(look.width, look.ink);
    painter.add(Shape::line(line.clone(), edge));
    if look.dashed {
        // The edge goes through, so that a small shape is still seen as one.
        painter.extend(Shape::dashed_line(&line, ink, 3.0, 2.2));
    } else {
        painter.add(Shape::line(line, ink));
    }
}
