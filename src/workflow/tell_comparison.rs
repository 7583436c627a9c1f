//! What stands between two blocks in words, once for window and command line.

use crate::domain::{Interval, LengthUnit};
use crate::stats::{BlockSummary, Comparison, OffsetComparison, SpreadRatio};

use super::doubt::ComparedNumber;
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
    /// The number that it tells, where that has a doubt of its own.
    pub number: Option<ComparedNumber>,
}

/// Everything known about the number at this place of a comparison; always the same lines.
pub fn comparison_facts(other: &Against, place: usize, unit: LengthUnit) -> Vec<ComparedFact> {
    let Some(offset) = other.comparison.offsets.get(place) else { return Vec::new() };
    let corrected = other.corrected.get(place).copied().unwrap_or(1.0);
    let mut lines = Vec::from(mean_facts(other, offset, corrected, unit));
    lines.extend(median_facts(offset, unit));
    lines.extend(spread_facts(offset, unit));
    lines.push((
        None,
        "Effect size",
        "Difference in standard deviations (Hedges' g)",
        offset.effect_size.map_or("–".into(), |g| format!("{g:.2}")),
    ));
    lines.push((
        None,
        "Swings needed",
        "In each block, to show a difference as large as this one in four of five tries",
        needed_words(offset),
    ));
    let fact = |(number, name, method, text)| ComparedFact { name, method, text, number };
    lines.into_iter().map(fact).collect()
}

type Line = (Option<ComparedNumber>, &'static str, &'static str, String);

/// What scatter alone says of one of the numbers between two blocks, with its interval; `None` of
/// too few swings, and of those that the measuring's doubt is part of.
pub(super) fn compared_words(
    offset: &OffsetComparison,
    which: ComparedNumber,
    unit: LengthUnit,
) -> Option<String> {
    let (shift, spreads) = (offset.shift.as_ref(), offset.spreads.as_ref());
    let way = |d, interval| offset.way_words(d, interval, unit);
    let ratio = |r: f64, Interval { low, high }| format!("{r:.2} ({low:.2} to {high:.2})");
    Some(match which {
        ComparedNumber::ScatterAlone => {
            way(offset.scatter_only.difference, Some(offset.scatter_only.interval))
        }
        ComparedNumber::Medians => shift.map(|s| way(s.median_difference, s.median_interval))?,
        ComparedNumber::Shift => shift.map(|s| way(s.estimate, s.interval))?,
        ComparedNumber::Spreads => spreads.map(|s| ratio(s.robust_ratio, s.robust_interval))?,
        ComparedNumber::Variances => spreads.map(|s| ratio(s.ratio, s.interval))?,
        _ => return None,
    })
}

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
    let alone = compared_words(offset, ComparedNumber::ScatterAlone, unit);
    [
        (
            Some(ComparedNumber::FirstMean),
            "First mean",
            "Of the block the other is held against",
            mean(first, offset.n[0]),
        ),
        (Some(ComparedNumber::ThisMean), "This mean", "Of this block", mean(second, offset.n[1])),
        (
            Some(ComparedNumber::Difference),
            "Difference (95 %)",
            "Of the means (Welch), the doubt of the measuring included; what both blocks share of the set-up cancels",
            offset.difference_words(unit),
        ),
        (
            Some(ComparedNumber::ScatterAlone),
            "By scatter alone",
            "The same without the doubt of the measuring",
            alone.unwrap_or_default(),
        ),
        (
            None,
            "Chance, means",
            "Of so large a difference of means if there were none; then corrected for all that is compared here",
            format!("{}; {} corrected", chance_words(offset.means.test.p), chance_words(corrected)),
        ),
    ]
}

fn median_facts(offset: &OffsetComparison, unit: LengthUnit) -> [Line; 3] {
    let few = || "too few swings".to_owned();
    let shift = offset.shift.as_ref();
    let told = |which| compared_words(offset, which, unit).unwrap_or_else(few);
    let [medians, moved] = [ComparedNumber::Medians, ComparedNumber::Shift].map(told);
    let chance = shift.map_or_else(few, |s| match s.median_p_u {
        u if u < 0.0005 => chance_words(s.median_p),
        u => format!("{} ± {u:.3}", chance_words(s.median_p)),
    });
    // Without an interval there is no doubt to lay out.
    let of = |which, interval: Option<Interval>| interval.map(|_| which);
    [
        (
            of(ComparedNumber::Medians, shift.and_then(|s| s.median_interval)),
            "Medians (95 %)",
            "Their difference, and what dealing the swings at random does not rule out (permutation); asks for no distribution",
            medians,
        ),
        (
            None,
            "Chance, medians",
            "How often swings dealt at random give medians as far apart",
            chance,
        ),
        (
            of(ComparedNumber::Shift, shift.and_then(|s| s.interval)),
            "Shift (95 %)",
            "The median of all differences (Hodges and Lehmann) with the interval by ranks; asks for no distribution",
            moved,
        ),
    ]
}

fn spread_facts(offset: &OffsetComparison, unit: LengthUnit) -> [Line; 2] {
    let told = |which, p: fn(&SpreadRatio) -> f64| {
        let words = compared_words(offset, which, unit).zip(offset.spreads.as_ref());
        words.map_or("too few swings".to_owned(), |(words, s)| {
            format!("{words}, chance {}", chance_words(p(s)))
        })
    };
    let of = |which| offset.spreads.map(|_| which);
    [
        (
            of(ComparedNumber::Spreads),
            "Spread, this / first",
            "By distances from the median (Bonett and Seier; Brown and Forsythe), which survives outliers",
            told(ComparedNumber::Spreads, |s| s.brown_forsythe.p),
        ),
        (
            of(ComparedNumber::Variances),
            "The same by variances",
            "F test; exact for normally distributed values only",
            told(ComparedNumber::Variances, |s| s.f_test.p),
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
