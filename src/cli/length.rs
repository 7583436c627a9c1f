//! Lengths as they are typed: in the library's unit, or with their own.

use std::str::FromStr;

use crate::domain::LengthUnit;

/// A length as it was typed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Length {
    number: f64,
    unit: Option<LengthUnit>,
}

impl Length {
    /// In millimetres, where a number without a unit is in the one `chosen`.
    pub fn mm(self, chosen: LengthUnit) -> f64 {
        self.number * self.unit.unwrap_or(chosen).in_mm()
    }

    /// The length of a thing, which is longer than nothing.
    ///
    /// # Errors
    /// What it should look like, if it is no such length.
    pub fn of_thing(text: &str) -> Result<Self, String> {
        text.parse().ok().filter(|length: &Self| length.number > 0.0).ok_or_else(|| {
            "a length above zero, as in 1219.2mm or 48in; without a unit, in the library's".into()
        })
    }
}

/// A number's text, and the unit that was written behind it.
fn split_unit(text: &str) -> (&str, Option<LengthUnit>) {
    let text = text.trim();
    [LengthUnit::Mm, LengthUnit::Cm, LengthUnit::Inch]
        .into_iter()
        .find_map(|unit| Some((text.strip_suffix(unit.short_name())?.trim_end(), Some(unit))))
        .unwrap_or((text, None))
}

impl FromStr for Length {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (number, unit) = split_unit(text);
        let number = number.parse::<f64>().ok().filter(|number| number.is_finite());
        number.map(|number| Self { number, unit }).ok_or_else(|| {
            "a length, as in 22, 22mm, 2.2cm or 0.9in; without a unit, in the library's".into()
        })
    }
}

/// Two edges, "297x210", "11x8.5in"; one unit for both.
///
/// # Errors
/// What they should look like, if they are not two lengths above zero.
pub fn edges(text: &str) -> Result<[Length; 2], String> {
    let (numbers, unit) = split_unit(text);
    numbers
        .split_once('x')
        .and_then(|(a, b)| Some([Length::of_thing(a).ok()?, Length::of_thing(b).ok()?]))
        .map(|edges| edges.map(|edge| Length { unit, ..edge }))
        .ok_or_else(|| "two edges, as in 297x210 or 11x8.5in".into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_has_its_own_unit_or_the_librarys() {
        let mm = |text: &str, chosen| text.parse::<Length>().map(|length| length.mm(chosen));
        assert_eq!(mm("-22", LengthUnit::Mm), Ok(-22.0));
        assert_eq!(mm("-2.2", LengthUnit::Cm), Ok(-22.0));
        assert_eq!(mm("2 in", LengthUnit::Cm), Ok(50.8));
        assert_eq!(mm("22mm", LengthUnit::Inch), Ok(22.0));
        for wrong in ["", "mm", "two", "nan", "inf", "1e999"] {
            assert!(wrong.parse::<Length>().is_err(), "{wrong}");
        }
        assert!(Length::of_thing("-1").is_err() && Length::of_thing("0in").is_err());
    }

    #[test]
    fn sizes_are_two_lengths() {
        let mm = |text| edges(text).map(|edges| edges.map(|edge| edge.mm(LengthUnit::Mm)));
        assert_eq!(mm("279.4x215.9"), Ok([279.4, 215.9]));
        assert_eq!(mm("10x20cm"), Ok([100.0, 200.0]));
        for wrong in ["297", "297x", "0x210", "-297x210", "nanx2"] {
            assert!(edges(wrong).is_err(), "{wrong}");
        }
    }
}
