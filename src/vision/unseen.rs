//! Whether a ball that was struck can have escaped: where none was found, a swing is surely a
//! practice swing only if one would have been seen.

use super::ball::{Spot, presence, round_spots};
use super::plane::{Plane, median};
use super::window::Window;
use crate::domain::{BallOutline, ImagePoint, PictureSize, Pixels};

/// White balls are no brighter than 255, and must stand out of the ground by 40 levels to be seen;
/// brighter ground than this leaves little of that (over-exposed film).
const BRIGHTEST_GROUND: f64 = 200.0;
/// Grey levels by which what has gone stood out: fewer than a ball needs, since this only asks.
const LEAST_GONE: f32 = 20.0;
/// A ball is 43 mm wide and a shaft is seen for 0.6 to 1.1 m: a ball's share of that, with play.
const BALL_SHARE: std::ops::Range<f64> = 0.025..0.1;
/// What has left its place shows at most this share of itself afterwards.
const LEFT_OVER: f64 = 0.35;
/// The same in the second picture after it lay there, where the first shows it leaving.
const LEFT_OVER_NEXT: f64 = 0.1;
/// So many of the clearest changes are looked at.
const MOST_SPOTS: usize = 6;

/// Where a ball would lie.
#[derive(Clone, Copy)]
pub(crate) struct Place {
    /// Where the club's end passes, in pixels of the full picture.
    pub foot: ImagePoint,
    /// How long the shaft is seen, pixels.
    pub length: f64,
    /// When it passes, capture time.
    pub time: f64,
}

impl Place {
    /// The ground beside the foot, left, top, right and bottom, in lengths of the shaft.
    const BESIDE: [f64; 4] = [-0.3, -0.08, 0.3, 0.16];

    fn limits(&self, share: f64) -> [f64; 4] {
        let Self { foot, length, .. } = *self;
        let [left, top, right, bottom] = Self::BESIDE.map(|s| s * share * length);
        [foot.x + left, foot.y + top, foot.x + right, foot.y + bottom]
    }

    /// Part of the ground where a ball would lie is outside the picture.
    pub fn is_cut_off(&self, size: PictureSize) -> bool {
        let [left, top, right, bottom] = self.limits(0.5);
        let inside =
            left >= 0.0 && top >= 0.0 && right <= size.width as f64 && bottom <= size.height as f64;
        !inside
    }

    /// The ground is so bright that a white ball does not stand out of it.
    pub fn is_too_bright(&self, window: &Window) -> bool {
        let mut levels = Vec::new();
        for (i, &level) in window.before.data.iter().enumerate().step_by(5) {
            if self.is_beside(i % window.area.width, i / window.area.width, window) {
                levels.push(f64::from(level));
            }
        }
        median(&mut levels).is_none_or(|ground| ground > BRIGHTEST_GROUND)
    }

    fn is_beside(&self, x: usize, y: usize, window: &Window) -> bool {
        let [left, top, right, bottom] = self.limits(1.0);
        let (x, y) = ((x + window.area.left) as f64, (y + window.area.top) as f64);
        (left..right).contains(&x) && (top..bottom).contains(&y)
    }

    /// Something round, about as large as a ball, was there before the club passed and at once no
    /// more.
    pub fn something_left(&self, window: &Window) -> bool {
        let change = window.before.data.iter().zip(&window.after.data).map(|(b, a)| b - a);
        let gone = Plane { data: change.collect(), ..window.before };
        let is_like_a_ball = |spot: &Spot| {
            self.is_beside(spot.x as usize, spot.y as usize, window)
                && BALL_SHARE.contains(&(spot.diameter / self.length))
        };
        let spots = round_spots(&gone, LEAST_GONE);
        spots.iter().filter(|spot| is_like_a_ball(spot)).take(MOST_SPOTS).any(|spot| {
            let outline = BallOutline {
                centre: ImagePoint::new(spot.x, spot.y),
                diameter: Pixels(spot.diameter),
                diameter_sigma: Pixels(0.0),
            };
            let present = presences(window, &outline);
            let gone = leaving(window, &present, self.time);
            gone.is_some_and(|i| left_at_once(&present, i))
        })
    }
}

/// How much of a ball is there in each frame of a window.
pub(crate) fn presences(window: &Window, ball: &BallOutline) -> Vec<f64> {
    let share = |now: &Plane| presence(now, &window.before, &window.after, ball);
    window.frames.iter().map(|now| share(&now.plane())).collect()
}

/// The first frame of the window in which what was there has left for good, near `time`.
pub(crate) fn leaving(window: &Window, present: &[f64], time: f64) -> Option<usize> {
    (1..present.len())
        .rev()
        .find(|&i| present[i - 1] > 0.75)
        .filter(|&i| present[i] <= 0.75 && (window.times[i] - time).abs() < 0.06)
}

/// It lay there all the time until frame `i` of the window, and from then on was gone: no shoe or
/// shadow that moves away, which takes longer.
pub(crate) fn left_at_once(present: &[f64], i: usize) -> bool {
    let middle = |part: &[f64]| median(&mut part.to_vec());
    middle(&present[..i]).is_some_and(|share| share > 0.75)
        && middle(&present[i..]).is_some_and(|share| share < LEFT_OVER)
}

/// It still lay there in the picture before `i` and is gone in that one, or has just been seen to
/// go in it.
pub(crate) fn left_in_one_picture(present: &[f64], i: usize) -> bool {
    left_at_once(present, i)
        && (present[i] < LEFT_OVER || present.get(i + 1).is_some_and(|left| *left < LEFT_OVER_NEXT))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ball_that_is_taken_away_does_not_leave_in_one_picture() {
        let still = [1.0; 8];
        let leaving = |going: &[f64]| [&still[..], going, &[0.0; 8]].concat();
        assert!(left_in_one_picture(&leaving(&[]), 8));
        assert!(left_in_one_picture(&leaving(&[0.6]), 8), "exposed while it went");
        assert!(!left_in_one_picture(&leaving(&[0.7, 0.4, 0.2]), 8), "rolled away");
        assert!(left_at_once(&leaving(&[0.7, 0.4, 0.2]), 8));
    }
}
