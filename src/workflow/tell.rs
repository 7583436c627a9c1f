//! A block's numbers in words, once for window, command line and report.

use crate::domain::{Interval, LengthUnit, Quantity, Surface, SwingKind, SwingNumber, counted};
use crate::stats::{
    BlockSummary, Drill, DrillScore, OffsetSummary, REACH_MM, Scoring, Share, drift_words,
};

use super::doubt::BlockNumber;
use super::state::{
    Stated, attack_words, length_words, number_words, place_words, state, words_for_attack,
    words_for_offset,
};
use super::study::{BlockStudy, ClubsStudy, Repeatability, StancePoint};

/// "58 mm ahead", "2.7° down": a value of a number.
pub fn value_words(of: Quantity, value: f64, unit: LengthUnit) -> String {
    match of {
        Quantity::AttackAngle => attack_words(value),
        _ => place_words(value, unit),
    }
}

/// "21 mm", "1.3°": a size of a number, without a side.
pub fn size_words(of: Quantity, size: f64, unit: LengthUnit) -> String {
    match of {
        Quantity::AttackAngle => format!("{:.1}°", size.abs()),
        _ => format!("{} {}", length_words(size.abs(), unit), unit.short_name()),
    }
}

fn bare(of: Quantity, size: f64, unit: LengthUnit) -> String {
    match of {
        Quantity::AttackAngle => format!("{size:.1}"),
        _ => length_words(size, unit),
    }
}

/// "12 mm ahead ± 8": the mean with its 95 % interval.
pub fn mean_words(of: &OffsetSummary, unit: LengthUnit) -> String {
    let mean = of.moments.mean;
    match (of.mean_interval, of.quantity) {
        (None, quantity) => value_words(quantity, mean, unit),
        (Some(interval), Quantity::AttackAngle) => {
            words_for_attack(&Stated { value: mean, interval })
        }
        (Some(interval), _) => words_for_offset(&Stated { value: mean, interval }, unit),
    }
}

/// "21 mm (14 to 38)": the observed spread with its 95 % interval; `None` for one swing.
pub fn sd_words(of: &OffsetSummary, unit: LengthUnit) -> Option<String> {
    let (sd, interval) = (of.moments.sd?, of.sd_interval?);
    let limit = |v| bare(of.quantity, v, unit);
    let (low, high) = (limit(interval.low), limit(interval.high));
    Some(format!("{} ({low} to {high})", size_words(of.quantity, sd, unit)))
}

/// "Your spread 21 mm, of which measuring 3 mm; without it 21 mm": how much of the spread is
/// the golfer's; `None` for one swing.
pub fn own_spread_words(of: &OffsetSummary, unit: LengthUnit) -> Option<String> {
    let size = |v| size_words(of.quantity, v, unit);
    let sd = size(of.moments.sd?);
    let measuring = size(of.measuring_sd);
    Some(match of.own_sd {
        Some(own) if size(own) == sd => {
            format!("Your spread {sd}, hardly any of it measuring ({measuring})")
        }
        Some(own) => {
            format!("Your spread {sd}, of which measuring {measuring}; without it {}", size(own))
        }
        None => format!("Spread {sd}: measuring alone ({measuring}) explains it"),
    })
}

/// "7 of 10, 40 to 89 %": a share with Wilson's 95 % interval.
pub fn share_words(share: &Share) -> String {
    let Interval { low, high } = share.interval;
    format!("{} of {}, {:.0} to {:.0} %", share.hits, share.of, 100.0 * low, 100.0 * high)
}

/// "1 swing", "10 swings".
pub fn swings_words(n: usize) -> String {
    counted(n, "swing")
}

/// One line of what a block says.
#[derive(Clone, Debug, PartialEq)]
pub struct BlockFact {
    /// What it is.
    pub name: &'static str,
    /// What was found.
    pub text: String,
    /// The number that it tells, where that has a doubt of its own.
    pub number: Option<BlockNumber>,
}

