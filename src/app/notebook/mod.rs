//! The chapters beside the picture: people and plans, consistency, comparison, clubs, drills,
//! and sending home.
//!
//! Each chapter is a small module with its state, its messages and what they do; none knows
//! egui or files. What a chapter shows is asked for from the worker ([`Ask`]) and comes back
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
pub use people::{PeopleMessage, PeoplePage, PlanField, TAGS};
pub use send::{SendMessage, SendPage, dropped, write_agreed};
pub use tape::{TapeMessage, TapePage, swing as tape_swing};

pub use crate::workflow::PlanEdit;

use super::message::{Edit, Job};
use super::model::{Model, Page};
use crate::domain::{Club, Quantity};
use crate::report::content::Content;
use crate::store::{BlockId, GolferId, Of, SessionId};
use crate::workflow::{
    BlockStudy, ClubsStudy, CoachSays, ComparisonStudy, DrillStudy, Erasure, Listed, Outline,
    SeasonStudy, Span, TapeStudy,
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

/// What is done in the notebook.
#[derive(Clone, Debug)]
pub enum NotebookMessage {
    /// Turn to a chapter.
    Open(Chapter),
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

/// Applies what is done in the notebook.
pub fn update(model: &mut Model, message: NotebookMessage) -> Vec<Job> {
    match message {
        NotebookMessage::Open(chapter) => open(model, chapter),
        NotebookMessage::Consistency(message) => consistency::update(model, message),
        NotebookMessage::Comparison(message) => comparison::update(model, message),
        NotebookMessage::Clubs(message) => clubs::update(model, message),
        NotebookMessage::Drills(message) => drills::update(model, message),
        NotebookMessage::People(message) => people::update(model, message),
        NotebookMessage::Tape(message) => tape::update(model, message),
        NotebookMessage::Send(message) => send::update(model, message),
    }
}

/// Turns to a chapter; what was being typed is kept.
pub fn open(model: &mut Model, chapter: Chapter) -> Vec<Job> {
    let mut jobs = people::keep(model);
    model.page = Page::Notebook(chapter);
    model.notebook.last = chapter;
    model.sheet = None;
    jobs.extend(refresh(model));
    jobs
}

/// Asks for what the open chapter shows; nothing while the picture is looked at.
pub fn refresh(model: &mut Model) -> Vec<Job> {
    let (Page::Notebook(_), Some(golfer)) = (model.page, model.people.golfer) else {
        return Vec::new();
    };
    let known = model.notebook.outline.as_ref().map(|outline| outline.golfer);
    if known.is_some_and(|known| known != golfer) {
        let (last, send) = (model.notebook.last, &mut model.notebook.send);
        let (going, bundle) = (send.going.take(), send.bundle.take());
        model.notebook = Notebook { last, ..Notebook::default() };
        model.notebook.send.going = going;
        model.notebook.send.bundle = bundle;
    }
    // What to ask for follows from the outline.
    vec![Job::Ask(Ask::Outline(golfer))]
}

/// Takes what the worker found; an answer that is no longer wanted is dropped.
pub fn take(model: &mut Model, answer: Answer) -> Vec<Job> {
    let of_golfer = |golfer| model.people.golfer == Some(golfer);
    match answer {
        Answer::Outline(outline) if of_golfer(outline.golfer) => {
            model.notebook.outline = Some(outline);
            return follow(model);
        }
        Answer::Swings(session, swings, running) => {
            people::take(model, session, swings, running);
        }
        Answer::Block(study) => consistency::take(model, study),
        Answer::Compared(study) => comparison::take(model, study),
        Answer::Clubs(study) if of_golfer(study.golfer) => return clubs::take(model, study),
        Answer::Season(golfer, study) if of_golfer(golfer) => clubs::take_season(model, study),
        Answer::Drills(golfer, found) if of_golfer(golfer) => {
            model.notebook.drills.found = Some(found);
        }
        Answer::Tape(golfer, study) if of_golfer(golfer) => {
            model.notebook.tape.found = Some(study);
        }
        Answer::Content(session, content) => send::take_content(model, session, content),
        Answer::Erasure(golfer, plan) => people::take_erasure(model, golfer, plan),
        Answer::Sending { doing, done } => send::sending(model, doing, done),
        Answer::Sent(path, note) => send::sent(model, path, note),
        Answer::NotSent(sentence) => send::not_sent(model, sentence),
        Answer::LookedInto(path, words) => send::looked_into(model, path, words),
        Answer::TakenIn(golfer) => send::taken_in(model, &golfer),
        Answer::Outline(_)
        | Answer::Clubs(_)
        | Answer::Season(..)
        | Answer::Drills(..)
        | Answer::Tape(..) => {}
    }
    Vec::new()
}

/// The open chapter asks for its numbers, now that it is known what there is.
fn follow(model: &mut Model) -> Vec<Job> {
    let Page::Notebook(chapter) = model.page else { return Vec::new() };
    match chapter {
        Chapter::Consistency => consistency::ask(model),
        Chapter::Comparison => comparison::ask(model),
        Chapter::Clubs => clubs::ask(model),
        Chapter::Drills => drills::ask(model),
        Chapter::People => people::ask(model),
        Chapter::Tape => tape::ask(model),
        Chapter::Send => send::ask(model),
    }
}

/// The block or session to begin with: the last block of the session looked at that has
/// swings, else the session itself.
fn first_subject(model: &Model) -> Option<Of> {
    let outline = model.notebook.outline.as_ref()?;
    let here = model.people.session.and_then(|id| outline.session(id));
    let session = here.or(outline.sessions.first())?;
    let block = session.blocks.iter().rfind(|(row, _)| row.swings > 0);
    Some(block.map_or(Of::Session(session.id), |(row, _)| Of::Block(row.id)))
}

/// Whether a block or session is still there.
fn is_there(model: &Model, of: Of) -> bool {
    model.notebook.outline.as_ref().is_some_and(|outline| outline.words(of).is_some())
}

/// Counts an edit of the plan and wraps it as work.
fn edit(model: &mut Model, edit: PlanEdit) -> Vec<Job> {
    super::update::edit(model, Edit::Plan(edit))
}

#[cfg(test)]
mod tests;
