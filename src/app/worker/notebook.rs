//! The thread that reads what the notebook's chapters show, with a library of its own, so that
//! neither edits nor measuring wait for it. Of each kind of question only the newest counts.

use std::collections::VecDeque;
use std::mem::discriminant;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

use super::report::{Report, guarded, sentence};
use crate::app::message::Event;
use crate::app::notebook::{Answer, Ask};
use crate::app::options::Options;
use crate::store::{Library, Of, Result};
use crate::workflow::{
    list_swings, outline, plan_erasure, running_block, session_content, study_block, study_clubs,
    study_comparison, study_drills, study_season, tape_study,
};

/// Answers until the window is gone.
pub fn run(options: &Options, asks: &Receiver<Ask>, report: &Report) {
    let mut library = None;
    let mut waiting: VecDeque<Ask> = VecDeque::new();
    loop {
        if waiting.is_empty() {
            let Ok(ask) = asks.recv() else { return };
            waiting.push_back(ask);
        }
        while let Ok(newer) = asks.try_recv() {
            waiting.retain(|older| discriminant(older) != discriminant(&newer));
            waiting.push_back(newer);
        }
        let Some(ask) = waiting.pop_front() else { continue };
        if library.is_none() {
            library = options.place().and_then(|path| Library::open(path).ok());
        }
        // Without a library the other thread has told so already.
        let Some(at_hand) = &library else { continue };
        let done = guarded(|| match answer(at_hand, ask) {
            Ok(answer) => report.send(Event::Answer(answer)),
            Err(error) => report.send(Event::Notice(sentence(&error))),
        });
        if let Err(sentence) = done {
            library = None;
            report.send(Event::Notice(sentence));
        }
    }
}

fn answer(library: &Library, ask: Ask) -> Result<Answer> {
    Ok(match ask {
        Ask::Outline(golfer) => Answer::Outline(Arc::new(outline(library, golfer)?)),
        Ask::Swings(session) => {
            let swings = list_swings(library, Of::Session(session))?;
            Answer::Swings(session, Arc::new(swings), running_block(library, session)?)
        }
        Ask::Block(golfer, of) => Answer::Block(Arc::new(study_block(library, golfer, of)?)),
        Ask::Compare(golfer, first, others) => {
            Answer::Compared(Arc::new(study_comparison(library, golfer, first, &others)?))
        }
        Ask::Clubs(golfer, span) => Answer::Clubs(Arc::new(study_clubs(library, golfer, span)?)),
        Ask::Season(golfer, quantity, club) => {
            let study = study_season(library, golfer, quantity, club)?;
            Answer::Season(golfer, Arc::new(study))
        }
        Ask::Drills(golfer) => Answer::Drills(golfer, Arc::new(study_drills(library, golfer)?)),
        Ask::Content(session, says) => {
            Answer::Content(session, Arc::new(session_content(library, session, &says)?))
        }
        Ask::Tape(golfer) => Answer::Tape(golfer, Arc::new(tape_study(library, golfer)?)),
        Ask::Erasure(golfer) => Answer::Erasure(golfer, Arc::new(plan_erasure(library, golfer)?)),
    })
}
