//! Stepping through frames and moving about the picture.

use super::beside;
use super::common::middle_and_spread;
use crate::app::message::{Job, PictureMessage};
use crate::app::model::{Look, MarkName, Model, Tone, Viewport};
use crate::domain::{FrameIndex, ImagePoint};

/// The closest and the widest look, as factors of the scale that fits.
const ZOOM_RANGE: (f64, f64) = (1.0, 60.0);

/// Applies a message about frames or the way the picture is looked at.
pub fn update(model: &mut Model, message: PictureMessage) -> Vec<Job> {
    use PictureMessage as M;
    match message {
        M::StepFrame(by) => step(model, by),
        M::ShowFrame(frame) => show(model, frame),
        M::ShowStrike => show_strike(model),
        M::Zoom { about, factor, fit } => zoom(model, about, factor, fit),
        M::Pan(by) => pan(model, by),
        M::Fit => fit(model),
        M::RealSize { points } => real_size(model, points),
        M::ZoomToGround => zoom_to_ground(model),
        M::SetTone(tone) => set_tone(model, tone),
        M::WantBeforeAfter => want_before_after(model),
        M::StopBeforeAfter => stop_before_after(model),
        M::LetGo => {
            model.before_after_refused = false;
            Vec::new()
        }
        M::StopOpening => stop_opening(model),
        M::Look(look) => {
            // The same again goes back to the frame.
            model.look = if model.look == look { Look::Frame } else { look };
            model.before_after_refused = false;
            Vec::new()
        }
    }
}

/// Shows a frame further on or back, within the recording.
pub fn step(model: &mut Model, by: i64) -> Vec<Job> {
    let Some(open) = &model.open else { return Vec::new() };
    let to = (open.frame.0 as i64).saturating_add(by).clamp(0, open.last_frame() as i64);
    show(model, FrameIndex(to as usize))
}

/// Shows one frame, the last one for numbers beyond it; playing ends.
pub fn show(model: &mut Model, frame: FrameIndex) -> Vec<Job> {
    model.play.running = false;
    go_to(model, frame)
}

/// Shows one frame; playing goes on.
pub fn go_to(model: &mut Model, frame: FrameIndex) -> Vec<Job> {
    let Some(open) = &mut model.open else { return Vec::new() };
    let Some(timeline) = open.timeline.clone() else { return Vec::new() };
    let frame = FrameIndex(frame.0.min(open.last_frame()));
    // Only if no other one is on its way, which would come and stay.
    let at_hand =
        open.frame == frame && open.shown.as_ref().is_some_and(|(shown, _)| *shown == frame);
    open.frame = frame;
    open.strip.follow(timeline.time_of(frame));
    let mut jobs = want_film(model);
    jobs.extend(beside::follow(model));
    if !at_hand {
        jobs.push(Job::Frame { frame, generation: model.generation });
    }
    jobs
}

/// Asks for the small pictures that are missing.
pub fn want_film(model: &mut Model) -> Vec<Job> {
    let Some(open) = &mut model.open else { return Vec::new() };
    let Some(timeline) = &open.timeline else { return Vec::new() };
    let strip = &mut open.strip;
    let within = strip.tolerance();
    let mut frames = strip.cell_frames(timeline);
    frames.dedup();
    frames.retain(|frame| strip.near(*frame, within).is_none());
    // Asking again for what is on its way would only stop it.
    if frames.iter().all(|frame| strip.asked.contains(frame)) {
        return Vec::new();
    }
    strip.asked.clone_from(&frames);
    vec![Job::Film { frames, within, generation: model.generation }]
}

/// Shows the last frame before contact of the swing looked at.
pub fn show_strike(model: &mut Model) -> Vec<Job> {
    match model.strike_frame() {
        Some(frame) => show(model, frame),
        None => Vec::new(),
    }
}

/// Zooms by `factor` so that `about` stays where it is on the screen.
pub fn zoom(model: &mut Model, about: ImagePoint, factor: f64, fit: f64) -> Vec<Job> {
    let view = &mut model.viewport;
    if !(factor.is_finite() && fit.is_finite() && fit > 0.0 && about.is_finite()) {
        return Vec::new();
    }
    let centre = view.scale.map_or_else(|| middle(&model.open), |_| view.centre);
    let old = view.scale.unwrap_or(fit);
    let new = (old * factor).clamp(fit * ZOOM_RANGE.0, fit * ZOOM_RANGE.1);
    if new <= fit * 1.000_001 {
        *view = Viewport::default();
        return Vec::new();
    }
    let shrink = old / new;
    view.centre = ImagePoint::new(
        about.x + (centre.x - about.x) * shrink,
        about.y + (centre.y - about.y) * shrink,
    );
    view.scale = Some(new);
    Vec::new()
}

