//! One pass over the whole recording at reduced size: where a club-like line moves fast.
//!
//! What moves by more than its own width between frames differs, in the frame it is in, from
//! the frame before *and* from the frame after, in the same direction. That difference shows
//! the club alone: what moves slowly (body, shadows, clouds) and what changes for good (the
//! ball leaving, a divot) is not in it. The frames compared are brought into one light, and copies
//! of a frame are left out.

use std::collections::VecDeque;

use super::leaving_ball::{Departure, LyingBalls};
use super::pace::Pace;
use super::plane::{Plane, sigma_from_median_distance};
use super::shaft::{Line, Moving, longest_run, refit, strongest_line};
use super::swings::RARE_S;
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
    /// How long it is seen, pixels.
    pub fn length(&self) -> f64 {
        self.foot - self.top
    }

    /// How far the lower end is below the upper, pixels.
    pub fn height(&self) -> f64 {
        self.length() * self.line.angle.cos()
    }
}

/// Frames are compared over about this time, so that a waggle stays within its own width.
const COMPARED_OVER_S: f64 = 1.0 / 120.0;
/// The longer side of the reduced picture.
const REDUCED_SIDE: f64 = 420.0;
/// A change is one of at least this many grey levels and this many noise sigmas.
const LEAST_CHANGE: f64 = 5.0;
const LEAST_SIGMAS: f64 = 4.0;
/// A frame in which more than this share of the picture flickers says nothing about a club. From very
/// near a club, its shadow and the legs' take up nine hundredths.
const MOST_MOVING: f64 = 0.12;
/// A shaft seen from top to bottom takes up at least this share of the picture's height.
const SHORTEST: f64 = 0.09;

/// The second line of a picture lies farther from the first than this, reduced pixels, and counts
/// if it is so many times as long, or steep (radians from the upright) where the first lies flat.
const BESIDE: f64 = 5.0;
const LONGER: f64 = 1.2;
const FLAT: f64 = 1.1;
const STEEP: f64 = 0.6;

/// What one pass over a recording shows.
pub(crate) struct Scan {
    /// All club-like lines, in order of time.
    pub lines: Vec<LineSighting>,
    /// Balls that left their place.
    pub departures: Vec<Departure>,
    /// When its pictures were taken.
    pub pace: Pace,
}

/// Looks for club-like lines and balls that leave in all of a recording. `progress` gets 0 to 1 and stops the work with
/// false.
pub(crate) fn scan(
    pictures: &mut dyn Pictures,
    clock: &Clock,
    progress: &mut dyn FnMut(f64) -> bool,
) -> Result<Scan, PictureError> {
    let size = pictures.size();
    let factor = (size.width.max(size.height) as f64 / REDUCED_SIDE).round().max(1.0) as usize;
    let frames = clock.timeline.len();
    let mut passing = Passing::default();
    let mut lying = LyingBalls::default();
    let mut seen = Vec::new();
    let mut stopped = false;
    let mut each = |frame: FrameIndex, gray: &GrayFrame| {
        if frame.0.is_multiple_of(16) && !progress(frame.0 as f64 / frames as f64) {
            stopped = true;
            return false;
        }
        let plane = Plane::reduced(gray, factor);
        lying.take(&plane, clock.time(frame.0));
        passing.take(Picture { frame: frame.0, time: clock.time(frame.0), plane });
        while let Some([before, now, after]) = passing.next() {
            let earlier = before.time;
            let lit = [before, after].map(|other| other.plane.in_light_of(&now.plane));
            let [before, after] = [(&lit[0], before), (&lit[1], after)]
                .map(|(lit, own)| lit.as_ref().unwrap_or(&own.plane));
            let moving = fast_pixels(&now.plane, before, after, |_, _| true);
            let most = (MOST_MOVING * (now.plane.data.len() as f64)) as usize;
            let is_rare = now.time - earlier > RARE_S;
            if moving.len() <= most
                && let Some(found) = line_of_club(moving, now.plane.height, is_rare)
            {
                seen.push(in_full_picture(found, factor as f64, now.frame, now.time));
            }
        }
        true
    };
    pictures.for_each_gray(FrameIndex(0), FrameIndex(frames), &mut each)?;
    let Passing { pace, .. } = passing;
    if stopped {
        return Err(PictureError::Cancelled);
    }
    Ok(Scan { lines: seen, departures: lying.departures(factor as f64), pace })
}

