//! Spread, intervals, comparison of blocks of swings.
//!
//! No input or output, no clock, no thread. Same input, same answer: what is drawn at random
//! (large permutation tests) starts from a fixed seed.
//!
//! Plain lists of numbers are served by the small modules; [`summarise_block`] and
//! [`compare_blocks`] put them together for swings, with what measuring adds to the doubt.

mod agreement;
mod aim;
mod block;
mod charts;
mod comparison;
mod drills;
mod intervals;
mod line;
mod outliers;
mod ranks;
mod retention;
mod spreads;
mod summary;
mod two_means;

pub use agreement::{Agreement, Reliability, agreement, reliability, within_subject_sd};
pub use aim::{AimTable, AimWindow, Capability, usual_window};
pub use block::{
    BlockSummary, Caution, OffsetSummary, Share, SwingOffsets, drift_words, summarise_block,
    summarise_offset, values_of,
};
pub use charts::{IndividualsChart, WeightedAverage, ewma, individuals_chart, weighted_average};
pub use comparison::{Comparison, OffsetComparison, compare_blocks, correct_several};
pub use drills::{DRILLS, Drill, DrillScore, REACH_MM, Scoring, score_drill};
pub use intervals::{mean_interval, median_interval, sd_interval, wilson_interval};
pub use line::{Drift, LineFit, drift, fit_line};
pub use outliers::{Grubbs, grubbs, robust_outliers};
pub use ranks::{Shift, median_difference_interval, median_permutation_p, rank_sum_p, shift};
pub use retention::{Retention, retention};
pub use spreads::{
    SpreadRatio, bartlett, brown_forsythe, f_ratio, smallest_visible_ratio, spread_ratio,
};
pub use summary::{Moments, lag_1, median, median_absolute_deviation, moments};
pub use two_means::{
    MeanDifference, effect_size, holm, one_way_f, paired_t, pooled, swings_needed,
    swings_needed_one_sample, welch,
};

use crate::domain::Interval;

/// A test's statistic with its degrees of freedom and chance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TestResult {
    /// The statistic.
    pub statistic: f64,
    /// Its degrees of freedom; the second is 0 where there is one only.
    pub freedom: (f64, f64),
    /// The chance of a statistic at least this far out if there were no difference.
    pub p: f64,
}

/// A symmetric interval.
fn around(value: f64, half: f64) -> Interval {
    Interval { low: value - half, high: value + half }
}
