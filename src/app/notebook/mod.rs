//! The chapters beside the picture: people and plans, consistency, comparison, clubs, drills,
//! and sending home.
//!
//! Each chapter is a small module with its state and its messages; what they do stands in
//! `update/notebook`. What a chapter shows is asked for from the worker ([`Ask`]) and comes back
//! as an [`Answer`]; what a person changes in a plan is an edit like any other ([`PlanEdit`]).

mod clubs;
mod comparison;
mod consistency;
mod drills;
mod people;
mod send;
mod tape;

use std::path::PathBuf;
use std::sync::Arc;

pub use clubs::{ClubsMessage, ClubsPage};
pub use comparison::{ComparisonMessage, ComparisonPage, MOST_OTHERS};
pub use consistency::{ConsistencyMessage, ConsistencyPage};
pub use drills::{DrillsMessage, DrillsPage};
pub use people::{
    BlockMessage, Erasing, ErasingMessage, PeopleMessage, PeoplePage, PickedMessage, PlanField,
    TAGS,
};
pub use send::{Going, SendMessage, SendPage};
pub use tape::{TapeMessage, TapePage};

pub use crate::workflow::PlanEdit;

use crate::domain::{Club, LengthUnit, MarkWord, Quantity};
use crate::report::content::Content;
use crate::store::{BlockId, GolferId, Of, SessionId, SwingId};
use crate::workflow::{
    BlockNumber, BlockStudy, ClubsStudy, CoachSays, ComparedNumber, ComparisonStudy, Doubt,
    DrillStudy, Erasure, Listed, Outline, SeasonStudy, Span, TapeStudy, club_words, day_words,
    doubt_of_bias, doubt_of_block, doubt_of_comparison, doubt_of_difference, doubt_of_number,
    doubt_of_session, doubt_of_stance,
};

/// A chapter of the notebook.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Chapter {
    /// One block in numbers.
    #[default]
    Consistency,
    /// Blocks against each other.
    Comparison,
    /// Club by club, ball position, season.
    Clubs,
    /// What to practise, and how it went.
    Drills,
    /// Golfers, sessions, blocks, swings.
    People,
    /// What a tape said beside the program's numbers.
    Tape,
    /// Files to pass on.
    Send,
}

impl Chapter {
    /// In the order in which they are offered.
    pub const ALL: [Self; 7] = [
        Self::Consistency,
        Self::Comparison,
        Self::Clubs,
        Self::Drills,
        Self::People,
        Self::Tape,
        Self::Send,
    ];

    /// Plain words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Consistency => "Consistency",
            Self::Comparison => "Comparison",
            Self::Clubs => "Clubs and season",
            Self::Drills => "Drills",
            Self::People => "People and plans",
            Self::Tape => "Tape check",
            Self::Send => "Send home",
        }
    }
}

/// What the chapters know.
#[derive(Debug, Default)]
pub struct Notebook {
    /// The golfer's sessions and blocks.
    pub outline: Option<Arc<Outline>>,
    /// The chapter looked at last.
    pub last: Chapter,
    /// What the chapter shows is not being read: it was stopped, or could not be read.
    pub stopped: bool,
    /// One block in numbers.
    pub consistency: ConsistencyPage,
    /// Blocks against each other.
    pub comparison: ComparisonPage,
    /// Club by club.
    pub clubs: ClubsPage,
    /// Drills.
    pub drills: DrillsPage,
    /// Golfers, sessions, blocks, swings.
    pub people: PeoplePage,
    /// A tape's values.
    pub tape: TapePage,
    /// Files to pass on.
    pub send: SendPage,
}

impl Notebook {
    /// The block or session to begin with: the last block of the session looked at (`here`) that
    /// has swings, else the session itself.
    pub fn first_subject(&self, here: Option<SessionId>) -> Option<Of> {
        let outline = self.outline.as_ref()?;
        let here = here.and_then(|id| outline.session(id));
        let session = here.or(outline.sessions.first())?;
        let block = session.blocks.iter().rfind(|(row, _)| row.swings > 0);
        Some(block.map_or(Of::Session(session.id), |(row, _)| Of::Block(row.id)))
    }

    /// Whether a block or session is still there.
    pub fn has(&self, of: Of) -> bool {
        self.outline.as_ref().is_some_and(|outline| outline.words(of).is_some())
    }
}

/// Which of the numbers that the chapters show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Shown {
    /// Of the block of the consistency chapter.
    Block(BlockNumber),
    /// Of this row of the table of clubs.
    Club(usize, BlockNumber),
    /// What a ball changes in a club's mean: this line below the table of clubs.
    Gap(usize),
    /// Of the first block of the comparison.
    First(BlockNumber),
    /// Of this block of the comparison.
    Second(usize, BlockNumber),
    /// Between this block of the comparison and the first.
    Compared(usize, ComparedNumber),
    /// What lies between the later block and the one after the lesson.
    Since,
    /// The mean of this dot of the season.
    Season(usize),
    /// How the low point goes with the ball's place in the stance.
    Stance,
    /// The program's number of this pair.
    Pair(usize),
    /// How the program lies against the tape, of this verdict.
    Tape(usize),
}

impl Notebook {
    /// A swing of those that a chapter lists.
    pub fn listed(&self, id: SwingId) -> Option<&Listed> {
        let people = self.people.swings.iter().flat_map(|(_, swings)| swings.iter());
        let block = self.consistency.found.iter().flat_map(|study| &study.swings);
        people.chain(block).find(|swing| swing.id == id)
    }

