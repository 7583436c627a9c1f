//! What stands between two blocks in words, once for window and command line.

use crate::domain::{Interval, LengthUnit};
use crate::stats::{BlockSummary, Comparison, OffsetComparison, SpreadRatio};

use super::study::Against;
use super::tell::{chance_words, value_words};

/// One line of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedFact {
    /// What it is.
    pub name: &'static str,
    /// How it is come by.
    pub method: &'static str,
    /// What was found.
    pub text: String,
    /// It is the difference that [`OffsetComparison::difference`] has the budget of.
    pub has_budget: bool,
}

/// Everything known about the number at this place of a comparison; always the same lines.
pub fn comparison_facts(other: &Against, place: usize, unit: LengthUnit) -> Vec<ComparedFact> {
    let Some(offset) = other.comparison.offsets.get(place) else { return Vec::new() };
    let corrected = other.corrected.get(place).copied().unwrap_or(1.0);
    let mut lines = Vec::from(mean_facts(other, offset, corrected, unit));
    lines.extend(median_facts(offset, unit));
    lines.extend(spread_facts(offset));
    lines.push((
        "Effect size",
        "Difference in standard deviations (Hedges' g)",
        offset.effect_size.map_or("–".into(), |g| format!("{g:.2}")),
    ));
    lines.push((
        "Swings needed",
        "In each block, to show a difference as large as this one in four of five tries",
        needed_words(offset),
    ));
    let fact =
        |(name, method, text)| ComparedFact { name, method, text, has_budget: name == DIFFERENCE };
    lines.into_iter().map(fact).collect()
}

/// The line whose number has a budget.
const DIFFERENCE: &str = "Difference (95 %)";

type Line = (&'static str, &'static str, String);

fn mean_facts(
    other: &Against,
    offset: &OffsetComparison,
    corrected: f64,
    unit: LengthUnit,
) -> [Line; 5] {
    let q = offset.quantity;
    let mean = |summary: &BlockSummary, n: usize| {
        let mean = summary.offset(q).map(|o| value_words(q, o.moments.mean, unit));
        format!("{} (n = {n})", mean.unwrap_or_default())
    };
    let Comparison { first, second, .. } = &other.comparison;
    let scatter = &offset.scatter_only;
    [
        ("First mean", "Of the block the other is held against", mean(first, offset.n[0])),
        ("This mean", "Of this block", mean(second, offset.n[1])),
        (
            DIFFERENCE,
            "Of the means (Welch), the doubt of the measuring included; what both blocks share of the set-up cancels",
            offset.difference_words(unit),
        ),
        (
            "By scatter alone",
            "The same without the doubt of the measuring",
            offset.way_words(scatter.difference, Some(scatter.interval), unit),
        ),
        (
            "Chance, means",
            "Of so large a difference of means if there were none; then corrected for all that is compared here",
            format!("{}; {} corrected", chance_words(offset.means.test.p), chance_words(corrected)),
        ),
    ]
}

fn median_facts(offset: &OffsetComparison, unit: LengthUnit) -> [Line; 3] {
    let few = || "too few swings".to_owned();
    let shift = offset.shift.as_ref();
    let medians =
        shift.map_or_else(few, |s| offset.way_words(s.median_difference, s.median_interval, unit));
    let chance = shift.map_or_else(few, |s| match s.median_p_u {
        u if u < 0.0005 => chance_words(s.median_p),
        u => format!("{} ± {u:.3}", chance_words(s.median_p)),
    });
    let moved = shift.map_or_else(few, |s| offset.way_words(s.estimate, s.interval, unit));
    [
        (
            "Medians (95 %)",
            "Their difference, and what dealing the swings at random does not rule out (permutation); asks for no distribution",
            medians,
        ),
        ("Chance, medians", "How often swings dealt at random give medians as far apart", chance),
        (
            "Shift (95 %)",
            "The median of all differences (Hodges and Lehmann) with the interval by ranks; asks for no distribution",
            moved,
        ),
    ]
}

fn spread_facts(offset: &OffsetComparison) -> [Line; 2] {
    let told = |text: fn(&SpreadRatio) -> (f64, Interval, f64)| {
        offset.spreads.as_ref().map_or("too few swings".to_owned(), |s| {
            let (ratio, Interval { low, high }, p) = text(s);
            format!("{ratio:.2} ({low:.2} to {high:.2}), chance {}", chance_words(p))
        })
    };
    [
        (
            "Spread, this / first",
            "By distances from the median (Bonett and Seier; Brown and Forsythe), which survives outliers",
            told(|s| (s.robust_ratio, s.robust_interval, s.brown_forsythe.p)),
        ),
        (
            "The same by variances",
            "F test; exact for normally distributed values only",
            told(|s| (s.ratio, s.interval, s.f_test.p)),
        ),
    ]
}

fn needed_words(offset: &OffsetComparison) -> String {
    match offset.swings_needed {
        Some(n) if !offset.is_shown() => format!("about {n} each"),
        _ if offset.is_shown() => "enough".into(),
        _ if offset.hidden_by_set_up => "the set-ups' doubt hides it".into(),
        _ => "too many to say".into(),
    }
}
