//! What every part of `update` needs: edits, the set-up's among them, and notices.

use crate::app::message::{Edit, Job};
use crate::app::model::{Model, Notice};
use crate::app::notebook::PlanEdit;
use crate::domain::{ImagePoint, Setup};

/// Counts an edit and wraps it as work.
pub fn edit(model: &mut Model, edit: Edit) -> Vec<Job> {
    model.edits += 1;
    vec![Job::Edit { edit, number: model.edits }]
}

/// The same for an edit of people and plans.
pub fn edit_plan(model: &mut Model, change: PlanEdit) -> Vec<Job> {
    edit(model, Edit::Plan(change))
}

/// Changes the open recording's set-up at once and sends it off to be saved.
pub fn change_setup(
    model: &mut Model,
    what: &'static str,
    change: impl FnOnce(&mut Setup),
) -> Vec<Job> {
    let Some(open) = &mut model.open else { return Vec::new() };
    let mut setup = open.setup.clone();
    change(&mut setup);
    if setup == open.setup {
        return Vec::new();
    }
    open.setup = setup.clone();
    let recording = open.id;
    edit(model, Edit::Setup { recording, setup: Box::new(setup), what })
}

/// Adds a notice; the oldest of more than four gives way, and what is already said is not said
/// twice.
pub fn notify(model: &mut Model, text: impl Into<String>) {
    push(model, text.into(), false);
}

/// The same for what leaves by itself with the next thing that is done.
pub fn mention(model: &mut Model, text: impl Into<String>) {
    push(model, text.into(), true);
}

fn push(model: &mut Model, text: String, passing: bool) {
    model.notices.retain(|notice| notice.text != text);
    let id = model.notices.last().map_or(0, |n| n.id + 1);
    model.notices.push(Notice { id, text, passing });
    if model.notices.len() > 4 {
        model.notices.remove(0);
    }
}

/// Where points lie: their middle, and how far from it the farthest of them is. `None` for none.
pub fn middle_and_spread(points: &[ImagePoint]) -> Option<(ImagePoint, f64)> {
    let n = points.len() as f64;
    let middle = ImagePoint::new(
        points.iter().map(|p| p.x).sum::<f64>() / n,
        points.iter().map(|p| p.y).sum::<f64>() / n,
    );
    let spread = points.iter().map(|p| p.distance(middle)).fold(0.0, f64::max);
    (!points.is_empty()).then_some((middle, spread))
}
