//! The program's numbers beside what a tape measure said on the ground: how an owner comes to
//! trust the ±, or learns not to.

use crate::domain::{LengthUnit, Measured, Millimetres, Quantity, SwingResult, capital};
use crate::stats::{Agreement, agreement};
use crate::store::{GolferId, Library, Of, Result, Scope, SwingId, TapeCheck};

use super::state::{Stated, length_words, place_words, state};

/// What a tape on grass is itself good for, 95 %, mm: read to ± 2 mm, rectangular, so 1.96 · 2 / √3
/// (common practice, no source).
const TAPE_DOUBT: f64 = 2.26;

/// No swing's mark lies farther from the ball: what is typed beyond this is a slip.
pub const TAPE_REACH: Millimetres = Millimetres(2000.0);

/// So many pairs of one distance tell whether the ± keeps its word; what fewer say is told as too
/// few to judge by (common practice, no source).
pub const PAIRS_TO_JUDGE: usize = 10;

/// One distance read by the program and off a tape.
#[derive(Clone, Debug, PartialEq)]
pub struct TapePair {
    /// Whose.
    pub swing: SwingId,
    /// Which distance from the ball.
    pub quantity: Quantity,
    /// What the tape said, mm ahead of the ball.
    pub tape_mm: f64,
    /// What the program says, mm ahead of the ball, with its budget.
    pub measured: Measured,
}

impl TapePair {
    /// What the program says with its 95 % interval.
    pub fn stated(&self) -> Stated {
        state(&self.measured)
    }

    /// The tape's value lies within the program's interval, the tape's own doubt added.
    pub fn held(&self) -> bool {
        let Stated { value, interval } = self.stated();
        let off = self.tape_mm - value;
        let own = match off > 0.0 {
            true => interval.high - value,
            false => value - interval.low,
        };
        off.abs() <= own.hypot(TAPE_DOUBT)
    }
}

/// What the pairs of one distance say. Distances are not thrown together: a start is read off more
/// surely than a low point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TapeVerdict {
    /// Which distance from the ball.
    pub quantity: Quantity,
    /// How many pairs.
    pub pairs: usize,
    /// Bias (program minus tape) and limits of agreement; `None` below two pairs.
    pub agreement: Option<Agreement>,
    /// How many intervals held the tape's value.
    pub held: usize,
}

impl TapeVerdict {
    /// `None` without pairs.
    fn of(quantity: Quantity, all: &[TapePair]) -> Option<Self> {
        let pairs: Vec<_> = all.iter().filter(|pair| pair.quantity == quantity).collect();
        let measured: Vec<f64> = pairs.iter().map(|p| p.measured.value).collect();
        let tape: Vec<f64> = pairs.iter().map(|p| p.tape_mm).collect();
        let held = pairs.iter().filter(|p| p.held()).count();
        let agreement = agreement(&measured, &tape);
        (!pairs.is_empty()).then_some(Self { quantity, pairs: pairs.len(), agreement, held })
    }

    /// Whether the ± kept its word, as far as the pairs can tell; `None` below ten. It did not if
    /// so many misses would come by chance less than once in forty while 95 % hold.
    pub fn kept_its_word(&self) -> Option<bool> {
        let (n, misses) = (self.pairs, self.pairs - self.held);
        (n >= PAIRS_TO_JUDGE).then(|| chance_of_misses(n, misses) > 0.025)
    }

    /// "Divot start, 12 pairs: the program lies 1 mm farther ahead than the tape, ± 2 (95 %); limits
    /// of agreement 4 mm behind and 6 mm ahead, each ± 3 (95 %). …"
    fn words(&self, unit: LengthUnit) -> String {
        let many = if self.pairs == 1 { "1 pair".into() } else { format!("{} pairs", self.pairs) };
        let about = self.agreement.map_or(String::new(), |a| agreement_words(&a, unit));
        format!("{}, {many}{about}. {}", capital(self.quantity.words()), self.held_words())
    }

    fn held_words(&self) -> String {
        let (held, n) = (self.held, self.pairs);
        match self.kept_its_word() {
            None => format!(
                "The ± held the tape's value {held} of {n} times; fewer than ten pairs are too few to judge by."
            ),
            Some(true) => {
                format!("The ± held the tape's value {held} of {n} times: it keeps its word.")
            }
            Some(false) => format!(
                "The ± held the tape's value only {held} of {n} times: it is too small here; check the reference object's size and marks."
            ),
        }
    }
}

