//! Where a number's doubt comes from, laid out for a table: a swing's number, what is said of many
//! swings, a number of the camera.

use super::state::{Expansion, expansion, length_words, number_words, place_words, state};
use super::study::ClubsStudy;
use super::tape::{TapeVerdict, bias_words};
use super::tell::{
    drifting_words, mean_words, median_words, sd_words, share_words, size_words, swings_words,
};
use super::tell_comparison::compared_words;
use crate::domain::{Interval, LengthUnit, MarkWord, Measured, Quantity, SwingNumber, capital};
use crate::geometry::{BudgetPart, CameraBudget, CameraNumber, GroundView, linear_interval};
use crate::stats::{BlockSummary, Comparison, OffsetComparison, OffsetSummary, Share, drift_words};

/// In what the parts of a doubt are told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartUnit {
    /// Millimetres, told in the unit chosen.
    Length,
    /// Degrees.
    Degrees,
    /// Percent.
    Percent,
    /// Nothing: a ratio.
    Ratio,
    /// Pixels.
    Pixels,
    /// Millimetres a pixel.
    Scale,
}

impl PartUnit {
    /// That of a number collected over swings.
    fn of(quantity: Quantity) -> Self {
        match quantity {
            Quantity::AttackAngle => Self::Degrees,
            _ => Self::Length,
        }
    }

    fn of_swing(number: SwingNumber) -> Self {
        match number {
            SwingNumber::Collected(quantity) => Self::of(quantity),
            SwingNumber::ArcPlane => Self::Degrees,
            SwingNumber::StanceShare => Self::Percent,
            _ => Self::Length,
        }
    }

    fn of_camera(number: CameraNumber) -> Self {
        match number {
            CameraNumber::Height | CameraNumber::Distance => Self::Length,
            CameraNumber::Tilt | CameraNumber::Yaw | CameraNumber::Roll => Self::Degrees,
            CameraNumber::Focal => Self::Pixels,
            CameraNumber::Scale => Self::Scale,
        }
    }

    /// The size of a part: "1.6 mm", "0.05°", "0.5 %".
    pub fn words(self, size: f64, unit: LengthUnit) -> String {
        match self {
            Self::Length => unit.fine_words(size),
            Self::Degrees => format!("{size:.2}°"),
            Self::Percent => format!("{size:.1} %"),
            Self::Ratio => format!("{size:.2}"),
            Self::Pixels => format!("{size:.1} px"),
            Self::Scale => format!("{size:.4} mm/px"),
        }
    }
}

/// What one source adds to a number's doubt.
#[derive(Clone, Debug, PartialEq)]
pub struct DoubtPart {
    /// The source.
    pub words: String,
    /// Its part of the standard uncertainty.
    pub standard: f64,
    /// Its share of the variance.
    pub share: f64,
    /// Degrees of freedom; `None`: infinite.
    pub freedom: Option<f64>,
}

/// A number and where its doubt comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// What the number is.
    pub title: String,
    /// Of which block, club or session, where the title does not say it.
    pub whose: Option<String>,
    /// The number with its interval.
    pub stated: String,
    /// Largest first.
    pub parts: Vec<DoubtPart>,
    /// All parts together, as a standard uncertainty.
    pub standard: f64,
    /// In what both are told.
    pub unit: PartUnit,
    /// How the interval comes from them, and what there is to know beside.
    pub how: Vec<String>,
}

impl Doubt {
    /// Of parts that add up in quadrature.
    fn new(title: String, stated: String, unit: PartUnit, parts: Vec<DoubtPart>) -> Self {
        let total: f64 = parts.iter().map(|part| part.standard.powi(2)).sum();
        let share =
            |part: &DoubtPart| if total > 0.0 { part.standard.powi(2) / total } else { 0.0 };
        let mut parts: Vec<DoubtPart> =
            parts.into_iter().map(|part| DoubtPart { share: share(&part), ..part }).collect();
        parts.sort_by(|a, b| b.standard.total_cmp(&a.standard));
        let standard = total.sqrt();
        Self { title, whose: None, stated, parts, standard, unit, how: Vec::new() }
    }