impl BlockFact {
    fn plain(name: &'static str, text: impl Into<String>) -> Self {
        Self { name, text: text.into(), number: None }
    }

    fn of(number: BlockNumber, name: &'static str, text: impl Into<String>) -> Self {
        Self { number: Some(number), ..Self::plain(name, text) }
    }
}

/// Everything a block says of one of its numbers, each with its name.
pub fn block_facts(study: &BlockStudy, of: &OffsetSummary, unit: LengthUnit) -> Vec<BlockFact> {
    let out = match study.summary.left_out {
        0 => String::new(),
        n => format!(", {n} left out"),
    };
    let mut facts = vec![
        BlockFact::plain("Swings", format!("{}{out}", of.moments.n)),
        BlockFact::of(BlockNumber::Mean, "Mean", mean_words(of, unit)),
    ];
    facts.extend(plain_facts(study, of, unit));
    facts.extend(further_facts(study, of, unit));
    facts
}

/// Those among [`block_facts`] that need no knowledge of statistics, beside how many swings there
/// are and their mean.
pub fn plain_facts(study: &BlockStudy, of: &OffsetSummary, unit: LengthUnit) -> Vec<BlockFact> {
    let value = |v| value_words(of.quantity, v, unit);
    let spread = sd_words(of, unit).map_or_else(
        || BlockFact::plain("Spread (SD)", "one swing has none"),
        |words| BlockFact::of(BlockNumber::Spread, "Spread (SD)", words),
    );
    let range = format!("{} to {}", value(of.range[0]), value(of.range[1]));
    let mut facts = vec![spread, BlockFact::plain("Range", range)];
    facts.extend(share_facts(&study.summary));
    facts.extend(study.summary.clearance.as_ref().map(|(height, n)| {
        let height = number_words(SwingNumber::HeightAtBall, &state(height), unit);
        let text = format!("{height} at the ball, {} without ground contact", swings_words(*n));
        BlockFact::of(BlockNumber::Clearance, "Over the ground", text)
    }));
    facts
}

/// The others among [`block_facts`].
pub fn further_facts(study: &BlockStudy, of: &OffsetSummary, unit: LengthUnit) -> Vec<BlockFact> {
    let median = match of.median_interval {
        Some(_) => BlockFact::of(BlockNumber::Median, "Median", median_words(of, unit)),
        None => BlockFact::plain("Median", median_words(of, unit)),
    };
    let distance = format!("{} from the median", size_words(of.quantity, of.mad, unit));
    let mut facts = vec![median, BlockFact::plain("Median distance", distance)];
    facts.extend(window_fact(study, of));
    facts.extend(course_facts(of, unit));
    facts.extend(of.grubbs.map(|grubbs| {
        let number = study.number(of.values[grubbs.index].0);
        let verdict = if grubbs.is_outlier() { "stands apart" } else { "not out of line" };
        let (g, limit) = (grubbs.g, grubbs.critical);
        let text = format!("swing {number}, {verdict} (Grubbs {g:.2}, limit {limit:.2})");
        BlockFact::plain("Farthest out", text)
    }));
    facts
}

/// "40 mm ahead (32 mm ahead to 55 mm ahead)": the median with its interval, where there is one.
pub(super) fn median_words(of: &OffsetSummary, unit: LengthUnit) -> String {
    let value = |v| value_words(of.quantity, v, unit);
    let interval = of
        .median_interval
        .map_or(String::new(), |i| format!(" ({} to {})", value(i.low), value(i.high)));
    format!("{}{interval}", value(of.median))
}

