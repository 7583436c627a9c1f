//! Club by club, ball position against low point, and the season.

use std::sync::Arc;

use crate::app::message::Job;
use crate::app::model::Model;
use crate::app::notebook::{Ask, ClubsMessage};
use crate::domain::SwingKind;
use crate::workflow::{ClubsStudy, SeasonStudy};

/// Applies what is done in the chapter.
pub fn update(model: &mut Model, message: ClubsMessage) -> Vec<Job> {
    let page = &mut model.notebook.clubs;
    match message {
        ClubsMessage::Look(span) => {
            page.span = span;
            return ask(model);
        }
        ClubsMessage::Chart(quantity) => page.quantity = quantity,
        ClubsMessage::Club(club) => page.club = Some(club),
    }
    ask_season(model)
}

/// Asks for the table; the season follows when the clubs are known.
pub fn ask(model: &mut Model) -> Vec<Job> {
    let span = model.notebook.clubs.span;
    model.people.golfer.map(|golfer| Job::Ask(Ask::Clubs(golfer, span))).into_iter().collect()
}

fn ask_season(model: &mut Model) -> Vec<Job> {
    let page = &model.notebook.clubs;
    let (quantity, club) = (page.quantity, page.club.clone().flatten());
    let ask = |golfer| Job::Ask(Ask::Season(golfer, quantity, club));
    model.people.golfer.map(ask).into_iter().collect()
}

/// Takes the table, and asks for the season of the club that was played most.
pub fn take(model: &mut Model, study: Arc<ClubsStudy>) -> Vec<Job> {
    let page = &mut model.notebook.clubs;
    if page.span != study.span {
        return Vec::new();
    }
    if page.club.is_none() {
        let strikes = study.rows.iter().filter(|row| row.kind == SwingKind::Strike);
        let most = strikes.max_by_key(|row| row.summary.n);
        page.club = most.map(|row| row.club.clone());
    }
    page.found = Some(study);
    ask_season(model)
}

/// Takes the season.
pub fn take_season(model: &mut Model, study: Arc<SeasonStudy>) {
    let page = &mut model.notebook.clubs;
    if page.quantity == study.quantity && page.club.clone().flatten() == study.club {
        page.season = Some(study);
    }
}
