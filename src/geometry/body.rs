//! Something of known size on the ground, as the adjustment sees it: its unknowns, how it lies under
//! a camera, and how far its marks are then from where it would be seen.

use super::camera::Camera;
use super::error::GeometryError;
use super::mark::{BALL_DIAMETER, ball_rest, placed_sigma};
use super::priors::{
    BALL_SPREAD, LAY_HEIGHT_SPREAD, LAY_SLOPE_SPREAD, LENGTH_SPREAD, PARALLEL_SPREAD,
    SHEET_SIZE_SPREAD,
};
use crate::domain::{ImagePoint, Reference, ReferenceKind};

/// Unit of the places in the picture, pixels.
const PLACE_UNIT: f64 = 5.0;
/// Unit of the directions in the picture, radians.
pub(super) const ANGLE_UNIT: f64 = 0.05;

/// A reference as the adjustment sees it.
#[derive(Clone, Debug)]
pub(super) struct Body {
    pub(super) shape: Shape,
    /// What it is called.
    pub(super) noun: String,
    height: f64,
    sigma: f64,
}

#[derive(Clone, Debug)]
pub(super) enum Shape {
    /// `turn` is +1 when the corners go counterclockwise seen from above.
    Sheet {
        size: [f64; 2],
        corners: [ImagePoint; 4],
        turn: f64,
    },
    /// Sides going round and the diagonal from the first to the third corner.
    FourPoints {
        lengths: [f64; 5],
        corners: [ImagePoint; 4],
        turn: f64,
    },
    Line {
        length: f64,
        ends: [ImagePoint; 2],
    },
    LinePair {
        distance: f64,
        lines: [[ImagePoint; 2]; 2],
    },
    Ball {
        centre: ImagePoint,
        width: f64,
    },
}

/// A reference's shape, its sizes checked.
fn shape_of(kind: &ReferenceKind) -> Result<Shape, GeometryError> {
    let which = || kind.noun().to_owned();
    let size = |mm: f64| match mm > 0.0 && mm.is_finite() {
        true => Ok(mm),
        false => Err(GeometryError::BadSize { which: which() }),
    };
    let turn =
        |corners| turn_of(corners).ok_or_else(|| GeometryError::Degenerate { which: which() });
    Ok(match kind {
        ReferenceKind::Sheet { size: [a, b], corners } => {
            let turn = turn(corners)?;
            Shape::Sheet { size: [size(a.0)?, size(b.0)?], corners: *corners, turn }
        }
        ReferenceKind::FourPoints { sides: [a, b, c, d], diagonal, points } => {
            let turn = turn(points)?;
            let lengths = [size(a.0)?, size(b.0)?, size(c.0)?, size(d.0)?, size(diagonal.0)?];
            // Sides that do not reach round the diagonal make no figure.
            corners_of(&lengths, turn).ok_or(GeometryError::NoFigure)?;
            Shape::FourPoints { lengths, corners: *points, turn }
        }
        ReferenceKind::Line { length, ends } => {
            Shape::Line { length: size(length.0)?, ends: *ends }
        }
        ReferenceKind::LinePair { distance, lines } => {
            Shape::LinePair { distance: size(distance.0)?, lines: *lines }
        }
        ReferenceKind::Ball { outline: Some((centre, width)) } => {
            Shape::Ball { centre: *centre, width: size(width.0)? }
        }
        ReferenceKind::Ball { outline: None } => return Err(GeometryError::NoReference),
    })
}

impl Body {
    /// Checks a reference's numbers and shape.
    pub(super) fn new(reference: &Reference) -> Result<Self, GeometryError> {
        let which = reference.kind.noun();
        let sigma = placed_sigma(reference.point_sigma);
        let height = reference.height.0;
        let body = Self { shape: shape_of(&reference.kind)?, noun: which.into(), height, sigma };
        let is_finite = body.points().iter().all(|p| p.is_finite()) && height.is_finite();
        if !is_finite || sigma.is_nan() || sigma <= 0.0 {
            return Err(GeometryError::NotFinite { which: which.into() });
        }
        match body.is_distinct() {
            true => Ok(body),
            false => Err(GeometryError::Degenerate { which: which.into() }),
        }
    }

