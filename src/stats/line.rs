//! A straight line through points, such as low point over ball position, or over the course of a
//! block.

use super::around;
use super::intervals::{UPPER, t_quantile, t_two_sided_p};
use super::summary::{moments, sum};
use crate::domain::Interval;

/// A least-squares line y = intercept + slope x.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineFit {
    /// At x = 0.
    pub intercept: f64,
    /// Standard uncertainty of the intercept.
    pub intercept_u: f64,
    /// y for one of x.
    pub slope: f64,
    /// Standard uncertainty of the slope.
    pub slope_u: f64,
    /// Standard deviation of the points about the line.
    pub residual_sd: f64,
    /// Share of the spread of y that the line explains.
    pub r_squared: f64,
    n: usize,
    x_mean: f64,
    x_squares: f64,
}

impl LineFit {
    /// The line at `x` with the 95 % interval of the mean of y there.
    pub fn at(&self, x: f64) -> (f64, Interval) {
        let value = self.intercept + self.slope * x;
        let u = self.residual_sd
            * (1.0 / self.n as f64 + (x - self.x_mean).powi(2) / self.x_squares).sqrt();
        (value, around(value, t_quantile(UPPER, self.n as f64 - 2.0) * u))
    }

    /// The slope's 95 % interval.
    pub fn slope_interval(&self) -> Interval {
        around(self.slope, t_quantile(UPPER, self.n as f64 - 2.0) * self.slope_u)
    }
}

/// The least-squares line; `None` below 3 points, for lists of unequal length, or when all x
/// agree.
pub fn fit_line(x: &[f64], y: &[f64]) -> Option<LineFit> {
    if x.len() != y.len() || x.len() < 3 {
        return None;
    }
    let (n, x_mean, y_mean) = (x.len() as f64, moments(x)?.mean, moments(y)?.mean);
    let x_squares = sum(x.iter().map(|x| (x - x_mean).powi(2)));
    let products = sum(x.iter().zip(y).map(|(x, y)| (x - x_mean) * (y - y_mean)));
    if x_squares <= 0.0 {
        return None;
    }
    let slope = products / x_squares;
    let residual = |(x, y): (&f64, &f64)| ((y - y_mean) - slope * (x - x_mean)).powi(2);
    let left = sum(x.iter().zip(y).map(residual));
    let total = sum(y.iter().map(|y| (y - y_mean).powi(2)));
    let residual_sd = (left / (n - 2.0)).sqrt();
    let root_sum = sum(x.iter().map(|x| x * x));
    Some(LineFit {
        intercept: y_mean - slope * x_mean,
        intercept_u: residual_sd * (root_sum / (n * x_squares)).sqrt(),
        slope,
        slope_u: residual_sd / x_squares.sqrt(),
        residual_sd,
        r_squared: if total > 0.0 { 1.0 - left / total } else { 1.0 },
        n: x.len(),
        x_mean,
        x_squares,
    })
}

/// A steady change over the course of a block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// From one swing to the next, in the unit of the values.
    pub per_swing: f64,
    /// Its standard uncertainty, from what scatters about the line.
    pub u: f64,
    /// Half of its 95 % interval.
    pub half_width: f64,
    /// The chance of so steep a line if there were no drift.
    pub p: f64,
}

/// The straight line through values in time order, and whether it is more than chance (t test
/// of the slope); `None` below 4 values or when they all agree.
pub fn drift(values: &[f64]) -> Option<Drift> {
    if values.len() < 4 {
        return None;
    }
    let numbers: Vec<f64> = (0..values.len()).map(|i| i as f64).collect();
    let line = fit_line(&numbers, values)?;
    let p = t_two_sided_p(line.slope / line.slope_u, values.len() as f64 - 2.0);
    p.is_finite().then(|| Drift {
        per_swing: line.slope,
        u: line.slope_u,
        half_width: line.slope_interval().half_width(),
        p,
    })
}