/// One picture, reduced.
struct Picture {
    frame: usize,
    /// Capture time, seconds.
    time: f64,
    plane: Plane,
}

/// The newest pictures, copies left out, as they pass.
#[derive(Default)]
struct Passing {
    recent: VecDeque<Picture>,
    /// How many of those have been compared with the ones before and after.
    compared: usize,
    pace: Pace,
}

impl Passing {
    fn take(&mut self, picture: Picture) {
        if self.recent.back().is_some_and(|last| shows_the_same(&picture.plane, &last.plane)) {
            return;
        }
        self.pace.push(picture.frame, picture.time);
        self.recent.push_back(picture);
        // The first is of no more use once the second is as far back as pictures are compared over.
        while self.compared >= 2
            && self.recent[self.compared].time - self.recent[1].time >= COMPARED_OVER_S
        {
            self.recent.pop_front();
            self.compared -= 1;
        }
    }

    /// The next picture that can be compared, between those before and after it that lie nearest to
    /// the time that is compared over.
    fn next(&mut self) -> Option<[&Picture; 3]> {
        let newest = self.recent.back()?.time;
        loop {
            let now = self.recent.get(self.compared)?;
            // Rounded time stamps may bring a picture a little too early.
            if newest - now.time < 0.9 * COMPARED_OVER_S {
                return None;
            }
            let at = self.compared;
            self.compared += 1;
            let off = |i: &usize| {
                ((self.recent[*i].time - self.recent[at].time).abs() - COMPARED_OVER_S).abs()
            };
            let nearest = |a: &usize, b: &usize| off(a).total_cmp(&off(b));
            let before = (0..at).min_by(nearest);
            let after = (at + 1..self.recent.len()).min_by(nearest)?;
            // At the start of fast film nothing lies far enough back.
            let far =
                |i: &usize| self.recent[at].time - self.recent[*i].time > 0.6 * COMPARED_OVER_S;
            if let Some(before) = before.filter(far) {
                return Some([before, at, after].map(|i| &self.recent[i]));
            }
        }
    }
}

