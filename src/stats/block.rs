//! A block of swings in numbers.
//!
//! Doubt is of two kinds. What differs from swing to swing shows in the spread and shrinks in
//! the mean. What all swings of one standing of the camera share (scale, lens, target line)
//! and what the model leaves out do neither: they are added to the mean's doubt, with sign.

use std::collections::BTreeMap;

use super::charts::{IndividualsChart, WeightedAverage, individuals_chart, weighted_average};
use super::intervals::{UPPER, median_interval, sd_interval, t_quantile, wilson_interval};
use super::line::{Drift, drift};
use super::outliers::{Grubbs, grubbs, robust_outliers};
use super::summary::{Moments, lag_1, median, median_absolute_deviation, moments, sum};
use super::{AimTable, around};
use crate::domain::{
    Club, ContactOrder, Contribution, GroundMark, Interval, LengthUnit, LowPointMethod, MarkWord,
    Measured, Quantity, Source, Surface, SwingKind, SwingResult,
};

/// A swing as statistics see it.
#[derive(Clone, Debug, PartialEq)]
pub struct SwingOffsets {
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// The club.
    pub club: Option<Club>,
    /// The ball stood on a tee.
    pub on_tee: bool,
    /// What was played from.
    pub surface: Surface,
    /// The standing of the camera: swings that share it share the doubt of the scale. `None`:
    /// of its own.
    pub calibration: Option<i64>,
    /// Left out of the statistics by a person.
    pub left_out: bool,
    /// Divot start minus ball, mm.
    pub divot_start: Option<Measured>,
    /// Divot end minus ball, mm.
    pub divot_end: Option<Measured>,
    /// Low point minus ball, mm.
    pub low_point: Option<(Measured, LowPointMethod)>,
    /// Attack angle, degrees.
    pub attack_angle: Option<Measured>,
    /// The leading edge's height over the ground at the ball, mm.
    pub height_at_ball: Option<Measured>,
    /// The ball minus the lead heel, mm.
    pub ball_position: Option<Measured>,
    /// How far ahead of the ball the drill's reach line lies, mm, where one is marked.
    pub reach_line: Option<f64>,
    /// The ground was looked at and shows nothing.
    pub unmarked: bool,
    /// Which came first.
    pub contact_order: Option<ContactOrder>,
    /// What its mark in the ground is called.
    pub mark: MarkWord,
}

impl SwingOffsets {
    /// The numbers of a result; club, tee, surface and standing are filled in by the caller.
    pub fn of(result: &SwingResult) -> Self {
        Self {
            divot_start: result.divot_start_offset.clone(),
            divot_end: result.divot_end_offset.clone(),
            low_point: result.low_point.clone(),
            attack_angle: result.attack_angle.clone(),
            height_at_ball: result.height_at_ball.clone(),
            ball_position: result.ball_position.clone(),
            reach_line: result.reach_line.as_ref().map(|m| m.value),
            unmarked: result.ground_mark == Some(GroundMark::None),
            contact_order: result.contact_order,
            mark: MarkWord::of(result.ground_mark, None),
            ..Self::without_numbers(result.kind)
        }
    }

    /// A swing that is not measured yet.
    pub fn without_numbers(kind: SwingKind) -> Self {
        Self {
            kind,
            club: None,
            on_tee: false,
            surface: Surface::default(),
            calibration: None,
            left_out: false,
            divot_start: None,
            divot_end: None,
            low_point: None,
            attack_angle: None,
            height_at_ball: None,
            ball_position: None,
            reach_line: None,
            unmarked: false,
            contact_order: None,
            mark: MarkWord::default(),
        }
    }

    /// One of its numbers with its budget.
    pub fn measured(&self, quantity: Quantity) -> Option<&Measured> {
        match quantity {
            Quantity::DivotStart => self.divot_start.as_ref(),
            Quantity::DivotEnd => self.divot_end.as_ref(),
            Quantity::LowPoint => self.low_point.as_ref().map(|(m, _)| m),
            Quantity::AttackAngle => self.attack_angle.as_ref(),
        }
    }

