//! What jobs report. An answer to an old request is dropped unread.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::common::notify;
use super::{beside, files, frames, notebook, session, settings};
use crate::app::message::{Event, Job};
use crate::app::model::{
    Finding, History, Look, Model, Page, People, QueueItem, Settings, Sheet, Standing, Swing,
};
use crate::app::strip::Strip;
use crate::domain::{ColourFrame, FrameIndex, PictureSize, Setup, Timeline};
use crate::store::{RecordingId, SessionId, SwingId};
use crate::workflow::place_words;

/// Applies what a job reports.
pub fn take(model: &mut Model, event: Event) -> Vec<Job> {
    let current = |generation: u64| generation == model.generation;
    match event {
        Event::Settings(settings) => take_settings(model, settings),
        Event::People(people) => take_people(model, people),
        Event::Session { session, swings, recordings, history, edit } => {
            let said = newest_in_words(model, session, &swings);
            let put_away = model.settings.sample_hidden && model.people.golfer.is_none();
            // One that was left meanwhile comes too late.
            let left = model.people.session.is_some_and(|chosen| chosen != session);
            if edit < model.edits || put_away || left {
                return Vec::new();
            }
            model.recordings = recordings;
            model.history = history;
            model.edits_seen = edit;
            model.adding_swing = false;
            let mut jobs = take_session(model, session, swings);
            jobs.extend(said.map(Job::Speak));
            jobs
        }
        Event::History { history, edit } => {
            if edit >= model.edits {
                (model.history, model.edits_seen) = (history, edit);
            }
            Vec::new()
        }
        Event::Look(swing) => session::show_swing(model, swing),
        Event::Opened { generation, recording, path, timeline, size, warnings }
            if current(generation) =>
        {
            let jobs = take_opened(model, recording, path, timeline, size);
            if let Some(open) = &mut model.open {
                open.warnings = warnings;
            }
            jobs
        }
        Event::NotOpened { generation, sentence } if current(generation) => {
            if let Some(open) = &mut model.open {
                open.trouble = Some(sentence);
            }
            Vec::new()
        }
        Event::Setup { recording, setup, standing, edit } => {
            take_setup(model, recording, *setup, *standing, edit)
        }
        Event::Frame { generation, frame, picture } if current(generation) => {
            take_frame(model, frame, picture)
        }
        Event::NoFrame { generation, frame, sentence } if current(generation) => {
            if let Some(open) = &mut model.open {
                open.unreadable = Some(frame);
            }
            notify(model, sentence);
            Vec::new()
        }
        Event::Moved { generation, frame, motion } if current(generation) => {
            if let Some(open) = &mut model.open {
                open.motions.insert(frame, motion);
            }
            Vec::new()
        }
        Event::NoBeforeAfter(swing) => {
            model.before_after_asked.take_if(|asked| *asked == swing);
            if model.current == Some(swing) {
                model.look = Look::Frame;
                notify(
                    model,
                    "No clear frames before and after this swing are known; step to them by hand.",
                );
            }
            Vec::new()
        }
        Event::ViewDiffers { generation, sentence } if current(generation) => {
            if let Some(open) = &mut model.open {
                open.view_differs = Some(sentence);
            }
            Vec::new()
        }
        Event::Film { generation, frame, picture } if current(generation) => {
            if let Some(open) = &mut model.open
                && let Some(timeline) = &open.timeline
            {
                open.strip.take(timeline, frame, picture);
            }
            Vec::new()
        }
        Event::Sound { generation, envelope } if current(generation) => {
            if let Some(open) = &mut model.open {
                open.strip.sound = Some(envelope);
            }
            Vec::new()
        }
        Event::BeforeAfter { generation, pictures } if current(generation) => {
            if model.current == Some(pictures.swing) {
                model.before_after_asked = None;
                model.before_after = Some(pictures);
            }
            Vec::new()
        }
        Event::Opened { .. }
        | Event::NotOpened { .. }
        | Event::Frame { .. }
        | Event::NoFrame { .. }
        | Event::Moved { .. }
        | Event::ViewDiffers { .. }
        | Event::Film { .. }
        | Event::Sound { .. }
        | Event::BeforeAfter { .. } => Vec::new(),
        Event::Importing { path, doing, done } => importing(model, path, doing, done),
        Event::Finding { path, number, finding } => found(model, &path, number, finding),
        Event::Imported { path, session, swing } => imported(model, path, session, swing),
        Event::NotImported { path, sentence } => {
            model.queue.retain(|item| item.path != path);
            if let Some(sentence) = sentence {
                model.settings.recent_files.retain(|recent| *recent != path);
                notify(model, sentence);
            }
            Vec::new()
        }
        Event::BesideSwings { session, swings, files } => {
            model.beside.files = files;
            beside::take_swings(model, session, swings)
        }
        Event::BesideOpened { generation, timeline, size } => {
            if generation == model.beside.generation {
                model.beside.recording = Some((timeline, size));
            }
            beside::follow(model)
        }
        Event::BesideFrame { generation, frame, picture } => {
            if generation == model.beside.generation {
                model.beside.shown = Some((frame, picture));
            }
            Vec::new()
        }
        Event::BesideTrouble { generation, sentence } => {
            if generation == model.beside.generation {
                model.beside.trouble = Some(sentence);
            }
            Vec::new()
        }
        Event::Glanced { swing, picture } => {
            if let Some(glance) = model.glances.get_mut(&swing) {
                *glance = Some(picture);
            }
            Vec::new()
        }
        Event::Answer(answer) => notebook::take(model, answer),
        Event::Watching(folder) => {
            model.watched = Some(folder);
            Vec::new()
        }
        Event::Chosen(paths) => files::import(model, paths),
        Event::Notice(text) => {
            notify(model, text);
            Vec::new()
        }
        Event::JobFailed(text) => {
            notify(model, text);
            // What is on the screen may be ahead of what is saved; fetch what is saved.
            model.edits_seen = model.edits;
            model.adding_swing = false;
            model.people.session.map(Job::LoadSession).into_iter().collect()
        }
    }
}

