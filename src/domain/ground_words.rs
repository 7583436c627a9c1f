//! What a mark in the ground is called: turf takes a divot, a mat a scuff, a chalk line a smear.

use super::{GroundMark, Quantity, Reviewable, Surface};

/// By which word a mark in the ground goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MarkWord {
    /// Turf was cut out.
    #[default]
    Divot,
    /// A mat or the grass was brushed.
    Scuff,
    /// A chalk line was wiped.
    Smear,
}

impl MarkWord {
    /// The word for a mark, or for one that is still to be found, on this surface.
    pub fn of(mark: Option<GroundMark>, surface: Option<Surface>) -> Self {
        match (mark, surface.unwrap_or_default()) {
            (Some(GroundMark::Divot), _) => Self::Divot,
            (Some(GroundMark::Scuff), _) => Self::Scuff,
            (Some(GroundMark::Smear), _) => Self::Smear,
            (Some(GroundMark::None) | None, Surface::Turf) => Self::Divot,
            (Some(GroundMark::None) | None, Surface::Mat) => Self::Scuff,
        }
    }

    /// The word for many marks: a divot where they are of several kinds.
    pub fn of_all(words: impl IntoIterator<Item = Self>) -> Self {
        let mut words = words.into_iter();
        let first = words.next().unwrap_or_default();
        if words.all(|word| word == first) { first } else { Self::Divot }
    }

    /// "divot".
    pub fn word(self) -> &'static str {
        match self {
            Self::Divot => "divot",
            Self::Scuff => "scuff",
            Self::Smear => "smear",
        }
    }

    /// "divot start".
    pub fn start(self) -> &'static str {
        match self {
            Self::Divot => "divot start",
            Self::Scuff => "scuff start",
            Self::Smear => "smear start",
        }
    }

    /// "Divot start", where it stands first.
    pub fn start_title(self) -> &'static str {
        match self {
            Self::Divot => "Divot start",
            Self::Scuff => "Scuff start",
            Self::Smear => "Smear start",
        }
    }

    /// "Divot end", where it stands first.
    pub fn end_title(self) -> &'static str {
        match self {
            Self::Divot => "Divot end",
            Self::Scuff => "Scuff end",
            Self::Smear => "Smear end",
        }
    }

    /// "divot end".
    pub fn end(self) -> &'static str {
        match self {
            Self::Divot => "divot end",
            Self::Scuff => "scuff end",
            Self::Smear => "smear end",
        }
    }
}

impl Quantity {
    /// Plain words for a number that was read from a mark called so.
    pub fn words_of(self, mark: MarkWord) -> &'static str {
        match self {
            Self::DivotStart => mark.start(),
            Self::DivotEnd => mark.end(),
            Self::LowPoint | Self::AttackAngle => self.words(),
        }
    }
}

impl GroundMark {
    /// "divot", "scuff", "smeared line", "no mark".
    pub fn words(self) -> &'static str {
        match self {
            Self::Divot => "divot",
            Self::Scuff => "scuff",
            Self::Smear => "smeared line",
            Self::None => "no mark",
        }
    }
}

/// What a person answers who looked at the ground.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum GroundAnswer {
    /// Turf was cut out.
    #[serde(rename = "divot")]
    Divot,
    /// A mat or the grass was brushed.
    #[serde(rename = "scuff")]
    Scuff,
    /// A chalk line was wiped.
    #[serde(rename = "smear")]
    Smear,
    /// Looked, and there is nothing.
    #[serde(rename = "none")]
    None,
    /// The ground cannot be seen.
    #[serde(rename = "could not look")]
    Unseen,
}

impl GroundAnswer {
    /// In the order in which they are offered.
    pub const ALL: [Self; 5] = [Self::Divot, Self::Scuff, Self::Smear, Self::None, Self::Unseen];

    /// "divot", "could not look".
    pub fn words(self) -> &'static str {
        self.mark().map_or("could not look", GroundMark::words)
    }

    /// What is in the ground; `None`: could not look.
    pub fn mark(self) -> Option<GroundMark> {
        match self {
            Self::Divot => Some(GroundMark::Divot),
            Self::Scuff => Some(GroundMark::Scuff),
            Self::Smear => Some(GroundMark::Smear),
            Self::None => Some(GroundMark::None),
            Self::Unseen => None,
        }
    }

    /// There is a mark, so it begins and ends somewhere.
    pub fn is_mark(self) -> bool {
        !matches!(self, Self::None | Self::Unseen)
    }
}

impl Reviewable {
    /// What a person is asked to look at, of a mark called so.
    pub fn words_of(self, mark: MarkWord) -> &'static str {
        match self {
            Self::Swing => "is it a swing?",
            Self::Strike => "instant of the strike",
            Self::Ball => "ball",
            Self::DivotStart => mark.start(),
            Self::DivotEnd => mark.end(),
            Self::LowPoint => "low point",
            Self::AttackAngle => "attack angle",
            Self::ContactOrder => "contact order",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mat_takes_no_divot() {
        let of = |mark, surface| MarkWord::of(mark, surface).start();
        assert_eq!(of(None, None), "divot start");
        assert_eq!(of(None, Some(Surface::Mat)), "scuff start");
        assert_eq!(of(Some(GroundMark::None), Some(Surface::Mat)), "scuff start");
        // What is seen or said outranks what such a surface usually takes.
        assert_eq!(of(Some(GroundMark::Smear), Some(Surface::Turf)), "smear start");
        assert_eq!(of(Some(GroundMark::Divot), Some(Surface::Mat)), "divot start");
        assert_eq!(MarkWord::of_all([MarkWord::Scuff; 3]), MarkWord::Scuff);
        assert_eq!(MarkWord::of_all([MarkWord::Scuff, MarkWord::Smear]), MarkWord::Divot);
    }

    #[test]
    fn five_answers_and_one_of_them_is_none_of_the_four() {
        let words: Vec<_> = GroundAnswer::ALL.map(GroundAnswer::words).to_vec();
        assert_eq!(words, ["divot", "scuff", "smeared line", "no mark", "could not look"]);
        assert_eq!(GroundAnswer::Unseen.mark(), None);
        assert_eq!(GroundAnswer::None.mark(), Some(GroundMark::None));
    }
}
