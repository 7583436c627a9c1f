//! One pass over the whole recording at reduced size: where a club-like line moves fast.
//!
//! What moves by more than its own width between frames differs, in the frame it is in, from
//! the frame before *and* from the frame after, in the same direction. That difference shows
//! the club alone: what moves slowly (body, shadows, clouds) and what changes for good (the
//! ball leaving, a divot) is not in it.

use std::collections::VecDeque;

use super::plane::{Plane, sigma_from_median_distance};
use super::shaft::{Line, Moving, longest_run, refit, strongest_line};
use super::window::Clock;
use crate::domain::{FrameIndex, GrayFrame, PictureError, Pictures};

/// A club-like line in one frame, in pixels of the full picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LineSighting {
    pub frame: usize,
    /// Capture time, seconds.
    pub time: f64,
    pub line: Line,
    /// Where along the line its upper and lower visible ends are.
    pub top: f64,
    pub foot: f64,
}

impl LineSighting {
    pub fn length(&self) -> f64 {
        self.foot - self.top
    }
}

/// Frames are compared over about this time, so that a waggle stays within its own width.
const COMPARED_OVER_S: f64 = 1.0 / 120.0;
/// The longer side of the reduced picture.
const REDUCED_SIDE: f64 = 420.0;
/// A change is one of at least this many grey levels and this many noise sigmas.
const LEAST_CHANGE: f64 = 5.0;
const LEAST_SIGMAS: f64 = 4.0;
/// A frame in which more than this share of the picture flickers says nothing about a club.
const MOST_MOVING: f64 = 0.08;
/// A shaft seen from top to bottom takes up at least this share of the picture's height.
const SHORTEST: f64 = 0.09;

/// All club-like lines of a recording. `progress` gets 0 to 1 and stops the work with false.
pub(crate) fn scan(
    pictures: &mut dyn Pictures,
    clock: &Clock,
    progress: &mut dyn FnMut(f64) -> bool,
) -> Result<Vec<LineSighting>, PictureError> {
    let size = pictures.size();
    let factor = (size.width.max(size.height) as f64 / REDUCED_SIDE).round().max(1.0) as usize;
    let frames = clock.timeline.len();
    let spacing = clock.spacing();
    let step = if spacing > 0.0 { (COMPARED_OVER_S / spacing).round().max(1.0) } else { 1.0 };
    let step = step as usize;
    let mut recent: VecDeque<Plane> = VecDeque::with_capacity(2 * step + 1);
    let mut seen = Vec::new();
    let mut stopped = false;
    let mut each = |frame: FrameIndex, gray: &GrayFrame| {
        if frame.0.is_multiple_of(16) && !progress(frame.0 as f64 / frames as f64) {
            stopped = true;
            return false;
        }
        if recent.len() > 2 * step {
            recent.pop_front();
        }
        recent.push_back(Plane::reduced(gray, factor));
        if recent.len() == 2 * step + 1 {
            let moving = fast_pixels(&recent[step], &recent[0], &recent[2 * step], |_, _| true);
            let middle = frame.0 - step;
            let most = (MOST_MOVING * (recent[0].data.len() as f64)) as usize;
            if moving.len() <= most
                && let Some(found) = club_like(&moving, recent[0].height)
            {
                seen.push(in_full_picture(found, factor as f64, middle, clock.time(middle)));
            }
        }
        true
    };
    pictures.for_each_gray(FrameIndex(0), FrameIndex(frames), &mut each)?;
    if stopped { Err(PictureError::Cancelled) } else { Ok(seen) }
}

/// Pixels of `now` that differ from `before` and `after` in the same direction, where
/// `wanted(x, y)`.
pub(crate) fn fast_pixels(
    now: &Plane,
    before: &Plane,
    after: &Plane,
    wanted: impl Fn(usize, usize) -> bool,
) -> Vec<Moving> {
    let sampled = now.data.iter().zip(&before.data).step_by(13);
    let noise = sigma_from_median_distance(sampled.map(|(a, b)| f64::from(a - b))) / 2.0_f64.sqrt();
    let limit = LEAST_CHANGE.max(LEAST_SIGMAS * noise) as f32;
    let mut moving = Vec::new();
    for y in 0..now.height {
        let row = y * now.width..(y + 1) * now.width;
        let triples =
            now.data[row.clone()].iter().zip(&before.data[row.clone()]).zip(&after.data[row]);
        for (x, ((n, b), a)) in triples.enumerate() {
            let (first, second) = (n - b, n - a);
            let change = if first * second > 0.0 { first.abs().min(second.abs()) } else { 0.0 };
            if change > limit && wanted(x, y) {
                // The weight is bounded so that a glint or the flying ball does not outvote
                // the shaft.
                moving.push(Moving { x: x as f32, y: y as f32, weight: change.min(24.0) });
            }
        }
    }
    moving
}

/// The most club-like line with its upper and lower end, in the reduced picture.
fn club_like(moving: &[Moving], height: usize) -> Option<(Line, f64, f64)> {
    let shortest = SHORTEST * height as f64;
    if (moving.len() as f64) < shortest {
        return None;
    }
    let (mut line, _) = strongest_line(moving, 1.5)?;
    for reach in [4.0, 3.0, 3.0] {
        line = refit(moving, line, reach)?;
    }
    let (top, foot, share) = longest_run(moving, line, 2.5, 6.0)?;
    (foot - top >= shortest && share >= 0.5).then_some((line, top, foot))
}

fn in_full_picture(
    (line, top, foot): (Line, f64, f64),
    factor: f64,
    frame: usize,
    time: f64,
) -> LineSighting {
    // The centre of block i is at i * factor + (factor - 1) / 2.
    let shift = (factor - 1.0) / 2.0;
    let full = line.scaled(factor, shift, shift);
    let along = |s: f64| {
        let p = line.point(s, 0.0);
        full.along(p.x * factor + shift, p.y * factor + shift)
    };
    LineSighting { frame, time, line: full, top: along(top), foot: along(foot) }
}