fn middle(open: &Option<crate::app::model::OpenRecording>) -> ImagePoint {
    open.as_ref().map_or(ImagePoint::new(0.0, 0.0), |open| {
        // Pixel centres are whole numbers, so the middle of n pixels is (n - 1) / 2.
        ImagePoint::new((open.size.width as f64 - 1.0) / 2.0, (open.size.height as f64 - 1.0) / 2.0)
    })
}

/// Moves the picture; its middle can't leave the frame.
pub fn pan(model: &mut Model, [dx, dy]: [f64; 2]) -> Vec<Job> {
    let Some(open) = &model.open else { return Vec::new() };
    if model.viewport.scale.is_some() && dx.is_finite() && dy.is_finite() {
        let centre = model.viewport.centre;
        model.viewport.centre = ImagePoint::new(
            (centre.x - dx).clamp(0.0, open.size.width as f64 - 1.0),
            (centre.y - dy).clamp(0.0, open.size.height as f64 - 1.0),
        );
    }
    Vec::new()
}

/// Shows the whole picture.
pub fn fit(model: &mut Model) -> Vec<Job> {
    model.viewport = Viewport::default();
    Vec::new()
}

/// One picture pixel on one screen pixel, about the middle of what is seen.
pub fn real_size(model: &mut Model, points: f64) -> Vec<Job> {
    let centre = match model.viewport.scale {
        Some(_) => model.viewport.centre,
        None => middle(&model.open),
    };
    model.viewport = Viewport { centre, scale: Some(points) };
    Vec::new()
}

/// Looks closely at the ball and the marks around it.
pub fn zoom_to_ground(model: &mut Model) -> Vec<Job> {
    let near = [MarkName::Ball, MarkName::DivotStart, MarkName::DivotEnd, MarkName::BallLine];
    let points: Vec<ImagePoint> = near
        .iter()
        .filter_map(|name| Some(model.open.as_ref()?.place_in_shown(model.mark(*name)?.mark)))
        .collect();
    let Some(open) = &model.open else { return Vec::new() };
    let Some((centre, spread)) = middle_and_spread(&points) else { return Vec::new() };
    // The marks take up about half the width seen, and never less than an eighth of the picture.
    let seen = (spread * 4.0).max(open.size.width as f64 / 8.0);
    model.viewport = Viewport { centre, scale: Some(960.0 / seen) };
    Vec::new()
}

/// Sets brightness and contrast, within sense.
pub fn set_tone(model: &mut Model, tone: Tone) -> Vec<Job> {
    model.tone = Tone {
        brightness: tone.brightness.clamp(-0.5, 0.5),
        contrast: tone.contrast.clamp(0.3, 4.0),
    };
    Vec::new()
}

/// Fetches the ground before and after, unless it is at hand.
pub fn want_before_after(model: &mut Model) -> Vec<Job> {
    let Some(swing) = model.current else { return Vec::new() };
    if model.before_after_refused
        || model.before_after.as_ref().is_some_and(|b| b.swing == swing)
        || model.before_after_asked.is_some_and(|(asked, _)| asked == swing)
    {
        return Vec::new();
    }
    model.before_after_requests += 1;
    let request = model.before_after_requests;
    model.before_after_asked = Some((swing, request));
    vec![Job::BeforeAfter { swing, request, generation: model.generation }]
}

/// The ground before and after is waited for no longer.
pub fn stop_before_after(model: &mut Model) -> Vec<Job> {
    model.look = Look::Frame;
    let asked = model.before_after_asked.take();
    model.before_after_refused = asked.is_some();
    asked.map(|(_, request)| Job::StopBeforeAfter(request)).into_iter().collect()
}

/// The recording is not opened after all; whatever still comes of it is dropped.
fn stop_opening(model: &mut Model) -> Vec<Job> {
    let Some(open) = model.open.as_mut().filter(|open| open.is_opening()) else {
        return Vec::new();
    };
    open.trouble = Some("The recording was not opened: it was stopped.".into());
    let stopped = model.generation;
    model.generation += 1;
    vec![Job::StopOpening(stopped)]
}
