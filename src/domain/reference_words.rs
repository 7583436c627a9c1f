//! What a reference object is called: in every sentence, on every screen, from here.

use super::{Millimetres, ReferenceKind};

/// Sheets that lie about everywhere, long edge first: ISO 216 for the A series, ANSI/ASME Y14.1
/// for Letter.
pub const SHEETS: [(&str, [f64; 2]); 4] = [
    ("A4 sheet", [297.0, 210.0]),
    ("A3 sheet", [420.0, 297.0]),
    ("A5 sheet", [210.0, 148.0]),
    ("Letter sheet", [279.4, 215.9]),
];

impl ReferenceKind {
    /// "sheet", "set of four points", "stick", "pair of lines", "ball".
    pub fn noun(&self) -> &'static str {
        match self {
            Self::Sheet { .. } => "sheet",
            Self::FourPoints { .. } => "set of four points",
            Self::Line { .. } => "stick",
            Self::LinePair { .. } => "pair of lines",
            Self::Ball { .. } => "ball",
        }
    }

    /// "A4 sheet", "stick of 1219 mm", as in a list; `lengths` writes some mm with their unit.
    pub fn title(&self, lengths: &dyn Fn(&[f64]) -> String) -> String {
        match self {
            Self::Sheet { size, .. } => match known_sheet(*size) {
                Some(name) => name.into(),
                None => format!("sheet of {}", lengths(&size.map(|edge| edge.0))),
            },
            Self::FourPoints { sides, .. } => {
                format!("four points with sides of {}", lengths(&sides.map(|side| side.0)))
            }
            Self::Line { length, .. } => format!("stick of {}", lengths(&[length.0])),
            Self::LinePair { distance, .. } => {
                format!("two lines {} apart", lengths(&[distance.0]))
            }
            Self::Ball { .. } => "ball".into(),
        }
    }

    /// "an A4 sheet", "the ball", as in "scale from …"; the rest as in [`Self::title`].
    pub fn phrase(&self, lengths: &dyn Fn(&[f64]) -> String) -> String {
        let title = self.title(lengths);
        match self {
            Self::Sheet { .. } if title.starts_with('A') => format!("an {title}"),
            Self::Sheet { .. } | Self::Line { .. } => format!("a {title}"),
            Self::FourPoints { .. } | Self::LinePair { .. } => title,
            Self::Ball { .. } => format!("the {title}"),
        }
    }

    /// "an A4 sheet", "a stick", as in "looks like …": without a size that is not known yet.
    pub fn likeness(&self) -> String {
        match self {
            Self::Sheet { size, .. } if known_sheet(*size).is_some() => {
                self.phrase(&|_| String::new())
            }
            Self::FourPoints { .. } => "four points".into(),
            Self::LinePair { .. } => "two lines".into(),
            _ => format!("a {}", self.noun()),
        }
    }
}

/// The name of a sheet of this size, lengthwise or across.
fn known_sheet([a, b]: [Millimetres; 2]) -> Option<&'static str> {
    let [long, short] = [a.0.max(b.0), a.0.min(b.0)];
    let is = |[l, s]: [f64; 2]| (long - l).abs() < 0.5 && (short - s).abs() < 0.5;
    SHEETS.into_iter().find(|(_, known)| is(*known)).map(|(name, _)| name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{ImagePoint, Pixels};

    fn sheet(a: f64, b: f64) -> ReferenceKind {
        let corners = [ImagePoint::new(0.0, 0.0); 4];
        ReferenceKind::Sheet { size: [Millimetres(a), Millimetres(b)], corners }
    }

    fn in_mm(lengths: &[f64]) -> String {
        let all: Vec<String> = lengths.iter().map(|mm| format!("{mm:.0}")).collect();
        format!("{} mm", all.join(" x "))
    }

    #[test]
    fn sheet_sizes_are_those_of_the_standard() {
        // ISO 216: A4 210 x 297, A3 297 x 420, A5 148 x 210 mm; Letter 8.5 x 11 in.
        let inch = Millimetres::INCH.0;
        assert_eq!(SHEETS[0].1, [297.0, 210.0]);
        assert_eq!(SHEETS[1].1, [420.0, 297.0]);
        assert_eq!(SHEETS[2].1, [210.0, 148.0]);
        assert!((SHEETS[3].1[0] - 11.0 * inch).abs() < 1e-9);
        assert!((SHEETS[3].1[1] - 8.5 * inch).abs() < 1e-9);
    }

    #[test]
    fn one_thing_has_one_name() {
        let a4 = sheet(210.0, 297.0);
        assert_eq!(a4.title(&in_mm), "A4 sheet");
        assert_eq!(a4.phrase(&in_mm), "an A4 sheet");
        assert_eq!(a4.likeness(), "an A4 sheet");
        let letter = sheet(279.4, 215.9);
        assert_eq!(letter.phrase(&in_mm), "a Letter sheet");
        let other = sheet(500.0, 400.0);
        assert_eq!(other.phrase(&in_mm), "a sheet of 500 x 400 mm");
        assert_eq!(other.likeness(), "a sheet");
        let four = ReferenceKind::FourPoints {
            sides: [1000.0, 500.0, 980.0, 520.0].map(Millimetres),
            diagonal: Millimetres(1118.0),
            points: [ImagePoint::new(0.0, 0.0); 4],
        };
        assert_eq!(four.phrase(&in_mm), "four points with sides of 1000 x 500 x 980 x 520 mm");
        assert_eq!(four.likeness(), "four points");
        let ends = [ImagePoint::new(0.0, 0.0); 2];
        let stick = ReferenceKind::Line { length: Millimetres(1219.2), ends };
        assert_eq!(stick.title(&in_mm), "stick of 1219 mm");
        assert_eq!(stick.likeness(), "a stick");
        let pair = ReferenceKind::LinePair { distance: Millimetres(400.0), lines: [ends; 2] };
        assert_eq!(pair.phrase(&in_mm), "two lines 400 mm apart");
        assert_eq!(pair.likeness(), "two lines");
        let ball = ReferenceKind::Ball { outline: Some((ends[0], Pixels(20.0))) };
        assert_eq!(ball.phrase(&in_mm), "the ball");
        assert_eq!(ball.likeness(), "a ball");
    }
}
