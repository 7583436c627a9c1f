//! The club head's path near the ground: a circle in a tilted plane, seen by the calibrated view.
//!
//! One view does not tell depth, so three things that are true of any swing stand in for it: the
//! head strikes the ball (its path passes the ball within a few millimetres to either side), its
//! plane is inclined as the club's length makes it, and the plane's line on the ground runs nearly
//! along the target line. All three are priors with their spreads in the adjustment, together with
//! the calibration's own doubt, so each has its entry in the budget. Times are not used: the ball
//! and the turf slow the head by a fifth and more, so equal times are not equal angles.

use nalgebra::{DMatrix, DVector};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::adjust::GLOBALS;
use super::calibrate::resample;
use super::club::{Expected, expected};
use super::error::GeometryError;
use super::expand::check_against_draws;
use super::least_squares::{Minimum, derivatives, minimise};
use super::offset::{ImageMark, MARK_HEIGHT_OWN, MARK_HEIGHT_SPREAD, Origin};
use super::view::{GroundView, State, source_of_cause};
use crate::domain::{
    Club, ClubHeadSighting, Contribution, GroundPoint, ImagePoint, Measured, Source, WorldPoint,
};

/// How far from the low point the club moves as one rigid piece about one centre, radians: the
/// planar phase before and after the strike (Kwon et al. 2012) is longer, the circular part about
/// this (Nesbit & McGinnis 2009: the radius changes over the downswing).
const RIGID: f64 = 0.42;

// Priors, standard; common practice, no source.

/// Of the path's direction on the ground against the target line, degrees.
pub(super) const PATH_SPREAD: f64 = 2.5;
/// Of the leading edge's middle to the side of a struck ball's centre, mm: toe and heel strikes.
pub(super) const STRIKE_SPREAD: f64 = 10.0;
/// The same where nothing is struck and a point on the ground stands in for the ball.
const PRACTICE_SPREAD: f64 = 60.0;
/// Leading edge's height over the ground at a ball on the ground, and its spread, mm.
pub(super) const EDGE_HEIGHT: (f64, f64) = (3.0, 12.0);
/// The same at a ball on a tee.
pub(super) const EDGE_HEIGHT_TEE: (f64, f64) = (20.0, 20.0);
/// How near to the middle of a mark a person marks each of its ends across the target line, mm.
pub(super) const CLICKED_MIDDLE: f64 = 3.0;
/// How far each end of a line fitted to the whole mark wanders from its middle, mm: frayed edges
/// count in the line's own uncertainty already.
const FITTED_MIDDLE: f64 = 1.5;
/// By how much the whole of a mark lies to one side of the leading edge's middle, mm: a toe or
/// heel that is deeper cuts wider on its side, from end to end.
pub(super) const MIDDLE_SHIFT: f64 = 3.0;
/// How far, mm, the place that is seen as the leading edge wanders up or down the club while the
/// club turns by one radian: another part of a rounded sole some 20 mm wide becomes the lowest.
pub(super) const WANDER_SPREAD: f64 = 8.0;
/// Lower than this the edge is hidden by grass tips or in the ground, and by so much, mm.
const HIDDEN: (f64, f64) = (8.0, 5.0);

/// Low point, curvature and direction are taken from the sightings, less what the priors tell.
const TOLD: f64 = 2.0;

const SEED: u64 = 26_717;
/// The draws count if they are worth at least this part of as many even ones.
const MOST_UNEVEN: f64 = 0.025;
/// How many arcs are drawn for each of the calibration's cameras.
const ARCS_A_CAMERA: usize = 4;
/// Arcs are drawn from a distribution so much wider than the linear one.
const WIDER: f64 = 1.1;

/// Units of the unknowns: mm and radians.
const PLACE_UNIT: f64 = 20.0;
const ANGLE_UNIT: f64 = 0.05;

/// What an arc is fitted from.
#[derive(Clone, Debug)]
pub struct ArcRequest<'a> {
    /// The calibrated view.
    pub view: &'a GroundView,
    /// What offsets are counted from.
    pub origin: &'a Origin,
    /// The ball at the origin was struck, so the path passes it.
    pub struck: bool,
    /// The leading edge's middle in frames around the strike.
    pub sightings: &'a [ClubHeadSighting],
    /// The club.
    pub club: Option<&'a Club>,
    /// The middle line of the mark on the ground: the path runs along it.
    pub middle_line: Option<MiddleLine>,
}

/// The line along the middle of a mark on the ground, by its two ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MiddleLine {
    /// Both ends were marked by a person.
    Clicked([ImageMark; 2]),
    /// Fitted to the whole mark.
    Fitted([ImageMark; 2]),
}

impl MiddleLine {
    fn ends(&self) -> &[ImageMark; 2] {
        match self {
            Self::Clicked(ends) | Self::Fitted(ends) => ends,
        }
    }

    /// How near each end is to the mark's middle, mm, standard.
    fn spread(&self) -> f64 {
        match self {
            Self::Clicked(_) => CLICKED_MIDDLE,
            Self::Fitted(_) => FITTED_MIDDLE,
        }
    }
}

/// The club head's path near the ground.
#[derive(Clone, Debug)]
pub struct ArcFit {
    /// Low point ahead of the origin, mm.
    pub low_point: Measured,
    /// Slope of the path to the ground at the origin, degrees; down is negative.
    pub attack_angle: Measured,
    /// Radius, mm.
    pub radius: Measured,
    /// Height over the ground at the origin, mm.
    pub height_at_ball: Measured,
    /// Height of the low point over the ground, mm; negative: it goes into the ground.
    pub low_point_height: Measured,
    /// Where the path first reaches the ground, mm ahead of the origin; `None`: it clears it.
    pub first_contact: Option<Measured>,
    /// Where the leading edge is along the target line when the face meets the ball, mm.
    pub edge_at_contact: Measured,
    /// The path within the fitted stretch, for drawing, in the ground frame of the origin.
    pub path: Vec<WorldPoint>,
    /// How many sightings were used.
    pub used: usize,
    /// Root mean square of the sightings' distances from the arc, pixels.
    pub residual: f64,
}

/// Fits the club head's path near the ground.
///
/// At least three sightings within 0.42 rad of the low point are needed. Sightings far from the
/// arc lose their weight (Huber); if they scatter more than they say, their uncertainty is
/// stretched accordingly (Birge 1932).
///
/// # Errors
/// [`GeometryError::TooFewSightings`]; [`GeometryError::NearlyStraight`] if the sightings bulge by
/// less than twice the bulge's own uncertainty.
///
/// Method: orthogonal distances in the picture (each sighting's place on the arc is an unknown),
/// least squares with the priors of this module; the covariance gives the budget.
pub fn fit_arc(request: &ArcRequest) -> Result<ArcFit, GeometryError> {
    let expected = expected(request.club);
    let mut used = near_the_ball(request, &expected)?;
    let mut fit = None;
    // The low point is known only after a fit, and with it which sightings are near enough.
    for _ in 0..4 {
        if used.len() < 3 {
            return Err(GeometryError::TooFewSightings { found: used.len() });
        }
        check_bulge(&used)?;
        let problem = Problem::new(request, &expected, used.clone())?;
        let (minimum, problem) = problem.solve_robustly()?;
        let near = problem.within_rigid(&minimum);
        let settled = near.len() == used.len();
        used = near;
        fit = Some((minimum, problem));
        if settled {
            break;
        }
    }
    let (minimum, problem) = fit.ok_or(GeometryError::NotSettled { what: "arc".into() })?;
    problem.answer(&minimum)
}

