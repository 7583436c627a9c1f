//! Mean, spread, median and autocorrelation of a list of numbers in time order.

/// Number, mean and standard deviation: all that many tests need.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// How many.
    pub n: usize,
    /// The mean.
    pub mean: f64,
    /// The standard deviation with n - 1; `None` for a single number, which has no spread.
    pub sd: Option<f64>,
}

impl Moments {
    /// The standard uncertainty of the mean, and its degrees of freedom.
    pub(super) fn standard_error(&self) -> Option<(f64, f64)> {
        Some((self.sd? / (self.n as f64).sqrt(), self.n as f64 - 1.0))
    }
}

/// A sum that keeps the low-order digits (Neumaier 1974, ZAMM 54:39-51).
pub(super) fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0_f64, 0.0_f64);
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() {
            (total - next) + value
        } else {
            (value - next) + total
        };
        total = next;
    }
    total + lost
}

/// Number, mean and standard deviation; `None` for an empty list.
///
/// Method: compensated sums; the mean is corrected by the residuals' mean, and the squares by
/// their sum (Chan, Golub & LeVeque 1983, The American Statistician 37:242-247).
///
/// ```
/// let offsets = [52.0, 47.0, 53.0, 49.0];
/// let told = scuffline::stats::moments(&offsets).expect("a list that is not empty");
/// assert_eq!((told.n, told.mean), (4, 50.25));
/// assert_eq!(scuffline::stats::moments(&[52.0]).and_then(|m| m.sd), None);
/// ```
pub fn moments(values: &[f64]) -> Option<Moments> {
    let n = values.len() as f64;
    let rough = (!values.is_empty()).then(|| sum(values.iter().copied()) / n)?;
    let residual = sum(values.iter().map(|v| v - rough));
    let mean = rough + residual / n;
    let squares = sum(values.iter().map(|v| (v - rough).powi(2))) - residual * residual / n;
    let sd = (values.len() > 1).then(|| (squares.max(0.0) / (n - 1.0)).sqrt());
    Some(Moments { n: values.len(), mean, sd })
}

pub(super) fn sorted(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
}

fn middle(sorted: &[f64]) -> Option<f64> {
    let half = sorted.len() / 2;
    match sorted.len() {
        0 => None,
        n if n % 2 == 1 => Some(sorted[half]),
        _ => Some(sorted[half - 1] / 2.0 + sorted[half] / 2.0),
    }
}

/// The median; `None` for an empty list.
pub fn median(values: &[f64]) -> Option<f64> {
    middle(&sorted(values))
}

/// The median of the distances from the median, unscaled; `None` for an empty list.
pub fn median_absolute_deviation(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    median(&values.iter().map(|v| (v - centre).abs()).collect::<Vec<_>>())
}

/// The lag-1 autocorrelation as NIST StRD defines it; `None` below 3 numbers or without any
/// spread.
pub fn lag_1(values: &[f64]) -> Option<f64> {
    let m = moments(values).filter(|m| m.n >= 3)?;
    let residuals: Vec<f64> = values.iter().map(|v| v - m.mean).collect();
    let squares = sum(residuals.iter().map(|r| r * r));
    let products = sum(residuals.windows(2).map(|pair| pair[0] * pair[1]));
    (squares > 0.0).then(|| products / squares)
}
