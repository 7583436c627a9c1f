//! How numbers are said: a sign in words, never a letter code, and the unit once.

use super::model::Finding;
use crate::domain::{
    ContactOrder, GroundAnswer, GroundMark, Interval, LengthUnit, LowPointMethod, MarkWord,
    SwingKind, SwingResult,
};
use crate::workflow::{Stated, length_words, unit_words, words_for_offset};

pub use crate::workflow::attack_words as attack_angle;
pub use crate::workflow::beside_words as beside;
pub use crate::workflow::place_words as offset;

/// A length without its sign, such as "58 mm", "5.8 cm", "2.3 in".
pub fn length(mm: f64, unit: LengthUnit) -> String {
    format!("{} {}", length_words(mm.abs(), unit), unit_words(unit))
}

/// A length to a tenth of a millimetre or so, as parts of a doubt are told: "1.6 mm", "0.06 in".
pub fn fine_length(mm: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Mm => format!("{mm:.1} mm"),
        LengthUnit::Cm => format!("{:.2} cm", mm / 10.0),
        LengthUnit::Inch => format!("{:.2} in", mm / 25.4),
    }
}

/// "± 4 mm".
pub fn plus_minus(interval: Interval, unit: LengthUnit) -> String {
    format!("± {}", length(interval.half_width(), unit))
}

/// An offset with its doubt: "58 mm ahead ± 4".
pub fn offset_with_doubt(mm: f64, interval: Interval, unit: LengthUnit) -> String {
    words_for_offset(&Stated { value: mm, interval }, unit)
}

/// "1 swing", "4 swings".
pub fn counted(n: usize, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}

/// The words with a capital at the start.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
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
        (None, Some(_), _) => "no millimetres yet",
        (None, None, Some(GroundAnswer::Unseen)) => "could not look",
        (None, None, _) => "could not tell",
    }
}

/// Reads a length that a person typed: "297", "29.7 cm", "11.69 in", "48\"". A bare number
/// is in `unit`. `None` unless it is a positive, finite length.
pub fn read_length(text: &str, unit: LengthUnit) -> Option<f64> {
    let text = text.trim().to_lowercase().replace(',', ".");
    let split = text.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'));
    let (number, suffix) = text.split_at(split.unwrap_or(text.len()));
    let factor = match suffix.trim() {
        "" => unit.in_mm(),
        "mm" => 1.0,
        "cm" => 10.0,
        "m" => 1000.0,
        "in" | "inch" | "inches" | "\"" => LengthUnit::Inch.in_mm(),
        "ft" | "foot" | "feet" => 304.8,
        _ => return None,
    };
    let mm = number.parse::<f64>().ok()? * factor;
    (mm.is_finite() && mm > 0.0).then_some(mm)
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
        assert_eq!(beside(-30.2, LengthUnit::Mm), "30 mm behind");
        assert_eq!(beside(58.0, LengthUnit::Cm), "5.8 cm ahead of");
        assert_eq!(beside(0.2, LengthUnit::Mm), "level with");
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

    #[test]
    fn lengths_are_read_in_any_unit() {
        let check = |text: &str, unit, expected: Option<f64>| {
            let got = read_length(text, unit);
            match (got, expected) {
                (Some(a), Some(b)) => assert!((a - b).abs() < 1e-9, "{text}: {a}"),
                _ => assert_eq!(got, expected, "{text}"),
            }
        };
        check("297", LengthUnit::Mm, Some(297.0));
        check("29,7 cm", LengthUnit::Mm, Some(297.0));
        // 48 in = 1219.2 mm exactly (NIST SP 811).
        check("48", LengthUnit::Inch, Some(1219.2));
        check("48\"", LengthUnit::Mm, Some(1219.2));
        check("4 ft", LengthUnit::Mm, Some(1219.2));
        check("-5", LengthUnit::Mm, None);
        check("0", LengthUnit::Mm, None);
        check("about 3", LengthUnit::Mm, None);
        check("3 miles", LengthUnit::Mm, None);
        check("", LengthUnit::Mm, None);
    }
}