/// Low point, direction, radius and plane of a path, in the ground frame of the origin.
#[derive(Clone, Copy)]
pub(super) struct Arc {
    pub(super) low: [f64; 3],
    pub(super) radius: f64,
    plane: f64,
    direction: f64,
    /// Angle at which it passes x = 0.
    pub(super) at_ball: f64,
}

impl Arc {
    /// The arc with its low point at `low_x` that passes x = 0 at `side` and `height`; `None` if
    /// it does not reach x = 0.
    pub(super) fn through(
        low_x: f64,
        side: f64,
        height: f64,
        radius: f64,
        plane: f64,
        direction: f64,
    ) -> Option<Self> {
        let mut arc = Self { low: [low_x, 0.0, 0.0], radius, plane, direction, at_ball: 0.0 };
        let mut phi = (-low_x / radius).clamp(-0.9, 0.9).asin();
        for _ in 0..20 {
            let slope =
                radius * (phi.cos() * direction.cos() - phi.sin() * direction.sin() * plane.cos());
            let step = arc.at(phi)[0] / slope;
            phi -= step;
            if step.abs() < 1e-14 {
                break;
            }
        }
        let there = arc.at(phi);
        arc.low = [low_x, side - there[1], height - there[2]];
        arc.at_ball = phi;
        (phi.abs() < 1.2 && arc.at(phi)[0].abs() < 1e-6).then_some(arc)
    }

    /// The point at the angle `phi` past the low point.
    pub(super) fn at(&self, phi: f64) -> [f64; 3] {
        let (along, up) = (self.radius * phi.sin(), self.radius * (1.0 - phi.cos()));
        let (sin, cos) = self.direction.sin_cos();
        let away = up * self.plane.cos();
        [
            self.low[0] + along * cos - away * sin,
            self.low[1] + along * sin + away * cos,
            self.low[2] + up * self.plane.sin(),
        ]
    }

    /// Slope of the path to the ground at the origin, radians: sin A = sin φ sin θ.
    pub(super) fn attack(&self) -> f64 {
        (self.at_ball.sin() * self.plane.sin()).asin()
    }

    /// The angle at which it comes down to the ground; `None` if it never does.
    fn contact(&self) -> Option<f64> {
        let cosine = 1.0 + self.low[2] / (self.radius * self.plane.sin());
        (self.low[2] < 0.0 && cosine > 0.0).then(|| -cosine.acos())
    }
}

// Order of the unknowns before the sightings' angles.
const ORIGIN: usize = GLOBALS;
const ORIGIN_HEIGHT: usize = GLOBALS + 2;
const PLANE: usize = GLOBALS + 3;
const RADIUS: usize = GLOBALS + 4;
const DIRECTION: usize = GLOBALS + 5;
const SIDE: usize = GLOBALS + 6;
const HEIGHT: usize = GLOBALS + 7;
const WANDER: usize = GLOBALS + 8;
const LOW_X: usize = GLOBALS + 9;
const FIXED: usize = GLOBALS + 10;

struct Problem<'a> {
    request: &'a ArcRequest<'a>,
    expected: &'a Expected,
    sightings: Vec<ClubHeadSighting>,
    /// By how much each sighting's residuals count.
    weights: Vec<f64>,
    /// By how much all sightings' uncertainties are stretched.
    stretch: f64,
}

impl<'a> Problem<'a> {
    fn new(
        request: &'a ArcRequest<'a>,
        expected: &'a Expected,
        sightings: Vec<ClubHeadSighting>,
    ) -> Result<Self, GeometryError> {
        let usable = sightings
            .iter()
            .all(|s| s.point.is_finite() && s.sigma.iter().all(|v| v.0 > 0.0 && v.is_finite()));
        if !usable {
            return Err(GeometryError::NotFinite { which: "club head".into() });
        }
        let weights = vec![1.0; sightings.len()];
        Ok(Self { request, expected, sightings, weights, stretch: 1.0 })
    }

    fn state(&self, p: &[f64]) -> State {
        let view = self.request.view;
        let globals: [f64; GLOBALS] = std::array::from_fn(|i| {
            view.globals[i] + (0..=i).map(|k| view.root[(i, k)] * p[k]).sum::<f64>()
        });
        view.state_of(&globals)
    }

    /// The ground frame's zero in the foot frame.
    fn zero(&self, state: &State, p: &[f64]) -> Option<[f64; 2]> {
        let mark = self.request.origin.mark();
        let (height, spread) = self.request.origin.height();
        let at = mark.point.moved(p[ORIGIN] * mark.sigma[0].0, p[ORIGIN + 1] * mark.sigma[1].0);
        state.camera.place_at_height(at, height + spread * p[ORIGIN_HEIGHT])
    }

    fn arc(&self, p: &[f64]) -> Option<Arc> {
        let side = if self.request.struck { STRIKE_SPREAD } else { PRACTICE_SPREAD };
        let (height, height_spread) = match self.request.origin {
            Origin::Ball { on_tee: true, .. } | Origin::Tee(_) => EDGE_HEIGHT_TEE,
            _ => EDGE_HEIGHT,
        };
        Arc::through(
            p[LOW_X] * PLACE_UNIT,
            p[SIDE] * side,
            height + p[HEIGHT] * height_spread,
            self.expected.radius + p[RADIUS] * self.expected.radius_spread,
            (self.expected.plane + p[PLANE] * self.expected.plane_spread).to_radians(),
            (p[DIRECTION] * PATH_SPREAD).to_radians(),
        )
    }

