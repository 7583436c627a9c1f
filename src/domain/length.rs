//! Lengths as people choose to read them, and as they type them.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::Millimetres;

/// The unit in which lengths are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LengthUnit {
    /// Millimetres.
    #[default]
    Mm,
    /// Centimetres.
    Cm,
    /// Inches.
    Inch,
}

impl LengthUnit {
    /// As it is written behind a number.
    pub fn short_name(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Cm => "cm",
            Self::Inch => "in",
        }
    }

    /// Millimetres in this unit.
    pub fn from_mm(self, mm: f64) -> f64 {
        mm / self.in_mm()
    }

    /// How many millimetres it has.
    pub fn in_mm(self) -> f64 {
        match self {
            Self::Mm => 1.0,
            Self::Cm => 10.0,
            Self::Inch => Millimetres::INCH.0,
        }
    }

    /// How far from the club people and camera stand, in words: "3 to 4 m" (common practice, no
    /// source).
    pub fn away(self) -> &'static str {
        match self {
            Self::Mm | Self::Cm => "3 to 4 m",
            Self::Inch => "120 to 160 in",
        }
    }

    /// With how many decimals a length is told.
    pub fn decimals(self) -> usize {
        match self {
            Self::Mm => 0,
            Self::Cm | Self::Inch => 1,
        }
    }

    /// A length (mm) in this unit, "1028 mm", "40.5 in".
    pub fn words(self, mm: f64) -> String {
        let decimals = self.decimals();
        format!("{:.decimals$} {}", self.from_mm(mm), self.short_name())
    }

    /// A length that is small beside those told, such as a part of a doubt: with one decimal more
    /// than they have, "1.6 mm", "0.06 in".
    pub fn fine_words(self, mm: f64) -> String {
        let decimals = self.decimals() + 1;
        format!("{:.decimals$} {}", self.from_mm(mm), self.short_name())
    }

    /// From tick to tick of a ruler, in millimetres: whole numbers stand at the ticks.
    pub fn tick_mm(self) -> f64 {
        match self {
            Self::Mm | Self::Cm => Self::Cm.in_mm(),
            Self::Inch => Self::Inch.in_mm(),
        }
    }
}

/// What may stand behind a typed number, and how many millimetres it has. "mm" and "cm" come
/// before the "m" that they end with.
const SPELLINGS: [(&str, f64); 10] = [
    ("mm", 1.0),
    ("cm", 10.0),
    ("m", 1000.0),
    ("in", Millimetres::INCH.0),
    ("inch", Millimetres::INCH.0),
    ("inches", Millimetres::INCH.0),
    ("\"", Millimetres::INCH.0),
    ("ft", Millimetres::FOOT.0),
    ("foot", Millimetres::FOOT.0),
    ("feet", Millimetres::FOOT.0),
];

/// What was typed is no length; the words say what it should look like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoLength {
    /// No number, or a unit that nobody knows.
    #[error("a length, as in 22, 22mm, 2.2cm or 0.9in; without a unit, in the library's")]
    Length,
    /// A thing is longer than nothing.
    #[error("a length above zero, as in 1219.2mm or 48in; without a unit, in the library's")]
    OfThing,
    /// Two of them are asked for.
    #[error("two edges, as in 297x210 or 11x8.5in; without a unit, in the library's")]
    Edges,
}

/// A length as a person typed it: in the unit chosen, or with its own behind it.
///
/// ```
/// use scuffline::domain::{LengthUnit, TypedLength};
///
/// let mm = |text: &str| text.parse::<TypedLength>().map(|length| length.mm(LengthUnit::Cm));
/// assert_eq!(mm("29,7"), Ok(297.0));
/// // 48 in = 1219.2 mm exactly (NIST SP 811, appendix B).
/// assert!((mm("48\"").unwrap() - 1219.2).abs() < 1e-9);
/// assert!(mm("3 miles").is_err());
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TypedLength {
    number: f64,
    /// What the unit behind it has in millimetres; `None`: there was none.
    unit_mm: Option<f64>,
}

impl TypedLength {
    /// In millimetres, where a number without a unit is in the one `chosen`.
    pub fn mm(self, chosen: LengthUnit) -> f64 {
        self.number * self.unit_mm.unwrap_or(chosen.in_mm())
    }

    /// The length of a thing, which is longer than nothing.
    ///
    /// # Errors
    /// It is no such length.
    pub fn of_thing(text: &str) -> Result<Self, NoLength> {
        text.parse().ok().filter(|length: &Self| length.number > 0.0).ok_or(NoLength::OfThing)
    }

