//! Balls that lie still and are gone from one picture to the next: struck, even where nothing is
//! seen that turns like a club, as when the camera stands so near that it sees little of the shaft.

use super::ball::{Bright, Spot, bright_spots};
use super::club_head::compared_with;
use super::hints::Hints;
use super::motion::{LineSighting, fast_pixels};
use super::pace::Pace;
use super::plane::Plane;
use super::swings::{APART_S, Sweep};
use super::window::{Clock, Window};
use crate::domain::{BallOutline, ImagePoint, PictureSize, Seconds};

/// A ball that left its place for good.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Departure {
    /// Between the last picture with it and the first without, capture time in seconds.
    pub time: f64,
    /// Its centre and its diameter, pixels of the full picture.
    pub x: f64,
    pub y: f64,
    pub diameter: f64,
}

/// So often it is looked for balls that have come to lie, seconds.
const LOOK_EVERY_S: f64 = 0.4;
/// A ball about to be struck has been lying for so long, and stays away for so long.
const LAIN_S: f64 = 0.6;
const AWAY_S: f64 = 0.4;
/// A recording may end sooner after its strike.
const AWAY_AT_END_S: f64 = 0.12;
/// Smaller ones are not told from anything else that is bright, pixels of the reduced picture.
const SMALLEST: f64 = 4.0;
/// So many bright round things are watched at most.
const MOST_WATCHED: usize = 40;
/// Seen again at most so far off, in diameters: a tripod drifts, a hand sways.
const SAME_PLACE: f64 = 0.4;
/// When more balls than that leave within so many seconds, it was the camera that moved.
const MOST_AT_ONCE: usize = 2;
const AT_ONCE_S: f64 = 0.3;

/// The bright round things that lie in the pictures of a recording, as these pass.
#[derive(Default)]
pub(crate) struct LyingBalls {
    /// When the newest picture was taken, and when it was last looked for new ones.
    now: f64,
    looked: Option<f64>,
    lying: Vec<Lying>,
    left: Vec<Departure>,
}

struct Lying {
    spot: Spot,
    /// The level half way between its own and that of what is around it.
    half: f32,
    since: f64,
    seen: f64,
    missed: Option<f64>,
}

impl LyingBalls {
    /// The next picture, reduced.
    pub fn take(&mut self, plane: &Plane, time: f64) {
        self.now = time;
        for ball in &mut self.lying {
            match ball.is_there(plane) {
                true => (ball.seen, ball.missed) = (time, None),
                false => ball.missed = ball.missed.or(Some(time)),
            }
        }
        self.let_go(time, AWAY_S);
        if self.looked.is_none_or(|looked| time - looked >= LOOK_EVERY_S) {
            self.looked = Some(time);
            self.look(plane, time);
        }
    }

    /// Those that left, in order of time. `factor`: how many pixels of the full picture make one
    /// of the reduced.
    pub fn departures(mut self, factor: f64) -> Vec<Departure> {
        self.let_go(self.now, AWAY_AT_END_S);
        self.left.sort_by(|a, b| a.time.total_cmp(&b.time));
        let near = |a: &Departure, b: &Departure| (a.time - b.time).abs() <= AT_ONCE_S;
        let alone = |d: &&Departure| {
            self.left.iter().filter(|other| near(d, other)).count() <= MOST_AT_ONCE
        };
        let full = |v: f64| v * factor + (factor - 1.0) / 2.0;
        let whole = |d: &Departure| Departure {
            time: d.time,
            x: full(d.x),
            y: full(d.y),
            diameter: d.diameter * factor,
        };
        self.left.iter().filter(alone).map(whole).collect()
    }

    /// Those that have been away for `away` seconds are no longer watched.
    fn let_go(&mut self, time: f64, away: f64) {
        let left = &mut self.left;
        self.lying.retain(|ball| {
            let Some(missed) = ball.missed.filter(|missed| time - missed >= away) else {
                return true;
            };
            if ball.seen - ball.since >= LAIN_S {
                let Spot { x, y, diameter, .. } = ball.spot;
                left.push(Departure { time: (ball.seen + missed) / 2.0, x, y, diameter });
            }
            false
        });
    }

    fn look(&mut self, plane: &Plane, time: f64) {
        let Some(Bright { spots, ground, .. }) = bright_spots(plane) else { return };
        for spot in spots {
            if spot.diameter < SMALLEST {
                continue;
            }
            let near = |ball: &&mut Lying| {
                (ball.spot.x - spot.x).hypot(ball.spot.y - spot.y) < SAME_PLACE * spot.diameter
            };
            let half = ground + spot.peak as f32 / 2.0;
            if let Some(ball) = self.lying.iter_mut().find(near) {
                (ball.spot, ball.half) = (spot, half);
            } else if self.lying.len() < MOST_WATCHED {
                self.lying.push(Lying { spot, half, since: time, seen: time, missed: None });
            }
        }
    }
}