    /// Two marks closer than two pixels have no direction and hardly a length.
    fn is_distinct(&self) -> bool {
        let points = self.points();
        let apart = |a: usize, b: usize| points[a].distance(points[b]) > 2.0;
        match self.shape {
            Shape::Sheet { .. } | Shape::FourPoints { .. } | Shape::Ball { .. } => true,
            Shape::Line { .. } => apart(0, 1),
            Shape::LinePair { .. } => apart(0, 1) && apart(2, 3) && apart(0, 2) && apart(1, 3),
        }
    }

    /// Its marked points.
    pub(super) fn points(&self) -> Vec<ImagePoint> {
        match &self.shape {
            Shape::Sheet { corners, .. } | Shape::FourPoints { corners, .. } => corners.to_vec(),
            Shape::Line { ends, .. } => ends.to_vec(),
            Shape::LinePair { lines, .. } => lines.concat(),
            Shape::Ball { centre, .. } => vec![*centre],
        }
    }

    pub(super) fn middle(&self) -> ImagePoint {
        mean(&self.points())
    }

    /// How many unknowns it brings: a sheet the place and direction of its middle as seen, height,
    /// both sizes, both slopes; four points their place and direction, each one's height and their
    /// lengths; a line the errors of its four coordinates, height, slope; a pair the errors of its
    /// four points square to their lines and their heights; a ball its place, size and height.
    pub(super) fn unknowns(&self) -> usize {
        match self.shape {
            Shape::Sheet { .. } | Shape::LinePair { .. } => 8,
            Shape::FourPoints { .. } => 12,
            Shape::Line { .. } => 6,
            Shape::Ball { .. } => 4,
        }
    }

    /// A length on the ground in mm and how many pixels it takes.
    pub(super) fn rough_scale(&self) -> (f64, f64) {
        match &self.shape {
            Shape::Sheet { size, corners: [a, b, c, d], .. } => {
                (size[0], (a.distance(*b) + c.distance(*d)) / 2.0)
            }
            Shape::FourPoints { lengths, corners: [a, b, ..], .. } => (lengths[0], a.distance(*b)),
            Shape::Line { length, ends } => (*length, ends[0].distance(ends[1])),
            Shape::LinePair { distance, lines } => {
                (*distance, mean(&lines[0]).distance(mean(&lines[1])))
            }
            Shape::Ball { width, .. } => (BALL_DIAMETER, *width),
        }
    }

    /// How many of its unknowns are squeezed by a shallow view (rows and directions along rows),
    /// less those that it spreads (directions along columns).
    pub(super) fn power_of_sine(&self) -> f64 {
        match self.shape {
            Shape::Sheet { .. } | Shape::FourPoints { .. } | Shape::Line { .. } => 2.0,
            Shape::LinePair { .. } => -2.0,
            // The ball is where the camera was pointed at: any row alike.
            Shape::Ball { .. } => 0.0,
        }
    }

    /// The direction in the picture along which [`Body::rough_scale`] is counted.
    pub(super) fn direction_of_size(&self, p: &[f64]) -> f64 {
        let angle = |a: ImagePoint, b: ImagePoint| (b.y - a.y).atan2(b.x - a.x);
        match &self.shape {
            Shape::Sheet { corners: [a, b, c, d], .. } => {
                angle(mean(&[*a, *d]), mean(&[*b, *c])) + ANGLE_UNIT * p[2]
            }
            Shape::FourPoints { corners: [a, b, ..], .. } => angle(*a, *b) + ANGLE_UNIT * p[2],
            Shape::Line { ends, .. } => angle(ends[0], ends[1]),
            Shape::LinePair { lines, .. } => angle(mean(&lines[0]), mean(&lines[1])),
            Shape::Ball { .. } => 0.0,
        }
    }