    /// Of a number with a budget; parts of one source are one row.
    fn of_budget(
        (title, stated): (String, String),
        measured: &Measured,
        part: PartUnit,
        unit: LengthUnit,
    ) -> Self {
        let doubt = Self::new(title, stated, part, parts_of(measured));
        doubt.with(where_from(measured, part, unit))
    }

    /// The same, said whose it is.
    pub fn of(self, whose: impl Into<String>) -> Self {
        Self { whose: Some(whose.into()), ..self }
    }

    fn with(mut self, how: impl Into<String>) -> Self {
        self.how.push(how.into());
        self
    }
}

/// A row without degrees of freedom of its own.
fn row(words: impl Into<String>, standard: f64) -> DoubtPart {
    DoubtPart { words: words.into(), standard, share: 0.0, freedom: None }
}

/// The parts of a budget by source. Parts of one source add in quadrature.
fn parts_of(measured: &Measured) -> Vec<DoubtPart> {
    let mut by_source: Vec<(&'static str, Measured)> = Vec::new();
    for c in &measured.budget {
        let words = c.source.words();
        match by_source.iter_mut().find(|(w, _)| *w == words) {
            Some((_, of)) => of.budget.push(c.clone()),
            None => by_source.push((words, Measured::new(0.0, vec![c.clone()]))),
        }
    }
    let part = |(words, of): (&'static str, Measured)| DoubtPart {
        freedom: of.effective_freedom(),
        ..row(words, of.standard_uncertainty())
    };
    by_source.into_iter().map(part).collect()
}

/// Where the drawn interval ends, beside what the sum alone would give.
fn sides(measured: &Measured, part: PartUnit, unit: LengthUnit) -> String {
    let Interval { low, high } = state(measured).interval;
    let alone = linear_interval(measured).half_width();
    let [below, above, alone] =
        [measured.value - low, high - measured.value, alone].map(|side| part.words(side, unit));
    format!(
        "they reach {below} below the value and {above} above it, and the ± is the larger of the \
         two. The sum alone would give ± {alone}."
    )
}

/// How the ± comes from a budget.
fn where_from(measured: &Measured, part: PartUnit, unit: LengthUnit) -> String {
    let Expansion { standard, freedom, factor } = expansion(measured);
    // More of them are as good as infinitely many.
    const MANY: f64 = 100.0;
    let few = freedom.filter(|nu| *nu < MANY).map_or(String::new(), |nu| {
        format!(" It is known from {nu:.1} effective degrees of freedom.")
    });
    let sum = format!("{}{few}", summed(standard, part, unit));
    match factor {
        Some(factor) => format!("{sum} {}", expanded(factor)),
        None => format!(
            "{sum} The ± comes from thousands of random draws of these parts instead: {}",
            sides(measured, part, unit)
        ),
    }
}

fn summed(standard: f64, part: PartUnit, unit: LengthUnit) -> String {
    let together = part.words(standard, unit);
    format!(
        "The parts add up as the root of the sum of their squares: {together}, the standard \
         uncertainty."
    )
}

fn expanded(factor: f64) -> String {
    format!(
        "The ± is {factor:.2} times that (the coverage factor), so that it holds the truth 95 \
         times in a hundred."
    )
}

/// The doubt of a number of one swing.
pub fn doubt_of_number(
    measured: &Measured,
    number: SwingNumber,
    mark: MarkWord,
    unit: LengthUnit,
) -> Doubt {
    let stated = format!("{} (95 %)", number_words(number, &state(measured), unit));
    let title = capital(&number.words_of(mark));
    Doubt::of_budget((title, stated), measured, PartUnit::of_swing(number), unit)
}

/// A number that is told of a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BlockNumber {
    /// The mean.
    Mean,
    /// The standard deviation.
    Spread,
    /// The median.
    Median,
    /// The change from swing to swing.
    Drift,
    /// How many struck the ball first.
    BallFirst,
    /// How many divot starts lay in the aim window.
    StartInWindow,
    /// How many low points lay in the aim window.
    LowPointInWindow,
    /// How high the edge passed the ball where nothing was touched.
    Clearance,
}

