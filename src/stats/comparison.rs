//! Two blocks against each other, and the one plain sentence.

use super::AimTable;
use super::block::{
    BlockSummary, OffsetSummary, Share, SharedParts, SwingOffsets, scatter_of, summarise_block,
};
use super::ranks::{Shift, shift};
use super::spreads::{SpreadRatio, smallest_visible_ratio, spread_ratio};
use super::two_means::{MeanDifference, effect_size, holm, swings_needed, welch};
use crate::domain::{Interval, LengthUnit, MarkWord, Measured, Quantity, SwingKind, capital};

/// Two blocks against each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The first block.
    pub first: BlockSummary,
    /// The second block.
    pub second: BlockSummary,
    /// Each number both have.
    pub offsets: Vec<OffsetComparison>,
    /// What speaks against comparing them at all, in sentences.
    pub cautions: Vec<String>,
}

/// One number of two blocks.
#[derive(Clone, Debug, PartialEq)]
pub struct OffsetComparison {
    /// Which.
    pub quantity: Quantity,
    /// What the marks in the ground are called.
    pub mark: MarkWord,
    /// How many swings of each have it.
    pub n: [usize; 2],
    /// Second mean minus first, with its budget: shared set-ups cancel with their sign, others are
    /// added.
    pub difference: Measured,
    /// The same as a test, the doubt of the measuring included.
    pub means: MeanDifference,
    /// The same from the scatter alone (Welch).
    pub scatter_only: MeanDifference,
    /// What the first block's scatter and what the second's leaves open about it, as standard
    /// uncertainties.
    pub scatter: [f64; 2],
    /// Without asking for any distribution.
    pub shift: Option<Shift>,
    /// Second spread over first.
    pub spreads: Option<SpreadRatio>,
    /// Ratio of spreads that can be shown at all with so many swings.
    pub smallest_visible_ratio: Option<f64>,
    /// The difference of means in standard deviations (Hedges).
    pub effect_size: Option<f64>,
    /// Swings each block needs to show a difference as large as the observed one, the doubt of
    /// the camera's standings included.
    pub swings_needed: Option<usize>,
    /// Swings alone would show it, were it not for the doubt of the camera's standings.
    pub hidden_by_set_up: bool,
}

/// Compares two blocks, each in time order. Numbers that fewer than two swings of either have
/// are passed over.
///
/// ```
/// use scuffline::domain::{Contribution, LengthUnit, Measured, Source, SwingKind};
/// use scuffline::stats::{AimTable, SwingOffsets, compare_blocks};
///
/// let block = |starts: [f64; 6]| -> Vec<SwingOffsets> {
///     starts.map(|mm| SwingOffsets {
///         calibration: Some(1),
///         divot_start: Some(Measured::new(mm, vec![Contribution::new(Source::Mark, 3.0)])),
///         ..SwingOffsets::without_numbers(SwingKind::Strike)
///     }).to_vec()
/// };
/// let before = block([12.0, 20.0, 5.0, 16.0, 22.0, 9.0]);
/// let after = block([48.0, 55.0, 40.0, 51.0, 60.0, 46.0]);
/// let compared = compare_blocks(&before, &after, &AimTable::default());
/// assert!(compared.sentence(LengthUnit::Mm).starts_with("Divot start 36 mm farther ahead, 95 %"));
/// ```
pub fn compare_blocks(
    first: &[SwingOffsets],
    second: &[SwingOffsets],
    aim: &AimTable,
) -> Comparison {
    let (a, b) = (summarise_block(first, aim), summarise_block(second, aim));
    let both = |q| Some((a.offset(q)?, b.offset(q)?));
    let offsets = Quantity::ALL
        .into_iter()
        .filter_map(|q| both(q).and_then(|(x, y)| compare_offsets(x, y)))
        .collect();
    let cautions = cautions(first, second);
    Comparison { offsets, cautions, first: a, second: b }
}