    /// How it lies under `camera`.
    pub(super) fn lie(&self, camera: &Camera, p: &[f64]) -> Option<Lie> {
        match &self.shape {
            Shape::Sheet { .. } | Shape::FourPoints { .. } => {
                let heights =
                    if let Shape::FourPoints { .. } = self.shape { &p[3..7] } else { &p[3..4] };
                let mean = heights.iter().sum::<f64>() / heights.len() as f64;
                let height = self.height + LAY_HEIGHT_SPREAD * mean;
                let at = self.middle().moved(p[0] * PLACE_UNIT, p[1] * PLACE_UNIT);
                let place = camera.place_at_height(at, height)?;
                let angle = ground_angle(camera, at, self.direction_of_size(p), height)?;
                Some(Lie { place, height, angle, size: 0.0 })
            }
            Shape::Line { length, ends } => {
                let height = self.height + LAY_HEIGHT_SPREAD * p[4];
                let rise = LAY_SLOPE_SPREAD * p[5] * length / 2.0;
                let end =
                    |i: usize| ends[i].moved(p[2 * i] * self.sigma, p[2 * i + 1] * self.sigma);
                let [x, y] = camera.place_at_height(end(0), height - rise)?;
                let [x2, y2] = camera.place_at_height(end(1), height + rise)?;
                let size = (x2 - x).hypot(y2 - y).hypot(2.0 * rise);
                let place = [(x + x2) / 2.0, (y + y2) / 2.0];
                Some(Lie { place, height, angle: (y2 - y).atan2(x2 - x), size })
            }
            Shape::LinePair { lines, .. } => self.lie_of_pair(camera, lines, p).map(|(lie, _)| lie),
            Shape::Ball { .. } => {
                // As high as a tee is taken to be: nobody measured it.
                let (_, spread) = ball_rest(self.height == ball_rest(true).0);
                let height = self.height + spread * p[3] + ball_radius(p);
                let at = self.middle().moved(p[0] * PLACE_UNIT, p[1] * PLACE_UNIT);
                let place = camera.place_at_height(at, height)?;
                Some(Lie { place, height, angle: 0.0, size: 0.0 })
            }
        }
    }

    /// How a pair of lines lies, and the angle between the two.
    fn lie_of_pair(
        &self,
        camera: &Camera,
        lines: &[[ImagePoint; 2]; 2],
        p: &[f64],
    ) -> Option<(Lie, f64)> {
        let mut ground = [[[0.0; 2]; 2]; 2];
        for (i, [a, b]) in lines.iter().enumerate() {
            let length = a.distance(*b);
            let normal = [(a.y - b.y) / length, (b.x - a.x) / length];
            for (k, point) in [a, b].into_iter().enumerate() {
                let off = p[2 * i + k] * self.sigma;
                let moved = point.moved(normal[0] * off, normal[1] * off);
                let height = self.height + LAY_HEIGHT_SPREAD * p[4 + 2 * i + k];
                ground[i][k] = camera.place_at_height(moved, height)?;
            }
        }
        let direction = |[a, b]: [[f64; 2]; 2]| (b[1] - a[1]).atan2(b[0] - a[0]);
        let between = line_angle(direction(ground[1]) - direction(ground[0]));
        let angle = direction(ground[0]) + between / 2.0;
        let middles = ground.map(|[a, b]| [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]);
        let [first, second] = middles;
        let (sin, cos) = angle.sin_cos();
        let size = (cos * (second[1] - first[1]) - sin * (second[0] - first[0])).abs();
        let place = [(first[0] + second[0]) / 2.0, (first[1] + second[1]) / 2.0];
        let height = self.height + LAY_HEIGHT_SPREAD * p[4..8].iter().sum::<f64>() / 4.0;
        Some((Lie { place, height, angle, size }, between))
    }