/// The doubt of what a block says; `None` where it does not say it, or without a doubt: of a
/// single swing, say.
pub fn doubt_of_block(
    summary: &BlockSummary,
    quantity: Quantity,
    which: BlockNumber,
    unit: LengthUnit,
) -> Option<Doubt> {
    let of = || summary.offset(quantity);
    match which {
        BlockNumber::Mean => of_mean(of()?, unit),
        BlockNumber::Spread => of_spread(of()?, unit),
        BlockNumber::Median => of_median(of()?, unit),
        BlockNumber::Drift => of_drift(of()?, unit),
        BlockNumber::BallFirst => Some(of_share("Ball first", summary.ball_first.as_ref()?)),
        BlockNumber::StartInWindow => {
            let start = summary.mark.start_title();
            let title = format!("{start}s in the aim window");
            Some(of_share(&title, summary.start_in_window.as_ref()?))
        }
        BlockNumber::LowPointInWindow => {
            Some(of_share("Low points in the aim window", summary.low_point_in_window.as_ref()?))
        }
        BlockNumber::Clearance => {
            let (height, n) = summary.clearance.as_ref()?;
            let over = number_words(SwingNumber::HeightAtBall, &state(height), unit);
            let stated = format!("{over} (95 %), over {}", swings_words(*n));
            let title = mean_of("height at the ball", *n);
            let doubt = Doubt::of_budget((title, stated), height, PartUnit::Length, unit);
            Some(doubt.with(pooled(*n)))
        }
    }
}

/// What more swings do to a mean.
const POOLED: &str = "More swings make the scatter's part smaller, and no other: what all swings of \
                      one standing of the camera share stays in their mean. Between two blocks of \
                      one standing most of that cancels.";

/// What there is to know of a single swing.
const SINGLE: &str = "One swing: how the golfer's swings scatter is not in it.";

fn pooled(n: usize) -> &'static str {
    if n == 1 { SINGLE } else { POOLED }
}

/// "Mean of divot start"; of a single swing its own.
fn mean_of(what: &str, n: usize) -> String {
    if n == 1 { capital(what) } else { format!("Mean of {what}") }
}

const SCATTER: &str = "scatter of the swings";

fn of_mean(of: &OffsetSummary, unit: LengthUnit) -> Option<Doubt> {
    let n = of.moments.n;
    let title = mean_of(of.quantity.words_of(of.mark), n);
    let stated = format!("{} (95 %), over {}", mean_words(of, unit), swings_words(n));
    let part = PartUnit::of(of.quantity);
    let doubt = Doubt::of_budget((title, stated), &of.mean, part, unit).with(pooled(n));
    (!of.mean.budget.is_empty()).then_some(doubt)
}

fn of_spread(of: &OffsetSummary, unit: LengthUnit) -> Option<Doubt> {
    let (sd, freedom) = (of.moments.sd?, of.moments.n as f64 - 1.0);
    let title = format!("Spread of {}", of.quantity.words_of(of.mark));
    let scatter = row(SCATTER, sd / (2.0 * freedom).sqrt());
    let parts = vec![DoubtPart { freedom: Some(freedom), ..scatter }];
    let doubt = Doubt::new(title, sd_words(of, unit)?, PartUnit::of(of.quantity), parts);
    let swings = swings_words(of.moments.n);
    let size = |v: f64| size_words(of.quantity, v, unit);
    let own = of.own_sd.map_or("less than can be told".into(), size);
    Some(
        doubt
            .with(format!(
                "Only so well do {swings} tell a spread: to it over the root of twice the degrees \
                 of freedom. The interval in brackets (95 %) is that of \
                 chi squared with {freedom:.0} degrees of freedom, which takes the swings to be \
                 normally distributed; it reaches farther up than down."
            ))
            .with(format!(
                "The spread itself is the golfer's, {own}, and measuring's, {}: the squares of the \
                 two add up.",
                size(of.measuring_sd)
            )),
    )
}

