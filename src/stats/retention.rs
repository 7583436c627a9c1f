//! What is left of a gain days later: within a lesson it is performance, not yet learning.

use super::comparison::{Comparison, OffsetComparison};
use super::holm;
use crate::domain::{LengthUnit, Quantity};

/// Three blocks of one number: before, after, and later.
#[derive(Clone, Debug, PartialEq)]
pub struct Retention {
    /// After against before.
    pub gained: OffsetComparison,
    /// Later against before.
    pub kept: OffsetComparison,
    /// Later against after.
    pub since: OffsetComparison,
    /// The three chances in this order, corrected for having looked at three (Holm).
    pub corrected: [f64; 3],
}

/// What became of a gain, in the divot start or else the low point, from three comparisons:
/// after against before, later against before, later against after. `None` where a block has
/// fewer than two of either.
pub fn retention(gained: &Comparison, kept: &Comparison, since: &Comparison) -> Option<Retention> {
    let of = |quantity| {
        let each = [gained.offset(quantity)?, kept.offset(quantity)?, since.offset(quantity)?];
        let corrected = holm(&each.map(|c| c.means.test.p));
        let [gained, kept, since] = each.map(Clone::clone);
        let corrected = [corrected[0], corrected[1], corrected[2]];
        Some(Retention { gained, kept, since, corrected })
    };
    of(Quantity::DivotStart).or_else(|| of(Quantity::LowPoint))
}

impl Retention {
    fn shown(&self) -> [bool; 3] {
        self.corrected.map(|p| p < 0.05)
    }

    /// One sentence that claims no more than the three comparisons, corrected together, show.
    pub fn sentence(&self, unit: LengthUnit) -> String {
        let [gained, kept, changed] = self.shown();
        let (first, rest) = (self.gained.means.difference, self.kept.means.difference);
        let same_way = first.signum() == rest.signum();
        let name = self.gained.quantity.words_of(self.gained.mark);
        let words = |c: &OffsetComparison| c.difference_words(unit);
        match (gained, kept && same_way) {
            (false, true) => format!(
                "Within the lesson no change in {name} is shown; the later block lies {} against before.",
                words(&self.kept)
            ),
            (false, false) => format!(
                "The three blocks looked at together (Holm's correction) show no change in {name} within the lesson ({}), so there is nothing yet that could be kept.",
                words(&self.gained)
            ),
            (true, false) => format!(
                "Gained in the lesson: {}. The later block does not show it any more: {}. A gain within a lesson is performance, not yet learning.",
                words(&self.gained),
                words(&self.kept)
            ),
            (true, true) => format!(
                "Gained in the lesson: {}. Still there in the later block: {}; {}.",
                words(&self.gained),
                words(&self.kept),
                match changed {
                    true => format!("since the lesson it lies {}", words(&self.since)),
                    false => "since the lesson no change is shown".into(),
                }
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Contribution, Measured, Source, SwingKind};
    use crate::stats::{AimTable, SwingOffsets, compare_blocks};

    fn block(starts: &[f64]) -> Vec<SwingOffsets> {
        let swing = |&start: &f64| SwingOffsets {
            calibration: Some(1),
            divot_start: Some(Measured::new(start, vec![Contribution::new(Source::Mark, 1.0)])),
            ..SwingOffsets::without_numbers(SwingKind::Strike)
        };
        starts.iter().map(swing).collect()
    }

    fn about(mean: f64) -> Vec<SwingOffsets> {
        block(&[-9.0, -6.0, -3.0, -1.0, 0.0, 0.0, 1.0, 3.0, 6.0, 9.0].map(|d| mean + d))
    }

    fn retained(
        before: &[SwingOffsets],
        after: &[SwingOffsets],
        later: &[SwingOffsets],
    ) -> Option<Retention> {
        let aim = AimTable::default();
        retention(
            &compare_blocks(before, after, &aim),
            &compare_blocks(before, later, &aim),
            &compare_blocks(after, later, &aim),
        )
    }

    fn told(before: f64, after: f64, later: f64) -> String {
        let [before, after, later] = [before, after, later].map(about);
        retained(&before, &after, &later).expect("numbers").sentence(LengthUnit::Mm)
    }

    #[test]
    fn a_gain_is_called_kept_only_where_the_later_block_shows_it() {
        let kept = told(0.0, 30.0, 28.0);
        assert!(kept.starts_with("Gained in the lesson: 30 mm farther ahead ("), "{kept}");
        assert!(kept.contains("Still there in the later block: 28 mm farther ahead"), "{kept}");
        assert!(kept.ends_with("since the lesson no change is shown."), "{kept}");
        let half = told(0.0, 30.0, 12.0);
        assert!(half.contains("since the lesson it lies 18 mm farther behind"), "{half}");
        let gone = told(0.0, 30.0, 1.0);
        assert!(gone.contains("does not show it any more") && gone.contains("not yet learning"));
        let turned = told(0.0, 30.0, -30.0);
        assert!(turned.contains("does not show it any more"), "{turned}");
        assert!(told(0.0, 1.0, 1.0).contains("nothing yet that could be kept"));
        assert!(told(0.0, 1.0, 20.0).contains("the later block lies 20 mm farther ahead"));
    }

    #[test]
    fn three_looks_cost_what_holm_says() {
        let blocks = [about(0.0), about(9.0), about(9.0)];
        let [before, after, later] = &blocks;
        let told = retained(before, after, later).expect("numbers");
        let p = [&told.gained, &told.kept, &told.since].map(|c| c.means.test.p);
        assert_eq!(told.corrected.to_vec(), holm(&p));
        assert!(told.corrected[0] > p[0]);
        assert_eq!(retained(before, after, &block(&[1.0])), None);
    }
}
