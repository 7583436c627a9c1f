//! One least-squares adjustment over everything that says where the camera stands.
//!
//! Unknown are the camera (focal length, principal point, lens, tilt, roll, height), the target
//! line's direction and each reference object's own place on the ground. Known, each within its
//! uncertainty, are the marked points, the sizes, and what can be said of any phone on a tripod
//! before looking (`priors`). So a sheet fixes the pose, while after a two-point scale
//! alone the unknown tilt is still there, and in the budget.
//!
//! Places and directions are unknowns of the *picture* (where a thing's middle is seen, which way
//! its edge runs there), and the tilt is one of how steeply the ground is looked down upon. The
//! marks fix these almost linearly, so the answer's distribution stays close to a normal one even
//! where height and focal length are hardly known.

use nalgebra::{DMatrix, DVector};

use super::body::{ANGLE_UNIT, Body, line_angle, mean};
use super::camera::{CAMERA_PARAMETERS, Camera, long_side, middle};
use super::least_squares::{Minimum, derivatives, minimise};
use super::lens::{CENTRE_SPREAD, LENS_SPREAD, correlated, narrow};
use super::mark::ImageMark;
use super::priors::{
    ALONG_SPREAD, DEPTH_SPREAD, DISTANCE, DISTANCE_SPREAD, FOCAL_RATIO, FOCAL_SPREAD, HEIGHT,
    HEIGHT_SPREAD, LAY_HEIGHT_SPREAD, LENGTH_SPREAD, LEVEL_SPREAD, ROLL_SPREAD, SQUARE_SPREAD,
};
use crate::domain::{ImagePoint, LensProfile, PictureSize};

/// Camera parameters and the target line's angle.
pub(super) const GLOBALS: usize = CAMERA_PARAMETERS + 1;
const TILT: usize = 3;
const ROLL: usize = 4;
const HEIGHT_PARAMETER: usize = 5;
const TARGET: usize = CAMERA_PARAMETERS;
/// The heights of the two points that mark a target line.
const LINE_HEIGHTS: usize = 2;

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

/// One of the things that are said to tell the target line, whether it is measured by or not.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Teller {
    /// Two marked points on the ground.
    Points([ImageMark; 2]),
    /// An edge of this reference lies along it.
    Along(usize),
    /// The lines of this pair run across it.
    Across(usize),
}

/// What a residual of the adjustment stands for, and so what tells something of the camera and the
/// target line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Told {
    /// The marks of this reference.
    Marks(usize),
    /// How large it is made and how it lies.
    Making(usize),
    /// How cameras stand.
    Tripod,
    /// How lenses are, or the one that is kept.
    Lens,
    /// The target line's marks, and how it runs.
    TargetLine,
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

