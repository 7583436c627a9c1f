//! The pictures around one strike: single frames, and what lay there before and after.

use std::ops::Range;

use super::pace::Pace;
use super::plane::{Area, HeldPlane, Plane};
use super::steady::{Motion, Steadying};
use crate::domain::{
    FrameIndex, GrayFrame, ImagePoint, PictureError, PictureSize, Pictures, Timeline,
};

/// Full-size pictures of part of the scene around a strike, laid on the frame at the strike where
/// the camera was not still. Times are capture times.
pub(crate) struct Window {
    pub area: Area,
    /// The motion of the frame on which the others are laid; `None`: the camera was still.
    pub laid_on: Option<Motion>,
    /// The number of the first of `frames`.
    pub first: usize,
    /// Consecutive frames.
    pub frames: Vec<HeldPlane>,
    /// Capture time of each of them.
    pub times: Vec<f64>,
    /// Median pictures from when the club was away.
    pub before: Plane,
    pub after: Plane,
}

impl Window {
    /// Part of the window, an area inside its own, with each level as `level` makes it.
    pub fn part(&self, area: Area, level: impl Fn(f32) -> f32) -> Self {
        let own = Area { left: area.left - self.area.left, top: area.top - self.area.top, ..area };
        let cut = |plane: &Plane| {
            let mut part = plane.part(own);
            part.data.iter_mut().for_each(|v| *v = level(*v));
            part
        };
        Self {
            area,
            laid_on: self.laid_on,
            first: self.first,
            frames: self.frames.iter().map(|held| HeldPlane::of(&cut(&held.plane()))).collect(),
            times: self.times.clone(),
            before: cut(&self.before),
            after: cut(&self.after),
        }
    }
}

/// Single frames are kept this far around the strike.
const CLOSE_S: f64 = 0.085;
/// The club is away from the ball from here, and the body is still about the same, to there.
const AWAY_FROM_S: f64 = 0.085;
const AWAY_TO_S: f64 = 0.45;
const PLATE_FRAMES: usize = 9;

/// No film has fewer than ten pictures a second.
const LONGEST_SHOWN_S: f64 = 0.1;

/// Capture times: those of playing over the recording's slow-motion factor, seconds.
#[derive(Clone, Debug)]
pub(crate) struct Clock {
    pub timeline: Timeline,
    /// As if no frame were a copy, until the recording has been looked through.
    pub pace: Pace,
}

impl Clock {
    pub fn new(timeline: Timeline) -> Self {
        let mut clock = Self { timeline, pace: Pace::default() };
        (0..clock.timeline.len()).for_each(|frame| clock.pace.push(frame, clock.time(frame)));
        clock
    }

    pub fn time(&self, frame: usize) -> f64 {
        self.timeline.time_of(FrameIndex(frame)).0 / self.timeline.slow_factor
    }

    pub fn playback(&self, time: f64) -> f64 {
        time * self.timeline.slow_factor
    }

    /// Since when the picture in `frame` has been shown: what a copy shows was so then.
    pub fn shown_since(&self, frame: usize) -> f64 {
        let own = self.time(frame);
        let first = self.pace.first_frame(self.pace.picture_in(frame)).map(|f| self.time(f));
        // One that stays for longer is a scene in which nothing moved.
        first.filter(|first| own - first < LONGEST_SHOWN_S).unwrap_or(own)
    }

    pub fn frame_at(&self, time: f64) -> usize {
        self.timeline.frame_at(crate::domain::Seconds(self.playback(time))).0
    }

    /// Frames with `from <= time <= to`, as a half-open range.
    pub fn frames_between(&self, from: f64, to: f64) -> Range<usize> {
        let n = self.timeline.len();
        let first = self.frame_at(from);
        let first = if self.time(first) < from { first + 1 } else { first };
        let last = if self.time(0) > to { 0 } else { self.frame_at(to) + 1 };
        first.min(n)..last.clamp(first.min(n), n)
    }
}

/// A picture that moves by less against the one at the strike is taken as it is: resampling
/// would cost more sharpness than it mends, pixels.
const STILL: f64 = 0.15;
/// So many frames tell whether the camera was still.
const PROBES: usize = 7;

/// Whether the camera moved between two frames, and if so the motion of `middle`.
fn laid_on(
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    [from, middle, to]: [usize; 3],
    area: Area,
) -> Result<Option<Motion>, PictureError> {
    let own = steadying.motion(pictures, FrameIndex(middle))?;
    let foot = ImagePoint::new(
        (area.left + area.width / 2) as f64,
        (area.top + 3 * area.height / 4) as f64,
    );
    for i in 0..PROBES {
        let probe = from + i * (to - 1 - from) / (PROBES - 1);
        let other = steadying.motion(pictures, FrameIndex(probe))?;
        if other.is_trusted && own.carry(&other, foot).distance(foot) > STILL {
            return Ok(Some(own));
        }
    }
    Ok(None)
}

/// The frames that a window is made of.
pub(crate) struct Wanted {
    /// About the strike, one after the other.
    pub close: Range<usize>,
    /// Some from when the club was away, before and after.
    pub before: Vec<usize>,
    pub after: Vec<usize>,
}

