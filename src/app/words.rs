//! How numbers are said: a sign in words, never a letter code, and the unit once.

use super::model::Finding;
use crate::domain::{
    ContactOrder, GroundAnswer, GroundMark, Interval, LengthUnit, LowPointMethod, MarkWord,
    SwingKind, SwingResult, TypedLength, Warning,
};
use crate::workflow::{Stated, length_words, words_for_offset};

pub use crate::domain::capital;
pub use crate::workflow::attack_words as attack_angle;
pub use crate::workflow::place_words as offset;

/// A length without its sign, such as "58 mm", "5.8 cm", "2.3 in".
pub fn length(mm: f64, unit: LengthUnit) -> String {
    format!("{} {}", length_words(mm.abs(), unit), unit.short_name())
}

/// "± 4 mm", of a value and its interval.
pub fn plus_minus(stated: &Stated, unit: LengthUnit) -> String {
    format!("± {}", length(stated.plus_minus(), unit))
}

/// An offset with its doubt: "58 mm ahead ± 4".
pub fn offset_with_doubt(mm: f64, interval: Interval, unit: LengthUnit) -> String {
    words_for_offset(&Stated { value: mm, interval }, unit)
}

/// "1 swing", "4 swings".
pub fn counted(n: usize, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}

/// Contact order in words.
pub fn contact_order(order: ContactOrder) -> &'static str {
    match order {
        ContactOrder::BallFirst => "ball first",
        ContactOrder::TurfFirst => "turf first",
        ContactOrder::TooClose => "too close to call",
        ContactOrder::NoGroundContact => "no ground contact",
    }
}

/// How which came first is told from where the mark begins.
pub const CONTACT_HINT: &str = "The club meets the ball's back while its edge is still some 12 mm \
    behind the ball's centre: a mark that begins farther ahead than that was made after the ball, \
    one within the ± of it is too close to call.";

/// What a low point was read from.
pub fn method(method: LowPointMethod) -> &'static str {
    match method {
        LowPointMethod::Arc => "arc",
        LowPointMethod::Mark => "mark",
        LowPointMethod::ArcAndMark => "arc and mark",
    }
}

/// What is known of a swing while its file is still being read: "12.4 s, strike, ball 98 %".
pub fn finding(found: &Finding) -> String {
    let percent = |sure: f64| format!("{:.0} %", sure * 100.0);
    let mut parts = vec![format!("{:.1} s", found.time.0), kind(found.kind).to_owned()];
    if let Some(sure) = found.ball {
        parts.push(format!("ball {}", percent(sure)));
    }
    parts.push(match (found.complete, found.divot_start) {
        (false, _) => "looking at the ground…".into(),
        (true, Some(sure)) => {
            format!("{} {}", MarkWord::of(found.ground_mark, None).start(), percent(sure))
        }
        (true, None) if found.ground_mark == Some(GroundMark::None) => "no mark".into(),
        (true, None) => "mark not seen".into(),
    });
    parts.join(", ")
}

/// The kind of swing.
pub fn kind(kind: SwingKind) -> &'static str {
    match kind {
        SwingKind::Strike => "strike",
        SwingKind::Practice => "practice swing",
    }
}

/// What is said where a mark's start has no number.
pub fn without_start(result: &SwingResult, answer: Option<GroundAnswer>) -> &'static str {
    match (result.contact_order, result.ground_mark, answer) {
        (Some(order), ..) => contact_order(order),
        (None, Some(GroundMark::None), _) => "no mark in the ground",
        (None, Some(_), _) if result.warnings.contains(&Warning::NoOrigin) => {
            "ball line not marked"
        }
        (None, Some(_), _) => "no millimetres yet",
        (None, None, Some(GroundAnswer::Unseen)) => "could not look",
        (None, None, _) => "could not tell",
    }
}

/// Reads the length of a thing that a person typed: "297", "29.7 cm", "48\"". A bare number is in
/// `unit`. `None` unless it is a length above zero.
pub fn read_length(text: &str, unit: LengthUnit) -> Option<f64> {
    TypedLength::of_thing(text).ok().map(|length| length.mm(unit))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offsets_are_said_in_words() {
        assert_eq!(offset(58.4, LengthUnit::Mm), "58 mm ahead");
        assert_eq!(length(-12.0, LengthUnit::Cm), "1.2 cm");
        let interval = Interval { low: 54.0, high: 62.0 };
        assert_eq!(offset_with_doubt(58.0, interval, LengthUnit::Mm), "58 mm ahead ± 4");
        assert_eq!(attack_angle(-2.66), "2.7° down");
        assert_eq!(attack_angle(0.04), "level");
    }

    #[test]
    fn a_swing_being_found_says_what_is_known() {
        let (time, kind) = (crate::domain::Seconds(12.44), SwingKind::Strike);
        let (ground_mark, ball) = (None, Some(0.98));
        let found = Finding { time, kind, ball, ground_mark, divot_start: None, complete: false };
        assert_eq!(finding(&found), "12.4 s, strike, ball 98 %, looking at the ground…");
        let found = Finding { divot_start: Some(0.95), ball: None, complete: true, ..found };
        assert_eq!(finding(&found), "12.4 s, strike, divot start 95 %");
        let found = Finding { ground_mark: Some(GroundMark::Scuff), ..found };
        assert_eq!(finding(&found), "12.4 s, strike, scuff start 95 %");
        let found = Finding { ground_mark: Some(GroundMark::None), divot_start: None, ..found };
        assert_eq!(finding(&found), "12.4 s, strike, no mark");
    }

    #[test]
    fn where_there_is_no_number_the_reason_is_said() {
        let mut result = SwingResult::without_numbers(SwingKind::Strike);
        assert_eq!(without_start(&result, None), "could not tell");
        assert_eq!(without_start(&result, Some(GroundAnswer::Unseen)), "could not look");
        result.ground_mark = Some(GroundMark::None);
        assert_eq!(without_start(&result, None), "no mark in the ground");
        result.contact_order = Some(ContactOrder::NoGroundContact);
        assert_eq!(without_start(&result, None), "no ground contact");
    }
}
