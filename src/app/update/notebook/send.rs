//! Files to pass on.

use std::path::PathBuf;
use std::sync::Arc;

use crate::app::message::Job;
use crate::app::model::Model;
use crate::app::notebook::{Ask, Going, PlanEdit, SendMessage, SendPage};
use crate::app::update::common::{edit_plan, notify};
use crate::report::content::Content;
use crate::store::SessionId;
use crate::workflow::send::{Form, Order};
use crate::workflow::{CoachSays, may_pass_on};

/// Applies what is done in the chapter.
pub fn update(model: &mut Model, message: SendMessage) -> Vec<Job> {
    use SendMessage as M;
    let page = &mut model.notebook.send;
    match message {
        M::Words(text) => page.words = text,
        M::Practise(text) => page.practise = text,
        M::Typed => return ask(model),
        M::Paper(paper) => page.paper = paper,
        M::Swing(place, swing) => page.swings[place.min(1)] = swing,
        M::Recordings(go) => page.recordings = go,
        M::Write(form, path) => return write(model, form, path),
        M::Consent(text) => page.consent = text,
        M::Agree => return agree(model),
        M::Refuse => page.waiting = None,
        M::Stop => {
            page.going = None;
            return vec![Job::StopSending];
        }
        M::LookInto(path) => return bundle_job(model, path, false),
        M::TakeIn => {
            let Some((path, _)) = page.bundle.take() else { return Vec::new() };
            return bundle_job(model, Some(path), true);
        }
        M::LeaveIt => page.bundle = None,
    }
    Vec::new()
}

/// Writes a file, unless somebody must be asked first.
fn write(model: &mut Model, form: Form, path: Option<PathBuf>) -> Vec<Job> {
    let golfer = model.people.golfers.iter().find(|(id, _)| Some(*id) == model.people.golfer);
    let (Some((golfer_id, golfer)), Some(session)) = (golfer, model.people.session) else {
        notify(model, "Choose a golfer and a session first.");
        return Vec::new();
    };
    let (golfer_id, unasked) = (*golfer_id, may_pass_on(golfer).is_err());
    if is_busy(model) {
        return Vec::new();
    }
    // Those of the session looked at; others were chosen before it was changed.
    let chosen = model.notebook.send.swings.into_iter().flatten();
    let here = chosen.filter(|id| model.number_of(*id).is_some()).collect();
    let page = &mut model.notebook.send;
    if unasked {
        page.waiting = Some((form, path));
        return Vec::new();
    }
    let order = Order {
        form,
        golfer: golfer_id,
        session,
        says: says(page),
        paper: page.paper,
        swings: here,
        recordings: page.recordings,
    };
    page.going = Some(Going { doing: "Choosing where".into(), done: 0.0 });
    page.last = None;
    vec![Job::Send { order: Box::new(order), path }]
}

/// One file at a time; says so.
fn is_busy(model: &mut Model) -> bool {
    let busy = model.notebook.send.going.is_some();
    if busy {
        notify(model, "A file is still on its way; wait for it, or stop it.");
    }
    busy
}

/// A bundle is looked into before it is taken in.
pub fn bundle_job(model: &mut Model, path: Option<PathBuf>, take: bool) -> Vec<Job> {
    if is_busy(model) {
        return Vec::new();
    }
    let doing = if take { "Taking it in" } else { "Looking into the bundle" };
    model.notebook.send.going = Some(Going { doing: doing.into(), done: 0.0 });
    model.notebook.send.last = None;
    vec![Job::Bundle { path, take }]
}

/// What a bundle would add.
pub fn looked_into(model: &mut Model, path: PathBuf, words: String) {
    model.notebook.send.going = None;
    model.notebook.send.bundle = Some((path, words));
}

/// A bundle is in the library.
pub fn taken_in(model: &mut Model, golfer: &str) {
    model.notebook.send.going = None;
    notify(
        model,
        format!("{golfer} is in the library now: click the name at the top left to look at them."),
    );
}

fn says(page: &SendPage) -> CoachSays {
    let lines = page.practise.lines().map(str::trim).filter(|line| !line.is_empty());
    CoachSays { words: page.words.clone(), practise: lines.map(str::to_owned).collect() }
}

/// Keeps who agreed, and writes what was waiting.
fn agree(model: &mut Model) -> Vec<Job> {
    let text = model.notebook.send.consent.trim().to_owned();
    if text.is_empty() {
        notify(model, "Say who agreed, and when; it is kept with the golfer.");
        return Vec::new();
    }
    let id = model.people.golfer;
    let Some((id, golfer)) = model.people.golfers.iter_mut().find(|(g, _)| Some(*g) == id) else {
        return Vec::new();
    };
    golfer.consent = text;
    let (id, golfer) = (*id, Box::new(golfer.clone()));
    model.notebook.send.consent.clear();
    let waiting = model.notebook.send.waiting.take();
    let jobs = edit_plan(model, PlanEdit::Golfer(id, golfer, "consent"));
    // Whoever writes the file looks into the library, which must know of it first.
    model.notebook.send.agreed = waiting.map(|(form, path)| (model.edits, form, path));
    jobs
}

/// Writes what was agreed to, once the library knows of the consent.
pub fn write_agreed(model: &mut Model) -> Vec<Job> {
    let seen = model.edits_seen;
    match model.notebook.send.agreed.take_if(|(edit, ..)| seen >= *edit) {
        Some((_, form, path)) => write(model, form, path),
        None => Vec::new(),
    }
}

/// Asks for what the page says.
pub fn ask(model: &mut Model) -> Vec<Job> {
    let says = says(&model.notebook.send);
    let ask = |session| Job::Ask(Ask::Content(session, says));
    model.people.session.map(ask).into_iter().collect()
}

/// Takes what the page says.
pub fn take_content(model: &mut Model, session: SessionId, content: Arc<Content>) {
    if model.people.session == Some(session) {
        model.notebook.send.content = Some((session, content));
    }
}

/// How far a file is; one that was stopped is not heard of any more.
pub fn sending(model: &mut Model, doing: String, done: f64) {
    if let Some(going) = &mut model.notebook.send.going {
        *going = Going { doing, done: done.clamp(0.0, 1.0) };
    }
}

/// A file is written.
pub fn sent(model: &mut Model, path: PathBuf, note: Option<String>) {
    model.notebook.send.going = None;
    model.notebook.send.last = Some(path);
    if let Some(note) = note {
        notify(model, note);
    }
}

/// No file was written.
pub fn not_sent(model: &mut Model, sentence: Option<String>) {
    model.notebook.send.going = None;
    if let Some(sentence) = sentence {
        notify(model, sentence);
    }
}