/// The shares among [`block_facts`], which are the same for each of a block's numbers.
pub fn share_facts(summary: &BlockSummary) -> Vec<BlockFact> {
    let close = match summary.too_close {
        0 => String::new(),
        n => format!("; {n} too close to call"),
    };
    let (start, low) = (summary.start_in_window, summary.low_point_in_window);
    let shares = [
        (BlockNumber::BallFirst, "Ball first", summary.ball_first, close),
        (BlockNumber::StartInWindow, "Start in window", start, String::new()),
        (BlockNumber::LowPointInWindow, "Low point in window", low, String::new()),
    ];
    let told = |(number, name, share, more): (_, _, Option<Share>, String)| {
        Some(BlockFact::of(number, name, format!("{}{more}", share_words(&share?))))
    };
    shares.into_iter().filter_map(told).collect()
}

/// Whether the place or the spread keeps swings out of the aim window; where several clubs aim at
/// several windows, nothing.
fn window_fact(study: &BlockStudy, of: &OffsetSummary) -> Option<BlockFact> {
    let [aim] = &study.aims[..] else { return None };
    let fit = aim.window(of.quantity)?.capability(&of.moments)?;
    let of_ten = |share: f64| format!("{:.0} of 10", 10.0 * share);
    let (centred, now) = (of_ten(fit.share_if_centred()), of_ten(fit.share()));
    let indices = format!("Cp {:.2}, Cpk {:.2}", fit.cp, fit.cpk());
    let text =
        format!("{now} by mean and spread; {centred} with the mean in its middle ({indices})");
    Some(BlockFact::plain("Fit of the window", text))
}

/// "8.7 mm back a swing": a drift with its side.
pub(super) fn drifting_words(of: Quantity, per_swing: f64, unit: LengthUnit) -> String {
    let way = match (of, per_swing > 0.0) {
        (Quantity::AttackAngle, true) => "less down",
        (Quantity::AttackAngle, false) => "more down",
        (_, true) => "ahead",
        (_, false) => "back",
    };
    format!("{} {way} a swing", drift_words(of, per_swing, unit))
}

/// What the order of the swings says.
fn course_facts(of: &OffsetSummary, unit: LengthUnit) -> Vec<BlockFact> {
    let drift = of.drift.map(|drift| {
        let by = drifting_words(of.quantity, drift.per_swing, unit);
        let half = drift_words(of.quantity, drift.half_width, unit);
        let text = format!("{by} ± {half}, chance {}", chance_words(drift.p));
        BlockFact::of(BlockNumber::Drift, "Drift", text)
    });
    let lag_1 = of
        .lag_1
        .map(|r| BlockFact::plain("Neighbours alike", format!("{r:.2} (lag-1 correlation)")));
    let chart = of.chart.as_ref().map(|chart| {
        let value = |v| value_words(of.quantity, v, unit);
        let out = chart.outside.len();
        let (low, high) = (value(chart.lower), value(chart.upper));
        BlockFact::plain("Chart", format!("limits {low} to {high}, {out} outside"))
    });
    let average = of.average.as_ref().and_then(|average| {
        let last = value_words(of.quantity, *average.series.last()?, unit);
        let out = average.outside.len();
        let text = format!("{last} at the end, {out} times outside its limits");
        Some(BlockFact::plain("Weighted average", text))
    });
    [drift, lag_1, chart, average].into_iter().flatten().collect()
}

/// What repeat sessions of a golfer say about how much must change.
pub fn repeatability_words(repeats: Option<&Repeatability>, unit: LengthUnit) -> String {
    let Some(Repeatability { clubs, reliability }) = repeats else {
        return "It takes two clubs, each played in two sessions with three strikes or more, to tell daily form from a change.".into();
    };
    let size = |v| size_words(Quantity::DivotStart, v, unit);
    format!(
        "From this golfer's repeat sessions ({clubs} clubs, the last two sessions of each): two sessions' mean divot starts must differ by more than {} to be more than daily form and measuring (standard error of measurement {}, intraclass correlation {:.2}; Weir 2005). Few clubs make this a rough figure.",
        size(reliability.detectable_change),
        size(reliability.sem),
        reliability.single[1]
    )
}