    /// Priors first, then two residuals a sighting (along and across its way), then the mark's.
    fn residuals(&self, p: &DVector<f64>) -> Option<DVector<f64>> {
        let p = p.as_slice();
        let (state, arc) = (self.state(p), self.arc(p)?);
        let zero = self.zero(&state, p)?;
        let mut out = p[..LOW_X].to_vec();
        let mut unseen = Vec::with_capacity(self.sightings.len());
        for (i, sighting) in self.sightings.iter().enumerate() {
            let phi = p[FIXED + i] * ANGLE_UNIT;
            let (seen, edge) = (arc.at(phi), arc.at(phi + 1e-3));
            let height = seen[2];
            let seen = state.camera.project(state.foot_from_world(zero, seen))?;
            let next = state.camera.project(state.foot_from_world(zero, edge))?;
            let length = seen.distance(next);
            let (tx, ty) = ((next.x - seen.x) / length, (next.y - seen.y) / length);
            let (dx, dy) = (seen.x - sighting.point.x, seen.y - sighting.point.y);
            let pixels_per_mm = length / (1e-3 * arc.radius);
            let wander = p[WANDER] * WANDER_SPREAD * phi * pixels_per_mm;
            // Fades in over some mm, so that the sum of squares stays smooth.
            let hidden = hidden(height) * pixels_per_mm;
            // An uncertainty that depends on the answer counts in the density, too: without its
            // logarithm, low arcs would look likely just for being hardly seen. The constant keeps
            // it from looking like an observation of the height in the normal matrix.
            unseen.push((100.0 + (hidden / sighting.sigma[1].0).powi(2).ln_1p()).sqrt());
            let weight = self.weights[i] / self.stretch;
            out.push((dx * tx + dy * ty) * weight / sighting.sigma[0].0);
            out.push((dy * tx - dx * ty + wander) * weight / sighting.sigma[1].0.hypot(hidden));
        }
        if let Some(line) = &self.request.middle_line {
            out.extend(line_residuals(&state, zero, &arc, line)?);
        }
        out.append(&mut unseen);
        Some(DVector::from_vec(out))
    }

    /// The arcs that explain the sightings better than any arc near them, likeliest first: with the
    /// bottom of the swing in sight above the grass, with it hidden there, or with one end hidden,
    /// where they are not the same. An edge in the grass is hardly seen, so no way downhill leads
    /// from the one to the other.
    fn minima(&self) -> Vec<Minimum> {
        // In the prior's spreads: well above the grass tips, and well below.
        const HEIGHTS: [f64; 2] = [1.0, -1.5];
        // To either side of what the sightings say, were they all in sight, in its unit.
        const SHIFTS: [f64; 2] = [-3.0, 3.0];
        let Some(start) = self.start() else { return Vec::new() };
        let mut minima: Vec<Minimum> = HEIGHTS
            .into_iter()
            .flat_map(|height| SHIFTS.map(|shift| (height, shift)))
            .filter_map(|(height, shift)| {
                let mut start = start.clone();
                start[HEIGHT] = height;
                start[LOW_X] += shift;
                minimise(|p| self.residuals(p), start)
            })
            .collect();
        // By Laplace's approximation: how deep the minimum is, and how wide.
        let unlikely = |m: &Minimum| m.sum_of_squares() - log_determinant(&m.covariance);
        minima.sort_by(|a, b| unlikely(a).total_cmp(&unlikely(b)));
        let mut distinct: Vec<Minimum> = Vec::new();
        for minimum in minima {
            if distinct.iter().all(|known| !same(known, &minimum)) {
                distinct.push(minimum);
            }
        }
        distinct
    }

    fn start(&self) -> Option<DVector<f64>> {
        let mut p = vec![0.0; FIXED + self.sightings.len()];
        let state = self.state(&p);
        let zero = self.zero(&state, &p)?;
        let plane = self.expected.plane.to_radians();
        let places: Option<Vec<[f64; 2]>> =
            self.sightings.iter().map(|s| in_plane(&state, zero, s.point, plane)).collect();
        let places = places?;
        // In the plane through the ball, up = up0 + (x - low)² / 2R with the expected radius:
        // linear in low / R and a constant.
        let radius = self.expected.radius;
        let n = places.len() as f64;
        let bent: Vec<(f64, f64)> =
            places.iter().map(|[x, up]| (*x, up - x * x / (2.0 * radius))).collect();
        let (mx, my) = bent.iter().fold((0.0, 0.0), |s, b| (s.0 + b.0 / n, s.1 + b.1 / n));
        let (sxx, sxy) = bent
            .iter()
            .fold((0.0, 0.0), |s, b| (s.0 + (b.0 - mx).powi(2), s.1 + (b.0 - mx) * (b.1 - my)));
        let low = (-sxy / sxx * radius).clamp(-0.5 * radius, 0.5 * radius);
        p[LOW_X] = low / PLACE_UNIT;
        for (i, [x, _]) in places.iter().enumerate() {
            p[FIXED + i] = ((x - low) / radius).clamp(-0.9, 0.9).asin() / ANGLE_UNIT;
        }
        Some(DVector::from_vec(p))
    }

    /// Reweights until the weights settle, and stretches the uncertainties where the scatter
    /// asks for it.
    fn solve_robustly(mut self) -> Result<(Minimum, Self), GeometryError> {
        // Huber's constant for 95 % efficiency.
        const HUBER: f64 = 1.345;
        let failed = || GeometryError::NotSettled { what: "arc".into() };
        let minima = self.minima();
        let mut at = minima.into_iter().next().ok_or_else(failed)?.parameters;
        for _ in 0..6 {
            let minimum = minimise(|p| self.residuals(p), at).ok_or_else(failed)?;
            let across = self.across(&minimum);
            let weights: Vec<f64> =
                across.iter().map(|r| (HUBER * self.stretch / r.abs()).min(1.0).sqrt()).collect();
            let freedom = across.len() as f64 - TOLD;
            let chi2: f64 = across.iter().zip(&weights).map(|(r, w)| (r * w).powi(2)).sum();
            let stretch = (chi2 / freedom).sqrt().max(1.0);
            let change = weights
                .iter()
                .zip(&self.weights)
                .map(|(a, b)| (a - b).abs())
                .fold((stretch - self.stretch).abs(), f64::max);
            at = minimum.parameters.clone();
            if change < 1e-2 {
                return Ok((minimum, self));
            }
            (self.weights, self.stretch) = (weights, stretch);
        }
        let minimum = minimise(|p| self.residuals(p), at).ok_or_else(failed)?;
        Ok((minimum, self))
    }

    /// Each sighting's distance from the arc across its way, in its own standard uncertainties.
    fn across(&self, minimum: &Minimum) -> Vec<f64> {
        (0..self.sightings.len())
            .map(|i| minimum.residuals[LOW_X + 2 * i + 1] * self.stretch / self.weights[i])
            .collect()
    }

    fn within_rigid(&self, minimum: &Minimum) -> Vec<ClubHeadSighting> {
        let angle = |i: usize| (minimum.parameters[FIXED + i] * ANGLE_UNIT).abs();
        (0..self.sightings.len())
            .filter(|i| angle(*i) <= RIGID)
            .map(|i| self.sightings[i])
            .collect()
    }