/// ": the program lies 1 mm farther ahead than the tape, ± 2 (95 %); limits of agreement 4 mm behind
/// and 6 mm ahead, each ± 3 (95 %)"
fn agreement_words(a: &Agreement, unit: LengthUnit) -> String {
    let bias = bias_words(a.bias, unit);
    let limits = [a.limits.low, a.limits.high].map(|limit| signed(limit, unit)).join(" and ");
    let doubt = length_words(a.limit_doubt, unit);
    let own = length_words(a.bias_doubt, unit);
    format!(": {bias}, ± {own} (95 %); limits of agreement {limits}, each ± {doubt} (95 %)")
}

/// "the program lies 1 mm farther ahead than the tape"
pub(super) fn bias_words(bias: f64, unit: LengthUnit) -> String {
    let size = length_words(bias.abs(), unit);
    if size.parse() == Ok(0.0) {
        return "on the whole the program lies where the tape does".into();
    }
    let way = if bias > 0.0 { "ahead" } else { "behind" };
    format!("the program lies {size} {} farther {way} than the tape", unit.short_name())
}

/// All pairs of a golfer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TapeStudy {
    /// In the order the swings were played, session by session.
    pub pairs: Vec<TapePair>,
    /// What they say, distance by distance.
    pub verdicts: Vec<TapeVerdict>,
}

impl TapeStudy {
    fn of(pairs: Vec<TapePair>) -> Self {
        let verdict = |quantity| TapeVerdict::of(quantity, &pairs);
        let verdicts = Quantity::ALL.into_iter().filter_map(verdict).collect();
        Self { verdicts, pairs }
    }

    /// What the pairs of one distance say; `None` without any.
    pub fn verdict(&self, quantity: Quantity) -> Option<&TapeVerdict> {
        self.verdicts.iter().find(|verdict| verdict.quantity == quantity)
    }

    /// What the pairs say, a line for each distance.
    pub fn words(&self, unit: LengthUnit) -> Vec<String> {
        if self.pairs.is_empty() {
            return vec!["No swing has a tape value yet.".into()];
        }
        self.verdicts.iter().map(|verdict| verdict.words(unit)).collect()
    }
}

fn signed(mm: f64, unit: LengthUnit) -> String {
    match place_words(mm, unit) {
        words if words.starts_with("level") => format!("0 {}", unit.short_name()),
        words => words,
    }
}

/// The chance of so many misses or more among `n` if each comes once in twenty (binomial).
fn chance_of_misses(n: usize, misses: usize) -> f64 {
    let mut chance = 0.95f64.powi(i32::try_from(n).unwrap_or(i32::MAX));
    let mut below = 0.0;
    for k in 0..misses {
        below += chance;
        chance *= (n - k) as f64 / (k + 1) as f64 * 0.05 / 0.95;
    }
    1.0 - below
}

/// Keeps what a tape said about a swing, as a step that can be undone. `tape_mm`: ahead of the
/// ball is positive.
///
/// # Errors
/// There is no such swing, the length is no number, or the library can't be written.
pub fn add_tape_value(
    library: &mut Library,
    swing: SwingId,
    quantity: Quantity,
    tape_mm: f64,
) -> Result<()> {
    let session = library.swing(swing)?.session;
    let check = TapeCheck { quantity, tape_mm, notes: String::new() };
    let words = format!("tape value of the {}", quantity.words());
    library.edit(Scope::Session(session), &words, |edit| edit.add_tape_check(swing, &check))
}

/// All of a golfer's distances that a tape measured too, beside the program's own.
///
/// # Errors
/// The library can't be read.
pub fn tape_study(library: &Library, golfer: GolferId) -> Result<TapeStudy> {
    let mut pairs = Vec::new();
    let mut sessions = library.sessions(golfer)?;
    sessions.reverse();
    for session in sessions {
        for row in library.swings(Of::Session(session.id))? {
            let Some(result) = &row.result else { continue };
            for check in library.tape_checks(row.id)? {
                pairs.extend(pair(row.id, result, &check));
            }
        }
    }
    Ok(TapeStudy::of(pairs))
}

