//! Blocks against each other.

use std::sync::Arc;

use crate::app::message::Job;
use crate::app::model::Model;
use crate::app::notebook::{Ask, ComparisonMessage, MOST_OTHERS};
use crate::domain::Phase;
use crate::store::Of;
use crate::workflow::{ComparisonStudy, Outline};

/// Applies what is done in the chapter.
pub fn update(model: &mut Model, message: ComparisonMessage) -> Vec<Job> {
    let page = &mut model.notebook.comparison;
    match message {
        ComparisonMessage::First(of) => {
            page.first = Some(of);
            page.others.retain(|other| *other != of);
        }
        ComparisonMessage::Other(place, of) => {
            if let Some(other) = page.others.get_mut(place) {
                *other = of;
            }
        }
        ComparisonMessage::Add(of) => {
            if page.others.len() < MOST_OTHERS && !page.others.contains(&of) {
                page.others.push(of);
            }
        }
        ComparisonMessage::Remove(place) => {
            if place < page.others.len() && page.others.len() > 1 {
                page.others.remove(place);
            }
        }
    }
    ask(model)
}

/// Asks for what stands between them.
pub fn ask(model: &mut Model) -> Vec<Job> {
    let Some(outline) = model.notebook.outline.clone() else { return Vec::new() };
    let gone = |of: &Of| !model.notebook.has(*of);
    let lost = model.notebook.comparison.first.iter().any(gone);
    let others: Vec<Of> =
        model.notebook.comparison.others.iter().copied().filter(|of| !gone(of)).collect();
    let here = model.notebook.first_subject(model.people.session);
    let page = &mut model.notebook.comparison;
    page.others = others;
    if lost || page.first.is_none() || page.others.is_empty() {
        let (first, others) = usual(&outline, here);
        page.first = page.first.filter(|_| !lost).or(first);
        let first = page.first;
        if page.others.is_empty() {
            page.others = others.into_iter().filter(|of| Some(*of) != first).collect();
        }
    }
    match (model.people.golfer, page.first) {
        (Some(golfer), Some(first)) if !page.others.is_empty() => {
            vec![Job::Ask(Ask::Compare(golfer, first, page.others.clone()))]
        }
        _ => Vec::new(),
    }
}

/// What is compared unasked: the newest lesson's before against its after and the first later
/// block since; else the block looked at against the one before it.
fn usual(outline: &Outline, here: Option<Of>) -> (Option<Of>, Vec<Of>) {
    let phased = |wanted: Phase| {
        let blocks = outline.sessions.iter().flat_map(|s| s.blocks.iter().rev());
        let found = blocks.filter(move |(row, _)| row.block.phase == wanted && row.swings > 0);
        found.map(|(row, _)| row)
    };
    if let Some(before) = phased(Phase::Before).next() {
        let after = phased(Phase::After).find(|row| row.session == before.session);
        // The first later block since: sessions come the newest first.
        let since = outline.sessions.iter().take_while(|s| s.id != before.session);
        let kept = since.flat_map(|s| s.blocks.iter().rev()).map(|(row, _)| row);
        let later = kept.filter(|row| row.block.phase == Phase::Later && row.swings > 0).last();
        let others: Vec<Of> = after.into_iter().chain(later).map(|row| Of::Block(row.id)).collect();
        if !others.is_empty() {
            return (Some(Of::Block(before.id)), others);
        }
    }
    let subjects = outline.subjects();
    let place = here.and_then(|of| subjects.iter().position(|s| *s == of)).unwrap_or(0);
    let first = subjects.get(place + 1).copied();
    (first.or(subjects.first().copied()), subjects.get(place).copied().into_iter().collect())
}

/// Takes what stands between them.
pub fn take(model: &mut Model, study: Arc<ComparisonStudy>) {
    let page = &mut model.notebook.comparison;
    let wanted = page.first == Some(study.first)
        && page.others.iter().eq(study.others.iter().map(|other| &other.of));
    if wanted {
        page.found = Some(study);
    }
}