    fn answer(&self, minimum: &Minimum) -> Result<ArcFit, GeometryError> {
        let failed = || GeometryError::NotSettled { what: "arc".into() };
        let arc = self.arc(minimum.parameters.as_slice()).ok_or_else(failed)?;
        let (drawn, worth) = self.draws(minimum).unwrap_or_default();
        let maybe = |quantity: &dyn Fn(&Arc) -> Option<f64>| {
            let linear = self.measured(minimum, quantity)?;
            let mut values: Vec<f64> = drawn.iter().filter_map(quantity).collect();
            // Arcs that never reach the ground tell nothing of where they would.
            let worth = worth * values.len() as f64 / drawn.len().max(1) as f64;
            Some(check_against_draws(linear, &mut values, worth))
        };
        let measured = |quantity: &dyn Fn(&Arc) -> Option<f64>| maybe(quantity).ok_or_else(failed);
        let first_contact = match arc.contact() {
            Some(_) => maybe(&|a| a.contact().map(|phi| a.at(phi)[0])),
            None => None,
        };
        let height_at_ball = measured(&|a| Some(a.at(a.at_ball)[2]))?;
        let across = self.across(minimum);
        let squares = across.iter().zip(&self.sightings).map(|(r, s)| (r * s.sigma[1].0).powi(2));
        Ok(ArcFit {
            low_point: measured(&|a| Some(a.low[0]))?,
            attack_angle: measured(&|a| Some(a.attack().to_degrees()))?,
            radius: measured(&|a| Some(a.radius))?,
            edge_at_contact: self.edge_at_contact(&height_at_ball, &drawn, worth),
            height_at_ball,
            low_point_height: measured(&|a| Some(a.low[2]))?,
            first_contact,
            path: self.path(minimum, &arc),
            used: self.sightings.len(),
            residual: (squares.sum::<f64>() / across.len() as f64).sqrt(),
        })
    }

    /// The leading edge's place when the face meets the ball, from its height there and the loft.
    fn edge_at_contact(&self, height: &Measured, drawn: &[Arc], worth: f64) -> Measured {
        let Expected { loft, loft_spread, .. } = *self.expected;
        // Linear in the height: the face is flat.
        let slope = edge_at_contact(1.0, loft) - edge_at_contact(0.0, loft);
        let scaled = |c: &Contribution| Contribution { standard: c.standard * slope, ..c.clone() };
        let mut budget: Vec<Contribution> = height.budget.iter().map(scaled).collect();
        let place = |loft: f64| edge_at_contact(height.value, loft);
        let lofts = (place(loft + loft_spread) - place(loft - loft_spread)) / 2.0;
        budget.push(Contribution::new(Source::Model, lofts));
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let mut places: Vec<f64> = drawn
            .iter()
            .map(|arc| {
                let z: f64 = StandardNormal.sample(&mut rng);
                edge_at_contact(arc.at(arc.at_ball)[2], loft + loft_spread * z)
            })
            .collect();
        check_against_draws(Measured::new(place(loft), budget), &mut places, worth)
    }

    /// Equally likely arcs, and how many independent ones they are worth (JCGM 101:2008 by
    /// importance sampling); none if too few of them count.
    fn draws(&self, minimum: &Minimum) -> Option<(Vec<Arc>, f64)> {
        let mut minima = vec![minimum.clone()];
        minima.extend(self.minima().into_iter().filter(|other| !same(minimum, other)));
        self.draws_by_camera(&minima).or_else(|| self.draws_at_once(&minima))
    }

    /// For each camera as the calibration drew it, a few arcs about each one that is most probable
    /// given that camera, weighted by how likely they truly are and drawn again in proportion.
    fn draws_by_camera(&self, minima: &[Minimum]) -> Option<(Vec<Arc>, f64)> {
        let view = self.request.view;
        let ways: Vec<Way> = minima.iter().filter_map(Way::of).collect();
        let rest = minima[0].parameters.len() - GLOBALS;
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let mut weighted = Vec::with_capacity(view.draws.len() * ARCS_A_CAMERA);
        for globals in &view.draws {
            let off = DVector::from_fn(GLOBALS, |i, _| globals[i] - view.globals[i]);
            let camera = view.root.solve_lower_triangular(&off)?;
            let modes: Vec<Mode> = ways.iter().filter_map(|way| self.mode(way, &camera)).collect();
            for mode in modes.iter().cycle().take(ARCS_A_CAMERA) {
                let z = DVector::from_fn(rest, |_, _| StandardNormal.sample(&mut rng));
                weighted.extend(self.draw(&mode.at(&z), &modes));
            }
        }
        let (arcs, worth) = resample(&weighted, view.draws.len(), MOST_UNEVEN, &mut rng)?;
        Some((arcs, worth.min(view.worth)))
    }

    /// Where hardly any of the calibration's cameras could have seen this swing: camera and arc
    /// drawn together about the minima, the camera's own distribution taken as normal.
    fn draws_at_once(&self, minima: &[Minimum]) -> Option<(Vec<Arc>, f64)> {
        let view = self.request.view;
        let modes: Vec<Mode> = minima
            .iter()
            .filter_map(|minimum| {
                let root = minimum.covariance.clone().cholesky()?.l() * WIDER;
                Some(Mode { p: minimum.parameters.clone(), from: 0, root })
            })
            .collect();
        let count = view.draws.len() * ARCS_A_CAMERA;
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let mut weighted = Vec::with_capacity(count);
        for mode in modes.iter().cycle().take(count) {
            let z = DVector::from_fn(mode.p.len(), |_, _| StandardNormal.sample(&mut rng));
            weighted.extend(self.draw(&mode.at(&z), &modes));
        }
        let (arcs, worth) = resample(&weighted, view.draws.len(), MOST_UNEVEN, &mut rng)?;
        Some((arcs, worth.min(view.worth)))
    }

    /// What is most probable for a camera near one of the minima, and what is open about it.
    fn mode(&self, way: &Way, camera: &DVector<f64>) -> Option<Mode> {
        let mut p = way.from.clone();
        let moved = &way.gain * (camera - p.rows(0, GLOBALS));
        p.rows_mut(0, GLOBALS).copy_from(camera);
        let mut others = p.rows_mut(GLOBALS, moved.len());
        others -= moved;
        let p = self.settle(p, &way.step)?;
        let root = self.left_open(&p)?;
        Some(Mode { p, from: GLOBALS, root })
    }

    /// What the camera in `p` leaves open about the rest: the lower triangular root of its
    /// covariance, a little wider. Another camera's would not do: one that stands higher sees the
    /// same path in another plane.
    fn left_open(&self, p: &DVector<f64>) -> Option<DMatrix<f64>> {
        // One-sided differences will do: the draws are weighted by the true density.
        const STEP: f64 = 1e-5;
        let here = self.residuals(p)?;
        let mut moved = p.clone();
        let mut columns = Vec::with_capacity(p.len() - GLOBALS);
        for i in GLOBALS..FIXED {
            moved[i] += STEP;
            columns.push((self.residuals(&moved)? - &here) / STEP);
            moved[i] = p[i];
        }
        // Of the angles each moves its own sighting's residuals alone, so all move at once.
        moved.rows_range_mut(FIXED..).add_scalar_mut(STEP);
        let change = (self.residuals(&moved)? - &here) / STEP;
        let count = self.sightings.len();
        for i in 0..count {
            let mut column = DVector::zeros(here.len());
            for row in [LOW_X + 2 * i, LOW_X + 2 * i + 1, here.len() - count + i] {
                column[row] = change[row];
            }
            columns.push(column);
        }
        let slopes = DMatrix::from_columns(&columns);
        Some(slopes.tr_mul(&slopes).cholesky()?.inverse().cholesky()?.l() * WIDER)
    }