impl Lying {
    /// Whether its middle is still bright.
    fn is_there(&self, plane: &Plane) -> bool {
        plane.sample(self.spot.x, self.spot.y).is_none_or(|level| level >= self.half)
    }
}

/// How long a club is that is not seen, in diameters of its ball.
const CLUB_IN_BALLS: f64 = 14.0;
/// A ball this much narrower than others that were struck belongs to a golfer farther back.
const FARTHER_BACK: f64 = 0.75;

/// A sweep without a club for each ball that left its place, but for those of strikes that were
/// found: when, and of which ball. `longest`: the longest club seen, pixels.
pub(crate) fn unseen_clubs(
    departures: &[Departure],
    struck: &[(Seconds, BallOutline)],
    hints: &Hints,
    longest: f64,
    (clock, size): (&Clock, PictureSize),
) -> Vec<Sweep> {
    if hints.only_given || hints.is_speed_guessed {
        return Vec::new();
    }
    let given = hints.given.iter().filter_map(|given| given.time);
    let taken: Vec<Seconds> = struck.iter().map(|(time, _)| *time).chain(given).collect();
    let wide = struck.iter().map(|(_, ball)| ball.diameter.0);
    let widest = match struck.is_empty() {
        true => departures.iter().map(|d| d.diameter).fold(0.0, f64::max),
        false => wide.fold(0.0, f64::max),
    };
    let is_new = |d: &&Departure| {
        let apart = APART_S * clock.timeline.slow_factor;
        taken.iter().all(|t| (t.0 - clock.playback(d.time)).abs() > apart)
            && d.diameter > FARTHER_BACK * widest
    };
    let sweep = |d: &Departure| Sweep {
        time: d.time,
        heading: 0.0,
        speed: 0.0,
        turned: 0.0,
        length: longest.max((CLUB_IN_BALLS * d.diameter).min(size.height as f64)),
        foot: ImagePoint::new(d.x, d.y),
        lines: Vec::new(),
    };
    departures.iter().filter(is_new).map(sweep).collect()
}

/// What moves fast near the ground is looked at so long before and after a strike.
const NEAR_S: f64 = 0.035;
/// In diameters of the ball: so far to either side of it, above and below.
const BESIDE: f64 = 14.0;
const ABOVE: f64 = 4.0;
const BELOW: f64 = 1.5;
/// The share by which what moves must have changed sides, of 2.
const LEAST_CHANGE: f64 = 0.6;
/// Less than that, grey levels over pixels, is no club: 40 pixels that stand out clearly.
const LEAST_SEEN: f64 = 1000.0;

/// Which way the club went through a ball that still lies in frame `last`: +1 to the right of the
/// picture. What moves fast near the ground is on one side of the ball before and on the other
/// after; `None` if nothing does so.
pub(crate) fn way_through(
    window: &Window,
    ball: &BallOutline,
    last: usize,
    pace: &Pace,
) -> Option<f64> {
    let (x, y, d) = (ball.centre.x, ball.centre.y, ball.diameter.0);
    let time = window.times[last.checked_sub(window.first)?];
    let mut sides = [[0.0; 2]; 2];
    for (i, now) in window.frames.iter().enumerate() {
        let frame = window.first + i;
        // At low rates the neighbours must do.
        let near = (window.times[i] - time).abs() <= NEAR_S || frame.abs_diff(last) <= 1;
        let [Some(before), Some(after)] = compared_with(frame, time, pace) else { continue };
        let at = |frame: usize| window.frames.get(frame.checked_sub(window.first)?);
        let (Some(before), Some(after)) = (at(before), at(after)) else { continue };
        if pace.is_copy(frame) || !near {
            continue;
        }
        let wanted = |px: usize, py: usize| {
            let (dx, dy) = (px as f64 - x, py as f64 - y);
            dx.abs() < BESIDE * d && (-ABOVE * d..BELOW * d).contains(&dy) && dx.hypot(dy) > d
        };
        for pixel in fast_pixels(&now.plane(), &before.plane(), &after.plane(), wanted) {
            sides[usize::from(frame > last)][usize::from(f64::from(pixel.x) > x)] +=
                f64::from(pixel.weight);
        }
    }
    // At low rates the club may be out of the picture on one side.
    let balance = |[left, right]: [f64; 2]| (right - left) / (left + right).max(LEAST_SEEN);
    let change = balance(sides[1]) - balance(sides[0]);
    (change.abs() >= LEAST_CHANGE).then(|| change.signum())
}

