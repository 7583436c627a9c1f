//! Which arc explains the sightings best.

use nalgebra::{DMatrix, DVector};

use super::circle::Arc;
use super::{ArcRequest, RIGID};
use crate::domain::{ClubHeadSighting, GroundPoint, ImagePoint};
use crate::geometry::adjust::GLOBALS;
use crate::geometry::club::{
    EDGE_HEIGHT, EDGE_HEIGHT_TEE, Expected, PATH_SPREAD, PRACTICE_SPREAD, STRIKE_SPREAD,
};
use crate::geometry::error::GeometryError;
use crate::geometry::least_squares::{Minimum, minimise};
use crate::geometry::mark::{
    ImageMark, MARK_HEIGHT_OWN, MARK_HEIGHT_SPREAD, MIDDLE_SHIFT, MiddleLine, Origin,
};
use crate::geometry::view::State;

/// How far, mm, the place that is seen as the leading edge wanders up or down the club while the
/// club turns by one radian: another part of a rounded sole some 20 mm wide becomes the lowest.
pub(in crate::geometry) const WANDER_SPREAD: f64 = 8.0;
/// Lower than this the edge is hidden by grass tips or in the ground, and by so much, mm.
const HIDDEN: (f64, f64) = (8.0, 5.0);

/// Low point, curvature and direction are taken from the sightings, less what the priors tell.
const TOLD: f64 = 2.0;

/// Units of the unknowns: mm and radians.
const PLACE_UNIT: f64 = 20.0;
pub(super) const ANGLE_UNIT: f64 = 0.05;

// Order of the unknowns before the sightings' angles.
pub(super) const ORIGIN: usize = GLOBALS;
pub(super) const ORIGIN_HEIGHT: usize = GLOBALS + 2;
pub(super) const PLANE: usize = GLOBALS + 3;
const RADIUS: usize = GLOBALS + 4;
const DIRECTION: usize = GLOBALS + 5;
const SIDE: usize = GLOBALS + 6;
pub(super) const HEIGHT: usize = GLOBALS + 7;
const WANDER: usize = GLOBALS + 8;
pub(super) const LOW_X: usize = GLOBALS + 9;
pub(super) const FIXED: usize = GLOBALS + 10;

pub(super) struct Problem<'a> {
    pub(super) request: &'a ArcRequest<'a>,
    pub(super) expected: &'a Expected,
    pub(super) sightings: Vec<ClubHeadSighting>,
    /// By how much each sighting's residuals count.
    pub(super) weights: Vec<f64>,
    /// By how much all sightings' uncertainties are stretched.
    pub(super) stretch: f64,
}

impl<'a> Problem<'a> {
    pub(super) fn new(
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

    pub(super) fn arc(&self, p: &[f64]) -> Option<Arc> {
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
    pub(super) fn residuals(&self, p: &DVector<f64>) -> Option<DVector<f64>> {
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
    pub(super) fn minima(&self) -> Vec<Minimum> {
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

    pub(super) fn start(&self) -> Option<DVector<f64>> {
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
    pub(super) fn solve_robustly(mut self) -> Result<(Minimum, Self), GeometryError> {
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
            // Of normal errors weighted so, this much of the variance is left on average: the
            // probability of less than Huber's constant (Stein's identity).
            const LEFT: f64 = 0.8214;
            let freedom = LEFT * (across.len() as f64 - TOLD);
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
    pub(super) fn across(&self, minimum: &Minimum) -> Vec<f64> {
        (0..self.sightings.len())
            .map(|i| minimum.residuals[LOW_X + 2 * i + 1] * self.stretch / self.weights[i])
            .collect()
    }

    pub(super) fn within_rigid(&self, minimum: &Minimum) -> Vec<ClubHeadSighting> {
        let angle = |i: usize| (minimum.parameters[FIXED + i] * ANGLE_UNIT).abs();
        (0..self.sightings.len())
            .filter(|i| angle(*i) <= RIGID)
            .map(|i| self.sightings[i])
            .collect()
    }

    /// Where the sightings' own scatter tells their uncertainty, it is known only as well as so
    /// many of them tell it.
    pub(super) fn freedom(&self) -> Option<f64> {
        (self.stretch > 1.0).then(|| (self.sightings.len() as f64 - TOLD).max(1.0))
    }
}

/// The two are one place, but for where the search stopped.
pub(super) fn same(one: &Minimum, other: &Minimum) -> bool {
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
pub(in crate::geometry) fn hidden(height: f64) -> f64 {
    HIDDEN.1 / (1.0 + ((height - HIDDEN.0) / 2.0).exp())
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
pub(super) fn in_plane(
    state: &State,
    zero: [f64; 2],
    point: ImagePoint,
    plane: f64,
) -> Option<[f64; 2]> {
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
