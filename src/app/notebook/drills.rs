//! Drills: what to practise, and how it went.

use std::sync::Arc;

use super::{Ask, PlanEdit, edit};
use crate::app::message::Job;
use crate::app::model::Model;
use crate::app::update::notify;
use crate::domain::{Block, Club};
use crate::stats::{DRILLS, Scoring};
use crate::workflow::DrillStudy;

/// What the chapter shows.
#[derive(Debug, Default)]
pub struct DrillsPage {
    /// Every drill, and how the golfer does in it.
    pub found: Option<Arc<Vec<DrillStudy>>>,
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum DrillsMessage {
    /// Begin this drill: a new block in the session looked at.
    Start(&'static str),
}

/// Applies what is done in the chapter.
pub fn update(model: &mut Model, message: DrillsMessage) -> Vec<Job> {
    match message {
        DrillsMessage::Start(key) => start(model, key),
    }
}

fn start(model: &mut Model, key: &str) -> Vec<Job> {
    let Some(drill) = DRILLS.iter().find(|drill| drill.key == key) else { return Vec::new() };
    let Some(session) = model.people.session else {
        notify(model, "Begin a session first: a drill is a block of one.");
        return Vec::new();
    };
    // Where the club is part of the drill it is known; else the last swing's is likely.
    let club = match drill.scoring {
        Scoring::NothingTouched => Some(Club("driver".into())),
        Scoring::OwnWindow => None,
        Scoring::Reach { .. } | Scoring::Climb | Scoring::Gate { .. } => {
            model.swings.iter().rev().find_map(|swing| swing.club.clone())
        }
    };
    let block = Block {
        title: drill.title.into(),
        ball: drill.ball,
        drill: Some(drill.key.into()),
        club,
        cue: drill.cue.into(),
        ..Block::default()
    };
    notify(model, format!("{} has begun: new swings of this session go into it.", drill.title));
    edit(model, PlanEdit::Begin(session, Box::new(block)))
}

/// Asks how the golfer does.
pub fn ask(model: &mut Model) -> Vec<Job> {
    model.people.golfer.map(|golfer| Job::Ask(Ask::Drills(golfer))).into_iter().collect()
}