    /// Two edges of a thing, "297x210", "11x8.5in". A unit behind the second alone is that of
    /// both.
    ///
    /// ```
    /// use scuffline::domain::{LengthUnit, TypedLength};
    ///
    /// let edges = TypedLength::edges("21 x 29.7 cm")?;
    /// assert_eq!(edges.map(|edge| edge.mm(LengthUnit::Inch)), [210.0, 297.0]);
    /// # Ok::<(), scuffline::domain::NoLength>(())
    /// ```
    ///
    /// # Errors
    /// They are no two lengths above zero, or the first has a unit and the second has none: nobody
    /// knows then in what the second is.
    pub fn edges(text: &str) -> Result<[Self; 2], NoLength> {
        let (first, second) = text.split_once(['x', 'X', '×']).ok_or(NoLength::Edges)?;
        let read = |part| Self::of_thing(part).map_err(|_| NoLength::Edges);
        let [mut first, second] = [read(first)?, read(second)?];
        if first.unit_mm.is_some() && second.unit_mm.is_none() {
            return Err(NoLength::Edges);
        }
        first.unit_mm = first.unit_mm.or(second.unit_mm);
        Ok([first, second])
    }
}

/// A number's text, and what the unit behind it has in millimetres.
fn split_unit(text: &str) -> (&str, Option<f64>) {
    SPELLINGS
        .into_iter()
        .find_map(|(unit, mm)| Some((text.strip_suffix(unit)?.trim_end(), Some(mm))))
        .unwrap_or((text, None))
}

impl FromStr for TypedLength {
    type Err = NoLength;

    fn from_str(text: &str) -> Result<Self, NoLength> {
        // A decimal comma, and the minus sign of printed text.
        let text = text.trim().to_lowercase().replace(',', ".").replace('\u{2212}', "-");
        let (number, unit_mm) = split_unit(&text);
        let number: f64 = number.parse().map_err(|_| NoLength::Length)?;
        // Also in the largest unit it stays a number.
        match (number * Millimetres::METRE.0).is_finite() {
            true => Ok(Self { number, unit_mm }),
            false => Err(NoLength::Length),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(text: &str, chosen: LengthUnit) -> Option<f64> {
        text.parse::<TypedLength>().ok().map(|length| length.mm(chosen))
    }

    #[test]
    fn a_length_has_its_own_unit_or_the_one_chosen() {
        assert_eq!(mm("-22", LengthUnit::Mm), Some(-22.0));
        assert_eq!(mm("\u{2212}2.2", LengthUnit::Cm), Some(-22.0));
        assert_eq!(mm("+2 in", LengthUnit::Cm), Some(50.8));
        assert_eq!(mm("22mm", LengthUnit::Inch), Some(22.0));
        for wrong in ["", "mm", "two", "nan", "inf", "1e999", "1e306", "3 miles", "1.219,2", "1 2"]
        {
            assert_eq!(wrong.parse::<TypedLength>(), Err(NoLength::Length), "{wrong}");
        }
    }

    #[test]
    fn every_spelling_is_read() {
        // Inch and foot: NIST SP 811, appendix B (25.4 mm and 304.8 mm, exact).
        for (text, expected) in [
            ("29,7 CM", 297.0),
            ("1.2m", 1200.0),
            ("48\"", 1219.2),
            ("48 inches", 1219.2),
            ("1 inch", 25.4),
            ("11.69 in", 296.926),
            ("4 ft", 1219.2),
            ("4feet", 1219.2),
            ("1 foot", 304.8),
            ("1e3 mm", 1000.0),
        ] {
            let read = mm(text, LengthUnit::Mm).expect(text);
            assert!((read - expected).abs() < 1e-9, "{text}: {read}");
        }
    }

    #[test]
    fn a_thing_is_longer_than_nothing() {
        assert!(TypedLength::of_thing("0.5").is_ok());
        for wrong in ["-1", "0in", "0", "long"] {
            assert_eq!(TypedLength::of_thing(wrong), Err(NoLength::OfThing), "{wrong}");
        }
    }

    #[test]
    fn edges_are_two_lengths_above_zero() {
        let mm = |text, unit| TypedLength::edges(text).map(|edges| edges.map(|edge| edge.mm(unit)));
        assert_eq!(mm("279.4x215.9", LengthUnit::Mm), Ok([279.4, 215.9]));
        assert_eq!(mm("10X20cm", LengthUnit::Mm), Ok([100.0, 200.0]));
        assert_eq!(mm("10 × 20", LengthUnit::Cm), Ok([100.0, 200.0]));
        // Each keeps a unit of its own.
        assert_eq!(mm("10cmx2in", LengthUnit::Mm), Ok([100.0, 50.8]));
        for wrong in ["297", "297x", "0x210", "-297x210", "nanx2", "29.7cmx21", "1x2x3"] {
            assert_eq!(TypedLength::edges(wrong), Err(NoLength::Edges), "{wrong}");
        }
    }

    #[test]
    fn small_lengths_have_a_decimal_more() {
        let told = |unit: LengthUnit| unit.fine_words(1.64);
        assert_eq!(
            [LengthUnit::Mm, LengthUnit::Cm, LengthUnit::Inch].map(told),
            ["1.6 mm", "0.16 cm", "0.06 in"]
        );
    }
}
