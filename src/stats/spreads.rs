//! Spreads against each other.

use super::intervals::{UPPER, chi_square_upper_p, f_quantile, f_upper_p, normal_quantile};
use super::summary::{Moments, median, moments, sum};
use super::{TestResult, one_way_f};
use crate::domain::Interval;

/// Second spread over first, by variances and by deviations from the median.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpreadRatio {
    /// Second SD over first.
    pub ratio: f64,
    /// Its 95 % interval by F, exact for normally distributed values only.
    pub interval: Interval,
    /// The F test, two-sided.
    pub f_test: TestResult,
    /// Second mean distance from the median over first: hardly moved by outliers.
    pub robust_ratio: f64,
    /// Its 95 % interval, which does not ask for normally distributed values.
    pub robust_interval: Interval,
    /// What the first block and what the second leaves open about it, as standard uncertainties.
    pub robust_parts: [f64; 2],
    /// The Brown-Forsythe test: of the two the one to believe.
    pub brown_forsythe: TestResult,
}

/// F of the larger-numbered sample over the first: (s2/s1)², two-sided chance; `None` without
/// spreads.
pub fn f_ratio(first: &Moments, second: &Moments) -> Option<TestResult> {
    let statistic = (second.sd? / first.sd?).powi(2);
    let freedom = (second.n as f64 - 1.0, first.n as f64 - 1.0);
    let upper = f_upper_p(statistic, freedom);
    let p = (2.0 * upper.min(1.0 - upper)).min(1.0);
    p.is_finite().then_some(TestResult { statistic, freedom, p })
}

/// Do groups spread alike? Levene's test about the medians (Brown & Forsythe 1974, JASA
/// 69:364-367), which survives values that are not normally distributed.
pub fn brown_forsythe(groups: &[&[f64]]) -> Option<TestResult> {
    let deviations: Vec<Vec<f64>> = groups
        .iter()
        .map(|group| {
            let centre = median(group)?;
            Some(group.iter().map(|v| (v - centre).abs()).collect())
        })
        .collect::<Option<_>>()?;
    one_way_f(&deviations.iter().map(Vec::as_slice).collect::<Vec<_>>())
}

/// Do groups of normally distributed values spread alike? Bartlett's test (e-Handbook
/// 1.3.5.7).
pub fn bartlett(groups: &[&[f64]]) -> Option<TestResult> {
    let each: Vec<Moments> = groups.iter().map(|g| moments(g)).collect::<Option<_>>()?;
    let freedom = |m: &Moments| m.n as f64 - 1.0;
    let variances: Vec<f64> = each.iter().map(|m| m.sd.map(|sd| sd * sd)).collect::<Option<_>>()?;
    let (k, all) = (groups.len() as f64, sum(each.iter().map(freedom)));
    let pooled = sum(each.iter().zip(&variances).map(|(m, v)| freedom(m) * v)) / all;
    let logs = sum(each.iter().zip(&variances).map(|(m, v)| freedom(m) * v.ln()));
    let correction =
        1.0 + (sum(each.iter().map(|m| 1.0 / freedom(m))) - 1.0 / all) / (3.0 * (k - 1.0));
    let statistic = (all * pooled.ln() - logs) / correction;
    let p = chi_square_upper_p(statistic, k - 1.0);
    p.is_finite().then_some(TestResult { statistic, freedom: (k - 1.0, 0.0), p })
}

/// The ratio of two spreads, second over first, by both ways; `None` below 3 values in one or
/// without spread.
pub fn spread_ratio(first: &[f64], second: &[f64]) -> Option<SpreadRatio> {
    let (m1, m2) = (moments(first)?, moments(second)?);
    if m1.n < 3 || m2.n < 3 {
        return None;
    }
    let f_test = f_ratio(&m1, &m2)?;
    let limit = |p| (f_test.statistic / f_quantile(p, f_test.freedom)).sqrt();
    let (d1, d2) = (MeanDeviation::of(first)?, MeanDeviation::of(second)?);
    let half = normal_quantile(UPPER) * (d1.log_variance + d2.log_variance).sqrt();
    let robust_ratio = d2.deviation / d1.deviation;
    Some(SpreadRatio {
        ratio: f_test.statistic.sqrt(),
        interval: Interval { low: limit(UPPER), high: limit(1.0 - UPPER) },
        f_test,
        robust_ratio,
        robust_interval: Interval {
            low: robust_ratio * (-half).exp(),
            high: robust_ratio * half.exp(),
        },
        robust_parts: [&d1, &d2].map(|d| robust_ratio * d.log_variance.sqrt()),
        brown_forsythe: brown_forsythe(&[first, second])?,
    })
}

/// The mean distance from the median and the variance of its logarithm.
struct MeanDeviation {
    deviation: f64,
    log_variance: f64,
}

impl MeanDeviation {
    /// Method: Bonett & Seier 2003, Comput Stat Data Anal 43:295-302: the logarithm's variance
    /// is (δ² + γ² − 1)/n with δ = (mean − median)/deviation, γ² = variance/deviation²; n/(n−1)
    /// takes the bias off.
    fn of(values: &[f64]) -> Option<Self> {
        let m = moments(values)?;
        let centre = median(values)?;
        let n = m.n as f64;
        let deviation = sum(values.iter().map(|v| (v - centre).abs())) / n;
        if deviation <= 0.0 {
            return None;
        }
        let skew = (m.mean - centre) / deviation;
        let shape = (m.sd? / deviation).powi(2);
        Some(Self {
            deviation: deviation * n / (n - 1.0),
            log_variance: (skew * skew + shape - 1.0) / n,
        })
    }
}

/// The ratio of SDs that must be observed between blocks of `first` and `second` swings before
/// the F test shows a difference (two-sided 5 %); `None` below 2 in one.
pub fn smallest_visible_ratio(first: usize, second: usize) -> Option<f64> {
    if first < 2 || second < 2 {
        return None;
    }
    let limit = |a: usize, b: usize| f_quantile(UPPER, (a as f64 - 1.0, b as f64 - 1.0)).sqrt();
    Some(limit(first, second).max(limit(second, first)))
}