/// As if normal: half of a 95 % interval over 1.96.
fn as_standard(interval: Interval) -> f64 {
    interval.half_width() / 1.959_964
}

fn of_median(of: &OffsetSummary, unit: LengthUnit) -> Option<Doubt> {
    let interval = of.median_interval?;
    let title = format!("Median of {}", of.quantity.words_of(of.mark));
    let stated = median_words(of, unit);
    let parts = vec![row(SCATTER, as_standard(interval))];
    let doubt = Doubt::new(title, stated, PartUnit::of(of.quantity), parts);
    Some(doubt.with(
        "The interval in brackets (at least 95 %) reaches from one swing to another in the order of \
         size, so many from either end as the binomial asks for; that holds for any distribution. The \
         standard uncertainty is half of it over 1.96.",
    ).with(SHARED_LEFT_OUT))
}

/// What ranks do not see.
const SHARED_LEFT_OUT: &str = "What all swings of one standing of the camera share is not in it: \
                               see the mean for that.";

fn of_drift(of: &OffsetSummary, unit: LengthUnit) -> Option<Doubt> {
    let drift = of.drift?;
    let title = format!("Drift of {}", of.quantity.words_of(of.mark));
    let freedom = of.moments.n as f64 - 2.0;
    let words = drifting_words(of.quantity, drift.per_swing, unit);
    let half = drift_words(of.quantity, drift.half_width, unit);
    let scatter = DoubtPart { freedom: Some(freedom), ..row("scatter about the line", drift.u) };
    let stated = format!("{words} ± {half} (95 %)");
    let doubt = Doubt::new(title, stated, PartUnit::of(of.quantity), vec![scatter]);
    Some(doubt.with(format!(
        "The slope of the straight line through the swings in their order; its ± is that of Student's \
         t with {freedom:.0} degrees of freedom. What all swings share moves the line and does not tilt it."
    )))
}

fn of_share(title: &str, share: &Share) -> Doubt {
    let interval = share.interval;
    let standard = 100.0 * as_standard(interval);
    let parts = vec![row(SCATTER, standard)];
    Doubt::new(title.into(), share_words(share), PartUnit::Percent, parts).with(format!(
        "Only so well do {} tell a share: Wilson's interval (1927), 95 %. The standard uncertainty is \
         half of it over 1.96.",
        swings_words(share.of)
    ))
}

/// A number that stands between two blocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ComparedNumber {
    /// The first block's mean.
    FirstMean,
    /// The other block's mean.
    ThisMean,
    /// The difference of the means.
    Difference,
    /// The same without the doubt of the measuring.
    ScatterAlone,
    /// The difference of the medians.
    Medians,
    /// The median of all differences.
    Shift,
    /// The ratio of the distances from the median.
    Spreads,
    /// The ratio of the standard deviations.
    Variances,
}

/// The doubt of what stands between two blocks; `None` where it is not told.
pub fn doubt_of_comparison(
    comparison: &Comparison,
    quantity: Quantity,
    which: ComparedNumber,
    unit: LengthUnit,
) -> Option<Doubt> {
    let of = comparison.offset(quantity)?;
    match which {
        ComparedNumber::FirstMean => of_mean(comparison.first.offset(quantity)?, unit),
        ComparedNumber::ThisMean => of_mean(comparison.second.offset(quantity)?, unit),
        ComparedNumber::Difference => Some(doubt_of_difference(of, unit)),
        _ => of_two_blocks(of, which, unit),
    }
}

/// The doubt of a difference of means.
pub fn doubt_of_difference(of: &OffsetComparison, unit: LengthUnit) -> Doubt {
    let title = format!("Difference of means, {}", of.quantity.words_of(of.mark));
    let stated = format!("{}, 95 % in brackets", of.difference_words(unit));
    let part = PartUnit::of(of.quantity);
    Doubt::of_budget((title, stated), &of.difference, part, unit).with(POOLED)
}

