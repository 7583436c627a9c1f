//! The arc's quantities, each with its budget.

use nalgebra::{DMatrix, DVector};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::ArcFit;
use super::circle::{Arc, edge_at_contact};
use super::draws::{Drawn, SEED};
use super::problem::{ANGLE_UNIT, FIXED, LOW_X, ORIGIN, ORIGIN_HEIGHT, PLANE, Problem};
use crate::domain::{Contribution, Measured, Source, WorldPoint};
use crate::geometry::adjust::GLOBALS;
use crate::geometry::club::Expected;
use crate::geometry::error::GeometryError;
use crate::geometry::expand::check_against_draws;
use crate::geometry::least_squares::{Minimum, derivatives};
use crate::geometry::mark::Origin;
use crate::geometry::view::source_of_cause;

impl Problem<'_> {
    pub(super) fn answer(&self, minimum: &Minimum) -> Result<ArcFit, GeometryError> {
        let failed = || GeometryError::NotSettled { what: "arc".into() };
        let arc = self.arc(minimum.parameters.as_slice()).ok_or_else(failed)?;
        let (drawn, worth) = self.draws(minimum).unwrap_or_default();
        let maybe = |quantity: &dyn Fn(&Arc) -> Option<f64>| {
            let linear = self.measured(minimum, quantity)?;
            let mut values: Vec<f64> = drawn.iter().filter_map(|d| quantity(&d.arc)).collect();
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
        Ok(ArcFit {
            low_point: measured(&|a| Some(a.low[0]))?,
            attack_angle: measured(&|a| Some(a.attack().to_degrees()))?,
            radius: measured(&|a| Some(a.radius))?,
            plane: measured(&|a| Some(a.plane.to_degrees()))?,
            edge_at_contact: self.edge_at_contact(&height_at_ball, &drawn, worth),
            height_at_ball,
            low_point_height: measured(&|a| Some(a.low[2]))?,
            first_contact,
            path: self.path(minimum, &arc),
            used: self.sightings.len(),
        })
    }

    /// The leading edge's place when the face meets the ball, from its height there over what the
    /// ball rests on, and the loft.
    fn edge_at_contact(&self, height: &Measured, drawn: &[Drawn], worth: f64) -> Measured {
        let Expected { loft, loft_spread, .. } = *self.expected;
        let (rest, rest_spread) = self.request.origin.rest();
        // Linear in the height: the face is flat.
        let slope = edge_at_contact(1.0, loft) - edge_at_contact(0.0, loft);
        let scaled = |c: &Contribution| Contribution { standard: c.standard * slope, ..c.clone() };
        let mut budget: Vec<Contribution> = height.budget.iter().map(scaled).collect();
        let place = |loft: f64| edge_at_contact(height.value - rest, loft);
        let lofts = (place(loft + loft_spread) - place(loft - loft_spread)) / 2.0;
        budget.push(Contribution::new(Source::Model, lofts));
        // What moves the ball's centre up moves what it rests on; above a tee's foot nothing does.
        let is_told = matches!(self.request.origin, Origin::Ball { .. });
        let same = budget.iter_mut().find(|c| is_told && c.source == Source::BallHeight);
        match same {
            Some(part) => part.standard -= slope * rest_spread,
            None => budget.push(Contribution::new(Source::BallHeight, -slope * rest_spread)),
        }
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let mut places: Vec<f64> = drawn
            .iter()
            .map(|Drawn { arc, rise }| {
                let [z, other]: [f64; 2] = std::array::from_fn(|_| StandardNormal.sample(&mut rng));
                let rise = if is_told { *rise } else { other };
                let height = arc.at(arc.at_ball)[2] - rest - rest_spread * rise;
                edge_at_contact(height, loft + loft_spread * z)
            })
            .collect();
        check_against_draws(Measured::new(place(loft), budget), &mut places, worth)
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
            Contribution::new(Source::Ball, parts[(0, ORIGIN)]),
            Contribution::new(Source::BallDepth, parts[(0, ORIGIN + 1)]),
            Contribution::new(Source::BallHeight, parts[(0, ORIGIN_HEIGHT)]),
            Contribution::new(Source::Model, sum(PLANE..LOW_X).hypot(sum(unseen..parts.ncols()))),
            Contribution { freedom: self.freedom(), ..fitted },
            Contribution::new(Source::Mark, sum(sightings.end..unseen)),
        ]);
        budget.retain(|c| c.standard != 0.0);
        Some(Measured::new(value, budget))
    }
}
