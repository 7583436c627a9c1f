//! Files to pass on.

use std::path::PathBuf;
use std::sync::Arc;

use super::{Ask, Chapter, PlanEdit, edit};
use crate::app::message::Job;
use crate::app::model::Model;
use crate::app::update::notify;
use crate::report::content::Content;
use crate::report::page::Paper;
use crate::store::{SessionId, SwingId};
use crate::workflow::send::{Form, Order};
use crate::workflow::{CoachSays, may_pass_on};

/// What the chapter shows.
#[derive(Debug)]
pub struct SendPage {
    /// The coach's words; empty: the session's cue.
    pub words: String,
    /// What to practise, one thing a line; empty: the drills that were played.
    pub practise: String,
    /// The paper of the page.
    pub paper: Paper,
    /// The swing of a picture or clip, and a second one beside it.
    pub swings: [Option<SwingId>; 2],
    /// The recordings go along in a bundle.
    pub recordings: bool,
    /// Who agreed, while it is being typed.
    pub consent: String,
    /// What waits for somebody's consent.
    pub waiting: Option<(Form, Option<PathBuf>)>,
    /// Agreed to in this edit, and written once it is kept.
    pub agreed: Option<(u64, Form, Option<PathBuf>)>,
    /// A file on its way.
    pub going: Option<Going>,
    /// The last file written.
    pub last: Option<PathBuf>,
    /// A bundle that was looked into, and what it would add.
    pub bundle: Option<(PathBuf, String)>,
    /// What the page says.
    pub content: Option<(SessionId, Arc<Content>)>,
}

impl Default for SendPage {
    fn default() -> Self {
        Self {
            words: String::new(),
            practise: String::new(),
            paper: Paper::A4,
            swings: [None, None],
            recordings: false,
            consent: String::new(),
            waiting: None,
            agreed: None,
            going: None,
            last: None,
            bundle: None,
            content: None,
        }
    }
}

/// A file on its way.
#[derive(Clone, Debug, PartialEq)]
pub struct Going {
    /// What is being done.
    pub doing: String,
    /// Which part of it is done, 0 to 1.
    pub done: f64,
}

/// What is done in the chapter.
#[derive(Clone, Debug)]
pub enum SendMessage {
    /// The coach's words are being typed.
    Words(String),
    /// What to practise is being typed.
    Practise(String),
    /// The words are typed: the page is laid out anew.
    Typed,
    /// The paper of the page.
    Paper(Paper),
    /// The first (0) or second (1) swing of a picture or clip.
    Swing(usize, Option<SwingId>),
    /// The recordings go along in a bundle.
    Recordings(bool),
    /// Write a file; where it goes is asked for, or given.
    Write(Form, Option<PathBuf>),
    /// Who agreed is being typed.
    Consent(String),
    /// They agreed: keep it, and go on.
    Agree,
    /// They did not.
    Refuse,
    /// Stop writing.
    Stop,
    /// Look into a golfer's bundle; which one is asked for, or given.
    LookInto(Option<PathBuf>),
    /// Take it into the library.
    TakeIn,
    /// Leave it.
    LeaveIt,
}

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
        swings: page.swings.into_iter().flatten().collect(),
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
fn bundle_job(model: &mut Model, path: Option<PathBuf>, take: bool) -> Vec<Job> {
    if is_busy(model) {
        return Vec::new();
    }
    let doing = if take { "Taking it in" } else { "Looking into the bundle" };
    model.notebook.send.going = Some(Going { doing: doing.into(), done: 0.0 });
    model.notebook.send.last = None;
    vec![Job::Bundle { path, take }]
}

/// A bundle dropped on the window, or chosen like a recording: looked into.
pub fn dropped(model: &mut Model, path: PathBuf) -> Vec<Job> {
    let mut jobs = super::open(model, Chapter::Send);
    jobs.extend(bundle_job(model, Some(path), false));
    jobs
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
    let jobs = edit(model, PlanEdit::Golfer(id, golfer, "consent"));
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
