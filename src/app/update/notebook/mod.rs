//! What is done in the notebook, chapter by chapter.

mod clubs;
mod comparison;
mod consistency;
mod drills;
pub mod people;
mod send;
mod tape;

use std::path::PathBuf;

pub use send::write_agreed;

use crate::app::message::Job;
use crate::app::model::{Model, Page};
use crate::app::notebook::{Answer, Ask, Chapter, Notebook, NotebookMessage};

/// Applies what is done in the notebook.
pub fn update(model: &mut Model, message: NotebookMessage) -> Vec<Job> {
    match message {
        NotebookMessage::Open(chapter) => open(model, chapter),
        NotebookMessage::Stop => stop(model),
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

/// Stops reading what the chapter shows; what is shown already stays.
fn stop(model: &mut Model) -> Vec<Job> {
    not_read(model);
    vec![Job::StopAsking]
}

/// Nothing more comes: whoever waits for it waits no longer.
fn not_read(model: &mut Model) {
    model.notebook.stopped = true;
    model.notebook.people.erasing.take_if(|erasing| erasing.plan.is_none());
}

/// A bundle dropped on the window, or chosen like a recording: looked into.
pub fn dropped(model: &mut Model, path: PathBuf) -> Vec<Job> {
    let mut jobs = open(model, Chapter::Send);
    jobs.extend(send::bundle_job(model, Some(path), false));
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
    model.notebook.stopped = false;
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
        Answer::NotRead => not_read(model),
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