    /// One of its numbers.
    pub fn value(&self, quantity: Quantity) -> Option<f64> {
        self.measured(quantity).map(|m| m.value)
    }
}

/// Something to know before believing a block's numbers.
#[derive(Clone, Debug, PartialEq)]
pub enum Caution {
    /// Few swings.
    Few {
        /// How many.
        n: usize,
    },
    /// Swings were left out.
    LeftOut {
        /// How many.
        n: usize,
    },
    /// Turf and mat together.
    MixedSurfaces,
    /// Strikes and practice swings together.
    MixedKinds,
    /// Several clubs together.
    MixedClubs,
    /// The camera was set up more than once.
    SeveralSetUps {
        /// How often.
        n: usize,
    },
    /// Low points were read in different ways.
    MixedLowPoints,
    /// The numbers went one way over the block.
    Drifting {
        /// What drifted.
        quantity: Quantity,
        /// From swing to swing.
        drift: Drift,
    },
    /// Neighbouring swings resemble each other: there is less to know than their number says.
    Following {
        /// Which number.
        quantity: Quantity,
        /// The lag-1 autocorrelation.
        lag_1: f64,
    },
    /// Swings that stand apart.
    StandingApart {
        /// In which number.
        quantity: Quantity,
        /// Their places in the block, from 0.
        swings: Vec<usize>,
    },
}

impl Caution {
    /// One sentence, lengths in `unit`.
    pub fn text(&self, unit: LengthUnit, mark: MarkWord) -> String {
        match self {
            Self::Few { n: 1 } => "Only 1 swing: a spread takes several; ten tell more.".into(),
            Self::Few { n } => format!("Only {n} swings: the spread is hardly known; ten tell more."),
            Self::LeftOut { n } => format!("{n} left out by hand."),
            Self::MixedSurfaces => "Turf and mat are mixed; look at them apart.".into(),
            Self::MixedKinds => "Strikes and practice swings are mixed; look at them apart.".into(),
            Self::MixedClubs => "Several clubs are mixed; look at them apart.".into(),
            Self::SeveralSetUps { n } => {
                format!("The camera was set up {n} times; part of the spread may come from that.")
            }
            Self::MixedLowPoints => {
                "Some low points come from the club's arc and some from the mark; look at them apart.".into()
            }
            Self::Drifting { quantity, drift } => format!(
                "The {} drifts by {} a swing; the spread says less about the golfer than about the change.",
                quantity.words_of(mark),
                drift_words(*quantity, drift.per_swing, unit)
            ),
            Self::Following { quantity, lag_1 } => format!(
                "Neighbouring swings resemble each other in {} (lag-1 correlation {lag_1:.2}); the intervals are too narrow.",
                quantity.words_of(mark)
            ),
            Self::StandingApart { quantity, swings } => {
                let numbers: Vec<String> = swings.iter().map(|i| (i + 1).to_string()).collect();
                format!(
                    "In {} swing {} stands apart; look at its marks before leaving it out.",
                    quantity.words_of(mark),
                    numbers.join(", ")
                )
            }
        }
    }
}

/// The size of a drift, with one decimal more than a length has, since a drift is small.
pub fn drift_words(of: Quantity, per_swing: f64, unit: LengthUnit) -> String {
    let size = per_swing.abs();
    match of {
        Quantity::AttackAngle => format!("{size:.2}°"),
        _ => unit.fine_words(size),
    }
}

/// So many of so many.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// How many.
    pub hits: usize,
    /// Of how many that could be told.
    pub of: usize,
    /// Wilson's 95 % interval of the share.
    pub interval: Interval,
}

impl Share {
    fn of(hits: usize, of: usize) -> Option<Self> {
        Some(Self { hits, of, interval: wilson_interval(hits, of)? })
    }
}