fn compare_offsets(first: &OffsetSummary, second: &OffsetSummary) -> Option<OffsetComparison> {
    let (m1, m2) = (&first.moments, &second.moments);
    let scatter_only = welch(m1, m2)?;
    let shared = SharedParts::of_difference(&first.shared, &second.shared);
    // Welch's degrees of freedom are those of Welch-Satterthwaite for the scatter alone.
    let scatter = [scatter_of(m1)?, scatter_of(m2)?];
    let each = [scatter[0].standard, scatter[1].standard];
    let difference = shared.with(scatter_only.difference, scatter);
    let means = MeanDifference::of(&difference);
    let shared = shared.standard_uncertainty();
    let plain = |o: &OffsetSummary| o.values.iter().map(|(_, v)| *v).collect::<Vec<_>>();
    let (v1, v2) = (plain(first), plain(second));
    let pooled = (m1.sd?.powi(2) / 2.0 + m2.sd?.powi(2) / 2.0).sqrt();
    Some(OffsetComparison {
        quantity: first.quantity,
        mark: MarkWord::of_all([first.mark, second.mark]),
        n: [m1.n, m2.n],
        difference,
        means,
        scatter_only,
        scatter: each,
        shift: shift(&v1, &v2),
        spreads: spread_ratio(&v1, &v2),
        smallest_visible_ratio: smallest_visible_ratio(m1.n, m2.n),
        effect_size: effect_size(m1, m2),
        swings_needed: swings_needed(scatter_only.difference, pooled, shared),
        hidden_by_set_up: swings_needed(scatter_only.difference, pooled, 0.0).is_some()
            && swings_needed(scatter_only.difference, pooled, shared).is_none(),
    })
}

fn cautions(first: &[SwingOffsets], second: &[SwingOffsets]) -> Vec<String> {
    let mut list = Vec::new();
    let counting = |s: &[SwingOffsets]| -> Vec<SwingOffsets> {
        s.iter().filter(|s| !s.left_out).cloned().collect()
    };
    let (a, b) = (counting(first), counting(second));
    let across = |differ: &dyn Fn(&SwingOffsets, &SwingOffsets) -> bool| {
        a.iter().any(|x| b.iter().any(|y| differ(x, y)))
    };
    if across(&|x, y| x.surface != y.surface) {
        list.push("One block has turf and the other a mat; their marks do not compare.".into());
    }
    if across(&|x, y| x.calibration != y.calibration || x.calibration.is_none()) {
        list.push("The camera was set up anew in between; the ± carries it.".into());
    }
    let differ_within = |s: &[SwingOffsets]| s.iter().any(|x| x.club != s[0].club);
    if across(&|x, y| x.club != y.club) && (differ_within(&a) || differ_within(&b)) {
        list.push("Several clubs are mixed; compare club by club.".into());
    }
    let mixed = |s: &[SwingOffsets]| s.iter().any(|x| x.kind != s[0].kind);
    if mixed(&a) || mixed(&b) {
        list.push("Strikes and practice swings are mixed; compare them apart.".into());
    }
    let method = |s: &SwingOffsets| s.low_point.as_ref().map(|(_, m)| *m);
    if across(&|x, y| matches!((method(x), method(y)), (Some(p), Some(q)) if p != q)) {
        list.push("Low points were read in different ways; compare the divot starts.".into());
    }
    list
}

/// The chances of several comparisons looked at together, corrected (Holm), in the order given.
pub fn correct_several(comparisons: &[&OffsetComparison]) -> Vec<f64> {
    holm(&comparisons.iter().map(|c| c.means.test.p).collect::<Vec<_>>())
}

impl Comparison {
    /// The comparison of one number, if both blocks have it.
    pub fn offset(&self, quantity: Quantity) -> Option<&OffsetComparison> {
        self.offsets.iter().find(|o| o.quantity == quantity)
    }

    /// The number that matters: the divot start, else the low point.
    pub fn told(&self) -> Option<&OffsetComparison> {
        self.offset(Quantity::DivotStart).or_else(|| self.offset(Quantity::LowPoint))
    }

    /// The one plain sentence about the number that matters.
    pub fn sentence(&self, unit: LengthUnit) -> String {
        self.told().map_or_else(
            || "Too few swings to compare: each block takes at least two.".into(),
            |offset| offset.sentence(unit),
        )
    }

    /// Whether one block is practice swings and the other strikes: the gap itself is the
    /// finding.
    pub fn is_ball_gap(&self, first: &[SwingOffsets], second: &[SwingOffsets]) -> bool {
        let all = |s: &[SwingOffsets], kind| !s.is_empty() && s.iter().all(|s| s.kind == kind);
        (all(first, SwingKind::Practice) && all(second, SwingKind::Strike))
            || (all(first, SwingKind::Strike) && all(second, SwingKind::Practice))
    }

    /// Ball first in the first and in the second block.
    pub fn ball_first(&self) -> Option<[Share; 2]> {
        Some([self.first.ball_first?, self.second.ball_first?])
    }
}

impl OffsetComparison {
    /// The difference of means is more than chance and measuring (95 %).
    pub fn is_shown(&self) -> bool {
        !self.means.interval.contains(0.0)
    }

    /// The spreads are shown to differ: by the test and by the interval that survive values
    /// that are not normally distributed.
    pub fn spread_is_shown(&self) -> bool {
        self.spreads.is_some_and(|s| s.brown_forsythe.p < 0.05 && !s.robust_interval.contains(1.0))
    }

