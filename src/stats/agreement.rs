//! Two ways of measuring, and repeated sessions, against each other.

use super::around;
use super::intervals::t_quantile;
use super::summary::{moments, sum};
use crate::domain::Interval;

/// How far two ways of measuring the same things differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Agreement {
    /// The mean of first minus second.
    pub bias: f64,
    /// The doubt of that: half of its 95 % interval by Student's t.
    pub bias_doubt: f64,
    /// The standard deviation of the differences.
    pub sd: f64,
    /// bias ± 1.96 SD: 95 of 100 differences lie within.
    pub limits: Interval,
    /// The doubt of each limit itself: half of its 95 % interval.
    pub limit_doubt: f64,
}

/// Bland and Altman's limits of agreement (1986, Lancet i:307-310) with 1.96 in the place of
/// the paper's 2, and with the paper's standard error of a limit, √(3 / n) SD, times Student's t of
/// n - 1 degrees of freedom; `None` below 2 pairs or for lists of unequal length.
pub fn agreement(first: &[f64], second: &[f64]) -> Option<Agreement> {
    if first.len() != second.len() {
        return None;
    }
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let m = moments(&differences)?;
    let sd = m.sd?;
    let n = differences.len() as f64;
    let bias_doubt = t_quantile(0.975, n - 1.0) * sd / n.sqrt();
    Some(Agreement {
        bias: m.mean,
        bias_doubt,
        sd,
        limits: around(m.mean, 1.96 * sd),
        limit_doubt: 3f64.sqrt() * bias_doubt,
    })
}

/// The spread of one reading of the same thing, from pairs of readings of many things: root of
/// the mean of half the squared differences. `None` without pairs.
pub fn within_subject_sd(first: &[f64], second: &[f64]) -> Option<f64> {
    if first.len() != second.len() || first.is_empty() {
        return None;
    }
    let squares = sum(first.iter().zip(second).map(|(a, b)| (a - b).powi(2)));
    Some((squares / (2.0 * first.len() as f64)).sqrt())
}

/// What repeat sessions of several golfers (or clubs) say about a number's reliability.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reliability {
    /// Mean squares: between rows, within rows, between columns, error.
    pub mean_squares: [f64; 4],
    /// ICC(1,1), (2,1), (3,1): one reading.
    pub single: [f64; 3],
    /// ICC(1,k), (2,k), (3,k): the mean of a row's readings.
    pub average: [f64; 3],
    /// Standard error of measurement: root of the error's mean square.
    pub sem: f64,
    /// The smallest change between two readings that is more than measuring and daily form:
    /// 1.96 √2 SEM.
    pub detectable_change: f64,
}

/// Intraclass correlations (Shrout & Fleiss 1979, Psych Bull 86:420-428) and the minimal
/// detectable change (Weir 2005, J Strength Cond Res 19:231-240).
///
/// `rows`: one for each golfer, with one reading for each session, all of the same length.
/// `None` below 2 rows or 2 readings.
pub fn reliability(rows: &[Vec<f64>]) -> Option<Reliability> {
    let (n, k) = (rows.len(), rows.first()?.len());
    if n < 2 || k < 2 || rows.iter().any(|row| row.len() != k) {
        return None;
    }
    let (nf, kf) = (n as f64, k as f64);
    let row_mean: Vec<f64> = rows.iter().map(|r| sum(r.iter().copied()) / kf).collect();
    let column_mean: Vec<f64> = (0..k).map(|j| sum(rows.iter().map(|r| r[j])) / nf).collect();
    let grand = sum(row_mean.iter().copied()) / nf;
    let squares = |means: &[f64]| sum(means.iter().map(|m| (m - grand).powi(2)));
    let between_rows = kf * squares(&row_mean);
    let between_columns = nf * squares(&column_mean);
    let within =
        sum(rows.iter().zip(&row_mean).flat_map(|(r, m)| r.iter().map(move |v| (v - m).powi(2))));
    let bms = between_rows / (nf - 1.0);
    let wms = within / (nf * (kf - 1.0));
    let jms = between_columns / (kf - 1.0);
    let ems = (within - between_columns).max(0.0) / ((nf - 1.0) * (kf - 1.0));
    let sem = ems.sqrt();
    Some(Reliability {
        mean_squares: [bms, wms, jms, ems],
        single: [
            (bms - wms) / (bms + (kf - 1.0) * wms),
            (bms - ems) / (bms + (kf - 1.0) * ems + kf * (jms - ems) / nf),
            (bms - ems) / (bms + (kf - 1.0) * ems),
        ],
        average: [(bms - wms) / bms, (bms - ems) / (bms + (jms - ems) / nf), (bms - ems) / bms],
        sem,
        detectable_change: 1.96 * std::f64::consts::SQRT_2 * sem,
    })
}
