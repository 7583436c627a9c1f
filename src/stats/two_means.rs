//! Means against each other: two, paired or several; corrections; how many swings it takes.

use super::intervals::{UPPER, f_upper_p, t_quantile, t_two_sided_p};
use super::summary::{Moments, moments, sum};
use super::{TestResult, around};
use crate::domain::{Interval, Measured};

/// The second mean minus the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanDifference {
    /// Second minus first.
    pub difference: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Its 95 % interval.
    pub interval: Interval,
    /// The t test: statistic, freedom, two-sided chance.
    pub test: TestResult,
}

impl MeanDifference {
    /// From a difference with its budget.
    pub(super) fn of(difference: &Measured) -> Self {
        let freedom = difference.effective_freedom().unwrap_or(f64::INFINITY);
        Self::new(difference.value, difference.standard_uncertainty(), freedom)
    }

    /// From a difference, its standard uncertainty and degrees of freedom.
    pub(super) fn new(difference: f64, u: f64, freedom: f64) -> Self {
        let statistic = difference / u;
        let test =
            TestResult { statistic, freedom: (freedom, 0.0), p: t_two_sided_p(statistic, freedom) };
        let interval = around(difference, t_quantile(UPPER, freedom) * u);
        Self { difference, u, interval, test }
    }
}

/// The difference of two means whose spreads may differ (Welch 1947, Biometrika 34:28-35);
/// `None` where one has no spread to tell.
pub fn welch(first: &Moments, second: &Moments) -> Option<MeanDifference> {
    let (u1, f1) = first.standard_error()?;
    let (u2, f2) = second.standard_error()?;
    let (v1, v2) = (u1 * u1, u2 * u2);
    let freedom = (v1 + v2).powi(2) / (v1 * v1 / f1 + v2 * v2 / f2);
    freedom
        .is_finite()
        .then(|| MeanDifference::new(second.mean - first.mean, (v1 + v2).sqrt(), freedom))
}

/// The difference of two means that have the same spread (e-Handbook 1.3.5.3); `None` where
/// one has no spread to tell.
pub fn pooled(first: &Moments, second: &Moments) -> Option<MeanDifference> {
    let u = pooled_sd(first, second)? * (1.0 / first.n as f64 + 1.0 / second.n as f64).sqrt();
    let freedom = (first.n + second.n) as f64 - 2.0;
    Some(MeanDifference::new(second.mean - first.mean, u, freedom))
}

fn pooled_sd(first: &Moments, second: &Moments) -> Option<f64> {
    let (f1, f2) = (first.n as f64 - 1.0, second.n as f64 - 1.0);
    let sd = ((f1 * first.sd?.powi(2) + f2 * second.sd?.powi(2)) / (f1 + f2)).sqrt();
    (sd > 0.0).then_some(sd)
}

/// The mean of the differences second minus first of pairs; `None` below 2 pairs, for lists
/// of unequal length, or when all differences agree.
pub fn paired_t(first: &[f64], second: &[f64]) -> Option<MeanDifference> {
    if first.len() != second.len() {
        return None;
    }
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| b - a).collect();
    let m = moments(&differences)?;
    let (u, freedom) = m.standard_error().filter(|&(u, _)| u > 0.0)?;
    Some(MeanDifference::new(m.mean, u, freedom))
}

/// The difference of means in standard deviations, corrected for small numbers: Hedges' g
/// with J = 1 − 3/(4ν − 1) (Hedges 1981, J Educ Stat 6:107-128).
pub fn effect_size(first: &Moments, second: &Moments) -> Option<f64> {
    let freedom = (first.n + second.n) as f64 - 2.0;
    let small = 1.0 - 3.0 / (4.0 * freedom - 1.0);
    Some(small * (second.mean - first.mean) / pooled_sd(first, second)?)
}

/// One-way analysis of variance: do several groups have the same mean? `None` below 2 groups
/// or without any spread within them.
pub fn one_way_f(groups: &[&[f64]]) -> Option<TestResult> {
    let n: usize = groups.iter().map(|g| g.len()).sum();
    // Counted from one of them, so that a large common offset costs no digits.
    let zero = *groups.first()?.first()?;
    let groups: Vec<Vec<f64>> =
        groups.iter().map(|g| g.iter().map(|v| v - zero).collect()).collect();
    let each: Vec<Moments> = groups.iter().map(|g| moments(g)).collect::<Option<_>>()?;
    let grand = sum(groups.iter().flat_map(|g| g.iter().copied())) / n as f64;
    let between = sum(each.iter().map(|m| m.n as f64 * (m.mean - grand).powi(2)));
    let within =
        sum(groups.iter().zip(&each).flat_map(|(g, m)| g.iter().map(|v| (v - m.mean).powi(2))));
    let freedom = (groups.len() as f64 - 1.0, n as f64 - groups.len() as f64);
    if freedom.0 < 1.0 || freedom.1 < 1.0 || within <= 0.0 {
        return None;
    }
    let statistic = (between / freedom.0) / (within / freedom.1);
    Some(TestResult { statistic, freedom, p: f_upper_p(statistic, freedom) })
}

/// Chances corrected for having looked at several comparisons at once, in the order given
/// (Holm 1979, Scand J Stat 6:65-70).
pub fn holm(chances: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|&a, &b| chances[a].total_cmp(&chances[b]));
    let mut corrected = vec![0.0; chances.len()];
    let mut largest = 0.0_f64;
    for (rank, &index) in order.iter().enumerate() {
        largest = largest.max((chances.len() - rank) as f64 * chances[index]).min(1.0);
        corrected[index] = largest;
    }
    corrected
}

/// Where no number of swings within reason will do.
const TOO_MANY: usize = 10_000;

/// How many swings *each* of two blocks needs so that a difference of means of `difference`
/// is shown (two-sided 5 %) in four of five tries, with spread `sd` and a standard uncertainty
/// `shared_u` of the difference that more swings do not shrink; `None` above 10,000.
///
/// Method: e-Handbook 7.2.2.2, repeated with Student's t, for two samples of equal size.
pub fn swings_needed(difference: f64, sd: f64, shared_u: f64) -> Option<usize> {
    // (t(1 − α) + t(1 − β))² (2 sd²/n + u²) ≤ difference², solved for n.
    let ratio = 2.0 * (sd / difference).powi(2);
    smallest(ratio, (shared_u / difference).powi(2), |n| 2.0 * n - 2.0, 1.0 - UPPER, 0.2)
}

/// How many values one sample needs to show a mean `difference` away from a fixed value, with
/// one-sided chances `alpha` of a false alarm and `beta` of a miss; `None` above 10,000.
///
/// Method: e-Handbook 7.2.2.2, repeated with Student's t until the number holds.
pub fn swings_needed_one_sample(difference: f64, sd: f64, alpha: f64, beta: f64) -> Option<usize> {
    smallest((sd / difference).powi(2), 0.0, |n| n - 1.0, alpha, beta)
}

/// The smallest n with (t(1 − alpha) + t(1 − beta))² · (ratio/n + floor) ≤ 1, with t of the
/// freedom n gives.
fn smallest(
    ratio: f64,
    floor: f64,
    freedom: impl Fn(f64) -> f64,
    alpha: f64,
    beta: f64,
) -> Option<usize> {
    if !(ratio.is_finite() && floor.is_finite()) {
        return None;
    }
    (2..=TOO_MANY).find(|&n| {
        let f = freedom(n as f64);
        let t = t_quantile(1.0 - alpha, f) + t_quantile(1.0 - beta, f);
        t * t * (ratio / n as f64 + floor) <= 1.0
    })
}
