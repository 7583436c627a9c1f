//! From a budget to a 95 % interval.

use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::domain::{Interval, Measured, Warning};

/// The two-sided 95 % quantile of Student's t; the normal's for `None` (infinite freedom).
pub fn coverage_factor(freedom: Option<f64>) -> f64 {
    const NORMAL: f64 = 1.959_963_984_540_054;
    match freedom {
        // Beyond a million degrees t and normal agree to 1e-5.
        Some(nu) if nu < 1e6 => {
            StudentsT::new(0.0, 1.0, nu.max(1.0)).map_or(NORMAL, |t| t.inverse_cdf(0.975))
        }
        _ => NORMAL,
    }
}

/// The 95 % interval of a measured value: its Monte Carlo interval where one is carried, else
/// value ± t · u with the budget's effective degrees of freedom (JCGM 100:2008, G.6.4).
///
/// ```
/// use scuffline::domain::{Contribution, Measured, Source};
/// use scuffline::geometry::expand;
///
/// let budget = vec![Contribution::new(Source::Ball, 1.2), Contribution::new(Source::Mark, 1.6)];
/// let start = Measured::new(58.0, budget);
/// assert_eq!(start.standard_uncertainty(), 2.0);
/// assert!((expand(&start).half_width() - 1.96 * 2.0).abs() < 1e-3);
/// ```
pub fn expand(measured: &Measured) -> Interval {
    measured.monte_carlo.unwrap_or_else(|| linear_interval(measured))
}

/// Value ± t · u of the budget alone.
pub fn linear_interval(measured: &Measured) -> Interval {
    let half = coverage_factor(measured.effective_freedom()) * measured.standard_uncertainty();
    Interval { low: measured.value - half, high: measured.value + half }
}

/// The symmetric interval that holds 95 % of `draws` (JCGM 101:2008, 5.3.2), together with the
/// standard uncertainty of its limits. `worth`: as many independent draws they are worth, which
/// is fewer than there are where some were drawn repeatedly. `None` below 100.
pub fn interval_of_draws(draws: &mut [f64], worth: f64) -> Option<(Interval, f64)> {
    let worth = worth.min(draws.len() as f64);
    if worth < 100.0 {
        return None;
    }
    draws.sort_by(f64::total_cmp);
    let interval = between_tails(draws, worth, 0.025);
    // Quantile noise sqrt(p (1 - p) / n) over the density; for a normal one 0.0584 / sigma at 2.5 %.
    let sigma = interval.half_width() / 1.96;
    Some((interval, (0.025f64 * 0.975 / worth).sqrt() / 0.0584 * sigma))
}

/// The interval that leaves a share `tail` of the sorted draws on either side.
///
/// The probabilistically symmetric one: the shortest of an empirical distribution follows its noise
/// and comes out too short.
fn between_tails(sorted: &[f64], worth: f64, tail: f64) -> Interval {
    let n = sorted.len();
    // Of w independent draws the r-th is passed from below with the probability r / (w + 1), on
    // average; so the limits of few lie farther out.
    let outside = (tail * (worth + 1.0) - 0.5) * n as f64 / worth;
    let cut = outside.max(0.0) as usize;
    Interval { low: sorted[cut], high: sorted[n - 1 - cut] }
}

