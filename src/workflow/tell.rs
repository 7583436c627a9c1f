//! A block's numbers in words, once for window, command line and report.

use crate::domain::{Interval, LengthUnit, Quantity};
use crate::stats::{DrillScore, OffsetSummary, Scoring, Share};

use super::state::{
    Stated, attack_words, length_words, place_words, unit_words, words_for_attack, words_for_offset,
};

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
        _ => format!("{} {}", length_words(size.abs(), unit), unit_words(unit)),
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

/// How a drill is scored from the marks.
pub fn scoring_words(scoring: Scoring) -> String {
    match scoring {
        Scoring::Reach { line_mm } => format!(
            "A hit for every mark that begins {line_mm:.0} mm or farther ahead of the ball line."
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
    use crate::domain::{Contribution, Measured, Source, SwingKind};
    use crate::stats::{AimTable, SwingOffsets, summarise_block};

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
        let told = words(&[-21.0, 0.0, 21.0], 3.0).expect("a spread");
        assert_eq!(told, "Your spread 21 mm, of which measuring 3 mm; without it 21 mm");
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
}