/// How a drill is scored from the marks.
pub fn scoring_words(scoring: Scoring, unit: LengthUnit) -> String {
    match scoring {
        Scoring::Reach { line_mm } => format!(
            "A hit for every mark that begins {} {} or farther ahead of the ball line.",
            length_words(line_mm, unit),
            unit.short_name()
        ),
        Scoring::Climb => {
            "The longest run in which every mark begins farther ahead than the one before.".into()
        }
        Scoring::Gate { goal } => format!(
            "The longest run of divot starts inside the aim window; {goal} in a row complete it."
        ),
        Scoring::NothingTouched => {
            "A hit for every swing that touches nothing, with the low point behind the ball.".into()
        }
        Scoring::OwnWindow => "A hit for every low point in its own club's aim window.".into(),
    }
}

/// "75 mm": how far ahead of the ball line a reach line is drawn.
pub fn reach_words(unit: LengthUnit) -> String {
    size_words(Quantity::DivotStart, REACH_MM, unit)
}

/// How a drill is laid out: "… a reach line 75 mm ahead of it. …".
pub fn laying_words(drill: &Drill, unit: LengthUnit) -> String {
    drill.setup.replace("{reach}", &reach_words(unit))
}

/// "7 of 10", "6 in a row": how a run went.
pub fn score_words(scoring: Scoring, score: &DrillScore) -> String {
    match scoring {
        Scoring::Climb | Scoring::Gate { .. } => {
            format!("{} in a row, of {}", score.best_run, score.swings)
        }
        Scoring::Reach { .. } | Scoring::NothingTouched | Scoring::OwnWindow => {
            format!("{} of {}", score.hits, score.swings)
        }
    }
}

/// "With the ball 10 mm farther forward in the stance the low point lies 8.3 mm farther back from
/// it (95 % 6.1 to 10.5). 24 swings, all clubs": the line through ball positions and low points,
/// and what was thrown together for it; `None` without a line.
pub fn stance_words(study: &ClubsStudy, unit: LengthUnit) -> Option<String> {
    let fit = study.stance_line.as_ref()?;
    // A slope has no unit; per tick of a ruler it is so many of them.
    let (step, decimals) = (unit.from_mm(unit.tick_mm()), unit.decimals() + 1);
    let size = |slope: f64| step * slope;
    let slope = fit.slope_interval();
    // Both limits on the side of the slope are said by their size alone.
    let (near, far) = match (slope.contains(0.0), fit.slope < 0.0) {
        (false, true) => (-slope.high, -slope.low),
        _ => (slope.low, slope.high),
    };
    let way = if fit.slope < 0.0 { "farther back" } else { "farther ahead" };
    let shown = if slope.contains(0.0) { ", so no slope is shown" } else { "" };
    let differ = |f: &dyn Fn(&StancePoint) -> bool| {
        study.stance.iter().any(f) && !study.stance.iter().all(f)
    };
    let mut mixed = String::new();
    if differ(&|p| p.kind == SwingKind::Strike) {
        mixed.push_str(", strikes and practice swings together");
    }
    if differ(&|p| p.surface == Surface::Turf) {
        mixed.push_str(", turf and mat together");
    }
    let unit = unit.short_name();
    Some(format!(
        "With the ball {step:.0} {unit} farther forward in the stance the low point lies {:.decimals$} {unit} {way} from it (95 % {:.decimals$} to {:.decimals$}){shown}. {} swings, all clubs{mixed}.",
        size(fit.slope.abs()),
        size(near),
        size(far),
        study.stance.len()
    ))
}