/// What the two blocks' scatter alone leaves open.
fn of_two_blocks(of: &OffsetComparison, which: ComparedNumber, unit: LengthUnit) -> Option<Doubt> {
    let [n1, n2] = of.n.map(|n| n as f64);
    let (shift, spreads) = (of.shift.as_ref(), of.spreads.as_ref());
    let length = PartUnit::of(of.quantity);
    // Of one distribution, moved: the smaller block leaves the more open.
    let by_number = |interval: Interval| {
        let u = as_standard(interval);
        [u * (n2 / (n1 + n2)).sqrt(), u * (n1 / (n1 + n2)).sqrt()]
    };
    let (name, part, [first, this], how) = match which {
        ComparedNumber::ScatterAlone => {
            ("Difference of means by scatter alone", length, of.scatter, WELCH)
        }
        ComparedNumber::Medians => {
            ("Difference of medians", length, by_number(shift?.median_interval?), DEALT)
        }
        ComparedNumber::Shift => ("Shift", length, by_number(shift?.interval?), RANKS),
        ComparedNumber::Spreads => {
            ("Ratio of the spreads", PartUnit::Ratio, spreads?.robust_parts, LOGARITHM)
        }
        ComparedNumber::Variances => {
            let u = [n1, n2].map(|n| spreads.map(|s| s.ratio / (2.0 * (n - 1.0)).sqrt()));
            ("Ratio of the spreads, by variances", PartUnit::Ratio, [u[0]?, u[1]?], F_TEST)
        }
        ComparedNumber::FirstMean | ComparedNumber::ThisMean | ComparedNumber::Difference => {
            return None;
        }
    };
    let title = format!("{name}, {}", of.quantity.words_of(of.mark));
    let parts = vec![
        row("scatter of the first block's swings", first),
        row("scatter of this block's swings", this),
    ];
    let doubt = Doubt::new(title, compared_words(of, which, unit)?, part, parts).with(how);
    let beside = match which {
        ComparedNumber::Spreads | ComparedNumber::Variances => IN_SPREADS,
        _ => SHARED_CANCELS,
    };
    Some(doubt.with(beside))
}

/// What two blocks of one standing share.
const SHARED_CANCELS: &str = "The doubt that swings of one standing of the camera share is not in \
                              it; it cancels between blocks of one standing, and the difference of \
                              means carries what does not.";

/// What is in a ratio of spreads beside the golfer's own.
const IN_SPREADS: &str = "Both spreads are as observed, measuring's part in them: where that is large, \
                          the ratio is nearer to one than that of the golfer's own spreads.";

const WELCH: &str = "Each block's part is its standard deviation over the root of the number of its \
                     swings; the interval in brackets (95 %) is Student's t times their sum in \
                     quadrature, with Welch's degrees of freedom.";
const DEALT: &str = "The interval in brackets (95 %) holds all differences that dealing the swings at \
                     random does not rule out. The standard uncertainty is half of it over 1.96, shared \
                     out by how many swings the blocks have.";
const RANKS: &str = "The interval in brackets (95 %) is read off the ordered differences by ranks. The \
                     standard uncertainty is half of it over 1.96, shared out by how many swings the \
                     blocks have.";
const LOGARITHM: &str = "The interval in brackets (95 %) is that of the ratio's logarithm (Bonett and \
                         Seier 2003), so that it reaches farther up than down; the parts are those of \
                         the logarithm times the ratio.";
const F_TEST: &str = "The interval in brackets (95 %) is that of F, which takes the swings to be \
                      normally distributed; the parts are those of a standard deviation from so many \
                      swings.";

/// The doubt of a session's mean in the season.
pub fn doubt_of_session(
    mean: &Measured,
    (quantity, mark): (Quantity, MarkWord),
    (day, n): (&str, usize),
    unit: LengthUnit,
) -> Doubt {
    let title = format!("{}, {day}", mean_of(quantity.words_of(mark), n));
    let told = number_words(quantity.into(), &state(mean), unit);
    let stated = format!("{told} (95 %), over {}", swings_words(n));
    Doubt::of_budget((title, stated), mean, PartUnit::of(quantity), unit).with(pooled(n))
}