/// Nothing that moved as a club does sets the two apart: one is a copy of the other, or so like it
/// that it tells nothing new.
fn shows_the_same(now: &Plane, last: &Plane) -> bool {
    let apart =
        now.data.iter().zip(&last.data).filter(|(n, l)| (*n - *l).abs() > LEAST_CHANGE as f32);
    (apart.count() as f64) < SHORTEST * now.height as f64
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

/// The most club-like line, or the next beside it where that is longer by far: a club throws a
/// shadow as fast as itself, and darker than a long exposure leaves the club. Where pictures are
/// rare one of the club counts, and it need but stand up beside a line that lies flat.
fn line_of_club(mut moving: Vec<Moving>, height: usize, is_rare: bool) -> Option<(Line, f64, f64)> {
    let first @ (line, top, foot) = club_like(&moving, height)?;
    moving.retain(|m| line.across(f64::from(m.x), f64::from(m.y)).abs() > BESIDE);
    let is_better = |(other, t, f): &(Line, f64, f64)| {
        let is_shadow = is_rare && line.angle.abs() > FLAT && other.angle.abs() < STEEP;
        is_shadow || f - t > LONGER * (foot - top)
    };
    Some(club_like(&moving, height).filter(is_better).unwrap_or(first))
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

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::domain::{ColourFrame, FrameEntry, PictureSize, Pts, TimeBase, Timeline};

    const SIZE: PictureSize = PictureSize { width: 400, height: 240 };
    const RATE: i64 = 60;

    /// Forty frames, 60 a second, in which a club of 160 pixels hanging from (200, 30) swings
    /// through the upright in the middle, over patchy ground.
    struct Drawn {
        timeline: Timeline,
        /// How strong the light is at a time in a row.
        light: fn(f64, usize) -> f64,
        /// In how many frames each picture is shown.
        shown: usize,
    }

    impl Drawn {
        fn new(light: fn(f64, usize) -> f64, shown: usize) -> Self {
            let frames = (0..40).map(|i| FrameEntry { pts: Pts(i), key: i == 0 }).collect();
            let time_base = TimeBase { numerator: 1, denominator: RATE as i32 };
            Self { timeline: Timeline { time_base, frames, slow_factor: 1.0 }, light, shown }
        }

        fn line(&self, frame: usize) -> Line {
            let taken = frame / self.shown * self.shown;
            let angle = -25.0 * (taken as f64 - 20.0) / RATE as f64;
            Line { angle, offset: 200.0 * angle.cos() + 30.0 * angle.sin() }
        }

        fn value(&self, frame: usize, x: usize, y: usize) -> f64 {
            let (line, fx, fy) = (self.line(frame), x as f64, y as f64);
            let along = line.along(fx, fy) - line.along(200.0, 30.0);
            let club = line.across(fx, fy).abs() < 1.5 && (0.0..160.0).contains(&along);
            let ground = 80.0 + (x * 37 % 23 + y * 53 % 19) as f64;
            if club { ground + 35.0 } else { ground }
        }

        /// In how many pictures the club is seen where it is.
        fn seen(&mut self) -> usize {
            let clock = Clock::new(self.timeline.clone());
            let Scan { lines, pace, .. } = scan(self, &clock, &mut |_| true).unwrap();
            assert!(lines.iter().all(|s| !pace.is_copy(s.frame)));
            let right = |s: &&LineSighting| (s.line.angle - self.line(s.frame).angle).abs() < 0.05;
            lines.iter().filter(right).count()
        }
    }

    impl Pictures for Drawn {
        fn timeline(&self) -> &Timeline {
            &self.timeline
        }

        fn size(&self) -> PictureSize {
            SIZE
        }

        fn gray(&mut self, frame: FrameIndex) -> Result<Arc<GrayFrame>, PictureError> {
            let taken = (frame.0 / self.shown * self.shown) as f64 / RATE as f64;
            let mut data = Vec::new();
            for y in 0..SIZE.height {
                let light = (self.light)(taken, y);
                data.extend((0..SIZE.width).map(|x| (light * self.value(frame.0, x, y)) as u8));
            }
            Ok(Arc::new(GrayFrame { width: SIZE.width, height: SIZE.height, data }))
        }

        fn colour(&mut self, _: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
            unreachable!("the scan looks at luma alone")
        }
    }

    /// Lamps at 50 hertz pulse at 100.
    fn pulse(time: f64) -> f64 {
        1.0 + 0.2 * (std::f64::consts::TAU * 100.0 * time + 0.3).sin()
    }

    #[test]
    fn a_club_is_seen_under_flickering_lamps() {
        let steady = Drawn::new(|_, _| 1.0, 1).seen();
        assert!(steady >= 5, "{steady}");
        assert_eq!(Drawn::new(|time, _| pulse(time), 1).seen(), steady);
        // A shutter takes 12 ms to run down the picture.
        let bands = Drawn::new(|time, row| pulse(time + 0.012 * row as f64 / 240.0), 1).seen();
        assert!(bands + 1 >= steady, "{bands} of {steady}");
    }

    #[test]
    fn copies_of_a_picture_do_not_hide_the_club() {
        let seen = Drawn::new(|_, _| 1.0, 2).seen();
        assert!(seen >= 3, "{seen}");
    }
}
