//! Charts of values in time order: individuals with moving range, and a weighted average.

use super::summary::sum;

/// Limits within which values of a steady process stay.
#[derive(Clone, Debug, PartialEq)]
pub struct IndividualsChart {
    /// The mean of the values.
    pub centre: f64,
    /// Upper limit.
    pub upper: f64,
    /// Lower limit.
    pub lower: f64,
    /// The mean of the moving ranges.
    pub mean_range: f64,
    /// Upper limit of a moving range.
    pub upper_range: f64,
    /// The values outside the limits.
    pub outside: Vec<usize>,
}

/// The e-Handbook's d2 of two values, by which a mean moving range becomes a sigma.
const D2: f64 = 1.128;

/// Individuals and moving-range chart; `None` below 2 values.
///
/// Method: NIST/SEMATECH e-Handbook, 6.3.2.2, with its d2 = 1.128 (not 2/√π in full) and
/// D4 = 3.267.
pub fn individuals_chart(values: &[f64]) -> Option<IndividualsChart> {
    const D4: f64 = 3.267;
    if values.len() < 2 {
        return None;
    }
    let centre = sum(values.iter().copied()) / values.len() as f64;
    let ranges = values.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    let mean_range = sum(ranges) / (values.len() - 1) as f64;
    let half = 3.0 * mean_range / D2;
    let outside = (0..values.len()).filter(|&i| (values[i] - centre).abs() > half).collect();
    Some(IndividualsChart {
        centre,
        upper: centre + half,
        lower: centre - half,
        mean_range,
        upper_range: D4 * mean_range,
        outside,
    })
}

/// A weighted average of values in time order with its limits: it answers to a small lasting
/// shift sooner than single values do.
#[derive(Clone, Debug, PartialEq)]
pub struct WeightedAverage {
    /// After each value.
    pub series: Vec<f64>,
    /// Lower and upper limit, far from the start.
    pub limits: [f64; 2],
    /// The places at which it lies outside.
    pub outside: Vec<usize>,
}

/// Weight of the newest value, as in the e-Handbook's example (6.3.2.4).
const WEIGHT: f64 = 0.3;

/// The weighted average about a chart's centre; sigma from its mean moving range, which a slow
/// shift hardly widens.
pub fn weighted_average(values: &[f64], chart: &IndividualsChart) -> WeightedAverage {
    let (series, limits) = ewma(values, chart.centre, chart.mean_range / D2, WEIGHT);
    let is_outside = |i: &usize| series[*i] < limits[0] || series[*i] > limits[1];
    let outside = (0..series.len()).filter(is_outside).collect();
    WeightedAverage { series, limits, outside }
}

/// The exponentially weighted moving average of `values` from `start` on, and its two limits
/// `start` ± 3 `sd` √(weight/(2 − weight)).
///
/// `weight`: of the newest value, above 0 to 1; the e-Handbook (6.3.2.4) uses 0.3.
pub fn ewma(values: &[f64], start: f64, sd: f64, weight: f64) -> (Vec<f64>, [f64; 2]) {
    let mut level = start;
    let series = values.iter().map(|value| {
        level = weight * value + (1.0 - weight) * level;
        level
    });
    let series = series.collect();
    let half = 3.0 * sd * (weight / (2.0 - weight)).sqrt();
    (series, [start - half, start + half])
}