/// One number over a block.
#[derive(Clone, Debug, PartialEq)]
pub struct OffsetSummary {
    /// Which.
    pub quantity: Quantity,
    /// What the marks in the ground are called.
    pub mark: MarkWord,
    /// Number, mean and standard deviation as observed.
    pub moments: Moments,
    /// The mean with its budget: how the swings scatter, what they share of the measuring's doubt
    /// and what the model leaves out. Of a single swing, its own.
    pub mean: Measured,
    /// The mean's 95 % interval, the shared doubt of the measuring included; `None` where there is
    /// no doubt to tell: a single swing without a budget of its own, or equal values without any.
    pub mean_interval: Option<Interval>,
    /// The part of the mean's standard uncertainty that more swings do not shrink.
    pub shared_u: f64,
    /// The standard deviation's 95 % interval.
    pub sd_interval: Option<Interval>,
    /// The part of the observed spread that is measuring: root mean square of what differs
    /// from swing to swing.
    pub measuring_sd: f64,
    /// The golfer's own spread, measuring taken out; `None` where measuring explains it all or
    /// there is one swing.
    pub own_sd: Option<f64>,
    /// The median.
    pub median: f64,
    /// An interval of the median for any distribution.
    pub median_interval: Option<Interval>,
    /// Median distance from the median.
    pub mad: f64,
    /// Smallest and largest.
    pub range: [f64; 2],
    /// How alike neighbours are.
    pub lag_1: Option<f64>,
    /// Whether it went one way.
    pub drift: Option<Drift>,
    /// The value farthest out.
    pub grubbs: Option<Grubbs>,
    /// Places in the block of swings that stand apart (robust z above 3.5). Marked only.
    pub outliers: Vec<usize>,
    /// The values with their places in the block, in time order.
    pub values: Vec<(usize, f64)>,
    /// Individuals and moving-range chart of them.
    pub chart: Option<IndividualsChart>,
    /// Their average weighted to the newest, on the same chart.
    pub average: Option<WeightedAverage>,
    pub(super) shared: SharedParts,
}

/// A block of swings in numbers. Swings left out count nowhere but in `left_out`.
#[derive(Clone, Debug, PartialEq)]
pub struct BlockSummary {
    /// Swings that count.
    pub n: usize,
    /// Swings left out.
    pub left_out: usize,
    /// What the marks in the ground are called.
    pub mark: MarkWord,
    /// Those numbers that at least one swing has.
    pub offsets: Vec<OffsetSummary>,
    /// Ball first, of those that could be told; "too close to call" is neither.
    pub ball_first: Option<Share>,
    /// How many were too close to call.
    pub too_close: usize,
    /// Divot start in the aim window.
    pub start_in_window: Option<Share>,
    /// Low point in the aim window.
    pub low_point_in_window: Option<Share>,
    /// Iron strikes without ground contact whose height at the ball is known: mean height, mm,
    /// with its budget, and how many.
    pub clearance: Option<(Measured, usize)>,
    /// What to know before believing it.
    pub cautions: Vec<Caution>,
}

impl BlockSummary {
    /// The summary of one number, if any swing has it.
    pub fn offset(&self, quantity: Quantity) -> Option<&OffsetSummary> {
        self.offsets.iter().find(|o| o.quantity == quantity)
    }
}

/// The values of a number over those swings that count and have it, with their places.
pub fn values_of(swings: &[SwingOffsets], quantity: Quantity) -> Vec<(usize, f64)> {
    let counting = swings.iter().enumerate().filter(|(_, s)| !s.left_out);
    counting.filter_map(|(i, s)| Some((i, s.value(quantity)?))).collect()
}

