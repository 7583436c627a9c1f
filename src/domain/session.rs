//! A session, the blocks of swings in it, and the marks kept with them.

use serde::{Deserialize, Serialize};

use super::{Club, Lie, Mark, Pixels, Surface};

/// One visit to the range or the lesson tee.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// The day, on the calendar of the place.
    pub date: jiff::civil::Date,
    /// Where, in the coach's words.
    pub place: String,
    /// What was played from; a recording's own set-up overrides it.
    pub surface: Surface,
    /// The lie of the ground.
    pub lie: Lie,
    /// Where the camera stood, in the coach's words.
    pub camera: String,
    /// What the golfer was asked to attend to, in the coach's words.
    pub cue: String,
    /// Free notes.
    pub notes: String,
}

impl Session {
    /// A session on level turf about which nothing else is known yet.
    pub fn on(date: jiff::civil::Date) -> Self {
        Self {
            date,
            place: String::new(),
            surface: Surface::default(),
            lie: Lie::default(),
            camera: String::new(),
            cue: String::new(),
            notes: String::new(),
        }
    }
}

/// When in the course of learning a block was played.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Phase {
    /// Nothing is being compared.
    #[default]
    Plain,
    /// Before the lesson or the change.
    Before,
    /// After it, the same day.
    After,
    /// Days later: what was kept, since a gain within a lesson is performance, not yet learning.
    Later,
}

/// Whether a ball was struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BallUse {
    /// With a ball.
    #[default]
    WithBall,
    /// Without: over a ball line.
    WithoutBall,
}

/// A run of swings under one condition within a session. A drill run is a block.
#[derive(Clone, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Block {
    /// As the coach calls it.
    pub title: String,
    /// Before, after, later.
    pub phase: Phase,
    /// With or without a ball.
    pub ball: BallUse,
    /// The key of the drill that was played, if one was.
    pub drill: Option<String>,
    /// The club of every swing in it, where it is one.
    pub club: Option<Club>,
    /// The cue, in the coach's words.
    pub cue: String,
    /// Free notes.
    pub notes: String,
}

/// What a mark in the picture stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MarkKind {
    /// The ball's centre at rest.
    Ball,
    /// Where the mark in the ground begins.
    DivotStart,
    /// Where it ends.
    DivotEnd,
    /// Where the tee goes into the ground: straight below the ball that stands on it.
    Tee,
    /// A point on the ground that stands in for the ball.
    Origin,
    /// The inner edge of the lead heel on the ground.
    LeadHeel,
    /// The inner edge of the trail heel on the ground.
    TrailHeel,
    /// A point of the ball line of a drill.
    BallLine,
    /// A point of the reach line of a drill.
    ReachLine,
    /// The middle of the club head's leading edge in one frame.
    ClubHead,
}

impl MarkKind {
    /// Plain words, as in "divot start of swing 3".
    pub fn words(self) -> &'static str {
        match self {
            Self::Ball => "ball",
            Self::DivotStart => "divot start",
            Self::DivotEnd => "divot end",
            Self::Tee => "tee",
            Self::Origin => "ball line",
            Self::LeadHeel => "lead heel",
            Self::TrailHeel => "trail heel",
            Self::BallLine => "ball line",
            Self::ReachLine => "reach line",
            Self::ClubHead => "club head",
        }
    }
}

/// Which of several marks of one kind: a line's first or second end, the club head's frame; 0
/// where there is only one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Part(pub usize);

impl Part {
    /// A point, or one end of a line.
    pub const FIRST: Self = Self(0);
}

/// Who placed a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PlacedBy {
    /// A person: never overwritten by the program.
    Person,
    /// The program.
    Program,
}

/// A mark with who placed it and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlacedMark {
    /// What it stands for.
    pub kind: MarkKind,
    /// Which of several of its kind.
    pub part: Part,
    /// Where, and in which frame it was read.
    pub mark: Mark,
    /// Standard uncertainty in each coordinate; `None`: a click.
    pub sigma: Option<Pixels>,
    /// Who placed it.
    pub by: PlacedBy,
    /// How sure the program was, 0 to 1; `None` for a person's mark.
    pub confidence: Option<f64>,
}

impl PlacedMark {
    /// A point that a person clicked.
    pub fn by_person(kind: MarkKind, mark: Mark) -> Self {
        Self { kind, part: Part::FIRST, mark, sigma: None, by: PlacedBy::Person, confidence: None }
    }

    /// The same, as one of several of its kind.
    pub fn numbered(self, part: Part) -> Self {
        Self { part, ..self }
    }
}

/// A number of a swing that is collected over many.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, Default,
)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Divot start minus ball, mm.
    #[default]
    DivotStart,
    /// Divot end minus ball, mm.
    DivotEnd,
    /// Low point minus ball, mm.
    LowPoint,
    /// Attack angle at the ball, degrees.
    AttackAngle,
}

impl Quantity {
    /// All of them, in the order they are shown.
    pub const ALL: [Self; 4] =
        [Self::DivotStart, Self::LowPoint, Self::DivotEnd, Self::AttackAngle];

    /// Plain words.
    pub fn words(self) -> &'static str {
        match self {
            Self::DivotStart => "divot start",
            Self::DivotEnd => "divot end",
            Self::LowPoint => "low point",
            Self::AttackAngle => "attack angle",
        }
    }
}
