//! What a report says: finished numbers and words, in the order in which they are read.
//!
//! These types are the JSON export's schema (docs/formats.md, "Exports"): names carry units,
//! unknown is absent, never a guess.

use serde::{Deserialize, Serialize};

use crate::domain::{
    ContactOrder, GroundMark, LengthUnit, LowPointMethod, MarkWord, Reviewable, Surface, SwingKind,
};

/// A number as it was stated on the screen, with its 95 % interval and its words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// The value, in the unit its holder names; offsets are positive toward the target.
    pub value: f64,
    /// Half the interval's width.
    pub expanded_uncertainty: f64,
    /// Lower and upper limit.
    pub interval_95: [f64; 2],
    /// As the screen says it, in the reader's unit: "58 mm ahead ± 4".
    pub words: String,
}

/// One swing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SwingRow {
    /// Its number in the session, from 1.
    pub number: usize,
    /// The block it belongs to, such as "before"; empty without blocks.
    #[serde(default)]
    pub block: String,
    /// The club by its trade name; empty if unknown.
    #[serde(default)]
    pub club: String,
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// What the swing left; absent: could not look.
    #[serde(default)]
    pub ground_mark: Option<GroundMark>,
    /// Divot start, mm from the ball.
    #[serde(default)]
    pub divot_start_mm: Option<Figure>,
    /// Divot end, mm from the ball.
    #[serde(default)]
    pub divot_end_mm: Option<Figure>,
    /// Low point, mm from the ball.
    #[serde(default)]
    pub low_point_mm: Option<Figure>,
    /// What the low point was read from.
    #[serde(default)]
    pub low_point_method: Option<LowPointMethod>,
    /// Attack angle at the ball, degrees, down negative.
    #[serde(default)]
    pub attack_angle_deg: Option<Figure>,
    /// Which came first.
    #[serde(default)]
    pub contact_order: Option<ContactOrder>,
    /// What a person has not yet looked at.
    #[serde(default)]
    pub needs_review: Vec<Reviewable>,
    /// Why it does not count; absent if it counts.
    #[serde(default)]
    pub left_out: Option<String>,
    /// The coach's notes on this swing.
    #[serde(default)]
    pub notes: String,
}

impl SwingRow {
    /// Which came first, in words.
    pub fn contact_words(&self) -> Option<&'static str> {
        self.contact_order.map(|order| match order {
            ContactOrder::BallFirst => "ball first",
            ContactOrder::TurfFirst => "turf first",
            ContactOrder::TooClose => "too close to call",
            ContactOrder::NoGroundContact => "no ground contact",
        })
    }
}

/// Mean and spread of one quantity over a block.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// How many swings gave it.
    pub swings: usize,
    /// The mean, mm.
    pub mean_mm: Figure,
    /// The standard deviation, mm; absent for fewer than two swings.
    #[serde(default)]
    pub sd_mm: Option<Figure>,
}

/// A share of swings in words: "7 of 10".
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// How many.
    pub count: usize,
    /// Of how many.
    pub of: usize,
    /// As the screen says it.
    pub words: String,
}

/// A block's summary.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlockSummary {
    /// The block's name, such as "before".
    pub name: String,
    /// Swings that count.
    pub counted: usize,
    /// Swings left out.
    #[serde(default)]
    pub left_out: usize,
    /// Divot start.
    #[serde(default)]
    pub divot_start: Option<Spread>,
    /// Low point.
    #[serde(default)]
    pub low_point: Option<Spread>,
    /// Swings that met the ball first.
    #[serde(default)]
    pub ball_first: Option<Share>,
    /// Swings whose divot start lies in the aim window.
    #[serde(default)]
    pub in_aim_window: Option<Share>,
}

/// Two blocks against each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// The earlier or first block's name.
    pub before: String,
    /// The later or second block's name.
    pub after: String,
    /// The one plain sentence.
    pub sentence: String,
    /// Difference of the means, after minus before, mm.
    #[serde(default)]
    pub difference_mm: Option<Figure>,
    /// Ratio of the standard deviations, after over before.
    #[serde(default)]
    pub spread_ratio: Option<Figure>,
    /// How many more swings it takes, if there are too few.
    #[serde(default)]
    pub more_swings: Option<String>,
}

/// The stretch of ground aimed at.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AimWindow {
    /// Its near limit, mm from the ball.
    pub from_mm: f64,
    /// Its far limit, mm from the ball.
    pub to_mm: f64,
}

/// A session, or two blocks of swings, ready to be written down.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Content {
    /// The golfer's name as the coach writes it.
    pub golfer: String,
    /// The day, ISO 8601 ("2026-05-14"); empty if unknown.
    #[serde(default)]
    pub date: String,
    /// Where.
    #[serde(default)]
    pub place: String,
    /// Clubs by their trade names.
    #[serde(default)]
    pub clubs: Vec<String>,
    /// "turf" or "mat"; empty if unknown.
    #[serde(default)]
    pub surface: String,
    /// The unit of all words.
    #[serde(default)]
    pub unit: LengthUnit,
    /// The stretch aimed at.
    #[serde(default)]
    pub aim_window: Option<AimWindow>,
    /// The swings in the order in which they were made.
    pub swings: Vec<SwingRow>,
    /// The blocks in order of time; one nameless block if the session has none.
    #[serde(default)]
    pub blocks: Vec<BlockSummary>,
    /// Before against after.
    #[serde(default)]
    pub comparison: Option<Comparison>,
    /// The coach's words.
    #[serde(default)]
    pub coach_words: String,
    /// What to practise, one thing an entry.
    #[serde(default)]
    pub practise: Vec<String>,
    /// How it was measured: reference object, method, what ± means.
    #[serde(default)]
    pub how_measured: Vec<String>,
    /// What to mind ([`cautions`]).
    #[serde(default)]
    pub cautions: Vec<String>,
}

/// What is said about safety wherever practice is proposed.
pub fn cautions(unit: LengthUnit) -> [String; 4] {
    [
        &format!(
            "Keep people and the camera {} away from the club and off the target line; look before each swing.",
            unit.away()
        ),
        "Stop if a wrist, an elbow or the back hurts, and go easy on repeated hits into a hard mat.",
        "The range's rules and local codes come first.",
        "A medical or coaching professional decides what a body can do; the numbers prescribe no treatment.",
    ]
    .map(String::from)
}

/// What the ± means, for the page's small print.
pub const PLUS_MINUS: &str = "± is half a 95 % interval: about 19 of 20 such intervals hold the true value. \
     It covers placing the marks, the scale, the camera's angle, the lens and the model.";

impl Content {
    /// What the marks in the ground are called.
    pub fn mark(&self) -> MarkWord {
        let surface = (self.surface == "mat").then_some(Surface::Mat);
        let counted = self.swings.iter().filter(|swing| swing.left_out.is_none());
        MarkWord::of_all(counted.map(|swing| MarkWord::of(swing.ground_mark, surface)))
    }

    /// The day as people write it ("14 May 2026"); the text as it is if it is no date.
    pub fn date_words(&self) -> String {
        match self.date.parse::<jiff::civil::Date>() {
            Ok(date) => date.strftime("%-d %B %Y").to_string(),
            Err(_) => self.date.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_written_out() {
        let check = |date: &str, words: &str| {
            let content = Content { date: date.into(), ..Content::default() };
            assert_eq!(content.date_words(), words);
        };
        check("2026-05-04", "4 May 2026");
        check("early spring", "early spring");
        check("", "");
    }
}