    /// The arc at `p`, and the logarithm of its weight: how likely it is against how often the
    /// modes together draw it. What comes before the modes' own unknowns, the camera, is drawn from
    /// its own distribution and is not weighed.
    fn draw(&self, p: &DVector<f64>, modes: &[Mode]) -> Option<(Arc, f64)> {
        let residuals = self.residuals(p)?;
        let sum = residuals.rows_range(modes[0].from..).norm_squared();
        // The mean and not the sum: cameras with one mode count as much as those with two.
        let drawn: f64 = modes.iter().map(|mode| mode.density(p)).sum::<f64>() / modes.len() as f64;
        Some((self.arc(p.as_slice())?, -sum / 2.0 - drawn.ln()))
    }

    /// What is most probable for the camera in `p`, by a few steps with the slopes of the minimum
    /// (chord method): cameras that are hardly known bend the arc too much for one step.
    fn settle(&self, mut p: DVector<f64>, step: &DMatrix<f64>) -> Option<DVector<f64>> {
        const MOST: usize = 12;
        let mut residuals = self.residuals(&p)?;
        let mut part = 1.0;
        for _ in 0..MOST {
            let change = step * &residuals * part;
            let mut next = p.clone();
            let mut others = next.rows_mut(GLOBALS, change.len());
            others -= &change;
            match self.residuals(&next).filter(|r| r.norm_squared() < residuals.norm_squared()) {
                Some(better) => (p, residuals, part) = (next, better, 1.0),
                None => part /= 2.0,
            }
            if change.amax() < 0.05 {
                break;
            }
        }
        Some(p)
    }

    /// Where the sightings' own scatter tells their uncertainty, it is known only as well as so
    /// many of them tell it.
    fn freedom(&self) -> Option<f64> {
        (self.stretch > 1.0).then(|| (self.sightings.len() as f64 - TOLD).max(1.0))
    }

    fn path(&self, minimum: &Minimum, arc: &Arc) -> Vec<WorldPoint> {
        let angles: Vec<f64> =
            minimum.parameters.iter().skip(FIXED).map(|p| p * ANGLE_UNIT).collect();
        let from = angles.iter().copied().fold(f64::INFINITY, f64::min);
        let to = angles.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (0..=40)
            .map(|i| {
                let [x, y, z] = arc.at(from + (to - from) * f64::from(i) / 40.0);
                WorldPoint { x, y, z }
            })
            .collect()
    }

    /// A quantity of the arc with its budget: what one standard deviation of each input does to
    /// the answer of the adjustment, by source.
    fn measured(
        &self,
        minimum: &Minimum,
        quantity: &dyn Fn(&Arc) -> Option<f64>,
    ) -> Option<Measured> {
        let of = |p: &DVector<f64>| {
            quantity(&self.arc(p.as_slice())?).map(|v| DVector::from_element(1, v))
        };
        let value = of(&minimum.parameters)?[0];
        let slope: DMatrix<f64> = derivatives(&of, &minimum.parameters)?;
        let parts = slope * &minimum.covariance * minimum.jacobian.transpose();
        let sum =
            |rows: std::ops::Range<usize>| rows.map(|i| parts[(0, i)].powi(2)).sum::<f64>().sqrt();
        let mut budget: Vec<Contribution> =
            (0..GLOBALS).map(|k| Contribution::new(source_of_cause(k), parts[(0, k)])).collect();
        let sightings = LOW_X..LOW_X + 2 * self.sightings.len();
        let unseen = parts.ncols() - self.sightings.len();
        let fitted = Contribution::new(Source::ArcFit, sum(sightings.clone()));
        budget.extend([
            Contribution::new(
                Source::Ball,
                sum(ORIGIN..ORIGIN_HEIGHT).copysign(parts[(0, ORIGIN)]),
            ),
            Contribution::new(Source::BallHeight, parts[(0, ORIGIN_HEIGHT)]),
            Contribution::new(Source::Model, sum(PLANE..LOW_X).hypot(sum(unseen..parts.ncols()))),
            Contribution { freedom: self.freedom(), ..fitted },
            Contribution::new(Source::Mark, sum(sightings.end..unseen)),
        ]);
        budget.retain(|c| c.standard != 0.0);
        Some(Measured::new(value, budget))
    }
}

/// How the answer follows the camera near a minimum.
struct Way {
    /// The minimum's parameters.
    from: DVector<f64>,
    /// From residuals to the change of the rest that takes them away.
    step: DMatrix<f64>,
    /// From a change of the camera to the change of the rest.
    gain: DMatrix<f64>,
}

impl Way {
    fn of(minimum: &Minimum) -> Option<Self> {
        let rest = minimum.parameters.len() - GLOBALS;
        let slopes = minimum.jacobian.columns(GLOBALS, rest);
        // The camera's own rows do not depend on the rest.
        let step = slopes.tr_mul(&slopes).cholesky()?.inverse() * slopes.transpose();
        let gain = &step * minimum.jacobian.columns(0, GLOBALS);
        Some(Self { from: minimum.parameters.clone(), step, gain })
    }
}

/// A normal distribution of the unknowns from one of them on.
struct Mode {
    p: DVector<f64>,
    from: usize,
    /// Lower triangular root of its covariance.
    root: DMatrix<f64>,
}

impl Mode {
    fn at(&self, z: &DVector<f64>) -> DVector<f64> {
        let mut p = self.p.clone();
        let mut others = p.rows_mut(self.from, z.len());
        others += &self.root * z;
        p
    }

    /// Its density at `p`, up to a factor that is the same for all.
    fn density(&self, p: &DVector<f64>) -> f64 {
        let off = (p - &self.p).rows_range(self.from..).into_owned();
        let Some(z) = self.root.solve_lower_triangular(&off) else { return 0.0 };
        let wide: f64 = self.root.diagonal().iter().map(|d| d.ln()).sum();
        (-wide - z.norm_squared() / 2.0).exp()
    }
}

/// The two are one place, but for where the search stopped.
fn same(one: &Minimum, other: &Minimum) -> bool {
    let apart = &one.parameters - &other.parameters;
    (0..FIXED).all(|i| apart[i].abs() < 0.3 * one.covariance[(i, i)].sqrt())
}

fn log_determinant(covariance: &DMatrix<f64>) -> f64 {
    let root = covariance.clone().cholesky();
    root.map_or(f64::NEG_INFINITY, |root| {
        2.0 * root.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>()
    })
}

/// How much less surely an edge at this height over the ground is seen, mm.
pub(super) fn hidden(height: f64) -> f64 {
    HIDDEN.1 / (1.0 + ((height - HIDDEN.0) / 2.0).exp())
}