/// What is said aloud on the range when a session has got a new swing.
fn newest_in_words(model: &Model, session: SessionId, swings: &[Swing]) -> Option<String> {
    let wanted = model.settings.speak && model.page == Page::Range;
    let grown = model.people.session == Some(session) && swings.len() > model.swings.len();
    let result = swings.last().filter(|_| wanted && grown)?.result.as_ref()?;
    match &result.divot_start_offset {
        Some(start) => Some(place_words(start.value, model.settings.unit)),
        None => Some("could not tell".into()),
    }
}

fn take_settings(model: &mut Model, settings: Settings) -> Vec<Job> {
    model.settings = settings;
    model.ready = true;
    if !model.settings.guide_dismissed {
        model.sheet = Some(Sheet::Guide(0));
    }
    Vec::new()
}

fn take_people(model: &mut Model, people: People) -> Vec<Job> {
    let left = model.people.session.is_some() && model.people.session != people.session;
    model.people = people;
    if left || model.people.session.is_none() {
        // Nobody's swings stay on the screen under another's name.
        session::leave_session(model);
        model.history = History::default();
    }
    settings::away_from_sample(model)
}

fn take_session(model: &mut Model, session: SessionId, swings: Vec<Swing>) -> Vec<Job> {
    let another = model.people.session != Some(session);
    let grown = swings.len() > model.swings.len();
    model.people.session = Some(session);
    model.swings = swings;
    // A recording that was undone is gone.
    model.open.take_if(|open| !model.recordings.iter().any(|(id, _)| *id == open.id));
    if grown
        && model.page == Page::Range
        && let Some(last) = model.swings.last().map(|swing| swing.id)
    {
        return session::show_swing(model, last);
    }
    if model.current.is_some_and(|id| model.number_of(id).is_none()) {
        model.current = None;
    }
    // A swing without a recording is left for the first one that can be seen.
    let unseen = model.current_swing().is_some_and(|s| s.recording.is_none());
    let looking = model.current.is_some() || model.open.is_some();
    if looking && !another && !(unseen && grown) {
        return Vec::new();
    }
    let seen = |s: &&Swing| s.recording.is_some();
    let swings = &model.swings;
    let first = swings
        .iter()
        .filter(seen)
        .find(|s| !s.is_settled())
        .or(swings.iter().rfind(seen))
        .or(swings.last());
    match (first.map(|s| s.id), model.recordings.first().map(|r| r.0)) {
        (Some(id), _) => session::show_swing(model, id),
        (None, Some(recording)) => session::show_recording(model, recording),
        (None, None) => {
            model.open = None;
            Vec::new()
        }
    }
}

