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
use crate::video::CancelToken;
use crate::workflow::{
    list_swings, outline, plan_erasure, running_block, session_content, study_block, study_clubs,
    study_comparison, study_drills, study_season, tape_study,
};

/// Answers until the window is gone; what was stopped is not answered.
pub fn run(options: &Options, asks: &Receiver<(Ask, CancelToken)>, report: &Report) {
    let mut library = None;
    let mut waiting: VecDeque<(Ask, CancelToken)> = VecDeque::new();
    loop {
        if waiting.is_empty() {
            let Ok(ask) = asks.recv() else { return };
            waiting.push_back(ask);
        }
        while let Ok(newer) = asks.try_recv() {
            waiting.retain(|(older, _)| discriminant(older) != discriminant(&newer.0));
            waiting.push_back(newer);
        }
        let Some((ask, stop)) = waiting.pop_front() else { continue };
        if stop.is_cancelled() {
            continue;
        }
        if library.is_none() {
            library = options.place().and_then(|path| Library::open(path).ok());
        }
        let done = guarded(|| tell(library.as_mut(), ask, &stop, report));
        if let Err(sentence) = done {
            library = None;
            report.send(Event::Notice(sentence));
            report.send(Event::Answer(Answer::NotRead));
        }
    }
}

/// Answers, unless it is stopped.
fn tell(library: Option<&mut Library>, ask: Ask, stop: &CancelToken, report: &Report) {
    // Without a library the other thread has told so already.
    let Some(library) = library else { return report.send(Event::Answer(Answer::NotRead)) };
    match answer_until(library, ask, stop) {
        Ok(answer) => report.send(Event::Answer(answer)),
        Err(_) if stop.is_cancelled() => {}
        Err(error) => {
            report.send(Event::Notice(sentence(&error)));
            report.send(Event::Answer(Answer::NotRead));
        }
    }
}

/// An answer, unless it is stopped while the library is read.
fn answer_until(library: &mut Library, ask: Ask, stop: &CancelToken) -> Result<Answer> {
    let stopped = stop.clone();
    library.read_until(move || stopped.is_cancelled())?;
    answer(library, ask)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Golfer, Session};
    use crate::store::Scope;

    #[test]
    fn what_is_stopped_reads_no_further_and_the_next_is_read() {
        let folder = tempfile::tempdir().expect("a folder");
        let mut library = Library::open(folder.path().join("a.scuffline")).expect("a library");
        let golfer = library
            .edit(Scope::Library, "golfer", |edit| {
                let golfer = edit.add_golfer(&Golfer::default())?;
                for day in 1..=28 {
                    edit.add_session(golfer, &Session::on(jiff::civil::date(2026, 2, day)))?;
                }
                Ok(golfer)
            })
            .expect("a season");
        let stop = CancelToken::new();
        stop.cancel();
        let stopped = answer_until(&mut library, Ask::Outline(golfer), &stop);
        assert!(stopped.is_err(), "{stopped:?}");
        let read = answer_until(&mut library, Ask::Outline(golfer), &CancelToken::new());
        assert!(matches!(read, Ok(Answer::Outline(_))), "{read:?}");
    }
}