fn pair(swing: SwingId, result: &SwingResult, check: &TapeCheck) -> Option<TapePair> {
    // No tape measures an angle.
    let length = Some(check.quantity).filter(|quantity| *quantity != Quantity::AttackAngle);
    let measured = result.measured(length?)?;
    let (quantity, tape_mm) = (check.quantity, check.tape_mm);
    Some(TapePair { swing, quantity, tape_mm, measured: measured.clone() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Interval;

    /// Pairs of one distance, the program off by so much, its ± 4.
    fn pairs(quantity: Quantity, differences: &[f64]) -> Vec<TapePair> {
        let pair = |d: &f64| TapePair {
            swing: SwingId(1),
            quantity,
            tape_mm: 50.0,
            measured: Measured {
                monte_carlo: Some(Interval { low: 46.0 + d, high: 54.0 + d }),
                ..Measured::new(50.0 + d, Vec::new())
            },
        };
        differences.iter().map(pair).collect()
    }

    fn verdict(differences: &[f64]) -> TapeVerdict {
        TapeStudy::of(pairs(Quantity::DivotStart, differences)).verdicts[0]
    }

    #[test]
    fn a_kept_word_is_told_from_a_broken_one() {
        let good = verdict(&[1.0, -2.0, 3.0, 0.0, -1.0, 2.0, 1.0, -2.0, 3.0, 0.0]);
        assert_eq!((good.held, good.kept_its_word()), (10, Some(true)));
        let bad = verdict(&[9.0, -12.0, 8.0, 0.0, -1.0, 2.0, 1.0, -2.0, 3.0, 0.0]);
        assert_eq!((bad.held, bad.kept_its_word()), (7, Some(false)));
        // ± 4 and a tape's ± 2.26: together ± 4.59.
        assert_eq!([4.5, -4.5, 4.7, -4.7].map(|d| verdict(&[d]).held), [1, 1, 0, 0]);
        assert_eq!(verdict(&[1.0; 9]).kept_its_word(), None);
    }

    #[test]
    fn limits_of_agreement_carry_their_own_doubt() {
        let six = verdict(&[1.6, -1.4, 3.6, 0.6, -0.4, 2.6]);
        // Bland & Altman 1986: bias the mean of the differences, limits 1.96 SD about it, each
        // known to t · √(3 / n) SD; t of 5 degrees of freedom is 2.5706.
        let (a, sd) = (six.agreement.expect("six pairs"), (17.5f64 / 5.0).sqrt());
        assert!((a.bias - 1.1).abs() < 1e-12);
        assert!((a.limits.high - (1.1 + 1.96 * sd)).abs() < 1e-9, "{a:?}");
        assert!((a.bias_doubt - 2.5706 * sd / 6f64.sqrt()).abs() < 1e-3, "{a:?}");
        assert!((a.limit_doubt - 2.5706 * 0.5f64.sqrt() * sd).abs() < 1e-3, "{a:?}");
        assert_eq!(
            six.words(LengthUnit::Mm),
            "Divot start, 6 pairs: the program lies 1 mm farther ahead than the tape, ± 2 (95 %); limits of \
             agreement 3 mm behind and 5 mm ahead, each ± 3 (95 %). The ± held the tape's value 6 \
             of 6 times; fewer than ten pairs are too few to judge by."
        );
        let one = verdict(&[1.0]).words(LengthUnit::Mm);
        assert!(
            one.starts_with("Divot start, 1 pair. The ± held the tape's value 1 of 1"),
            "{one}"
        );
    }

    #[test]
    fn each_distance_is_judged_by_its_own_pairs() {
        let mut both = pairs(Quantity::DivotStart, &[1.0; 10]);
        both.extend(pairs(Quantity::LowPoint, &[30.0, -30.0]));
        let study = TapeStudy::of(both);
        let of = |quantity| study.verdict(quantity).expect("pairs");
        assert_eq!(of(Quantity::DivotStart).kept_its_word(), Some(true));
        assert_eq!(of(Quantity::DivotStart).agreement.expect("limits").sd, 0.0);
        let low = of(Quantity::LowPoint);
        assert_eq!((low.pairs, low.held, low.kept_its_word()), (2, 0, None));
        assert_eq!(study.verdict(Quantity::DivotEnd), None);
        assert_eq!(study.words(LengthUnit::Mm).len(), 2);
    }

    #[test]
    fn chances_are_those_of_the_binomial() {
        // 1 - 0.95^20 = 0.6415, and 0.2642 for two misses or more among 20.
        assert!((chance_of_misses(20, 1) - 0.6415).abs() < 1e-4);
        assert!((chance_of_misses(20, 2) - 0.2642).abs() < 1e-4);
        assert!((chance_of_misses(20, 0) - 1.0).abs() < 1e-12);
    }
}
