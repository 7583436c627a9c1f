//! The recording in the picture: its frames, its set-up, what is read beside it.

use std::path::PathBuf;
use std::sync::Arc;

use crate::app::message::{Job, PictureEvent};
use crate::app::model::{BeforeAfter, Look, Model, OpenRecording, Standing};
use crate::app::strip::Strip;
use crate::app::update::common::notify;
use crate::app::update::frames;
use crate::domain::{FrameIndex, PictureSize, Setup, Timeline, Warning};
use crate::store::RecordingId;

/// Applies what is told of it.
pub fn take(model: &mut Model, event: PictureEvent) -> Vec<Job> {
    use PictureEvent as E;
    if is_late(model, &event) {
        return Vec::new();
    }
    match event {
        E::Opened { recording, path, timeline, size, warnings, .. } => {
            return take_opened(model, recording, path, timeline, size, warnings);
        }
        E::Setup { recording, setup, standing, edit } => {
            take_setup(model, recording, *setup, *standing, edit);
        }
        E::BeforeAfter { request, pictures, .. } => take_before_after(model, request, pictures),
        E::NoBeforeAfter { request, sentence } => no_before_after(model, request, sentence),
        E::Glanced { swing, picture } => {
            if let Some(glance) = model.glances.get_mut(&swing) {
                glance.picture = Some(picture);
            }
        }
        E::NoFrame { frame, sentence, .. } => {
            notify(model, sentence);
            with_open(model, |open| open.unreadable = Some(frame));
        }
        // While scrubbing, an older picture is better than none; the last one asked for wins.
        E::Frame { frame, picture, .. } => {
            with_open(model, |open| open.shown = Some((frame, picture)));
        }
        E::NotOpened { sentence, .. } => with_open(model, |open| open.trouble = Some(sentence)),
        E::Moved { frame, motion, .. } => {
            with_open(model, |open| _ = open.motions.insert(frame, motion));
        }
        E::ViewDiffers { doubt, .. } => {
            with_open(model, |open| open.view_differs = Some(doubt));
        }
        E::Film { frame, picture, .. } => with_open(model, |open| {
            if let Some(timeline) = &open.timeline {
                open.strip.take(timeline, frame, picture);
            }
        }),
        E::Sound { envelope, .. } => with_open(model, |open| open.strip.sound = Some(envelope)),
    }
    Vec::new()
}

/// Whether an event answers an old request; some answer none.
fn is_late(model: &Model, event: &PictureEvent) -> bool {
    use PictureEvent as E;
    match event {
        E::Opened { generation, .. }
        | E::NotOpened { generation, .. }
        | E::ViewDiffers { generation, .. }
        | E::Frame { generation, .. }
        | E::NoFrame { generation, .. }
        | E::Moved { generation, .. }
        | E::Film { generation, .. }
        | E::Sound { generation, .. }
        | E::BeforeAfter { generation, .. } => *generation != model.generation,
        E::Setup { .. } | E::NoBeforeAfter { .. } | E::Glanced { .. } => false,
    }
}

fn with_open(model: &mut Model, change: impl FnOnce(&mut OpenRecording)) {
    if let Some(open) = &mut model.open {
        change(open);
    }
}

fn take_opened(
    model: &mut Model,
    recording: RecordingId,
    path: PathBuf,
    timeline: Arc<Timeline>,
    size: PictureSize,
    warnings: Vec<Warning>,
) -> Vec<Job> {
    let Some(open) = model.open.as_mut().filter(|open| open.id == recording) else {
        return Vec::new();
    };
    (open.path, open.size, open.warnings) = (path, size, warnings);
    // As wide as it was before.
    let cells = std::mem::replace(&mut open.strip, Strip::of(&timeline)).cells;
    open.strip.cells = cells;
    open.timeline = Some(timeline);
    // Opened once more with a truer index, nothing read before is to be relied on.
    (open.shown, open.unreadable) = (None, None);
    open.motions.clear();
    open.trouble = None;
    model.play.running = false;
    let frame = model.strike_frame().unwrap_or(FrameIndex(0));
    frames::show(model, frame)
}

fn take_setup(
    model: &mut Model,
    recording: RecordingId,
    setup: Setup,
    standing: Standing,
    edit: u64,
) {
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
}

/// The request is answered; `false`: it was stopped, or its swing was left.
fn is_awaited(model: &mut Model, request: u64) -> bool {
    model.before_after_asked.take_if(|(_, asked)| *asked == request).is_some()
}

fn take_before_after(model: &mut Model, request: u64, pictures: BeforeAfter) {
    if is_awaited(model, request) {
        model.before_after = Some(pictures);
    }
}

fn no_before_after(model: &mut Model, request: u64, sentence: Option<String>) {
    if is_awaited(model, request) {
        model.look = Look::Frame;
        model.before_after_refused = true;
        let unknown =
            "No clear frames before and after this swing are known; step to them by hand.";
        notify(model, sentence.unwrap_or_else(|| unknown.into()));
    }
}