    /// One plain sentence that is true.
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let scale = Scale::of(self.quantity, unit);
        format!("{}; {}.", self.mean_words(&scale), self.spread_words())
    }

    /// "12 mm farther ahead (3 to 21)": a difference of means, shown or not, with its 95 %
    /// interval.
    pub fn difference_words(&self, unit: LengthUnit) -> String {
        self.way_words(self.means.difference, Some(self.means.interval), unit)
    }

    /// "12 mm farther ahead (3 to 21)", "4 mm farther ahead (20 behind to 19 ahead)": any
    /// difference of this number with its interval, the sign spelled out.
    pub fn way_words(&self, d: f64, interval: Option<Interval>, unit: LengthUnit) -> String {
        let scale = Scale::of(self.quantity, unit);
        let told = format!("{} {}", scale.with_unit(d.abs()), scale.way(d));
        let Some(Interval { low, high }) = interval else { return told };
        let limit = |v: f64| match low.signum() == high.signum() {
            true => scale.number(v.abs()),
            false => format!("{} {}", scale.number(v.abs()), scale.short_way(v)),
        };
        let (near, far) = if d < 0.0 { (high, low) } else { (low, high) };
        format!("{told} ({} to {})", limit(near), limit(far))
    }

    fn mean_words(&self, scale: &Scale) -> String {
        let (d, name) = (self.means.difference, self.quantity.words_of(self.mark));
        let Interval { low, high } = self.means.interval;
        if self.is_shown() {
            let way = scale.way(d);
            let (near, far) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
            return format!(
                "{} {} {way}, 95 % interval {} to {}",
                capital(name),
                scale.with_unit(d.abs()),
                scale.number(near),
                scale.number(far)
            );
        }
        let needed = match self.swings_needed {
            Some(n) => {
                format!("it takes about {n} swings in each block to show a difference this large")
            }
            None if self.hidden_by_set_up => {
                "the doubt of the camera's set-ups hides so small a difference however many swings are played; leave the camera standing between the blocks".into()
            }
            None => "no reasonable number of swings would show so small a difference".into(),
        };
        format!(
            "No difference shown in {name}: {} {}, 95 % interval {} {} to {} {}; {needed}",
            scale.with_unit(d.abs()),
            scale.way(d),
            scale.number(low.abs()),
            scale.short_way(low),
            scale.number(high.abs()),
            scale.short_way(high),
        )
    }

    fn spread_words(&self) -> String {
        let Some(spreads) = self.spreads.filter(|_| self.spread_is_shown()) else {
            let [a, b] = self.n;
            let swings = if a == b { format!("{a}") } else { format!("{a} and {b}") };
            return self.smallest_visible_ratio.map_or_else(
                || "spread not shown to differ".into(),
                |r| format!("spread not shown to differ: with {swings} swings a ratio under {r:.1} can't be seen"),
            );
        };
        let way = if spreads.robust_ratio < 1.0 { "smaller" } else { "larger" };
        format!(
            "spread {way}: {:.2} times, 95 % interval {:.2} to {:.2}",
            spreads.robust_ratio, spreads.robust_interval.low, spreads.robust_interval.high
        )
    }
}

/// How a number is spoken.
struct Scale {
    unit: String,
    size: f64,
    decimals: usize,
    is_angle: bool,
}

impl Scale {
    fn of(quantity: Quantity, unit: LengthUnit) -> Self {
        if quantity == Quantity::AttackAngle {
            return Self { unit: "°".into(), size: 1.0, decimals: 1, is_angle: true };
        }
        let (size, decimals) = (unit.in_mm(), unit.decimals());
        Self { unit: format!(" {}", unit.short_name()), size, decimals, is_angle: false }
    }

    /// One more decimal where the usual ones would show a number as nothing.
    fn number(&self, value: f64) -> String {
        let value = value / self.size;
        let nothing = value.abs() < 0.5 * 0.1_f64.powi(self.decimals as i32);
        let decimals = self.decimals + usize::from(nothing && value != 0.0);
        format!("{value:.decimals$}")
    }

    fn with_unit(&self, value: f64) -> String {
        format!("{}{}", self.number(value), self.unit)
    }

    fn way(&self, difference: f64) -> &'static str {
        match (self.is_angle, difference < 0.0) {
            (false, false) => "farther ahead",
            (false, true) => "farther behind",
            (true, false) => "less down",
            (true, true) => "more down",
        }
    }

    fn short_way(&self, difference: f64) -> &'static str {
        match (self.is_angle, difference < 0.0) {
            (false, false) => "ahead",
            (false, true) => "behind",
            (true, false) => "less",
            (true, true) => "more",
        }
    }
}