    /// A number of the chapters with its doubt, while they show it.
    pub fn doubt(&self, which: Shown, quantity: Quantity, unit: LengthUnit) -> Option<Doubt> {
        let compared = || self.comparison.found.as_ref();
        let against = |place: usize| compared()?.others.get(place);
        match which {
            Shown::Block(number) => {
                let study = self.consistency.found.as_ref()?;
                Some(doubt_of_block(&study.summary, quantity, number, unit)?.of(&study.title))
            }
            Shown::Club(row, number) => {
                let row = self.clubs.found.as_ref()?.rows.get(row)?;
                Some(doubt_of_block(&row.summary, quantity, number, unit)?.of(row.name()))
            }
            Shown::Gap(place) => {
                let (club, comparison) = self.clubs.found.as_ref()?.gaps.get(place)?;
                let number = ComparedNumber::Difference;
                let doubt = doubt_of_comparison(comparison, quantity, number, unit)?;
                Some(
                    doubt.of(format!("{}, with a ball against without", club_words(club.as_ref()))),
                )
            }
            Shown::First(number) => {
                let study = compared()?;
                let summary = &study.others.first()?.comparison.first;
                Some(doubt_of_block(summary, quantity, number, unit)?.of(&study.title))
            }
            Shown::Second(place, number) => {
                let other = against(place)?;
                let summary = &other.comparison.second;
                Some(doubt_of_block(summary, quantity, number, unit)?.of(&other.title))
            }
            Shown::Compared(place, number) => {
                let (first, other) = (&compared()?.title, against(place)?);
                let doubt = doubt_of_comparison(&other.comparison, quantity, number, unit)?;
                Some(doubt.of(match number {
                    ComparedNumber::FirstMean => first.clone(),
                    ComparedNumber::ThisMean => other.title.clone(),
                    _ => format!("{} against {first}", other.title),
                }))
            }
            Shown::Since => {
                let retention = compared()?.retention.as_ref()?;
                let doubt = doubt_of_difference(&retention.since, unit);
                Some(doubt.of("The later block against the one after the lesson"))
            }
            Shown::Season(place) => {
                let study = self.clubs.season.as_ref().filter(|s| s.quantity == quantity)?;
                let (day, point) = study.points.get(place)?;
                let mark = (quantity, point.mark);
                Some(doubt_of_session(&point.mean, mark, (&day_words(*day), point.n), unit))
            }
            Shown::Stance => doubt_of_stance(self.clubs.found.as_ref()?, unit),
            Shown::Pair(place) => {
                let pair = self.tape.found.as_ref()?.pairs.get(place)?;
                let mark = MarkWord::default();
                Some(doubt_of_number(&pair.measured, pair.quantity.into(), mark, unit))
            }
            Shown::Tape(place) => {
                doubt_of_bias(self.tape.found.as_ref()?.verdicts.get(place)?, unit)
            }
        }
    }
}

/// What is done in the notebook.
#[derive(Clone, Debug)]
pub enum NotebookMessage {
    /// Turn to a chapter.
    Open(Chapter),
    /// Stop reading what the chapter shows.
    Stop,
    /// In the chapter of that name.
    Consistency(ConsistencyMessage),
    /// In the chapter of that name.
    Comparison(ComparisonMessage),
    /// In the chapter of that name.
    Clubs(ClubsMessage),
    /// In the chapter of that name.
    Drills(DrillsMessage),
    /// In the chapter of that name.
    People(PeopleMessage),
    /// In the chapter of that name.
    Tape(TapeMessage),
    /// In the chapter of that name.
    Send(SendMessage),
}

/// What the worker is asked to read; of each kind only the newest counts.
#[derive(Clone, Debug, PartialEq)]
pub enum Ask {
    /// A golfer's sessions and blocks.
    Outline(GolferId),
    /// The swings of a session.
    Swings(SessionId),
    /// A block or session in numbers.
    Block(GolferId, Of),
    /// Blocks held against the first of them.
    Compare(GolferId, Of, Vec<Of>),
    /// Club by club.
    Clubs(GolferId, Span),
    /// A number over the season.
    Season(GolferId, Quantity, Option<Club>),
    /// All drills.
    Drills(GolferId),
    /// What a page about a session says.
    Content(SessionId, CoachSays),
    /// What would go with a golfer.
    Erasure(GolferId),
    /// A golfer's tape values.
    Tape(GolferId),
}

/// What the worker found, or how far a file is.
#[derive(Clone, Debug)]
pub enum Answer {
    /// A golfer's sessions and blocks.
    Outline(Arc<Outline>),
    /// The swings of a session, and the block that new swings go into.
    Swings(SessionId, Arc<Vec<Listed>>, Option<BlockId>),
    /// A block or session in numbers.
    Block(Arc<BlockStudy>),
    /// Blocks against each other.
    Compared(Arc<ComparisonStudy>),
    /// Club by club.
    Clubs(Arc<ClubsStudy>),
    /// A number over the season.
    Season(GolferId, Arc<SeasonStudy>),
    /// All drills.
    Drills(GolferId, Arc<Vec<DrillStudy>>),
    /// What a page about a session says.
    Content(SessionId, Arc<Content>),
    /// What would go with a golfer.
    Erasure(GolferId, Arc<Erasure>),
    /// A golfer's tape values.
    Tape(GolferId, Arc<TapeStudy>),
    /// What was asked for cannot be read.
    NotRead,
    /// A file is being written.
    Sending {
        /// What is being done.
        doing: String,
        /// Which part of it is done.
        done: f64,
    },
    /// A file is written, with something to add perhaps.
    Sent(PathBuf, Option<String>),
    /// A bundle was looked into: what it would add, in words.
    LookedInto(PathBuf, String),
    /// This golfer's bundle is in the library.
    TakenIn(String),
    /// No file was written; in silence when the person chose none or stopped it.
    NotSent(Option<String>),
}
