//! What the person likes; kept at once.

use super::notify;
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
        M::SetAim(aim) => set_aim(model, aim),
    }
}

/// Changes a setting and keeps it.
pub fn set(model: &mut Model, change: impl FnOnce(&mut Settings)) -> Vec<Job> {
    change(&mut model.settings);
    vec![Job::SaveSettings(model.settings.clone())]
}

/// Sets the aim window; its limits are put in order.
fn set_aim(model: &mut Model, [a, b]: [f64; 2]) -> Vec<Job> {
    if !(a.is_finite() && b.is_finite()) || a.abs() > 1000.0 || b.abs() > 1000.0 {
        notify(model, "The aim window lies within a metre of the ball; type it again.");
        return Vec::new();
    }
    set(model, |settings| settings.aim = [a.min(b), a.max(b)])
}
