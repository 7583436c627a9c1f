//! Drills: what to practise, and how it went.

use crate::app::message::Job;
use crate::app::model::Model;
use crate::app::notebook::{Ask, DrillsMessage, PlanEdit};
use crate::app::update::common::{edit_plan, notify};
use crate::domain::{Block, Club};
use crate::stats::{DRILLS, Scoring};

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
    edit_plan(model, PlanEdit::Begin(session, Box::new(block)))
}

/// Asks how the golfer does.
pub fn ask(model: &mut Model) -> Vec<Job> {
    model.people.golfer.map(|golfer| Job::Ask(Ask::Drills(golfer))).into_iter().collect()
}