/// The same by the lines of a club that is near the ground in no picture, as from very near at low
/// rates: their lower ends lie to one side of the ball in the picture in which it still lies, `last`,
/// and to the other in the next.
pub(crate) fn way_past(
    lines: &[LineSighting],
    ball: (ImagePoint, f64),
    last: usize,
    pace: &Pace,
) -> Option<f64> {
    let (at, diameter) = ball;
    let number = pace.picture_in(last);
    let side = |number: usize| {
        let line = lines.iter().find(|line| pace.picture_in(line.frame) == number)?;
        let across = line.line.point(line.foot, 0.0).x - at.x;
        (across.abs() > diameter).then(|| across.signum())
    };
    let (before, after) = (side(number)?, side(number + 1)?);
    (before != after).then_some(after)
}

#[cfg(test)]
mod tests {
    use super::super::shaft::Line;
    use super::*;

    #[test]
    fn a_club_that_is_on_either_side_of_the_ball_in_turn_went_past_it() {
        let line = |frame: usize, x: f64| LineSighting {
            frame,
            time: frame as f64 / 30.0,
            line: Line { angle: 0.0, offset: x },
            top: 0.0,
            foot: 300.0,
        };
        let ball = (ImagePoint::new(690.0, 560.0), 44.0);
        let pace = Pace::even(1.0 / 30.0, 97);
        let way = |lines: &[LineSighting]| way_past(lines, ball, 45, &pace);
        assert_eq!(way(&[line(45, 0.0), line(46, 1120.0)]), Some(1.0));
        assert_eq!(way(&[line(45, 1120.0), line(46, 0.0)]), Some(-1.0));
        assert_eq!(way(&[line(45, 0.0), line(46, 300.0)]), None);
        assert_eq!(way(&[line(45, 0.0), line(46, 700.0)]), None, "it is over the ball");
        assert_eq!(way(&[line(45, 0.0), line(47, 1120.0)]), None, "a picture later");
    }

    /// Dim, patchy ground of 120 by 80 pixels with balls of 7 pixels at `balls`.
    fn ground(balls: &[(f64, f64)]) -> Plane {
        let level = |i: usize| {
            let (x, y) = ((i % 120) as f64, (i / 120) as f64);
            let within = balls.iter().any(|b| (x - b.0).hypot(y - b.1) < 3.5);
            if within { 210.0 } else { 80.0 + (i * 7 % 11) as f32 }
        };
        Plane { width: 120, height: 80, data: (0..120 * 80).map(level).collect() }
    }

    /// Two seconds at 60 a second; which balls lie in frame `i`.
    fn departures(lying: impl Fn(usize) -> Vec<(f64, f64)>) -> Vec<Departure> {
        departures_in(120, lying)
    }

    fn departures_in(frames: usize, lying: impl Fn(usize) -> Vec<(f64, f64)>) -> Vec<Departure> {
        let mut balls = LyingBalls::default();
        for i in 0..frames {
            balls.take(&ground(&lying(i)), i as f64 / 60.0);
        }
        balls.departures(3.0)
    }

    const HERE: (f64, f64) = (60.0, 50.0);
    const THERE: (f64, f64) = (30.0, 40.0);

    #[test]
    fn a_ball_that_leaves_for_good_is_told_with_its_time_and_place() {
        let left = departures(|i| if i < 72 { vec![HERE, THERE] } else { vec![THERE] });
        let [ball] = left[..] else { panic!("{left:?}") };
        assert!((ball.time - 71.5 / 60.0).abs() < 1e-9);
        assert!((ball.x - 181.0).abs() < 1.5 && (ball.y - 151.0).abs() < 1.5, "{ball:?}");
        assert!((ball.diameter - 21.0).abs() < 4.0);
    }

    #[test]
    fn a_recording_may_end_soon_after_its_strike() {
        // 0.15 and 0.05 seconds after, between two looks for new balls.
        let told = [81, 75].map(|frames| {
            departures_in(frames, |i| if i < 72 { vec![HERE] } else { vec![] }).len()
        });
        assert_eq!(told, [1, 0]);
    }

    #[test]
    fn what_comes_back_was_only_hidden() {
        assert_eq!(departures(|i| if (70..80).contains(&i) { vec![] } else { vec![HERE] }), []);
    }

    #[test]
    fn a_ball_that_has_just_come_is_not_struck() {
        assert_eq!(departures(|i| if (60..80).contains(&i) { vec![HERE] } else { vec![] }), []);
    }

    #[test]
    fn when_all_balls_leave_at_once_the_camera_moved() {
        let all = [HERE, THERE, (90.0, 60.0)];
        assert_eq!(departures(|i| if i < 72 { all.to_vec() } else { vec![] }), []);
    }
}
