//! Equally likely arcs.

use nalgebra::{DMatrix, DVector};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::circle::Arc;
use super::problem::{FIXED, LOW_X, ORIGIN_HEIGHT, Problem, same};
use crate::geometry::adjust::GLOBALS;
use crate::geometry::calibrate::resample;
use crate::geometry::least_squares::Minimum;

pub(super) const SEED: u64 = 26_717;
/// The draws count if they are worth at least this part of as many even ones.
const MOST_UNEVEN: f64 = 0.025;
/// How many arcs are drawn for each of the calibration's cameras.
const ARCS_A_CAMERA: usize = 4;
/// Arcs are drawn from a distribution so much wider than the linear one.
const WIDER: f64 = 1.1;

/// One of the equally likely arcs.
#[derive(Clone, Copy)]
pub(super) struct Drawn {
    pub(super) arc: Arc,
    /// How far the origin lies higher than expected, in the spread of its height.
    pub(super) rise: f64,
}

impl Problem<'_> {
    /// Equally likely arcs, and how many independent ones they are worth (JCGM 101:2008 by
    /// importance sampling); none if too few of them count.
    pub(super) fn draws(&self, minimum: &Minimum) -> Option<(Vec<Drawn>, f64)> {
        let mut minima = vec![minimum.clone()];
        minima.extend(self.minima().into_iter().filter(|other| !same(minimum, other)));
        self.draws_by_camera(&minima).or_else(|| self.draws_at_once(&minima))
    }

    /// For each camera as the calibration drew it, a few arcs about each one that is most probable
    /// given that camera, weighted by how likely they truly are and drawn again in proportion.
    fn draws_by_camera(&self, minima: &[Minimum]) -> Option<(Vec<Drawn>, f64)> {
        let view = self.request.view;
        let ways: Vec<Way> = minima.iter().filter_map(Way::of).collect();
        let rest = minima[0].parameters.len() - GLOBALS;
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let mut weighted = Vec::with_capacity(view.draws.len() * ARCS_A_CAMERA);
        for globals in &view.draws {
            let off = DVector::from_fn(GLOBALS, |i, _| globals[i] - view.globals[i]);
            let camera = view.root.solve_lower_triangular(&off)?;
            let modes: Vec<Mode> = ways.iter().filter_map(|way| self.mode(way, &camera)).collect();
            for mode in turns(&modes, ARCS_A_CAMERA) {
                let z = DVector::from_fn(rest, |_, _| StandardNormal.sample(&mut rng));
                weighted.extend(self.draw(&mode.at(&z), &modes, ARCS_A_CAMERA));
            }
        }
        let (arcs, worth) = resample(&weighted, view.draws.len(), MOST_UNEVEN, &mut rng)?;
        Some((arcs, worth.min(view.worth)))
    }

    /// Where hardly any of the calibration's cameras could have seen this swing: camera and arc
    /// drawn together about the minima, the camera's own distribution taken as normal.
    fn draws_at_once(&self, minima: &[Minimum]) -> Option<(Vec<Drawn>, f64)> {
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
        for mode in turns(&modes, count) {
            let z = DVector::from_fn(mode.p.len(), |_, _| StandardNormal.sample(&mut rng));
            weighted.extend(self.draw(&mode.at(&z), &modes, count));
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
    /// modes, taking turns for so many draws, draw it together (deterministic mixture). What comes
    /// before the modes' own unknowns, the camera, is drawn from its own distribution and is not
    /// weighed.
    fn draw(&self, p: &DVector<f64>, modes: &[Mode], draws: usize) -> Option<(Drawn, f64)> {
        let residuals = self.residuals(p)?;
        let sum = residuals.rows_range(modes[0].from..).norm_squared();
        let drawn: f64 = (modes.iter().enumerate())
            .map(|(i, mode)| turns_of(i, modes.len(), draws) as f64 * mode.density(p))
            .sum();
        let arc = self.arc(p.as_slice())?;
        Some((Drawn { arc, rise: p[ORIGIN_HEIGHT] }, -sum / 2.0 - drawn.ln()))
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
}

/// The modes by turns, for so many draws, each once at least.
fn turns(modes: &[Mode], draws: usize) -> impl Iterator<Item = &Mode> {
    modes.iter().cycle().take(if modes.is_empty() { 0 } else { draws.max(modes.len()) })
}

/// How often the `i`-th of `modes` has its turn then.
fn turns_of(i: usize, modes: usize, draws: usize) -> usize {
    let draws = draws.max(modes);
    draws / modes + usize::from(i < draws % modes)
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn modes_take_turns_and_each_has_one() {
        for (modes, draws) in [(1, 4), (2, 4), (3, 4), (4, 4), (5, 4), (3, 8)] {
            let one = || Mode { p: DVector::zeros(1), from: 0, root: DMatrix::identity(1, 1) };
            let all: Vec<Mode> = (0..modes).map(|_| one()).collect();
            let mut count = vec![0; modes];
            for mode in turns(&all, draws) {
                let i = all.iter().position(|m| std::ptr::eq(m, mode)).unwrap();
                count[i] += 1;
            }
            let told: Vec<usize> = (0..modes).map(|i| turns_of(i, modes, draws)).collect();
            assert_eq!(count, told);
            assert!(count.iter().all(|n| *n > 0));
        }
        assert_eq!(turns(&[], 4).count(), 0);
    }
}
