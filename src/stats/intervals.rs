//! 95 % intervals and the quantiles they need.

use statrs::distribution::{
    Binomial, ChiSquared, ContinuousCDF, DiscreteCDF, FisherSnedecor, Normal, StudentsT,
};

use super::around;
use super::summary::{Moments, sorted};
use crate::domain::Interval;

/// The upper limit of the two-sided 95 %.
pub(super) const UPPER: f64 = 0.975;

/// The quantile of Student's t; infinite freedom gives the normal's. NaN below any freedom.
pub(super) fn t_quantile(p: f64, freedom: f64) -> f64 {
    // Above 1e7 the two agree to 1e-7; the beta function's inverse does not like more.
    if freedom > 1e7 {
        return normal_quantile(p);
    }
    StudentsT::new(0.0, 1.0, freedom).map_or(f64::NAN, |t| t.inverse_cdf(p))
}

/// The chance of a Student's t at least as far from zero. NaN below any freedom.
pub(super) fn t_two_sided_p(t: f64, freedom: f64) -> f64 {
    if t.is_nan() {
        return f64::NAN;
    }
    if freedom > 1e7 {
        return 2.0 * Normal::standard().sf(t.abs());
    }
    StudentsT::new(0.0, 1.0, freedom).map_or(f64::NAN, |d| 2.0 * d.sf(t.abs()))
}

pub(super) fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

pub(super) fn normal_two_sided_p(z: f64) -> f64 {
    2.0 * Normal::standard().sf(z.abs())
}

pub(super) fn chi_square_quantile(p: f64, freedom: f64) -> f64 {
    ChiSquared::new(freedom).map_or(f64::NAN, |d| d.inverse_cdf(p))
}

pub(super) fn chi_square_upper_p(x: f64, freedom: f64) -> f64 {
    ChiSquared::new(freedom).map_or(f64::NAN, |d| d.sf(x))
}

pub(super) fn f_quantile(p: f64, freedom: (f64, f64)) -> f64 {
    FisherSnedecor::new(freedom.0, freedom.1).map_or(f64::NAN, |d| d.inverse_cdf(p))
}

pub(super) fn f_upper_p(f: f64, freedom: (f64, f64)) -> f64 {
    FisherSnedecor::new(freedom.0, freedom.1).map_or(f64::NAN, |d| d.sf(f))
}

/// The 95 % interval of a mean by Student's t; `None` for a single value.
pub fn mean_interval(m: &Moments) -> Option<Interval> {
    let (u, freedom) = m.standard_error()?;
    Some(around(m.mean, t_quantile(UPPER, freedom) * u))
}

/// The 95 % interval of a standard deviation by chi-square, which takes the values to be
/// normally distributed; `None` for a single value.
pub fn sd_interval(m: &Moments) -> Option<Interval> {
    let (sd, freedom) = (m.sd?, m.n as f64 - 1.0);
    let limit = |p| sd * (freedom / chi_square_quantile(p, freedom)).sqrt();
    Some(Interval { low: limit(UPPER), high: limit(1.0 - UPPER) })
}

/// An interval of the median that holds for any distribution, at least 95 % (from the order
/// statistics, by the binomial); `None` below 6 values, where there is none.
pub fn median_interval(values: &[f64]) -> Option<Interval> {
    let n = values.len();
    let binomial = Binomial::new(0.5, n as u64).ok()?;
    // The largest number of values that may be cut off at each end.
    let cut = (0..n as u64 / 2).take_while(|&k| binomial.cdf(k) <= 1.0 - UPPER).count();
    let sorted = sorted(values);
    (cut > 0).then(|| Interval { low: sorted[cut - 1], high: sorted[n - cut] })
}

/// Wilson's 95 % interval of a share: `hits` of `n` (Wilson 1927, JASA 22:209-212); `None`
/// for n = 0.
///
/// ```
/// // Ball first in 8 of 10 swings: anything from a half to nineteen in twenty.
/// let share = scuffline::stats::wilson_interval(8, 10).expect("ten swings");
/// assert!((share.low - 0.49).abs() < 0.001 && (share.high - 0.943).abs() < 0.001);
/// ```
pub fn wilson_interval(hits: usize, n: usize) -> Option<Interval> {
    if n == 0 || hits > n {
        return None;
    }
    let (hits, n, z) = (hits as f64, n as f64, normal_quantile(UPPER));
    let share = hits / n;
    let centre = (share + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
    // Rounding must not lead out of 0 to 1.
    Some(Interval { low: (centre - half).max(0.0), high: (centre + half).min(1.0) })
}