/// How far behind (-) the ball's centre the leading edge is when the face meets the ball, mm.
///
/// The face of loft λ touches the ball of radius r at (-r cos λ, r - r sin λ) and leans back, so
/// its edge, at the height h, is (r - r sin λ - h) tan λ ahead of that: 12 mm for 31°, 0 mm.
pub(super) fn edge_at_contact(height: f64, loft_degrees: f64) -> f64 {
    let radius = super::adjust::BALL_DIAMETER / 2.0;
    let (sin, cos) = loft_degrees.to_radians().sin_cos();
    -radius * cos + (radius - radius * sin - height) * sin / cos
}

/// How far across the target line a mark's middle line lies from the path, whitened: its middle,
/// and its two ends against each other, which a shift of the whole mark leaves alone. A fitted line
/// runs along the floor of the cut, which is higher or lower as a whole; ends that a person marked
/// differ a little in height, too.
fn line_residuals(state: &State, zero: [f64; 2], arc: &Arc, line: &MiddleLine) -> Option<[f64; 2]> {
    let own = match line {
        MiddleLine::Clicked(_) => MARK_HEIGHT_OWN,
        MiddleLine::Fitted(_) => 0.0,
    };
    let common = (MARK_HEIGHT_SPREAD.powi(2) - own * own).sqrt();
    let [a, b] = line.ends();
    let [near, far] = [off_the_path(state, zero, arc, a)?, off_the_path(state, zero, arc, b)?];
    let spread = |of: &OffThePath| line.spread().hypot(of.placed).hypot(of.lifted * own);
    let apart = spread(&near).hypot(spread(&far));
    let shift = MIDDLE_SHIFT.hypot((near.lifted + far.lifted) / 2.0 * common);
    let off = [(near.off + far.off) / 2.0, far.off - near.off];
    Some([off[0] / shift.hypot(apart / 2.0), off[1] / apart])
}

/// Where a mark's end lies across the target line, mm.
struct OffThePath {
    /// From the path.
    off: f64,
    /// Its standard uncertainty by the mark's own in the picture.
    placed: f64,
    /// By how much a millimetre of height over the ground moves it.
    lifted: f64,
}

fn off_the_path(state: &State, zero: [f64; 2], arc: &Arc, mark: &ImageMark) -> Option<OffThePath> {
    let place = |at: ImagePoint, height: f64| {
        let foot = state.camera.place_at_height(at, height)?;
        Some(state.ground_from_foot(zero, foot))
    };
    let at: GroundPoint = place(mark.point, 0.0)?;
    let above = place(mark.point.moved(0.0, -1.0), 0.0)?;
    let lifted = place(mark.point, 1.0)?;
    let phi = ((at.x - arc.low[0]) / arc.radius).clamp(-0.9, 0.9).asin();
    Some(OffThePath {
        off: at.y - arc.at(phi)[1],
        placed: (above.y - at.y) * mark.sigma[1].0,
        lifted: lifted.y - at.y,
    })
}

/// Where the ray of a picture point meets the plane through the zero that is inclined by `plane`
/// and whose ground line is the target line: (along the target line, up the plane).
fn in_plane(state: &State, zero: [f64; 2], point: ImagePoint, plane: f64) -> Option<[f64; 2]> {
    // The ray runs through its ground point at height 0 and at a height below the camera.
    let low = state.camera.place_at_height(point, 0.0);
    let top = state.camera.height * 0.5;
    let (a, b, za, zb) = match low {
        Some(a) => (a, state.camera.place_at_height(point, top)?, 0.0, top),
        // Above the horizon: the head is as high as the camera, far beyond the arc.
        None => return None,
    };
    let (a, b) = (state.ground_from_foot(zero, a), state.ground_from_foot(zero, b));
    // y sin - z cos = 0 on the plane.
    let (sin, cos) = plane.sin_cos();
    let (fa, fb) = (a.y * sin - za * cos, b.y * sin - zb * cos);
    let t = fa / (fa - fb);
    let (y, z) = (a.y + t * (b.y - a.y), za + t * (zb - za));
    t.is_finite().then_some([a.x + t * (b.x - a.x), y * cos + z * sin])
}

/// The sightings that can belong to the arc's bottom.
fn near_the_ball(
    request: &ArcRequest,
    expected: &Expected,
) -> Result<Vec<ClubHeadSighting>, GeometryError> {
    let state = request.view.state();
    let (height, _) = request.origin.height();
    let zero = state
        .camera
        .place_at_height(request.origin.mark().point, height)
        .ok_or(GeometryError::AboveHorizon { which: "ball".into() })?;
    let near = |s: &&ClubHeadSighting| {
        in_plane(&state, zero, s.point, expected.plane.to_radians()).is_some_and(|[x, up]| {
            // Half a radian about the ball leaves the low point room to either side.
            x.abs() < 0.5 * expected.radius && up.abs() < 0.2 * expected.radius
        })
    };
    Ok(request.sightings.iter().filter(near).copied().collect())
}