/// A block of swings, in time order, in numbers.
pub fn summarise_block(swings: &[SwingOffsets], aim: &AimTable) -> BlockSummary {
    let counting: Vec<&SwingOffsets> = swings.iter().filter(|s| !s.left_out).collect();
    let offsets: Vec<OffsetSummary> =
        Quantity::ALL.into_iter().filter_map(|q| summarise_offset(swings, q)).collect();
    let orders = || counting.iter().filter_map(|s| s.contact_order);
    let ball_first = orders().filter(|o| *o == ContactOrder::BallFirst).count();
    let turf_first = orders().filter(|o| *o == ContactOrder::TurfFirst).count();
    let in_window = |quantity| {
        let told: Vec<bool> = counting
            .iter()
            .filter_map(|s| {
                let window = aim.window(s.club.as_ref(), s.on_tee, quantity)?;
                Some(window.contains(s.value(quantity)?))
            })
            .collect();
        Share::of(told.iter().filter(|hit| **hit).count(), told.len())
    };
    BlockSummary {
        n: counting.len(),
        left_out: swings.len() - counting.len(),
        mark: MarkWord::of_all(counting.iter().map(|swing| swing.mark)),
        cautions: cautions(swings, &counting, &offsets),
        offsets,
        ball_first: Share::of(ball_first, ball_first + turf_first),
        too_close: orders().filter(|o| *o == ContactOrder::TooClose).count(),
        start_in_window: in_window(Quantity::DivotStart),
        low_point_in_window: in_window(Quantity::LowPoint),
        clearance: clearance(&counting),
    }
}

fn clearance(counting: &[&SwingOffsets]) -> Option<(Measured, usize)> {
    let heights: Vec<(Option<i64>, &Measured)> = counting
        .iter()
        .filter(|s| s.kind == SwingKind::Strike && !s.on_tee)
        .filter(|s| s.contact_order == Some(ContactOrder::NoGroundContact))
        .filter_map(|s| Some((s.calibration, s.height_at_ball.as_ref()?)))
        .collect();
    let plain: Vec<f64> = heights.iter().map(|(_, height)| height.value).collect();
    let m = moments(&plain)?;
    Some((whole_mean(&m, &SharedParts::of(&heights), &heights), m.n))
}

/// One number of a block, in time order; `None` where no swing that counts has it.
pub fn summarise_offset(swings: &[SwingOffsets], quantity: Quantity) -> Option<OffsetSummary> {
    let values = values_of(swings, quantity);
    let plain: Vec<f64> = values.iter().map(|(_, v)| *v).collect();
    let m = moments(&plain)?;
    let measured: Vec<(Option<i64>, &Measured)> = values
        .iter()
        .filter_map(|(i, _)| Some((swings[*i].calibration, swings[*i].measured(quantity)?)))
        .collect();
    let shared = SharedParts::of(&measured);
    let mean = whole_mean(&m, &shared, &measured);
    let measuring_sd = measuring_sd(&measured);
    let own = m.sd.map(|sd| sd * sd - measuring_sd * measuring_sd).filter(|v| *v > 0.0);
    let chart = individuals_chart(&plain);
    let fold = |f: fn(f64, f64) -> f64, start| plain.iter().copied().fold(start, f);
    let counting = swings.iter().filter(|swing| !swing.left_out);
    Some(OffsetSummary {
        quantity,
        mark: MarkWord::of_all(counting.map(|swing| swing.mark)),
        mean_interval: interval_of(&mean),
        mean,
        shared_u: shared.standard_uncertainty(),
        sd_interval: sd_interval(&m),
        measuring_sd,
        own_sd: own.map(f64::sqrt),
        median: median(&plain)?,
        median_interval: median_interval(&plain),
        mad: median_absolute_deviation(&plain)?,
        range: [fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY)],
        lag_1: lag_1(&plain),
        drift: drift(&plain),
        grubbs: grubbs(&plain),
        outliers: robust_outliers(&plain).into_iter().map(|i| values[i].0).collect(),
        average: chart.as_ref().map(|chart| weighted_average(&plain, chart)),
        chart,
        moments: m,
        values,
        shared,
    })
}

