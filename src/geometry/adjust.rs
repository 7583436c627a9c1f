//! One least-squares adjustment over everything that says where the camera stands.
//!
//! Unknown are the camera (focal length, principal point, lens, tilt, roll, height), the target
//! line's direction and each reference object's own place on the ground. Known, each within its
//! uncertainty, are the marked points, the sizes, and what can be said of any phone on a tripod
//! before looking (the priors below). So a sheet fixes the pose, while after a two-point scale
//! alone the unknown tilt is still there, and in the budget.
//!
//! Places and directions are unknowns of the *picture* (where a thing's middle is seen, which way
//! its edge runs there), and the tilt is one of how steeply the ground is looked down upon. The
//! marks fix these almost linearly, so the answer's distribution stays close to a normal one even
//! where height and focal length are hardly known.

use nalgebra::{DMatrix, DVector};

use super::camera::{CAMERA_PARAMETERS, Camera, long_side, middle};
use super::error::GeometryError;
use super::least_squares::{Minimum, derivatives, minimise};
use super::lens::{CENTRE_SPREAD, LENS_SPREAD, correlated, narrow};
use super::mark::{BALL_DIAMETER, ImageMark, ball_rest, placed_sigma};
use crate::domain::{ImagePoint, LensProfile, PictureSize, Reference, ReferenceKind};

/// Camera parameters and the target line's angle.
pub(super) const GLOBALS: usize = CAMERA_PARAMETERS + 1;
const TILT: usize = 3;
const TARGET: usize = CAMERA_PARAMETERS;
/// The heights of the two points that mark a target line.
const LINE_HEIGHTS: usize = 2;

// Priors: what is known of a phone on a tripod before looking. Common practice, no source, except
// where one is named; all are wide, and none is fitted to any recording. Those of the lens stand
// in `lens.rs`.

/// Focal length over the picture's long side. Main cameras (24 to 28 mm on the 36 mm format, less
/// the crop of video stabilisation) have 0.7 to 0.95, twofold ones 1.4 to 1.7.
pub(super) const FOCAL_RATIO: f64 = 1.1;
pub(super) const FOCAL_SPREAD: f64 = 0.35;
/// Height over the ground, mm, and its spread as a logarithm: half to two metres at 95 %.
pub(super) const HEIGHT: f64 = 1000.0;
pub(super) const HEIGHT_SPREAD: f64 = 0.35;
/// Distance along the ground, mm: two to eight metres at 95 %.
pub(super) const DISTANCE: f64 = 4000.0;
pub(super) const DISTANCE_SPREAD: f64 = 0.35;
/// Where references lie from the point of interest (the ball), in depth, mm: within reach of it
/// (half a metre at 95 %).
pub(super) const DEPTH_SPREAD: f64 = 250.0;
/// Roll against the ground plane: tripod and lie together.
pub(super) const ROLL_SPREAD: f64 = 1.5 * DEGREE;
/// A camera set up square to the target line by eye; this is so however the line is told.
pub(super) const SQUARE_SPREAD: f64 = 3.0 * DEGREE;
/// A target line that nobody marked, taken as level in the picture.
pub(super) const LEVEL_SPREAD: f64 = 2.5 * DEGREE;
/// A line that is the target line by definition: what its laying adds to its points' own doubt.
pub(super) const ALONG_SPREAD: f64 = 0.1 * DEGREE;

// How well reference objects keep to their stated sizes and places.

/// A sheet's edges, mm: ISO 216 allows ±2 mm from 150 to 600 mm; most sheets are nearer, so
/// triangular: 2 / √6 (JCGM 100:2008, 4.3.9).
pub(super) const SHEET_SIZE_SPREAD: f64 = 0.82;
/// A length read from a tape: ±2 mm rectangular, 2 / √3.
pub(super) const LENGTH_SPREAD: f64 = 1.15;
/// A ball's diameter: the rule sets a minimum and no maximum.
pub(super) const BALL_SPREAD: f64 = 0.05;
/// Height above the ground at which a reference lies.
pub(super) const LAY_HEIGHT_SPREAD: f64 = 2.0;
/// How parallel two lines are.
pub(super) const PARALLEL_SPREAD: f64 = 0.3 * DEGREE;
/// How parallel to the ground a sheet or a stick lies.
pub(super) const LAY_SLOPE_SPREAD: f64 = 0.4 * DEGREE;