/// Refuses sightings that a straight line fits as well: the bulge of a parabola through them must
/// be twice its own standard uncertainty.
fn check_bulge(sightings: &[ClubHeadSighting]) -> Result<(), GeometryError> {
    let (first, last) = (sightings[0].point, sightings[sightings.len() - 1].point);
    let length = first.distance(last);
    let straight = |sagitta: f64, scatter: f64| GeometryError::NearlyStraight { sagitta, scatter };
    if length < 1.0 {
        return Err(straight(0.0, length));
    }
    let (tx, ty) = ((last.x - first.x) / length, (last.y - first.y) / length);
    let n = sightings.len();
    let mut rows = DMatrix::zeros(n, 3);
    let mut values = DVector::zeros(n);
    for (i, s) in sightings.iter().enumerate() {
        let (dx, dy) = (s.point.x - first.x, s.point.y - first.y);
        let along = 2.0 * (dx * tx + dy * ty) / length - 1.0;
        let weight = 1.0 / s.sigma[1].0;
        for (j, term) in [1.0, along, 1.0 - along * along].into_iter().enumerate() {
            rows[(i, j)] = term * weight;
        }
        values[i] = (dy * tx - dx * ty) * weight;
    }
    let normal = rows.tr_mul(&rows);
    let Some(inverse) = normal.try_inverse() else {
        return Err(straight(0.0, 0.0));
    };
    let fitted = &inverse * rows.tr_mul(&values);
    let (bulge, sigma) = (fitted[2].abs(), inverse[(2, 2)].sqrt());
    match bulge > 2.0 * sigma {
        true => Ok(()),
        false => Err(straight(bulge, sigma)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        Direction, FrameIndex, Millimetres, PictureSize, Pixels, Reference, ReferenceKind, Seconds,
    };
    use crate::geometry::{CalibrationRequest, Camera, calibrate};

    const AWAY: f64 = 3400.0;

    fn camera() -> Camera {
        Camera {
            focal: 1500.0,
            centre: [639.5, 359.5],
            tilt: 0.2,
            roll: 0.0,
            height: 1050.0,
            lens: [0.0; 2],
            long_side: 1280.0,
        }
    }

    fn see(p: [f64; 3]) -> ImagePoint {
        camera().project([p[0], p[1] + AWAY, p[2]]).unwrap()
    }

    fn view_and_origin() -> (GroundView, Origin) {
        let stick = [[-600.0, -200.0, 8.0], [600.0, -200.0, 8.0]].map(see);
        let sheet =
            [[300.0, -300.0, 6.0], [597.0, -300.0, 6.0], [597.0, -90.0, 6.0], [300.0, -90.0, 6.0]];
        let reference = |kind, height, along_target| Reference {
            kind,
            height: Millimetres(height),
            along_target,
            frame: None,
            point_sigma: None,
        };
        let size = [Millimetres(297.0), Millimetres(210.0)];
        let references = [
            reference(ReferenceKind::Line { length: Millimetres(1200.0), ends: stick }, 8.0, true),
            reference(ReferenceKind::Sheet { size, corners: sheet.map(see) }, 6.0, false),
        ];
        let ball = ImageMark::click(see([0.0, 0.0, 21.335]));
        let view = calibrate(&CalibrationRequest {
            size: PictureSize { width: 1280, height: 720 },
            references: &references,
            target_line: None,
            direction: Direction::Right,
            about: Some((ball.point, Millimetres(21.335))),
            lens: None,
        })
        .unwrap();
        (view, Origin::Ball { centre: ball, on_tee: false })
    }

    fn sightings(arc: &Arc, reach: f64, noise: &mut impl FnMut() -> f64) -> Vec<ClubHeadSighting> {
        (0..8)
            .map(|i| {
                let phi = reach * (f64::from(i) / 3.5 - 1.0);
                ClubHeadSighting {
                    frame: FrameIndex(i as usize),
                    time: Seconds(f64::from(i) / 240.0),
                    point: see(arc.at(phi)).moved(noise(), noise()),
                    sigma: [Pixels(2.0); 2],
                }
            })
            .collect()
    }

    fn fit(sightings: &[ClubHeadSighting]) -> Result<ArcFit, GeometryError> {
        let (view, origin) = view_and_origin();
        let club = Club("7-iron".into());
        fit_arc(&ArcRequest {
            view: &view,
            origin: &origin,
            struck: true,
            sightings,
            club: Some(&club),
            middle_line: None,
        })
    }

    #[test]
    fn low_point_and_attack_angle_of_the_tilted_circle() {
        // D = R sin |A| / sin θ with R = 1500 mm: driver 47°, -1.3°: 46.5 mm; 5-iron 59°, -3.7°:
        // 112.9 mm; 7-iron 61°, -4.3°: 128.6 mm; PW 64°, -5.0°: 145.5 mm (exact for a circle).
        for (plane, attack, low) in
            [(47.0f64, -1.3, 46.5), (59.0, -3.7, 112.9), (61.0, -4.3, 128.6), (64.0, -5.0, 145.5)]
        {
            let arc = Arc::through(low, 0.0, 0.0, 1500.0, plane.to_radians(), 0.0).unwrap();
            assert!((arc.attack().to_degrees() - attack).abs() < 0.01);
            assert!((arc.at(arc.at_ball)[0]).abs() < 1e-9);
        }
        // First contact c = √(2 R' d) before the low point for R' = 1730 mm, in mm.
        let plane = 60f64.to_radians();
        let radius = 1730.0 * plane.sin();
        let depths =
            [(1.0, 59.0), (2.0, 83.0), (5.0, 131.0), (10.0, 186.0), (15.0, 227.0), (20.0, 262.0)];
        for (depth, before) in depths {
            let arc = Arc { low: [0.0, 0.0, -depth], radius, plane, direction: 0.0, at_ball: 0.0 };
            let contact = arc.at(arc.contact().unwrap())[0];
            assert!((contact + before).abs() < 0.5, "{depth}: {contact}");
        }
    }

    #[test]
    fn an_exact_arc_is_found() {
        let arc = Arc::through(80.0, 0.0, 2.0, 1540.0, 60.6f64.to_radians(), 0.0).unwrap();
        let fit = fit(&sightings(&arc, 0.38, &mut || 0.0)).unwrap();
        assert_eq!(fit.used, 8);
        assert!((fit.low_point.value - 80.0).abs() < 3.0, "{}", fit.low_point.value);
        assert!((fit.attack_angle.value - arc.attack().to_degrees()).abs() < 0.1);
        assert!((fit.radius.value - 1540.0).abs() < 10.0, "{}", fit.radius.value);
        assert!((fit.height_at_ball.value - 2.0).abs() < 2.0, "{}", fit.height_at_ball.value);
    }

    /// Algebraic circle fit of Kåsa 1976.
    fn kasa_radius(points: &[[f64; 2]]) -> f64 {
        let rows = DMatrix::from_fn(points.len(), 3, |i, j| [points[i][0], points[i][1], 1.0][j]);
        let squares =
            DVector::from_fn(points.len(), |i, _| points[i][0].powi(2) + points[i][1].powi(2));
        let p = rows.svd(true, true).solve(&squares, 1e-12).unwrap();
        ((p[0] / 2.0).powi(2) + (p[1] / 2.0).powi(2) + p[2]).sqrt()
    }

    #[test]
    fn the_algebraic_fit_compared_with_is_the_published_one() {
        // Six points of Gander, Golub, Strebel 1994; PyPI circle-fit and scikit-image agree.
        let points = [[1.0, 7.0], [2.0, 6.0], [5.0, 8.0], [7.0, 7.0], [9.0, 5.0], [3.0, 7.0]];
        assert!((kasa_radius(&points) - 4.108762).abs() < 1e-6);
    }

    #[test]
    fn the_short_arc_is_not_fitted_too_small() {
        // Al-Sharadqah & Chernov 2009: Kåsa's fit is heavily biased to small radii on short arcs.
        let arc = Arc::through(20.0, 0.0, 2.0, 1543.0, 60.6f64.to_radians(), 0.0).unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        let mut noise = || {
            let z: f64 = StandardNormal.sample(&mut rng);
            2.0 * z
        };
        let (view, origin) = view_and_origin();
        let state = view.state();
        let zero = state.camera.place_at_height(origin.mark().point, 21.335).unwrap();
        let (mut ours, mut algebraic) = (0.0, 0.0);
        const RUNS: usize = 20;
        for _ in 0..RUNS {
            let seen = sightings(&arc, 0.2, &mut noise);
            let places: Vec<[f64; 2]> = seen
                .iter()
                .map(|s| in_plane(&state, zero, s.point, 60.6f64.to_radians()).unwrap())
                .collect();
            algebraic += kasa_radius(&places) / RUNS as f64;
            ours += fit(&seen).unwrap().radius.value / RUNS as f64;
        }
        assert!(algebraic < 1500.0, "{algebraic}");
        assert!((ours - 1543.0).abs() < 30.0, "{ours}");
    }

    #[test]
    fn a_straight_path_gets_no_radius() {
        let mut straight = Vec::new();
        for i in 0..6 {
            straight.push(ClubHeadSighting {
                frame: FrameIndex(i),
                time: Seconds(i as f64 / 240.0),
                point: see([-300.0 + 120.0 * i as f64, 0.0, 2.0]),
                sigma: [Pixels(1.0); 2],
            });
        }
        assert!(matches!(fit(&straight), Err(GeometryError::NearlyStraight { .. })));
        let two = fit(&straight[..2]);
        assert_eq!(two.err(), Some(GeometryError::TooFewSightings { found: 2 }));
    }

    #[test]
    fn one_wrong_sighting_loses_its_weight() {
        let arc = Arc::through(80.0, 0.0, 2.0, 1540.0, 60.6f64.to_radians(), 0.0).unwrap();
        let mut seen = sightings(&arc, 0.38, &mut || 0.0);
        seen[2].point = seen[2].point.moved(0.0, 25.0);
        let fit = fit(&seen).unwrap();
        let interval = crate::geometry::expand(&fit.low_point);
        assert!((fit.low_point.value - 80.0).abs() < 25.0, "{}", fit.low_point.value);
        assert!(interval.contains(80.0));
    }

    /// Sightings of a low arc as grass hides it, or of a high one as it is seen.
    fn seen_in_grass(arc: &Arc, rng: &mut ChaCha8Rng) -> Vec<ClubHeadSighting> {
        let mut seen = sightings(arc, 0.38, &mut || 0.0);
        for (i, sighting) in seen.iter_mut().enumerate() {
            let phi = 0.38 * (i as f64 / 3.5 - 1.0);
            let z: f64 = StandardNormal.sample(rng);
            // A millimetre is about 0.42 pixels.
            sighting.point =
                sighting.point.moved(0.0, z * 0.3f64.hypot(0.42 * hidden(arc.at(phi)[2])));
            sighting.sigma = [Pixels(0.6), Pixels(0.3)];
        }
        seen
    }

    #[test]
    fn a_bottom_in_the_grass_and_one_above_it_are_both_looked_for() {
        let (_, origin) = view_and_origin();
        let view = view_by_ball(&origin);
        let club = Club("7-iron".into());
        let expected = expected(Some(&club));
        let plane = 60.6f64.to_radians();
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        for height in [-15.0, 18.0].into_iter().cycle().take(60) {
            let arc = Arc::through(60.0, 0.0, height, 1540.0, plane, 0.0).unwrap();
            let seen = seen_in_grass(&arc, &mut rng);
            let request = ArcRequest {
                view: &view,
                origin: &origin,
                struck: true,
                sightings: &seen,
                club: Some(&club),
                middle_line: None,
            };
            let problem = Problem::new(&request, &expected, seen.clone()).unwrap();
            let found: Vec<f64> = problem.minima().iter().map(Minimum::sum_of_squares).collect();
            let least = found.iter().copied().fold(f64::INFINITY, f64::min);
            for start_height in [-2.0, -0.5, 0.5, 2.0] {
                let mut start = problem.start().unwrap();
                start[HEIGHT] = start_height;
                let other = minimise(|p| problem.residuals(p), start).unwrap().sum_of_squares();
                assert!(least < other + 0.01, "{height}: {found:?}, but {other}");
            }
        }
    }

    /// The same view, calibrated by the outline of the ball alone.
    fn view_by_ball(origin: &Origin) -> GroundView {
        let middle = origin.mark().point;
        let (_, width) = camera().outline_of_sphere([0.0, AWAY, 21.335], 21.335).unwrap();
        let ball = Reference {
            kind: ReferenceKind::Ball { outline: Some((middle, Pixels(width))) },
            height: Millimetres(0.0),
            along_target: false,
            frame: None,
            point_sigma: None,
        };
        calibrate(&CalibrationRequest {
            size: PictureSize { width: 1280, height: 720 },
            references: &[ball],
            target_line: None,
            direction: Direction::Right,
            about: Some(origin.place()),
            lens: None,
        })
        .unwrap()
    }

    /// What a picture tells of one swing seen by the ball alone and by stick and sheet.
    fn by_ball_and_by_sheet(seen: &[ClubHeadSighting]) -> [ArcFit; 2] {
        let (sheet, origin) = view_and_origin();
        let poor = view_by_ball(&origin);
        let club = Club("7-iron".into());
        [poor, sheet].map(|view| {
            fit_arc(&ArcRequest {
                view: &view,
                origin: &origin,
                struck: true,
                sightings: seen,
                club: Some(&club),
                middle_line: None,
            })
            .unwrap()
        })
    }

    #[test]
    fn the_drawn_interval_is_the_one_shown_where_it_differs() {
        use crate::geometry::{expand, linear_interval};
        let arc = Arc::through(80.0, 0.0, 4.0, 1540.0, 60.6f64.to_radians(), 0.0).unwrap();
        let [poor, good] = by_ball_and_by_sheet(&sightings(&arc, 0.38, &mut || 0.0));
        let apart = |m: &Measured| {
            let (shown, linear) = (expand(m), linear_interval(m));
            let off = (shown.low - linear.low).abs().max((shown.high - linear.high).abs());
            off / linear.half_width()
        };
        for fit in [&poor, &good] {
            for m in [&fit.low_point, &fit.attack_angle, &fit.height_at_ball, &fit.radius] {
                match m.monte_carlo {
                    Some(drawn) => assert_eq!(expand(m), drawn),
                    None => assert_eq!(apart(m), 0.0),
                }
            }
        }
        // Grass hides a low edge and not a high one, so the height's distribution is lopsided;
        // the low point's is hardly.
        for fit in [&poor, &good] {
            assert!(fit.height_at_ball.monte_carlo.is_some());
            assert!(apart(&fit.low_point) < 0.15, "{}", apart(&fit.low_point));
        }
    }

    #[test]
    fn a_marks_line_tells_the_way_of_the_swing() {
        let (view, origin) = view_and_origin();
        let club = Club("7-iron".into());
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let (mut held, mut narrower) = (0, 0);
        for turned in [-4.0f64, -2.0, -1.0, 1.0, 2.0, 4.0] {
            let plane = 60.6f64.to_radians();
            let arc = Arc::through(70.0, 3.0, 1.0, 1540.0, plane, turned.to_radians()).unwrap();
            let mut noise = || {
                let z: f64 = StandardNormal.sample(&mut rng);
                z
            };
            let seen = sightings(&arc, 0.38, &mut noise);
            let fitted = |middle_line| {
                let request = ArcRequest {
                    view: &view,
                    origin: &origin,
                    struck: true,
                    sightings: &seen,
                    club: Some(&club),
                    middle_line,
                };
                crate::geometry::expand(&fit_arc(&request).unwrap().low_point)
            };
            let over = |x: f64| {
                let [_, y, _] = arc.at(((x - arc.low[0]) / arc.radius).asin());
                ImageMark::found(see([x, y, 0.0]), 0.4)
            };
            let (without, with) =
                (fitted(None), fitted(Some(MiddleLine::Fitted([-20.0, 160.0].map(over)))));
            held += usize::from(with.contains(70.0));
            narrower += usize::from(with.half_width() < 0.95 * without.half_width());
        }
        assert_eq!((held, narrower), (6, 6));
    }
}
