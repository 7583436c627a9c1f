//! The only place that changes the model. No egui, no files, no clock: line by line testable.

mod events;
mod frames;
mod marks;
mod pages;
mod session;

use super::message::{Edit, Job, Message};
use super::model::Model;

/// Applies one message and returns the work that follows from it.
pub fn update(model: &mut Model, message: Message) -> Vec<Job> {
    use Message as M;
    match message {
        M::Event(event) => events::take(model, event),

        M::AskForFiles => vec![Job::AskForFiles],
        M::Import(paths) => session::import(model, paths),
        M::CancelImport(path) => session::cancel_import(model, path),
        M::ChooseGolfer(id) => session::choose_golfer(model, id),
        M::ChooseSession(id) => session::choose_session(model, id),
        M::AddGolfer => session::add_golfer(model),
        M::AddSession => session::add_session(model),
        M::ShowSwing(id) => session::show_swing(model, id),
        M::ShowRecording(id) => session::show_recording(model, id),
        M::StepSwing(by) => session::step_swing(model, by),
        M::Accept => session::accept(model),
        M::LeaveOut(left_out) => session::leave_out(model, left_out),
        M::SetClub(name) => session::set_club(model, name),
        M::SetKind(kind) => session::set_kind(model, kind),

        M::StepFrame(by) => frames::step(model, by),
        M::ShowFrame(frame) => frames::show(model, frame),
        M::ShowStrike => frames::show_strike(model),
        M::StrikeHere => marks::strike_here(model),
        M::Zoom { about, factor, fit } => frames::zoom(model, about, factor, fit),
        M::Pan(by) => frames::pan(model, by),
        M::Fit => frames::fit(model),
        M::RealSize { points } => frames::real_size(model, points),
        M::ZoomToGround => frames::zoom_to_ground(model),
        M::SetTone(tone) => frames::set_tone(model, tone),
        M::WantBeforeAfter => frames::want_before_after(model),

        M::Choose(tool) => marks::choose(model, tool),
        M::Select(name) => marks::select(model, name),
        M::ClickAt(point) => marks::click_at(model, point),
        M::DragTo(name, point) => marks::drag_to(model, name, point),
        M::Drop => marks::drop(model),
        M::Nudge(by) => marks::nudge(model, by),
        M::RemoveMark => marks::remove(model),
        M::BeginSheet(size) => marks::begin_sheet(model, size),
        M::BeginLine { along_target } => marks::begin_line(model, along_target),
        M::BeginLinePair => marks::begin_line_pair(model),
        M::BeginBall => marks::begin_ball(model),
        M::RemoveReference(object) => marks::remove_reference(model, object),
        M::SetReferenceHeight(object, height) => marks::set_height(model, object, height),
        M::SetAlongTarget(object, along) => marks::set_along_target(model, object, along),
        M::SetSurface(surface) => {
            marks::change_setup(model, "surface", |setup| setup.surface = Some(surface))
        }
        M::SetTarget(target) => {
            marks::change_setup(model, "target side", |setup| setup.target = Some(target))
        }
        M::SetOnTee(on_tee) => {
            marks::change_setup(model, "tee", |setup| setup.on_tee = Some(on_tee))
        }
        M::Undo => session::undo(model),
        M::Redo => session::redo(model),

        M::Show(page) => pages::show(model, page),
        M::Compare(place, id) => pages::compare(model, place, id),
        M::Watch(true) => vec![Job::Watch],
        M::Watch(false) => {
            model.watched = None;
            vec![Job::StopWatching]
        }
        M::Open(sheet) => pages::open(model, sheet),
        M::CloseSheet => pages::close_sheet(model),
        M::Escape => pages::escape(model),
        M::DismissGuide => pages::dismiss_guide(model),
        M::SetTheme(theme) => pages::set(model, |settings| settings.theme = theme),
        M::SetTextSize(size) => pages::set(model, |settings| settings.text_size = size),
        M::SetUnit(unit) => pages::set(model, |settings| settings.unit = unit),
        M::SetSpeak(speak) => pages::set(model, |settings| settings.speak = speak),
        M::SetAim(aim) => pages::set_aim(model, aim),
        M::Typed(field, text) => pages::typed(model, field, text),
        M::DismissNotice(id) => pages::dismiss_notice(model, id),
    }
}

/// Counts an edit and wraps it as work.
fn edit(model: &mut Model, edit: Edit) -> Vec<Job> {
    model.edits += 1;
    vec![Job::Edit { edit, number: model.edits }]
}

/// Adds a notice; the oldest of more than four gives way.
fn notify(model: &mut Model, text: impl Into<String>) {
    let id = model.notices.last().map_or(0, |n| n.id + 1);
    model.notices.push(super::model::Notice { id, text: text.into() });
    if model.notices.len() > 4 {
        model.notices.remove(0);
    }
}

#[cfg(test)]
pub(super) mod tests;