/// Gives `measured` the interval of `draws` where it disagrees with the linear one by more than
/// the draws' own noise, one standard uncertainty of the interval's limits (JCGM 101:2008, 8.2,
/// leaves the tolerance to the purpose). `worth`: see [`interval_of_draws`]; too few of them leave
/// the linear one, and [`Warning::IntervalNotDrawn`].
pub fn check_against_draws(mut measured: Measured, draws: &mut [f64], worth: f64) -> Measured {
    let linear = linear_interval(&measured);
    // The draws take each standard uncertainty as known. Where the budget says that some are known
    // from few observations, that widens them as it widens the linear interval.
    let wider = coverage_factor(measured.effective_freedom()) / coverage_factor(None);
    let from_value = |limit: f64| measured.value + wider * (limit - measured.value);
    let Some((drawn, noise)) = interval_of_draws(draws, worth) else {
        measured.warnings.push(Warning::IntervalNotDrawn);
        return measured;
    };
    let drawn = Interval { low: from_value(drawn.low), high: from_value(drawn.high) };
    let off = (drawn.low - linear.low).abs().max((drawn.high - linear.high).abs());
    if off > wider * noise {
        measured.monte_carlo = Some(drawn);
    }
    measured
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal, StudentT};

    use super::*;
    use crate::domain::{Contribution, Source};

    fn part(standard: f64, freedom: f64) -> Contribution {
        Contribution { source: Source::Model, standard, freedom: Some(freedom) }
    }

    #[test]
    fn end_gauge_of_the_gum() {
        // JCGM 100:2008, H.1 (as worked in MSLNZ/GTC, examples/GUM_H1.py), nm.
        let gauge = Measured::new(
            50_000_838.0,
            vec![
                part(25.0, 18.0),
                part(16.599, 2.0),
                part(6.7, 8.0),
                part(5.8, 24.0),
                part(3.9, 5.0),
                part(2.88679, 50.0),
            ],
        );
        assert!((gauge.standard_uncertainty() - 31.66).abs() < 0.01);
        assert!((gauge.effective_freedom().unwrap() - 16.75).abs() < 0.02);
        // Truncated to 16 as there: t at 99 % is 2.9208.
        let t = StudentsT::new(0.0, 1.0, 16.0).unwrap().inverse_cdf(0.995);
        assert!((t - 2.9208).abs() < 1e-4);
        assert!((t * gauge.standard_uncertainty() - 92.5).abs() < 0.1);
    }

    #[test]
    fn known_uncertainties_expand_by_the_normal() {
        let m = Measured::new(10.0, vec![Contribution::new(Source::Mark, 1.0)]);
        assert!((expand(&m).half_width() - 1.95996).abs() < 1e-5);
        assert_eq!(m.effective_freedom(), None);
    }

    fn draws(n: usize, mut one: impl FnMut(&mut ChaCha8Rng) -> f64) -> Vec<f64> {
        let mut rng = ChaCha8Rng::seed_from_u64(101);
        (0..n).map(|_| one(&mut rng)).collect()
    }

    fn mean_and_spread(draws: &[f64]) -> (f64, f64) {
        let n = draws.len() as f64;
        let mean = draws.iter().sum::<f64>() / n;
        (mean, (draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / n).sqrt())
    }

    fn rectangular(rng: &mut ChaCha8Rng, u: f64) -> f64 {
        rng.random_range(-1.0..1.0) * u * 3f64.sqrt()
    }

    #[test]
    fn four_rectangular_inputs() {
        // JCGM 101:2008, 9.2.3: 95 % ±3.88, exactly 2 √3 (2 - 0.6^(1/4)) = 3.8794; GUM ±3.92.
        let mut sum = draws(400_000, |r| (0..4).map(|_| rectangular(r, 1.0)).sum());
        let (interval, noise) = interval_of_draws(&mut sum, 4e5).unwrap();
        assert!((interval.half_width() - 3.8794).abs() < 4.0 * noise);
        let linear =
            Measured::new(0.0, (0..4).map(|_| Contribution::new(Source::Mark, 1.0)).collect());
        assert!((expand(&linear).half_width() - 3.92).abs() < 0.001);
        // 1 % apart: more than the noise of so many draws, less than that of a thousand.
        let half = |m: &Measured| m.monte_carlo.map(Interval::half_width);
        let by_all = half(&check_against_draws(linear.clone(), &mut sum, 4e5)).unwrap();
        assert!((by_all - 3.8794).abs() < 4.0 * noise, "{by_all}");
        let few = check_against_draws(linear.clone(), &mut sum, 1e3);
        assert_eq!((half(&few), few.warnings.len()), (None, 0));
        let hardly_any = check_against_draws(linear, &mut sum, 99.0);
        assert_eq!(hardly_any.warnings, [Warning::IntervalNotDrawn]);
    }

    #[test]
    fn what_few_observations_tell_stays_wide_when_drawn() {
        // Four fifths of the variance from 3 degrees of freedom: 3 / 0.64 = 4.69 effective ones, t
        // 2.62 where the normal has 1.96.
        let budget = vec![part(2.0, 3.0), Contribution::new(Source::Mark, 1.0)];
        let few = Measured::new(0.0, budget);
        let mut sum = draws(400_000, |r| {
            Normal::new(0.0, 2.0).unwrap().sample(r) + Normal::new(0.0, 1.0).unwrap().sample(r)
        });
        let checked = check_against_draws(few.clone(), &mut sum, 4e5);
        let half = expand(&checked).half_width();
        assert!((half - 2.62 * few.standard_uncertainty()).abs() < 0.02, "{half}");
    }

    #[test]
    fn one_dominant_rectangular_input() {
        // JCGM 101:2008, 9.2.4: ±17.0 (17.01 in an independent simulation) where the GUM says ±19.9.
        let mut sum = draws(400_000, |r| {
            (0..3).map(|_| rectangular(r, 1.0)).sum::<f64>() + rectangular(r, 10.0)
        });
        let budget = [1.0, 1.0, 1.0, 10.0].map(|u| Contribution::new(Source::Mark, u));
        let linear = Measured::new(0.0, budget.to_vec());
        assert!((expand(&linear).half_width() - 19.9).abs() < 0.05);
        let checked = check_against_draws(linear, &mut sum, 4e5);
        assert!((expand(&checked).half_width() - 17.01).abs() < 0.06);
    }

    #[test]
    fn mass_calibration() {
        // JCGM 101:2008, 9.3, mg; independent simulation of 4e6: 1.23404, u 0.07544, shortest
        // interval [1.0841, 1.3830]; the distribution is nearly symmetric.
        let normal = |r: &mut ChaCha8Rng, m: f64, s: f64| Normal::new(m, s).unwrap().sample(r);
        let mut dm = draws(400_000, |r| {
            let (mrc, drc) = (normal(r, 100_000.0, 0.050), normal(r, 1.234, 0.020));
            let (air, w) = (r.random_range(1.10..1.30), r.random_range(7000.0..9000.0));
            let reference: f64 = r.random_range(7950.0..8050.0);
            (mrc + drc) * (1.0 + (air - 1.2) * (1.0 / w - 1.0 / reference)) - 100_000.0
        });
        let (mean, u) = mean_and_spread(&dm);
        let (interval, noise) = interval_of_draws(&mut dm, 4e5).unwrap();
        assert!((mean - 1.23404).abs() < 5e-4 && (u - 0.07544).abs() < 3e-4, "{mean} {u}");
        assert!((interval.low - 1.0841).abs() < 5.0 * noise);
        assert!((interval.high - 1.3830).abs() < 5.0 * noise);
    }

    #[test]
    fn gauge_block() {
        // JCGM 101:2008, 9.5, nm; its table of distributions from memory, which give its published
        // 838, u 36 and the 99 % interval [745, 932].
        let t = |r: &mut ChaCha8Rng, nu: f64, m: f64, s: f64| {
            m + s * StudentT::new(nu).unwrap().sample(r)
        };
        // Rectangular, its limits known to ± d.
        let loose = |r: &mut ChaCha8Rng, half: f64, d: f64| {
            let half = half + d * r.random_range(-1.0..1.0);
            half * r.random_range(-1.0..1.0)
        };
        let mut length = draws(1_000_000, |r| {
            let standard = t(r, 18.0, 50_000_623.0, 25.0);
            let difference = t(r, 24.0, 215.0, 6.0) + t(r, 5.0, 0.0, 4.0) + t(r, 8.0, 0.0, 7.0);
            let expansion = r.random_range(9.5e-6..13.5e-6);
            let cycle = 0.5 * (std::f64::consts::TAU * r.random_range(0.0..1.0)).sin();
            let warm = Normal::new(-0.1, 0.2).unwrap().sample(r) + cycle;
            let grown = loose(r, 1e-6, 1e-7) * warm + expansion * loose(r, 0.05, 0.025);
            standard + difference - standard * grown - 5e7
        });
        let (mean, u) = mean_and_spread(&length);
        assert!((mean - 838.0).abs() < 0.5 && (u - 36.0).abs() < 0.5, "{mean} {u}");
        length.sort_by(f64::total_cmp);
        let all = between_tails(&length, length.len() as f64, 0.005);
        // Rounded to the nanometre; the published one is the shortest, which lies 0.3 higher.
        assert!((all.low - 745.0).abs() < 1.0 && (all.high - 932.0).abs() < 1.0, "{all:?}");
    }

    #[test]
    fn end_gauge_to_the_second_order() {
        // JCGM 100:2008, H.1.7: 34 nm where the first order says 32 (as worked in MSLNZ/GTC).
        let length = draws(400_000, |r| {
            let normal = |r: &mut ChaCha8Rng, m: f64, s: f64| Normal::new(m, s).unwrap().sample(r);
            let standard = normal(r, 50_000_623.0, 25.0);
            let cycle = 0.5 * (std::f64::consts::TAU * r.random_range(0.0..1.0)).sin();
            let warm = normal(r, -0.1, 0.2) + cycle;
            let expansion = r.random_range(9.5e-6..13.5e-6);
            let grown =
                r.random_range(-1e-6..1e-6) * warm + expansion * r.random_range(-0.05..0.05);
            standard + normal(r, 215.0, 9.68) - standard * grown - 5e7
        });
        let (mean, u) = mean_and_spread(&length);
        assert!((mean - 838.0).abs() < 0.5 && (u - 34.0).abs() < 0.5, "{mean} {u}");
    }
}