/// The mean from the observed scatter and the shared parts. A single swing has no scatter: its own
/// budget stands in.
fn whole_mean(
    m: &Moments,
    shared: &SharedParts,
    measured: &[(Option<i64>, &Measured)],
) -> Measured {
    match (scatter_of(m), measured) {
        (Some(scatter), _) => shared.with(m.mean, [scatter]),
        (None, [(_, single)]) => (*single).clone(),
        (None, _) => Measured::new(m.mean, Vec::new()),
    }
}

/// What the observed scatter adds to the doubt of a mean; `None` for a single value.
pub(super) fn scatter_of(m: &Moments) -> Option<Contribution> {
    let (standard, freedom) = m.standard_error()?;
    Some(Contribution { source: Source::Scatter, standard, freedom: Some(freedom) })
}

/// The 95 % interval by Student's t with the budget's effective degrees of freedom; the drawn one
/// where there is one. `None` without any doubt.
fn interval_of(measured: &Measured) -> Option<Interval> {
    let u = measured.standard_uncertainty();
    let freedom = measured.effective_freedom().unwrap_or(f64::INFINITY);
    let linear = (u > 0.0).then(|| around(measured.value, t_quantile(UPPER, freedom) * u));
    measured.monte_carlo.or(linear)
}

/// The doubt that swings share, as it stands in their mean: signed, by standing of the camera
/// and source, and what the model leaves out.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct SharedParts {
    by_source: BTreeMap<(i64, Source), f64>,
    model: f64,
}

/// What all swings of one standing of the camera share.
fn is_shared(source: &Source) -> bool {
    match source {
        Source::Calibration(_) | Source::TargetLine | Source::Lens | Source::BallHeight => true,
        Source::Ball | Source::BallDepth | Source::Mark | Source::Steadying => false,
        Source::ArcFit | Source::Model | Source::Scatter => false,
    }
}

impl SharedParts {
    fn of(measured: &[(Option<i64>, &Measured)]) -> Self {
        let n = measured.len() as f64;
        let mut parts = Self::default();
        // Swings whose standing is not known are each on their own: numbers below any id.
        let mut alone = i64::MIN;
        let mut squares = Vec::new();
        for (calibration, m) in measured {
            let key = calibration.unwrap_or_else(|| {
                alone += 1;
                alone
            });
            for c in m.budget.iter().filter(|c| is_shared(&c.source)) {
                *parts.by_source.entry((key, c.source.clone())).or_default() += c.standard / n;
            }
            let model = |c: &&Contribution| c.source == Source::Model;
            squares.push(sum(m.budget.iter().filter(model).map(|c| c.standard.powi(2))));
        }
        // The model is wrong in much the same way for all swings of a block, so it is not
        // averaged; its sign is unknown, so between blocks it is not cancelled either.
        parts.model = (sum(squares) / n).sqrt();
        parts
    }

    pub(super) fn standard_uncertainty(&self) -> f64 {
        let shared = sum(self.by_source.values().map(|u| u * u));
        shared.sqrt().hypot(self.model)
    }

    /// The shared doubt of second minus first: what both share is subtracted with its sign.
    pub(super) fn of_difference(first: &Self, second: &Self) -> Self {
        let mut by_source = second.by_source.clone();
        for (key, u) in &first.by_source {
            *by_source.entry(key.clone()).or_default() -= u;
        }
        Self { by_source, model: first.model.hypot(second.model) }
    }

    /// A value with a budget of these parts, over all standings, and of the `scatter` beside them.
    /// The shared parts are taken as exactly known.
    pub(super) fn with(
        &self,
        value: f64,
        scatter: impl IntoIterator<Item = Contribution>,
    ) -> Measured {
        let mut budget: Vec<Contribution> = scatter.into_iter().collect();
        let mut of_source: BTreeMap<&Source, f64> = BTreeMap::new();
        for ((_, source), u) in &self.by_source {
            let sum = of_source.entry(source).or_default();
            *sum = sum.hypot(*u);
        }
        of_source.insert(&Source::Model, self.model);
        budget.extend(of_source.into_iter().map(|(s, u)| Contribution::new(s.clone(), u)));
        budget.retain(|c| c.standard != 0.0);
        Measured::new(value, budget)
    }
}