    /// Its size, if the size is a length by itself that the tilt can be solved from.
    pub(super) fn nominal(&self) -> Option<f64> {
        match self.shape {
            Shape::Line { length, .. } => Some(length),
            Shape::LinePair { distance, .. } => Some(distance),
            Shape::Sheet { .. } | Shape::FourPoints { .. } | Shape::Ball { .. } => None,
        }
    }

    /// Appends its whitened residuals: marked points first, then the priors of its own unknowns.
    pub(super) fn residuals(&self, camera: &Camera, p: &[f64], out: &mut Vec<f64>) -> Option<Lie> {
        let lie = self.lie(camera, p)?;
        match &self.shape {
            Shape::Sheet { size, corners, turn } => {
                let half = [
                    (size[0] + SHEET_SIZE_SPREAD * p[4]) / 2.0,
                    (size[1] + SHEET_SIZE_SPREAD * p[5]) / 2.0,
                ];
                let signs = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]];
                for (corner, sign) in corners.iter().zip(signs) {
                    let (a, b) = (half[0] * sign[0], half[1] * sign[1] * turn);
                    let rise = LAY_SLOPE_SPREAD * (a * p[6] + b * p[7]);
                    self.point_residual(camera, &lie, [a, b, rise], *corner, out)?;
                }
                out.extend_from_slice(&p[3..]);
            }
            Shape::FourPoints { lengths, corners, turn } => {
                let lengths = std::array::from_fn(|i| lengths[i] + LENGTH_SPREAD * p[7 + i]);
                let ground = corners_of(&lengths, *turn)?;
                let mean = p[3..7].iter().sum::<f64>() / 4.0;
                for (i, corner) in corners.iter().enumerate() {
                    let rise = LAY_HEIGHT_SPREAD * (p[3 + i] - mean);
                    let [a, b] = ground[i];
                    self.point_residual(camera, &lie, [a, b, rise], *corner, out)?;
                }
                out.extend_from_slice(&p[3..]);
            }
            Shape::Line { .. } => out.extend_from_slice(p),
            Shape::LinePair { lines, .. } => {
                out.extend_from_slice(p);
                out.push(self.lie_of_pair(camera, lines, p)?.1 / PARALLEL_SPREAD);
            }
            Shape::Ball { centre, width } => {
                let [x, y] = lie.place;
                let (seen, wide) = camera.outline_of_sphere([x, y, lie.height], ball_radius(p))?;
                out.push((seen.x - centre.x) / self.sigma);
                out.push((seen.y - centre.y) / self.sigma);
                // The width is the difference of two edges.
                out.push((wide - width) / (self.sigma * std::f64::consts::SQRT_2));
                out.extend_from_slice(&p[2..]);
            }
        }
        Some(lie)
    }

    fn point_residual(
        &self,
        camera: &Camera,
        lie: &Lie,
        local: [f64; 3],
        marked: ImagePoint,
        out: &mut Vec<f64>,
    ) -> Option<()> {
        let (sin, cos) = lie.angle.sin_cos();
        let seen = camera.project([
            lie.place[0] + cos * local[0] - sin * local[1],
            lie.place[1] + sin * local[0] + cos * local[1],
            lie.height + local[2],
        ])?;
        out.push((seen.x - marked.x) / self.sigma);
        out.push((seen.y - marked.y) / self.sigma);
        Some(())
    }

    /// How many residuals are of marked points.
    pub(super) fn observations(&self) -> usize {
        match self.shape {
            Shape::Sheet { .. } | Shape::FourPoints { .. } => 8,
            Shape::Line { .. } | Shape::LinePair { .. } => 4,
            Shape::Ball { .. } => 3,
        }
    }

    /// How many residuals follow those of the marked points.
    pub(super) fn extra(&self) -> usize {
        match self.shape {
            Shape::Sheet { .. } => 5,
            Shape::FourPoints { .. } => 9,
            Shape::Line { .. } => 3,
            Shape::LinePair { .. } => 6,
            Shape::Ball { .. } => 2,
        }
    }

    /// The standard uncertainty of its marks, pixels.
    pub(super) fn sigma(&self) -> f64 {
        self.sigma
    }
}

