//! The program's numbers beside what a tape measure said on the ground: how an owner comes to
//! trust the ±, or learns not to.

use crate::domain::{Interval, LengthUnit, Millimetres, Quantity, SwingResult};
use crate::stats::{Agreement, agreement};
use crate::store::{GolferId, Library, Of, Result, Scope, SwingId, TapeCheck};

use super::state::{length_words, place_words, state};

/// What a tape on grass is itself good for, 95 %, mm: read to ± 2 mm, rectangular, so 1.96 · 2 / √3
/// (common practice, no source).
const TAPE_DOUBT: f64 = 2.26;

/// No swing's mark lies farther from the ball: what is typed beyond this is a slip.
pub const TAPE_REACH: Millimetres = Millimetres(2000.0);

/// So many pairs tell whether the ± keeps its word (common practice, no source).
pub const PAIRS_TO_JUDGE: usize = 5;

/// One distance read by the program and off a tape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TapePair {
    /// Whose.
    pub swing: SwingId,
    /// Which distance from the ball.
    pub quantity: Quantity,
    /// What the tape said, mm ahead of the ball.
    pub tape_mm: f64,
    /// What the program says, mm ahead of the ball.
    pub measured_mm: f64,
    /// The program's 95 % interval.
    pub interval: Interval,
}

impl TapePair {
    /// The tape's value lies within the program's interval, the tape's own doubt added.
    pub fn held(&self) -> bool {
        let off = self.tape_mm - self.measured_mm;
        let own = match off > 0.0 {
            true => self.interval.high - self.measured_mm,
            false => self.measured_mm - self.interval.low,
        };
        off.abs() <= own.hypot(TAPE_DOUBT)
    }
}

/// All pairs of a golfer together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TapeStudy {
    /// In the order the swings were played, session by session.
    pub pairs: Vec<TapePair>,
    /// Bias (program minus tape) and limits of agreement; `None` below two pairs.
    pub agreement: Option<Agreement>,
    /// How many intervals held the tape's value.
    pub held: usize,
}

impl TapeStudy {
    fn of(pairs: Vec<TapePair>) -> Self {
        let measured: Vec<f64> = pairs.iter().map(|p| p.measured_mm).collect();
        let tape: Vec<f64> = pairs.iter().map(|p| p.tape_mm).collect();
        let held = pairs.iter().filter(|p| p.held()).count();
        Self { agreement: agreement(&measured, &tape), held, pairs }
    }

    /// Whether the ± kept its word, as far as the pairs can tell; `None` below five pairs. It did
    /// not if so many misses would come by chance less than once in forty while 95 % hold.
    pub fn kept_its_word(&self) -> Option<bool> {
        let n = self.pairs.len();
        (n >= PAIRS_TO_JUDGE).then(|| chance_of_misses(n, n - self.held) > 0.025)
    }

    /// What the pairs say, one sentence each.
    pub fn words(&self, unit: LengthUnit) -> Vec<String> {
        let n = self.pairs.len();
        let mut lines = Vec::new();
        if let Some(a) = &self.agreement {
            let side = match a.bias {
                b if length_words(b.abs(), unit).parse() == Ok(0.0) => "no bias".to_owned(),
                b => {
                    let way = if b > 0.0 { "farther ahead" } else { "farther behind" };
                    format!("{} {} {way}", length_words(b.abs(), unit), unit.short_name())
                }
            };
            lines.push(format!(
                "Program against tape, {n} pairs: {side}; limits of agreement {} and {}.",
                signed(a.limits.low, unit),
                signed(a.limits.high, unit)
            ));
        }
        lines.push(match (n, self.kept_its_word()) {
            (0, _) => "No swing has a tape value yet.".into(),
            (_, None) => format!(
                "The ± held the tape's value {} of {n} times; five pairs or more tell whether it keeps its word.",
                self.held
            ),
            (_, Some(true)) => {
                format!("The ± held the tape's value {} of {n} times: it keeps its word.", self.held)
            }
            (_, Some(false)) => format!(
                "The ± held the tape's value only {} of {n} times: it is too small here; check the reference object's size and marks.",
                self.held
            ),
        });
        lines
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
    let measured = match check.quantity {
        Quantity::DivotStart => result.divot_start_offset.as_ref(),
        Quantity::DivotEnd => result.divot_end_offset.as_ref(),
        Quantity::LowPoint => result.low_point.as_ref().map(|(m, _)| m),
        // No tape measures an angle.
        Quantity::AttackAngle => None,
    }?;
    let stated = state(measured);
    Some(TapePair {
        swing,
        quantity: check.quantity,
        tape_mm: check.tape_mm,
        measured_mm: stated.value,
        interval: stated.interval,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn study(differences: &[f64]) -> TapeStudy {
        TapeStudy::of(
            differences
                .iter()
                .map(|d| TapePair {
                    swing: SwingId(1),
                    quantity: Quantity::DivotStart,
                    tape_mm: 50.0,
                    measured_mm: 50.0 + d,
                    interval: Interval { low: 46.0 + d, high: 54.0 + d },
                })
                .collect(),
        )
    }

    #[test]
    fn a_kept_word_is_told_from_a_broken_one() {
        let good = study(&[1.0, -2.0, 3.0, 0.0, -1.0, 2.0]);
        assert_eq!((good.held, good.kept_its_word()), (6, Some(true)));
        // Bland & Altman 1986: bias the mean of the differences, limits 1.96 SD about it.
        let a = good.agreement.expect("six pairs");
        assert!((a.bias - 0.5).abs() < 1e-12);
        let sd = (17.5f64 / 5.0).sqrt();
        assert!((a.limits.high - (0.5 + 1.96 * sd)).abs() < 1e-9, "{a:?}");
        let bad = study(&[9.0, -12.0, 8.0, 0.0, -1.0, 2.0]);
        assert_eq!((bad.held, bad.kept_its_word()), (3, Some(false)));
        // ± 4 and a tape's ± 2.26: together ± 4.59.
        assert_eq!([4.5, -4.5, 4.7, -4.7].map(|d| study(&[d]).held), [1, 1, 0, 0]);
        assert_eq!(study(&[1.0; 4]).kept_its_word(), None);
    }

    #[test]
    fn chances_are_those_of_the_binomial() {
        // 1 - 0.95^20 = 0.6415, and 0.2642 for two misses or more among 20.
        assert!((chance_of_misses(20, 1) - 0.6415).abs() < 1e-4);
        assert!((chance_of_misses(20, 2) - 0.2642).abs() < 1e-4);
        assert!((chance_of_misses(20, 0) - 1.0).abs() < 1e-12);
    }
}