/// The doubt of how the low point goes with the ball's place in the stance; `None` without a line.
pub fn doubt_of_stance(study: &ClubsStudy, unit: LengthUnit) -> Option<Doubt> {
    let fit = study.stance_line.as_ref()?;
    // For a tick of a ruler.
    let step = unit.tick_mm();
    let [size, half, u] =
        [fit.slope.abs(), fit.slope_interval().half_width(), fit.slope_u].map(|v| v * step);
    let way = if fit.slope < 0.0 { "farther back" } else { "farther ahead" };
    let freedom = study.stance.len() as f64 - 2.0;
    let scatter = DoubtPart { freedom: Some(freedom), ..row("scatter about the line", u) };
    let stated = format!(
        "{} {way} for {} {} of ball position, ± {} (95 %)",
        unit.fine_words(size),
        unit.from_mm(step),
        unit.short_name(),
        unit.fine_words(half)
    );
    let title = "Low point against ball position".into();
    Some(Doubt::new(title, stated, PartUnit::Length, vec![scatter]).with(format!(
        "The slope of the straight line by least squares; its ± is that of Student's t with \
         {freedom:.0} degrees of freedom. All clubs and sessions count alike, and what one ball's \
         place adds to both of its numbers is not in it: the ± is rather too small."
    )))
}

/// The doubt of how the program lies against the tape; `None` below two pairs.
pub fn doubt_of_bias(verdict: &TapeVerdict, unit: LengthUnit) -> Option<Doubt> {
    let agreement = verdict.agreement?;
    let (n, sd) = (verdict.pairs as f64, agreement.sd);
    let scatter =
        DoubtPart { freedom: Some(n - 1.0), ..row("scatter of the differences", sd / n.sqrt()) };
    let title = format!("{}: program against tape", capital(verdict.quantity.words()));
    let half = length_words(agreement.bias_doubt, unit);
    let bias = capital(&bias_words(agreement.bias, unit));
    let stated = format!("{bias}, ± {half} (95 %)");
    Some(
        Doubt::new(title, stated, PartUnit::Length, vec![scatter])
            .with(format!("The ± is that of Student's t with {:.0} degrees of freedom.", n - 1.0))
            .with(format!(
                "The limits of agreement, {} and {}, lie 1.96 standard deviations ({}) to either \
                 side; each is known ± {} (95 %), a third of that variance from the mean and two \
                 thirds from the standard deviation (Bland and Altman 1986).",
                place_words(agreement.limits.low, unit),
                place_words(agreement.limits.high, unit),
                unit.fine_words(sd),
                length_words(agreement.limit_doubt, unit)
            )),
    )
}

/// The doubt of a number of the camera; `None` where it has none.
pub fn doubt_of_camera(view: &GroundView, number: CameraNumber, unit: LengthUnit) -> Option<Doubt> {
    let CameraBudget { known, interval, parts } = view.camera_budget(number)?;
    let part = PartUnit::of_camera(number);
    let half = half_words(number, interval.reach(known.value), unit);
    let stated = format!("{} ± {half} (95 %)", camera_words(number, known.value, unit));
    let rows = parts.into_iter().map(|BudgetPart { told_by, standard }| row(told_by, standard));
    let title = capital(number.words());
    let [below, above] = [known.value - interval.low, interval.high - known.value]
        .map(|side| half_words(number, side, unit));
    let drawn = format!(
        "{} Of a hundred drawn cameras 95 lie between {below} below the value and {above} above it; \
         the ± is the larger of the two.",
        summed(known.standard, part, unit)
    );
    Some(Doubt::new(title, stated, part, rows.collect()).with(drawn).with(
        "Where the marks leave something open it is filled in by what is true of any phone on a tripod: \
         how high and how far it stands, how level, how a lens is.",
    ))
}