/// Four points about their mean, mm, the first side along x, from its sides going round
/// and the diagonal from the first to the third; `turn` is +1 where they go counterclockwise seen
/// from above. `None` where the lengths close no such figure on both sides of the diagonal.
fn corners_of(&[ab, bc, cd, da, ac]: &[f64; 5], turn: f64) -> Option<[[f64; 2]; 4]> {
    // A point at these distances from both ends of the diagonal: how far along it, how far off.
    let beside = |from_a: f64, from_c: f64| {
        let along = (from_a * from_a - from_c * from_c + ac * ac) / (2.0 * ac);
        let off = from_a * from_a - along * along;
        (off > 0.0).then(|| [along, off.sqrt()])
    };
    let ([bx, by], [dx, dy]) = (beside(ab, bc)?, beside(da, cd)?);
    let corners = [[0.0, 0.0], [bx, -by], [ac, 0.0], [dx, dy]];
    let (cos, sin) = (bx / ab, by / ab);
    let level = corners.map(|[x, y]| [x * cos - y * sin, turn * (x * sin + y * cos)]);
    let mean = [0, 1].map(|k| level.iter().map(|corner| corner[k]).sum::<f64>() / 4.0);
    Some(level.map(|[x, y]| [x - mean[0], y - mean[1]]))
}

/// A ball's radius, mm; `p`: its own unknowns.
fn ball_radius(p: &[f64]) -> f64 {
    (BALL_DIAMETER + BALL_SPREAD * p[2]) / 2.0
}

/// How a reference lies: its middle in the foot frame, its height, the angle on the ground of its
/// first edge or of its line or lines, and a line's length or a pair's distance (else 0).
pub(super) struct Lie {
    pub(super) place: [f64; 2],
    height: f64,
    pub(super) angle: f64,
    pub(super) size: f64,
}

/// The angle on the plane at `height` of what runs in `direction` in the picture at `at`.
pub(super) fn ground_angle(
    camera: &Camera,
    at: ImagePoint,
    direction: f64,
    height: f64,
) -> Option<f64> {
    let (sin, cos) = direction.sin_cos();
    let here = camera.place_at_height(at, height)?;
    let there = camera.place_at_height(at.moved(cos, sin), height)?;
    Some((there[1] - here[1]).atan2(there[0] - here[0]))
}

pub(super) fn mean(points: &[ImagePoint]) -> ImagePoint {
    let n = points.len() as f64;
    let sum = points.iter().fold((0.0, 0.0), |s, p| (s.0 + p.x, s.1 + p.y));
    ImagePoint::new(sum.0 / n, sum.1 / n)
}

/// Which way four corners go round seen from above; `None` unless they are a convex quadrilateral.
fn turn_of(corners: &[ImagePoint; 4]) -> Option<f64> {
    let crossings: Vec<f64> = (0..4)
        .map(|i| {
            let [a, b, c] = [corners[i], corners[(i + 1) % 4], corners[(i + 2) % 4]];
            let area = (b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x);
            let reach = a.distance(b) * b.distance(c);
            // One degree of bend: less can't be told from a straight line by clicks.
            if area.abs() > 0.017 * reach && reach > 4.0 { area.signum() } else { 0.0 }
        })
        .collect();
    let sum: f64 = crossings.iter().sum();
    // The picture's y runs down and the ground's away, so the sense turns over.
    (sum.abs() == 4.0).then_some(-crossings[0])
}

/// The angle between two undirected lines, in (-π/2, π/2].
pub(super) fn line_angle(difference: f64) -> f64 {
    use std::f64::consts::PI;
    difference - PI * (difference / PI).round()
}