impl Wanted {
    pub fn about(clock: &Clock, time: f64) -> Self {
        let close = clock.frames_between(time - CLOSE_S, time + CLOSE_S);
        // At low rates a few neighbours must be there all the same.
        let middle = clock.frame_at(time);
        let n = clock.timeline.len();
        Self {
            close: close.start.min(middle.saturating_sub(3))..close.end.max((middle + 5).min(n)),
            before: spread(clock.frames_between(time - AWAY_TO_S, time - AWAY_FROM_S)),
            after: spread(clock.frames_between(time + AWAY_FROM_S, time + AWAY_TO_S)),
        }
    }

    fn has(&self, frame: usize) -> bool {
        self.close.contains(&frame) || self.before.contains(&frame) || self.after.contains(&frame)
    }

    /// From the first of them to beyond the last.
    fn span(&self) -> [usize; 2] {
        let Range { start, end } = self.close;
        let from = self.before.first().map_or(start, |&b| b.min(start));
        let to = self.after.last().map_or(end, |&a| (a + 1).max(end));
        [from, to]
    }
}

/// Reads the window around `time` in `area`.
pub(crate) fn read_window(
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    clock: &Clock,
    time: f64,
    area: Area,
    go_on: &mut dyn FnMut() -> bool,
) -> Result<Window, PictureError> {
    let wanted = Wanted::about(clock, time);
    let [from, to] = wanted.span();
    let laid_on = laid_on(pictures, steadying, [from, clock.frame_at(time), to], area)?;
    let mut cut: Vec<(usize, HeldPlane)> = Vec::new();
    let mut stopped = false;
    pictures.for_each_gray(FrameIndex(from), FrameIndex(to), &mut |frame, gray: &GrayFrame| {
        stopped = !go_on();
        if wanted.has(frame.0) && !stopped {
            let held = match &laid_on {
                Some(own) => {
                    let other = steadying.motion_of(frame, gray);
                    HeldPlane::of(&laid(Plane::cut(gray, area), area, own, &other))
                }
                None => HeldPlane::cut(gray, area),
            };
            cut.push((frame.0, held));
        }
        !stopped
    })?;
    if stopped {
        return Err(PictureError::Cancelled);
    }
    let cut = in_one_light(cut, clock.frame_at(time));
    let plate = |chosen: &[usize], fallback: usize| {
        let held: Vec<&HeldPlane> =
            cut.iter().filter(|c| chosen.contains(&c.0)).map(|c| &c.1).collect();
        HeldPlane::median_of(&held)
            .or_else(|| cut.iter().find(|c| c.0 == fallback).map(|c| c.1.plane()))
            .ok_or_else(|| {
                PictureError::Unreadable("A frame is missing; copy the file again.".into())
            })
    };
    let Wanted { close, before, after } = wanted;
    let before = plate(&before, close.start)?;
    let after = plate(&after, close.end - 1)?;
    let frames: Vec<HeldPlane> =
        cut.into_iter().filter(|c| close.contains(&c.0)).map(|c| c.1).collect();
    let times = close.clone().map(|i| clock.time(i)).collect();
    Ok(Window { area, laid_on, first: close.start, frames, times, before, after })
}

/// All pictures in the light of that of frame `own`, lest light that flickers pass for the ball or
/// hide the club.
pub(crate) fn in_one_light(cut: Vec<(usize, HeldPlane)>, own: usize) -> Vec<(usize, HeldPlane)> {
    let Some(now) = cut.iter().find(|c| c.0 == own).map(|c| c.1.plane()) else { return cut };
    cut.into_iter().map(|(frame, held)| (frame, held.in_light_of(&now))).collect()
}

/// A cut of one frame laid on another, whose motion is `own`; as it is if it is not known how.
pub(crate) fn laid(plane: Plane, area: Area, own: &Motion, other: &Motion) -> Plane {
    if !other.is_trusted || own == other {
        return plane;
    }
    let (left, top) = (area.left as f64, area.top as f64);
    plane.resampled(|x, y| {
        let there = own.carry(other, ImagePoint::new(x + left, y + top));
        (there.x - left, there.y - top)
    })
}

/// At most [`PLATE_FRAMES`] frames spread over a range.
fn spread(range: std::ops::Range<usize>) -> Vec<usize> {
    let n = range.len();
    let count = n.min(PLATE_FRAMES);
    (0..count).map(|i| range.start + (2 * i + 1) * n / (2 * count)).collect()
}

/// The part of the picture where club head and ball are around the strike, from where the
/// lower end of the shaft passes and how long the shaft is seen, pixels.
pub(crate) fn strike_area(foot: (f64, f64), length: f64, size: PictureSize) -> Option<Area> {
    let limits = [
        foot.0 - 1.1 * length,
        foot.1 - 1.0 * length,
        foot.0 + 1.1 * length,
        foot.1 + 0.35 * length,
    ];
    Area::inside(limits, size.width, size.height)
}

/// The part of that area in which a ball that is struck may lie, with some ground around it.
pub(crate) fn ball_zone(foot: (f64, f64), length: f64, size: PictureSize) -> Option<Area> {
    let limits = [
        foot.0 - 0.6 * length,
        foot.1 - 0.25 * length,
        foot.0 + 0.6 * length,
        foot.1 + 0.35 * length,
    ];
    Area::inside(limits, size.width, size.height)
}
