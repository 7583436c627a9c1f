//! Values that stand apart. They are marked, never removed.

use super::intervals::t_quantile;
use super::summary::{median, median_absolute_deviation, moments};

/// Grubbs' test of the value farthest from the mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grubbs {
    /// Which value it is.
    pub index: usize,
    /// Its distance from the mean in standard deviations.
    pub g: f64,
    /// What `g` must exceed to be an outlier, two-sided 5 %.
    pub critical: f64,
}

impl Grubbs {
    /// The value does not fit normally distributed others.
    pub fn is_outlier(&self) -> bool {
        self.g > self.critical
    }
}

/// Grubbs' test for one outlier among normally distributed values, two-sided 5 %; `None`
/// below 3 values or without any spread.
///
/// Method: NIST/SEMATECH e-Handbook, 1.3.5.17.1.
pub fn grubbs(values: &[f64]) -> Option<Grubbs> {
    let m = moments(values).filter(|m| m.n >= 3)?;
    let sd = m.sd.filter(|&sd| sd > 0.0)?;
    let distance = |i: usize| (values[i] - m.mean).abs();
    let index = (0..m.n).max_by(|&a, &b| distance(a).total_cmp(&distance(b)))?;
    let critical = grubbs_critical(m.n, 0.05 / (2.0 * m.n as f64));
    Some(Grubbs { index, g: distance(index) / sd, critical })
}

fn grubbs_critical(n: usize, tail: f64) -> f64 {
    let n = n as f64;
    let t2 = t_quantile(1.0 - tail, n - 2.0).powi(2);
    (n - 1.0) / n.sqrt() * (t2 / (n - 2.0 + t2)).sqrt()
}

/// The places of values whose robust z score exceeds 3.5 (Iglewicz & Hoaglin 1993, *How to
/// detect and handle outliers*, quoted in the e-Handbook, 1.3.5.17); several outliers cannot
/// hide each other as in tests about the mean.
pub fn robust_outliers(values: &[f64]) -> Vec<usize> {
    let (Some(centre), Some(mad)) = (median(values), median_absolute_deviation(values)) else {
        return Vec::new();
    };
    if mad == 0.0 {
        return Vec::new();
    }
    // 0.6745 is the normal's upper quartile: it makes the median deviation a sigma.
    (0..values.len()).filter(|&i| (0.6745 * (values[i] - centre) / mad).abs() > 3.5).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grubbs_limits_are_the_handbooks() {
        // e-Handbook 1.3.5.17.1 (eda35h1): 8 values, 5 %: one-sided 2.031652, two-sided 2.126645.
        assert!((grubbs_critical(8, 0.05 / 8.0) - 2.031652).abs() < 1e-6);
        assert!((grubbs_critical(8, 0.05 / 16.0) - 2.126645).abs() < 1e-6);
    }
}