/// A chance in words: "0.034", "below 0.001".
pub fn chance_words(p: f64) -> String {
    match p {
        _ if p < 0.001 => "below 0.001".into(),
        _ if p < 0.1 => format!("{p:.3}"),
        _ => format!("{p:.2}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Contribution, Measured, Source};
    use crate::stats::{AimTable, SwingOffsets, fit_line, summarise_block};
    use crate::store::{GolferId, SwingId};
    use crate::workflow::Span;

    fn summary(starts: &[f64], own: f64) -> OffsetSummary {
        let swing = |&start: &f64| SwingOffsets {
            calibration: Some(1),
            divot_start: Some(Measured::new(start, vec![Contribution::new(Source::Mark, own)])),
            ..SwingOffsets::without_numbers(SwingKind::Strike)
        };
        let swings: Vec<_> = starts.iter().map(swing).collect();
        let block = summarise_block(&swings, &AimTable::default());
        block.offset(Quantity::DivotStart).expect("starts").clone()
    }

    #[test]
    fn measuring_is_told_apart_from_the_golfer() {
        let words = |starts: &[f64], own| own_spread_words(&summary(starts, own), LengthUnit::Mm);
        let told = words(&[-21.0, 0.0, 21.0], 9.0).expect("a spread");
        assert_eq!(told, "Your spread 21 mm, of which measuring 9 mm; without it 19 mm");
        let told = words(&[-21.0, 0.0, 21.0], 3.0).expect("a spread");
        assert_eq!(told, "Your spread 21 mm, hardly any of it measuring (3 mm)");
        let told = words(&[-1.0, 0.0, 1.0], 3.0).expect("a spread");
        assert_eq!(told, "Spread 1 mm: measuring alone (3 mm) explains it");
        assert_eq!(words(&[4.0], 3.0), None);
    }

    #[test]
    fn means_and_spreads_carry_their_intervals() {
        let of = summary(&[10.0, 20.0, 30.0], 0.0);
        // t(0.975, 2) = 4.3027: 10/√3 times that is 24.8; chi-square(2) limits by e-Handbook
        // 1.3.6.7.4: 7.378 and 0.0506.
        assert_eq!(mean_words(&of, LengthUnit::Mm), "20 mm ahead ± 25");
        assert_eq!(sd_words(&of, LengthUnit::Mm).as_deref(), Some("10 mm (5 to 63)"));
    }

    #[test]
    fn chances_are_not_spelled_out_too_finely() {
        let check = |p, words: &str| assert_eq!(chance_words(p), words);
        check(0.0004, "below 0.001");
        check(0.0344, "0.034");
        check(0.347, "0.35");
    }

    #[test]
    fn the_stance_is_told_in_the_unit_chosen() {
        let point = |x: f64, y: f64| StancePoint {
            id: SwingId(1),
            club: None,
            kind: SwingKind::Strike,
            surface: Surface::Turf,
            ball_position: x,
            low_point: y,
        };
        let told = |ys: [f64; 4], unit| {
            let x = [0.0, 20.0, 40.0, 60.0];
            let study = ClubsStudy {
                golfer: GolferId(1),
                span: Span::All,
                rows: Vec::new(),
                gaps: Vec::new(),
                stance: x.into_iter().zip(ys).map(|(x, y)| point(x, y)).collect(),
                stance_line: fit_line(&x, &ys),
            };
            stance_words(&study, unit).expect("a line")
        };
        // Slope -0.805; residuals 0.1, -0.8, 1.3, -0.6: s² = 1.35, u = s/√2000, t(0.975, 2) 4.3027.
        let ys = [80.0, 63.0, 49.0, 31.0];
        let words = told(ys, LengthUnit::Mm);
        assert_eq!(
            words,
            "With the ball 10 mm farther forward in the stance the low point lies 8.1 mm farther \
             back from it (95 % 6.9 to 9.2). 4 swings, all clubs."
        );
        assert!(told(ys, LengthUnit::Inch).contains("1 in farther forward"));
        assert!(told(ys, LengthUnit::Inch).contains("lies 0.81 in farther back"));
        let level = told([80.0, 63.0, 79.0, 81.0], LengthUnit::Cm);
        assert!(level.contains("so no slope is shown"), "{level}");
    }
}