const DEGREE: f64 = std::f64::consts::PI / 180.0;
/// Unit of the places in the picture, pixels.
const PLACE_UNIT: f64 = 5.0;
/// Unit of the directions in the picture, radians.
const ANGLE_UNIT: f64 = 0.05;
/// Unit of the logarithm of the scale of the first reference.
const SCALE_UNIT: f64 = 0.01;

/// What tells the target line's direction.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum TargetLine {
    /// Two marked points on the ground; their heights are unknowns, after those of the references.
    Points([ImageMark; 2]),
    /// Edges of these references.
    Along(Vec<usize>),
    /// The normals of these line pairs.
    Across(Vec<usize>),
    /// Nobody said: level in the picture at the point of interest.
    Assumed,
}

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
    fn unknowns(&self) -> usize {
        match self.shape {
            Shape::Sheet { .. } | Shape::LinePair { .. } => 8,
            Shape::FourPoints { .. } => 12,
            Shape::Line { .. } => 6,
            Shape::Ball { .. } => 4,
        }
    }

    /// A length on the ground in mm and how many pixels it takes.
    fn rough_scale(&self) -> (f64, f64) {
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
    fn power_of_sine(&self) -> f64 {
        match self.shape {
            Shape::Sheet { .. } | Shape::FourPoints { .. } | Shape::Line { .. } => 2.0,
            Shape::LinePair { .. } => -2.0,
            // The ball is where the camera was pointed at: any row alike.
            Shape::Ball { .. } => 0.0,
        }
    }

    /// The direction in the picture along which [`Body::rough_scale`] is counted.
    fn direction_of_size(&self, p: &[f64]) -> f64 {
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
    fn lie(&self, camera: &Camera, p: &[f64]) -> Option<Lie> {
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
    fn nominal(&self) -> Option<f64> {
        match self.shape {
            Shape::Line { length, .. } => Some(length),
            Shape::LinePair { distance, .. } => Some(distance),
            Shape::Sheet { .. } | Shape::FourPoints { .. } | Shape::Ball { .. } => None,
        }
    }

    /// Appends its whitened residuals: marked points first, then the priors of its own unknowns.
    fn residuals(&self, camera: &Camera, p: &[f64], out: &mut Vec<f64>) -> Option<Lie> {
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
    fn observations(&self) -> usize {
        match self.shape {
            Shape::Sheet { .. } | Shape::FourPoints { .. } => 8,
            Shape::Line { .. } | Shape::LinePair { .. } => 4,
            Shape::Ball { .. } => 3,
        }
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
struct Lie {
    place: [f64; 2],
    height: f64,
    angle: f64,
    size: f64,
}

/// The angle on the plane at `height` of what runs in `direction` in the picture at `at`.
fn ground_angle(camera: &Camera, at: ImagePoint, direction: f64, height: f64) -> Option<f64> {
    let (sin, cos) = direction.sin_cos();
    let here = camera.place_at_height(at, height)?;
    let there = camera.place_at_height(at.moved(cos, sin), height)?;
    Some((there[1] - here[1]).atan2(there[0] - here[0]))
}

fn mean(points: &[ImagePoint]) -> ImagePoint {
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

/// The sine of the angle at which the ground is looked down upon, if things on it that run in
/// `direction` of the (upright) picture look `scale` times as large as at a distance equal to the
/// camera's height.
///
/// At the slant distance height / s a length is s times smaller, and what runs in the picture at
/// an angle β is foreshortened by √(cos² β + sin² β / s²).
fn steepness(scale: f64, direction: f64) -> f64 {
    let (sin2, cos2) = (direction.sin().powi(2), direction.cos().powi(2));
    let a = scale * scale;
    ((a * cos2 + (a * a * cos2 * cos2 + 4.0 * a * sin2).sqrt()) / 2.0).sqrt()
}

/// The tilt under which `camera` looks at `at` downwards by an angle with the given sine; `None`
/// where no tilt does.
fn tilt(camera: &Camera, at: ImagePoint, steepness: f64) -> Option<f64> {
    let flat = camera.undistort(at)?;
    let x = (flat.x - camera.centre[0]) / camera.focal;
    let y = (flat.y - camera.centre[1]) / camera.focal;
    let (sin, cos) = camera.roll.sin_cos();
    let down = sin * x + cos * y;
    // A ray's fall is sin tilt + cos tilt · down, over its length.
    let sine = steepness * (1.0 + x * x + y * y).sqrt() / down.hypot(1.0);
    (sine < 1.0).then(|| sine.asin() - down.atan())
}

/// A zero of `f` near `start` by Newton's iteration with numerical slopes.
fn root(f: impl Fn(f64) -> Option<f64>, start: f64) -> Option<f64> {
    let mut x = start;
    for _ in 0..30 {
        let here = f(x)?;
        let slope = (f(x + 1e-6)? - f(x - 1e-6)?) / 2e-6;
        // Half a tenth of a radian at most: the slope changes over longer steps.
        let step = (here / slope).clamp(-0.05, 0.05);
        x -= step;
        if step.abs() < 1e-13 {
            return Some(x);
        }
    }
    None
}

/// Signed distance of `point` from the line through `a` and `b`.
pub(super) fn distance_from_line(point: ImagePoint, a: ImagePoint, b: ImagePoint) -> Option<f64> {
    let length = a.distance(b);
    let cross = (b.x - a.x) * (point.y - a.y) - (b.y - a.y) * (point.x - a.x);
    (length > 1e-9).then(|| cross / length)
}

/// Standard uncertainty of how far one of two marks lies from the line through the other, in the
/// direction across them, pixels.
fn spread_across([a, b]: &[ImageMark; 2]) -> f64 {
    let length = a.point.distance(b.point);
    let across = [(a.point.y - b.point.y) / length, (b.point.x - a.point.x) / length];
    let of = |mark: &ImageMark| (across[0] * mark.sigma[0].0).hypot(across[1] * mark.sigma[1].0);
    of(a).hypot(of(b))
}

/// The angle between two undirected lines, in (-π/2, π/2].
fn line_angle(difference: f64) -> f64 {
    use std::f64::consts::PI;
    difference - PI * (difference / PI).round()
}

/// The adjustment: what is given.
#[derive(Clone)]
pub(super) struct Adjustment<'a> {
    pub(super) size: PictureSize,
    pub(super) bodies: &'a [Body],
    pub(super) target_line: TargetLine,
    /// The point of interest, and how high above the ground it is, mm.
    pub(super) about: (ImagePoint, f64),
    pub(super) lens: Option<&'a LensProfile>,
}

/// An angle on the ground and its standard uncertainty, radians.
pub(super) type Lying = crate::domain::Known;

/// The adjustment: its answer.
pub(super) struct Adjusted {
    /// ln f, principal point, tilt, roll, ln height, k1, k2, target angle.
    pub(super) globals: [f64; GLOBALS],
    /// Their covariance.
    pub(super) covariance: DMatrix<f64>,
    pub(super) minimum: Minimum,
}

impl Adjustment<'_> {
    fn prior(&self) -> ([f64; GLOBALS], [f64; GLOBALS]) {
        let long = long_side(self.size);
        let [cx, cy] = middle(self.size);
        let pp = CENTRE_SPREAD * long;
        let mut mean = [
            (FOCAL_RATIO * long).ln(),
            cx,
            cy,
            // The tilt has none of its own: it follows from scale, height and focal length.
            0.0,
            0.0,
            HEIGHT.ln(),
            0.0,
            0.0,
            0.0,
        ];
        let mut spread = [
            FOCAL_SPREAD,
            pp,
            pp,
            1.0,
            ROLL_SPREAD,
            HEIGHT_SPREAD,
            LENS_SPREAD[0],
            LENS_SPREAD[1],
            ANGLE_UNIT,
        ];
        if let Some(lens) = self.lens {
            narrow(lens, self.size, &mut mean, &mut spread);
        }
        (mean, spread)
    }

    /// Camera and target angle that a parameter vector stands for; `None` where there is none.
    fn globals(&self, p: &[f64]) -> Option<[f64; GLOBALS]> {
        let (mean, spread) = self.prior();
        let mut globals: [f64; GLOBALS] = std::array::from_fn(|i| mean[i] + spread[i] * p[i]);
        if let Some(lens) = self.lens {
            globals[7] = mean[7] + spread[7] * correlated(lens.correlation, p[6], p[7]);
        }
        globals[TILT] = 0.0;
        let mut camera = Camera::from_array(&globals, long_side(self.size));
        camera.tilt = self.tilt(&camera, p)?;
        globals[TILT] = camera.tilt;
        globals[TARGET] = self.target_angle(&camera, p)?;
        Some(globals)
    }

    /// The target line's angle on the ground. Its parameter is what it is known by: where a line
    /// is marked, its direction in the picture; where a reference lies along or across it, how far
    /// that is off; else its angle to square.
    fn target_angle(&self, camera: &Camera, p: &[f64]) -> Option<f64> {
        let beside = |i: usize| {
            let lie = self.bodies[i].lie(camera, self.own(p, i))?;
            Some(lie.angle + ALONG_SPREAD * p[TARGET])
        };
        match &self.target_line {
            TargetLine::Points(marks) => {
                let [a, b] = marks.map(|mark| mark.point);
                let (sin, cos) = (ANGLE_UNIT * p[TARGET]).sin_cos();
                let (dx, dy) = ((b.x - a.x) / 2.0, (b.y - a.y) / 2.0);
                let [dx, dy] = [cos * dx - sin * dy, sin * dx + cos * dy];
                let middle = mean(&[a, b]);
                let [low, high] = self.heights_of_target_line(p);
                let [x, y] = camera.place_at_height(middle.moved(-dx, -dy), low)?;
                let [x2, y2] = camera.place_at_height(middle.moved(dx, dy), high)?;
                Some(line_angle((y2 - y).atan2(x2 - x)))
            }
            TargetLine::Along(of) => beside(*of.first()?).map(line_angle),
            TargetLine::Across(of) => {
                Some(line_angle(beside(*of.first()?)? - std::f64::consts::FRAC_PI_2))
            }
            TargetLine::Assumed => Some(SQUARE_SPREAD * p[TARGET]),
        }
    }

    /// How high the marked points of the target line lie, mm.
    fn heights_of_target_line(&self, p: &[f64]) -> [f64; 2] {
        let from = p.len() - LINE_HEIGHTS;
        [from, from + 1].map(|i| LAY_HEIGHT_SPREAD * p[i])
    }

    /// How many unknowns the target line brings beside its angle.
    fn unknowns_of_target_line(&self) -> usize {
        match self.target_line {
            TargetLine::Points(_) => LINE_HEIGHTS,
            TargetLine::Along(_) | TargetLine::Across(_) | TargetLine::Assumed => 0,
        }
    }

    /// The tilt at which the first reference is as large as it is: exactly for a length by
    /// itself, the error of which is then the parameter; closely for the others.
    fn tilt(&self, level: &Camera, p: &[f64]) -> Option<f64> {
        let (body, own) = (&self.bodies[0], &p[GLOBALS..]);
        let (mm, px) = body.rough_scale();
        let Some(nominal) = body.nominal() else {
            let scale = px / mm * (SCALE_UNIT * p[TILT]).exp();
            let direction = body.direction_of_size(own) - level.roll;
            let steepness = steepness(scale * level.height / level.focal, direction);
            return tilt(level, self.anchor(), steepness);
        };
        let own = &own[..body.unknowns()];
        let size = nominal + LENGTH_SPREAD * p[TILT];
        let direction = body.direction_of_size(own) - level.roll;
        let steepness = steepness(px / mm * level.height / level.focal, direction);
        let misfit =
            |tilt: f64| Some((body.lie(&Camera { tilt, ..*level }, own)?.size / size).ln());
        root(misfit, tilt(level, self.anchor(), steepness)?)
    }

    /// The point of the picture at which the steepness is counted.
    fn anchor(&self) -> ImagePoint {
        self.bodies[0].middle()
    }

    /// All residuals: marked points and own priors of each reference, the camera's priors, the
    /// target line.
    fn residuals(&self, p: &DVector<f64>) -> Option<DVector<f64>> {
        let p = p.as_slice();
        let globals = self.globals(p)?;
        let camera = Camera::from_array(&globals, long_side(self.size));
        let mut out = Vec::with_capacity(64);
        let mut from = GLOBALS;
        let mut angles = Vec::new();
        let [_, depth] = camera.place_at_height(self.about.0, self.about.1)?;
        let mut priors = Vec::with_capacity(self.bodies.len());
        for (i, body) in self.bodies.iter().enumerate() {
            let own = &p[from..from + body.unknowns()];
            let lie = body.residuals(&camera, own, &mut out)?;
            angles.push(lie.angle);
            priors.push((lie.place[1] - depth) / DEPTH_SPREAD);
            // The first one's size has gone into the tilt; its error is a parameter.
            out.extend(body.nominal().map(|nominal| match i {
                0 => p[TILT],
                _ => (lie.size - nominal) / LENGTH_SPREAD,
            }));
            from += body.unknowns();
        }
        out.append(&mut priors);
        out.extend((0..CAMERA_PARAMETERS).filter(|i| *i != TILT).map(|i| p[i]));
        let [x, y] = camera.place_at_height(self.anchor(), 0.0)?;
        out.push((x.hypot(y) / DISTANCE).ln() / DISTANCE_SPREAD);
        out.push(self.measure_residual(&camera)?);
        self.target_residuals(&camera, (globals[TARGET], p), &angles, &mut out)?;
        Some(DVector::from_vec(out))
    }

    /// What the choice of unknowns does to the density, written as a residual. At the angle α at which the ground is seen:
    /// things lie evenly on the ground, but their places are unknowns of the picture, a row of which
    /// holds 1 / sin α as much of it, as a degree along a row is 1 / sin α degrees there: (sin α)^-n.
    /// And the spread of distances is one of ln d along the ground, while the unknown is the scale,
    /// or ln √(d² + h²): (cos α)^-2.
    fn measure_residual(&self, camera: &Camera) -> Option<f64> {
        let [x, y] = camera.place_at_height(self.anchor(), 0.0)?;
        let angle = camera.height.atan2(x.hypot(y));
        let powers: f64 = self.bodies.iter().map(Body::power_of_sine).sum();
        let half = powers * angle.sin().ln() + 2.0 * angle.cos().ln() + self.measure_constant();
        (half > 0.0).then(|| (2.0 * half).sqrt())
    }

    /// Keeps the measure's residual real down to 1° and up to 80°; nothing else may depend on it.
    pub(super) fn measure_constant(&self) -> f64 {
        let powers: f64 = self.bodies.iter().map(Body::power_of_sine).sum();
        5.0 + 4.0 * powers.max(0.0)
    }

    fn target_residuals(
        &self,
        camera: &Camera,
        (angle, p): (f64, &[f64]),
        angles: &[f64],
        out: &mut Vec<f64>,
    ) -> Option<()> {
        use std::f64::consts::FRAC_PI_2;
        let (sin, cos) = angle.sin_cos();
        match &self.target_line {
            TargetLine::Points(marks) => {
                let [a, b] = marks.map(|mark| mark.point);
                let heights = self.heights_of_target_line(p);
                let [x, y] = camera.place_at_height(a, heights[0])?;
                let [x2, y2] = camera.place_at_height(b, heights[1])?;
                let reach = (x2 - x) * cos + (y2 - y) * sin;
                let there = camera.project([x + reach * cos, y + reach * sin, heights[1]])?;
                let off = distance_from_line(b, a, there)?;
                out.push(off / spread_across(marks));
                out.extend_from_slice(&p[p.len() - LINE_HEIGHTS..]);
            }
            // The first one gave the angle; its own error is the parameter.
            TargetLine::Along(of) => {
                out.push(p[TARGET]);
                let off = |i: &usize| line_angle(angles[*i] - angle) / ALONG_SPREAD;
                out.extend(of[1..].iter().map(off));
            }
            TargetLine::Across(of) => {
                out.push(p[TARGET]);
                let off = |i: &usize| line_angle(angles[*i] - angle - FRAC_PI_2) / ALONG_SPREAD;
                out.extend(of[1..].iter().map(off));
            }
            TargetLine::Assumed => {
                let [x, y] = camera.place_at_height(self.about.0, self.about.1)?;
                let ahead = camera.project([x + 50.0 * cos, y + 50.0 * sin, 0.0])?;
                let behind = camera.project([x - 50.0 * cos, y - 50.0 * sin, 0.0])?;
                let slope = (ahead.y - behind.y).atan2(ahead.x - behind.x);
                out.push(slope / LEVEL_SPREAD);
            }
        }
        out.push(angle / SQUARE_SPREAD);
        Some(())
    }

    /// First guesses: every reference where it is seen and as large as it is, for a few focal
    /// lengths and heights.
    fn starts(&self) -> Vec<DVector<f64>> {
        let (mean, spread) = self.prior();
        let ratios: &[f64] = match self.lens.is_some_and(|l| l.focal.is_some()) {
            true => &[1.0],
            false => &[0.7, 1.0, 1.5],
        };
        let unknowns =
            self.bodies.iter().map(Body::unknowns).sum::<usize>() + self.unknowns_of_target_line();
        let start = |ratio: f64, height: f64| {
            let mut p = DVector::zeros(GLOBALS + unknowns);
            p[0] = ratio.ln() / spread[0];
            p[5] = (height.ln() - mean[5]) / spread[5];
            p
        };
        let heights = [700.0, 1200.0];
        ratios.iter().flat_map(|r| heights.map(|h| start(*r, h))).collect()
    }

    /// The most probable camera; `None` if no start leads to one.
    pub(super) fn solve(&self) -> Option<Adjusted> {
        let minimum = self
            .starts()
            .into_iter()
            .filter_map(|start| minimise(|p| self.residuals(p), start))
            .min_by(|a, b| a.sum_of_squares().total_cmp(&b.sum_of_squares()))?;
        let (globals, covariance) = self.carry(&minimum.parameters, &minimum.covariance)?;
        Some(Adjusted { globals, covariance, minimum })
    }

    /// The globals at `p` and their covariance if that of `p` is given.
    pub(super) fn carry(
        &self,
        p: &DVector<f64>,
        covariance: &DMatrix<f64>,
    ) -> Option<([f64; GLOBALS], DMatrix<f64>)> {
        let as_vector =
            |p: &DVector<f64>| self.globals(p.as_slice()).map(|g| DVector::from_row_slice(&g));
        let slopes = derivatives(&as_vector, p)?;
        Some((self.globals(p.as_slice())?, &slopes * covariance * slopes.transpose()))
    }

    /// The globals of a full parameter vector and its sum of squared residuals.
    pub(super) fn look(&self, p: &DVector<f64>) -> Option<([f64; GLOBALS], f64)> {
        let r = self.residuals(p)?;
        Some((self.globals(p.as_slice())?, r.norm_squared()))
    }

    /// The directions of two references on the ground, and the angle between them, radians.
    pub(super) fn lying(&self, adjusted: &Adjusted, which: [usize; 2]) -> Option<[Lying; 3]> {
        let angles = |p: &DVector<f64>| {
            let p = p.as_slice();
            let camera = Camera::from_array(&self.globals(p)?, long_side(self.size));
            let angle = |i: usize| Some(self.bodies[i].lie(&camera, self.own(p, i))?.angle);
            let [one, other] = [angle(which[0])?, angle(which[1])?];
            Some(DVector::from_row_slice(&[one, other, line_angle(other - one)]))
        };
        let minimum = &adjusted.minimum;
        let (values, slopes) =
            (angles(&minimum.parameters)?, derivatives(&angles, &minimum.parameters)?);
        let covariance = &slopes * &minimum.covariance * slopes.transpose();
        Some(std::array::from_fn(|i| Lying {
            value: values[i],
            standard: covariance[(i, i)].sqrt(),
        }))
    }

    /// How far the target line is turned from a reference's direction, and how well the line is
    /// known, radians.
    pub(super) fn target_against(&self, adjusted: &Adjusted, which: usize) -> Option<Lying> {
        let p = adjusted.minimum.parameters.as_slice();
        let camera = Camera::from_array(&adjusted.globals, long_side(self.size));
        let own = self.bodies[which].lie(&camera, self.own(p, which))?.angle;
        let across = match self.target_line {
            TargetLine::Across(_) => std::f64::consts::FRAC_PI_2,
            _ => 0.0,
        };
        let value = line_angle(adjusted.globals[TARGET] + across - own);
        Some(Lying { value, standard: adjusted.covariance[(TARGET, TARGET)].sqrt() })
    }

    /// The unknowns of one reference.
    fn own<'p>(&self, p: &'p [f64], i: usize) -> &'p [f64] {
        let from = GLOBALS + self.bodies[..i].iter().map(Body::unknowns).sum::<usize>();
        &p[from..from + self.bodies[i].unknowns()]
    }

    /// How badly everything fits together: the sum of squares less the part that is no misfit, and
    /// its degrees of freedom.
    pub(super) fn misfit(&self, adjusted: &Adjusted) -> Option<(f64, f64)> {
        let camera = Camera::from_array(&adjusted.globals, long_side(self.size));
        let measure = self.measure_residual(&camera)?;
        let minimum = &adjusted.minimum;
        let freedom = minimum.residuals.len() - 1 - minimum.parameters.len();
        Some((minimum.sum_of_squares() - measure * measure, freedom.max(1) as f64))
    }

    /// Residuals of each reference's marked points at `minimum`, whitened.
    pub(super) fn of_references<'m>(&self, minimum: &'m Minimum) -> Vec<&'m [f64]> {
        let all = minimum.residuals.as_slice();
        let mut from = 0;
        let mut parts = Vec::new();
        for body in self.bodies {
            parts.push(&all[from..from + body.observations()]);
            from += body.observations() + body.extra();
        }
        parts
    }
}

impl Body {
    /// How many residuals follow those of the marked points.
    fn extra(&self) -> usize {
        match self.shape {
            Shape::Sheet { .. } => 5,
            Shape::FourPoints { .. } => 9,
            Shape::Line { .. } => 3,
            Shape::LinePair { .. } | Shape::Ball { .. } => 2,
        }
    }

    /// The standard uncertainty of its marks, pixels.
    pub(super) fn sigma(&self) -> f64 {
        self.sigma
    }
}