/// A ± beside such a number, told as finely as that is.
fn half_words(number: CameraNumber, size: f64, unit: LengthUnit) -> String {
    match number {
        CameraNumber::Height | CameraNumber::Distance => {
            format!("{} {}", length_words(size, unit), unit.short_name())
        }
        CameraNumber::Focal => format!("{size:.0} px"),
        _ => PartUnit::of_camera(number).words(size, unit),
    }
}

/// "1100 mm", "12.3° down", "1.6° to the right", "1494 px", "2.1200 mm/px".
fn camera_words(number: CameraNumber, value: f64, unit: LengthUnit) -> String {
    let way = |ends: [&str; 2]| format!("{:.2}° {}", value.abs(), ends[usize::from(value < 0.0)]);
    match number {
        CameraNumber::Height | CameraNumber::Distance => {
            format!("{} {}", length_words(value, unit), unit.short_name())
        }
        CameraNumber::Tilt => way(["down", "up"]),
        CameraNumber::Yaw => way(["to the right", "to the left"]),
        CameraNumber::Roll => way(["clockwise", "anticlockwise"]),
        CameraNumber::Focal => format!("{value:.0} px"),
        CameraNumber::Scale => format!("{value:.4} mm/px"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Contribution, Source};

    fn of_start(m: &Measured) -> Doubt {
        doubt_of_number(m, Quantity::DivotStart.into(), MarkWord::default(), LengthUnit::Mm)
    }

    #[test]
    fn where_the_drawn_interval_differs_it_is_the_one_shown() {
        let mut m = Measured::new(80.0, vec![Contribution::new(Source::ArcFit, 10.0)]);
        let told = |m: &Measured| {
            let unit = LengthUnit::Mm;
            (of_start(m).stated, where_from(m, PartUnit::Length, unit))
        };
        let (stated, from) = told(&m);
        assert_eq!(stated, "80 mm ahead ± 20 (95 %)");
        assert!(from.contains("10.0 mm, the standard uncertainty. The ± is 1.96 times"), "{from}");
        m.monte_carlo = Some(Interval { low: 40.0, high: 95.0 });
        let (stated, from) = told(&m);
        assert_eq!(stated, "80 mm ahead ± 40 (95 %)");
        assert!(from.contains("thousands of random draws") && !from.contains("factor"), "{from}");
        assert!(from.contains("reach 40.0 mm below the value and 15.0 mm above"), "{from}");
        assert!(from.contains("The sum alone would give ± 19.6 mm"), "{from}");
    }

    #[test]
    fn few_observations_are_named_and_widen() {
        // 2 of 5 degrees of freedom alone: t at 95 % is 2.57 (JCGM 100:2008, table G.2).
        let few = Contribution { source: Source::Model, standard: 2.0, freedom: Some(5.0) };
        let m = Measured::new(80.0, vec![few]);
        let from = where_from(&m, PartUnit::Length, LengthUnit::Mm);
        assert!(from.contains("from 5.0 effective degrees of freedom. The ± is 2.57"), "{from}");
        assert_eq!(of_start(&m).parts[0].freedom, Some(5.0));
    }

    #[test]
    fn a_part_is_told_in_the_numbers_own_unit() {
        let told = |number| PartUnit::of_swing(number).words(1.55, LengthUnit::Cm);
        assert_eq!(told(SwingNumber::ReachLine), "0.15 cm");
        assert_eq!(told(Quantity::AttackAngle.into()), "1.55°");
        assert_eq!(told(SwingNumber::StanceShare), "1.6 %");
    }

    #[test]
    fn parts_of_one_source_add_in_quadrature() {
        // 3² + 4² = 5²: the calibration's two parts make 5; with a mark's 5 each has half.
        let m = Measured::new(
            10.0,
            vec![
                Contribution::new(Source::Calibration(0), 3.0),
                Contribution::new(Source::Mark, 5.0),
                Contribution::new(Source::Calibration(1), -4.0),
            ],
        );
        let parts = of_start(&m).parts;
        assert_eq!(parts.len(), 2);
        for DoubtPart { standard, share, .. } in parts {
            assert!((standard - 5.0).abs() < 1e-12);
            assert!((share - 0.5).abs() < 1e-12);
        }
    }
}