/// The angle on the ground of the line through two points that lie so high above it.
fn angle_between(camera: &Camera, [a, b]: [ImagePoint; 2], heights: [f64; 2]) -> Option<f64> {
    let [x, y] = camera.place_at_height(a, heights[0])?;
    let [x2, y2] = camera.place_at_height(b, heights[1])?;
    Some((y2 - y).atan2(x2 - x))
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

/// The adjustment: what is given.
#[derive(Clone)]
pub(super) struct Adjustment<'a> {
    pub(super) size: PictureSize,
    pub(super) bodies: &'a [Body],
    pub(super) target_line: TargetLine,
    /// All that is said to tell it, the one that it is taken from among them.
    pub(super) tellers: &'a [Teller],
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
        let slopes = self.slopes(p)?;
        Some((self.globals(p.as_slice())?, &slopes * covariance * slopes.transpose()))
    }

    /// Derivatives of the globals at `p`: one row a global, one column a parameter.
    fn slopes(&self, p: &DVector<f64>) -> Option<DMatrix<f64>> {
        let as_vector =
            |p: &DVector<f64>| self.globals(p.as_slice()).map(|g| DVector::from_row_slice(&g));
        derivatives(&as_vector, p)
    }

    /// The globals of a full parameter vector and its sum of squared residuals.
    pub(super) fn look(&self, p: &DVector<f64>) -> Option<([f64; GLOBALS], f64)> {
        let r = self.residuals(p)?;
        Some((self.globals(p.as_slice())?, r.norm_squared()))
    }

    /// Which way the target line runs on the ground by two that tell it, and the angle between them,
    /// radians.
    pub(super) fn lying(&self, adjusted: &Adjusted, of: [&Teller; 2]) -> Option<[Lying; 3]> {
        let angles = |p: &DVector<f64>| {
            let [one, other] = [self.told(p, of[0])?, self.told(p, of[1])?];
            Some(DVector::from_row_slice(&[one, other, line_angle(other - one)]))
        };
        let minimum = &adjusted.minimum;
        let (values, slopes) =
            (angles(&minimum.parameters)?, derivatives(&angles, &minimum.parameters)?);
        let covariance = &slopes * &minimum.covariance * slopes.transpose();
        // Marked points are no part of the adjustment; each pair of them has a doubt of its own.
        let own = [self.doubt_of(adjusted, of[0])?, self.doubt_of(adjusted, of[1])?];
        let more = [own[0], own[1], own[0].hypot(own[1])];
        Some(std::array::from_fn(|i| Lying {
            value: values[i],
            standard: covariance[(i, i)].sqrt().hypot(more[i]),
        }))
    }

    /// Which way the target line runs on the ground by one that tells it.
    fn told(&self, p: &DVector<f64>, teller: &Teller) -> Option<f64> {
        let p = p.as_slice();
        let camera = Camera::from_array(&self.globals(p)?, long_side(self.size));
        let lie = |i: usize| Some(self.bodies[i].lie(&camera, self.own(p, i))?.angle);
        match teller {
            Teller::Points(marks) => angle_between(&camera, marks.map(|mark| mark.point), [0.0; 2]),
            Teller::Along(i) => lie(*i),
            Teller::Across(i) => Some(lie(*i)? + std::f64::consts::FRAC_PI_2),
        }
    }

    /// What marked points add to their direction's doubt: each may be off in the picture and lie
    /// somewhat above or below the ground.
    fn doubt_of(&self, adjusted: &Adjusted, teller: &Teller) -> Option<f64> {
        let Teller::Points(marks) = teller else { return Some(0.0) };
        let camera = Camera::from_array(&adjusted.globals, long_side(self.size));
        let points = marks.map(|mark| mark.point);
        let plain = angle_between(&camera, points, [0.0; 2])?;
        let mut variance = 0.0;
        for i in 0..2 {
            let [sx, sy] = marks[i].sigma.map(|sigma| sigma.0);
            for (moved, height) in
                [([sx, 0.0], 0.0), ([0.0, sy], 0.0), ([0.0; 2], LAY_HEIGHT_SPREAD)]
            {
                let (mut at, mut heights) = (points, [0.0; 2]);
                at[i] = at[i].moved(moved[0], moved[1]);
                heights[i] = height;
                variance += line_angle(angle_between(&camera, at, heights)? - plain).powi(2);
            }
        }
        Some(variance.sqrt())
    }

    /// How far the target line is turned from what one of its tellers says, and how well the line
    /// is known, radians.
    pub(super) fn target_against(&self, adjusted: &Adjusted, teller: &Teller) -> Option<Lying> {
        let own = self.told(&adjusted.minimum.parameters, teller)?;
        let value = line_angle(adjusted.globals[TARGET] - own);
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

    /// What each residual stands for, in the order of [`Adjustment::residuals`].
    fn standing_for(&self) -> Vec<Told> {
        let mut told = Vec::new();
        for (i, body) in self.bodies.iter().enumerate() {
            told.extend(std::iter::repeat_n(Told::Marks(i), body.observations()));
            told.extend(std::iter::repeat_n(Told::Making(i), body.extra()));
        }
        // That each lies within reach of the ball.
        told.extend((0..self.bodies.len()).map(Told::Making));
        told.extend((0..CAMERA_PARAMETERS).filter(|i| *i != TILT).map(|i| match i {
            ROLL | HEIGHT_PARAMETER => Told::Tripod,
            _ => Told::Lens,
        }));
        // The distance, and what the choice of unknowns does.
        told.extend([Told::Tripod; 2]);
        let of_line = match &self.target_line {
            TargetLine::Points(_) => 1 + LINE_HEIGHTS,
            TargetLine::Along(of) | TargetLine::Across(of) => of.len(),
            TargetLine::Assumed => 1,
        };
        told.extend(std::iter::repeat_n(Told::TargetLine, of_line + 1));
        told
    }

    /// What each of the things that tell something adds to the covariance of the globals, which is
    /// the sum of it (JCGM 102:2011, 6.3, from memory: each residual's standard uncertainty carried
    /// to the answer).
    pub(super) fn parts(&self, adjusted: &Adjusted) -> Option<Vec<(Told, DMatrix<f64>)>> {
        let minimum = &adjusted.minimum;
        let slopes = self.slopes(&minimum.parameters)?;
        let moved = slopes * &minimum.covariance * minimum.jacobian.transpose();
        let told = self.standing_for();
        debug_assert_eq!(told.len(), moved.ncols(), "each residual stands for something");
        let mut parts: Vec<(Told, DMatrix<f64>)> = Vec::new();
        for (told, column) in told.into_iter().zip(moved.column_iter()) {
            let square = column * column.transpose();
            match parts.iter_mut().find(|(of, _)| *of == told) {
                Some((_, sum)) => *sum += square,
                None => parts.push((told, square)),
            }
        }
        Some(parts)
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