/// Root mean square of what differs from swing to swing in the measuring: the sources of their
/// own, and how much a shared source's part varies over the block.
fn measuring_sd(measured: &[(Option<i64>, &Measured)]) -> f64 {
    let n = measured.len() as f64;
    let own = |m: &Measured| {
        let own = m.budget.iter().filter(|c| !is_shared(&c.source) && c.source != Source::Model);
        sum(own.map(|c| c.standard.powi(2)))
    };
    let own_squares = sum(measured.iter().map(|(_, m)| own(m))) / n;
    let mut shared: BTreeMap<(Option<i64>, &Source), Vec<f64>> = BTreeMap::new();
    for (calibration, m) in measured.iter().filter(|(c, _)| c.is_some()) {
        for c in m.budget.iter().filter(|c| is_shared(&c.source)) {
            shared.entry((*calibration, &c.source)).or_default().push(c.standard);
        }
    }
    let varying = shared.values().map(|parts| {
        let sd = moments(parts).and_then(|m| m.sd).unwrap_or(0.0);
        sd * sd * parts.len() as f64 / n
    });
    (own_squares + sum(varying)).sqrt()
}

fn cautions(
    swings: &[SwingOffsets],
    counting: &[&SwingOffsets],
    offsets: &[OffsetSummary],
) -> Vec<Caution> {
    let mut list = Vec::new();
    let n = counting.len();
    if (1..5).contains(&n) {
        list.push(Caution::Few { n });
    }
    if swings.len() > n {
        list.push(Caution::LeftOut { n: swings.len() - n });
    }
    let differ = |f: &dyn Fn(&SwingOffsets, &SwingOffsets) -> bool| {
        counting.windows(2).any(|pair| f(pair[0], pair[1]))
    };
    if differ(&|a, b| a.surface != b.surface) {
        list.push(Caution::MixedSurfaces);
    }
    if differ(&|a, b| a.kind != b.kind) {
        list.push(Caution::MixedKinds);
    }
    if differ(&|a, b| a.club != b.club) {
        list.push(Caution::MixedClubs);
    }
    let set_ups: std::collections::BTreeSet<_> =
        counting.iter().filter_map(|s| s.calibration).collect();
    if set_ups.len() > 1 {
        list.push(Caution::SeveralSetUps { n: set_ups.len() });
    }
    let methods: Vec<_> =
        counting.iter().filter_map(|s| s.low_point.as_ref().map(|(_, m)| *m)).collect();
    if methods.windows(2).any(|pair| pair[0] != pair[1]) {
        list.push(Caution::MixedLowPoints);
    }
    list.extend(offsets.iter().flat_map(offset_cautions));
    list
}

fn offset_cautions(offset: &OffsetSummary) -> Vec<Caution> {
    let quantity = offset.quantity;
    let n = offset.moments.n as f64;
    let mut list = Vec::new();
    if let Some(drift) = offset.drift.filter(|d| d.p < 0.01) {
        list.push(Caution::Drifting { quantity, drift });
    }
    // The 95 % band of an autocorrelation without any: e-Handbook 1.3.3.1. Below it neighbours
    // alternate, which makes no interval too narrow.
    let band = |r: &f64| n >= 8.0 && *r > t_quantile(UPPER, f64::INFINITY) / n.sqrt();
    if let Some(lag_1) = offset.lag_1.filter(band) {
        list.push(Caution::Following { quantity, lag_1 });
    }
    if n >= 5.0 && !offset.outliers.is_empty() {
        list.push(Caution::StandingApart { quantity, swings: offset.outliers.clone() });
    }
    list
}