fn take_opened(
    model: &mut Model,
    recording: RecordingId,
    path: PathBuf,
    timeline: Arc<Timeline>,
    size: PictureSize,
) -> Vec<Job> {
    let Some(open) = &mut model.open else { return Vec::new() };
    if open.id != recording {
        return Vec::new();
    }
    open.path = path;
    // As wide as it was before.
    let cells = std::mem::replace(&mut open.strip, Strip::of(&timeline)).cells;
    open.strip.cells = cells;
    open.timeline = Some(timeline);
    // Opened once more with a truer index, nothing read before is to be relied on.
    (open.shown, open.unreadable) = (None, None);
    open.motions.clear();
    model.play.running = false;
    open.size = size;
    open.trouble = None;
    let frame = model.strike_frame().unwrap_or(FrameIndex(0));
    frames::show(model, frame)
}

fn take_setup(
    model: &mut Model,
    recording: RecordingId,
    setup: Setup,
    standing: Standing,
    edit: u64,
) -> Vec<Job> {
    if edit >= model.edits
        && let Some(open) = &mut model.open
        && open.id == recording
    {
        open.setup = setup;
        if standing.carried_from.is_none() {
            open.view_differs = None;
        }
        open.standing = standing;
    }
    Vec::new()
}

fn take_frame(model: &mut Model, frame: FrameIndex, picture: Arc<ColourFrame>) -> Vec<Job> {
    if let Some(open) = &mut model.open {
        // While scrubbing, an older picture is better than none; the last one asked for wins.
        open.shown = Some((frame, picture));
    }
    Vec::new()
}

fn importing(model: &mut Model, path: PathBuf, doing: String, done: f64) -> Vec<Job> {
    let done = done.clamp(0.0, 1.0);
    match model.queue.iter_mut().find(|item| item.path == path) {
        Some(item) => (item.doing, item.done) = (doing, done),
        // Nobody asked for it here: the sample's own recordings.
        None => model.queue.push_back(QueueItem { doing, done, ..QueueItem::waiting(path) }),
    }
    Vec::new()
}

/// Takes note of a swing in a file that is still being read; one told again is known better.
fn found(model: &mut Model, path: &Path, number: usize, finding: Finding) -> Vec<Job> {
    if let Some(item) = model.queue.iter_mut().find(|item| item.path == path) {
        match item.found.get_mut(number) {
            Some(known) => *known = finding,
            None => item.found.push(finding),
        }
    }
    Vec::new()
}

fn imported(
    model: &mut Model,
    path: PathBuf,
    session: SessionId,
    swing: Option<SwingId>,
) -> Vec<Job> {
    model.queue.retain(|item| item.path != path);
    if swing.is_none() {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        notify(
            model,
            format!(
                "No swing was found in {name}; step to the strike and press Shift S to begin one."
            ),
        );
    }
    if model.people.session != Some(session) {
        // What the person is looking at stays, unless nothing is there to look at.
        let elsewhere = model.queue.is_empty() || model.swings.is_empty();
        if elsewhere { session::choose_session(model, session) } else { Vec::new() }
    } else {
        // Whoever is looking at a swing is not torn away from it, except on the range.
        match (model.current, swing) {
            (None, Some(swing)) => session::show_swing(model, swing),
            (_, Some(swing)) if model.page == Page::Range => session::show_swing(model, swing),
            _ => Vec::new(),
        }
    }
}
