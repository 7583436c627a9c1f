//! What the person likes; kept at once.

use super::session;
use crate::app::message::{Job, SettingsMessage};
use crate::app::model::{Model, Settings};

/// Applies a message about settings.
pub fn update(model: &mut Model, message: SettingsMessage) -> Vec<Job> {
    use SettingsMessage as M;
    match message {
        M::SetTheme(theme) => set(model, |settings| settings.theme = theme),
        M::SetTextSize(size) => set(model, |settings| settings.text_size = size),
        M::SetUnit(unit) => set(model, |settings| settings.unit = unit),
        M::SetSpeak(speak) => set(model, |settings| settings.speak = speak),
        M::SetReviewBelow(share) => set(model, |settings| settings.review_below = Some(share)),
        M::SetWindow(window) => set(model, |settings| settings.window = Some(window)),
        M::SetPanel(width) => set(model, |settings| settings.panel = Some(width)),
        M::ShowSample(shown) => show_sample(model, shown),
    }
}

/// Changes a setting and keeps it.
pub fn set(model: &mut Model, change: impl FnOnce(&mut Settings)) -> Vec<Job> {
    change(&mut model.settings);
    vec![Job::SaveSettings(model.settings.clone())]
}

/// Puts the invented golfer away, or brings it back; whoever looks at it turns to another.
fn show_sample(model: &mut Model, shown: bool) -> Vec<Job> {
    let mut jobs = set(model, |settings| settings.sample_hidden = !shown);
    match shown {
        true => jobs.push(Job::PutSampleIn),
        false => jobs.extend(away_from_sample(model)),
    }
    jobs
}

/// Turns from the invented golfer, where it was put away, to another.
pub fn away_from_sample(model: &mut Model) -> Vec<Job> {
    let golfers = &model.people.golfers;
    let invented = |id| golfers.iter().any(|(one, golfer)| Some(*one) == id && golfer.invented);
    if !model.settings.sample_hidden || !invented(model.people.golfer) {
        return Vec::new();
    }
    let other = golfers.iter().find(|(_, golfer)| !golfer.invented).map(|(id, _)| *id);
    match other {
        Some(id) => session::choose_golfer(model, id),
        None => {
            session::leave_golfer(model);
            Vec::new()
        }
    }
}
