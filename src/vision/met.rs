//! What the club met: the ball that was struck, or one that lay there and was not; and when.

use super::ball::{BallFit, Bright, bright_spots, fit_outline, round_spots};
use super::club_head::{Parabola, ShaftEnd};
use super::colours::Colours;
use super::hints::{Hints, Look};
use super::plane::{Area, Plane, median};
use super::sound::SPEED_OF_SOUND;
use super::steady::Motion;
use super::swings::Sweep;
use super::unseen::{Place, leaving, left_at_once, left_in_one_picture, presences};
use super::window::{Window, ball_zone};
use crate::domain::{BallOutline, Found, ImagePoint, Millimetres, PictureSize, Seconds, SwingKind};

/// A struck ball that stands out by its colour, or by being darker than the ground.
pub(crate) fn find_coloured(
    window: &Window,
    tint: &Window,
    ends: &[ShaftEnd],
    sweep: &Sweep,
    look: &Look,
) -> Option<(BallFit, usize)> {
    let dark = window.part(tint.area, |level| 255.0 - level);
    let found = [tint, &dark].into_iter().find_map(|part| find_gone(part, ends, sweep, look));
    found.map(|found| laid_in(window, tint.area, found))
}

/// A struck ball higher up in the picture than the foot of the swing, whose place may be known
/// badly: from a copy of the picture beside it, or where much of the shaft is outside.
pub(crate) fn find_above(
    window: &Window,
    sweep: &Sweep,
    look: &Look,
    size: PictureSize,
) -> Option<(BallFit, usize)> {
    let foot = sweep.foot.moved(0.0, -HIGHER * sweep.length);
    let raised = Sweep { foot, ..sweep.clone() };
    let area = ball_zone((foot.x, foot.y), sweep.length, size)?;
    let found = find_gone(&window.part(area, |level| level), &[], &raised, look)?;
    Some(laid_in(window, area, found))
}

/// In lengths of the shaft.
const HIGHER: f64 = 0.25;

/// A struck ball of a kind, or in a place, that is rare: what is not gone at once is something else.
fn find_gone(
    part: &Window,
    ends: &[ShaftEnd],
    sweep: &Sweep,
    look: &Look,
) -> Option<(BallFit, usize)> {
    let (ball, frame) = find_struck(part, ends, sweep, look)?;
    let present = presences(part, &ball.outline);
    left_at_once(&present, frame + 1 - part.first).then_some((ball, frame))
}

/// A ball found in part of a window, an area inside its own.
fn laid_in(window: &Window, part: Area, (ball, frame): (BallFit, usize)) -> (BallFit, usize) {
    let (dx, dy) = (part.left - window.area.left, part.top - window.area.top);
    let centre = ball.outline.centre.moved(dx as f64, dy as f64);
    (BallFit { outline: BallOutline { centre, ..ball.outline }, ..ball }, frame)
}

/// Whether a ball may have been struck and not seen.
pub(crate) fn may_be_hidden(
    window: &Window,
    colours: &Colours,
    sweep: &Sweep,
    size: PictureSize,
) -> bool {
    let Sweep { foot, length, time, .. } = *sweep;
    let place = Place { foot, length, time };
    let zone = colours.tint.area;
    place.is_cut_off(size)
        || place.is_too_bright(window)
        || place.something_left(&colours.tint)
        || place.something_left(&colours.white.part(zone, |level| level))
        || place.something_left(&window.part(zone, |level| level))
        || place.something_left(&window.part(zone, |level| 255.0 - level))
}

/// What the club met, and when.
pub(crate) struct Met {
    pub kind: SwingKind,
    /// The ball that was struck, or one that lay there and was not.
    pub ball: Option<BallFit>,
    /// The ball lies so far from where the club passed that it may be another.
    pub is_astray: bool,
    pub time: Found<Seconds>,
    /// The last frame before.
    pub frame: usize,
}

/// Where only a ball that is gone at once counts, the club meets it within so many seconds of its
/// passing the upright; else a ball could leave while the club is swung back.
const AT_ONCE_S: f64 = 0.025;

/// The ball that leaves its place, and the last frame in which it lies there.
pub(crate) fn find_struck(
    window: &Window,
    ends: &[ShaftEnd],
    sweep: &Sweep,
    look: &Look,
) -> Option<(BallFit, usize)> {
    let leaves = |ball: BallFit| {
        let present = presences(window, &ball.outline);
        let gone = leaving(window, &present, sweep.time)?;
        let soon = AT_ONCE_S.max(1.5 * look.clock.pace.spacing_at(sweep.time));
        let counts = !look.at_once
            || left_in_one_picture(&present, gone)
                && (window.times[gone] - sweep.time).abs() < soon;
        counts.then_some((ball, window.first + gone - 1))
    };
    let Some(at) = look.given.and_then(|g| g.ball) else {
        return find_struck_ball(window, sweep, ends).and_then(leaves);
    };
    let at = look.motion.from_first(at);
    // A mark that slipped off the ball still means the ball beside it.
    let beside = || {
        let (left, top) = (window.area.left as f64, window.area.top as f64);
        let near = |ball: &BallFit| {
            ball.outline.centre.moved(left, top).distance(at) < ball.outline.diameter.0
        };
        find_struck_ball(window, sweep, ends).filter(near).and_then(leaves)
    };
    ball_at(window, at).and_then(leaves).or_else(beside)
}

/// A ball that leaves makes a strike of the swing.
pub(crate) fn find_met(
    window: &Window,
    struck: Option<(BallFit, usize)>,
    ends: &[ShaftEnd],
    sweep: &Sweep,
    look: &Look,
    size: PictureSize,
) -> Met {
    let strike = struck.as_ref().map(|(_, frame)| *frame);
    let ball = struck.map(|(ball, _)| (ball, false));
    let ball = ball.or_else(|| find_lying_ball(window, sweep, ends));
    let is_astray = ball.is_some_and(|(_, is_astray)| is_astray);
    let ball = ball.map(|(b, _)| moved(&b, window, look.motion));
    let kind = if strike.is_some() { SwingKind::Strike } else { SwingKind::Practice };
    let (time, frame) = match strike {
        Some(frame) => (strike_instant(frame, ball.as_ref(), look, size), frame),
        None => practice_instant(ends, sweep, look),
    };
    Met { kind, ball, is_astray, time, frame }
}

/// When the ball was first touched, between the given frame and the next: by the click, if one
/// fits, else the middle.
fn strike_instant(
    frame: usize,
    ball: Option<&BallFit>,
    look: &Look,
    size: PictureSize,
) -> Found<Seconds> {
    let clock = look.clock;
    let next = (frame + 1).min(clock.timeline.len() - 1);
    let from = clock.playback(clock.shown_since(frame));
    let to = clock.playback(clock.time(next));
    let (distance, doubt) = camera_distance(ball, look.hints, size);
    let travel = distance / SPEED_OF_SOUND;
    let heard = look.clicks.unwrap_or_default().iter().map(|c| c.time.0 - travel);
    let fitting = heard.filter(|t| (from..=to).contains(t)).min_by(|a, b| a.total_cmp(b));
    let uniform = (to - from) / 12.0_f64.sqrt();
    match fitting {
        Some(time) => {
            let sigma = (doubt / SPEED_OF_SOUND).hypot(0.001).min(uniform);
            Found { value: Seconds(time), sigma, confidence: 0.95 }
        }
        None => Found { value: Seconds((from + to) / 2.0), sigma: uniform, confidence: 0.95 },
    }
}

/// The camera's distance from the ball and its standard uncertainty, metres: as given, or from
/// the ball's size through a phone's usual lens, whose focal length is some 0.9 to 1.4 of the
/// picture's longer side (26 to 35 mm equivalent and the crop of video; common practice).
fn camera_distance(ball: Option<&BallFit>, hints: &Hints, size: PictureSize) -> (f64, f64) {
    if let Some(distance) = hints.camera_distance {
        return (distance.0 / 1000.0, 0.05 * distance.0 / 1000.0);
    }
    let focal = 1.15 * size.width.max(size.height) as f64;
    match ball {
        Some(b) => {
            let distance = focal * Millimetres::BALL.0 / 1000.0 / b.outline.diameter.0;
            (distance, 0.15 * distance)
        }
        None => (4.0, 1.0),
    }
}

/// The ball near a person's mark.
fn ball_at(window: &Window, at: ImagePoint) -> Option<BallFit> {
    let (x, y) = (at.x - window.area.left as f64, at.y - window.area.top as f64);
    [20.0, 12.0, 32.0, 50.0, 8.0]
        .into_iter()
        .filter_map(|diameter| fit_outline(&window.before, x, y, diameter))
        .filter(|fit| fit.seen > 0.5 && fit.outline.centre.distance(ImagePoint::new(x, y)) < 6.0)
        .max_by(|a, b| (a.seen - a.scatter).total_cmp(&(b.seen - b.scatter)))
}

/// The ball in the steadied picture.
fn moved(ball: &BallFit, window: &Window, motion: Motion) -> BallFit {
    let centre = ball.outline.centre.moved(window.area.left as f64, window.area.top as f64);
    let sigma = ball.sigma.hypot(motion.sigma_at(centre).0);
    let centre = motion.to_first(centre);
    BallFit { outline: BallOutline { centre, ..ball.outline }, sigma, ..*ball }
}

/// Ends of the shaft farther from where the whole of it points are no club's, in its lengths.
const STRAY: f64 = 0.15;

/// Where the lower end of the shaft is when the club stands as at address, in the window.
fn address_point(window: &Window, sweep: &Sweep, ends: &[ShaftEnd]) -> ImagePoint {
    let (dx, dy) = (window.area.left as f64, window.area.top as f64);
    let lean = |e: &ShaftEnd| (sweep.heading * e.line.angle - 0.14).abs();
    let nearest = ends.iter().min_by(|a, b| lean(a).total_cmp(&lean(b)));
    let parabola =
        (ends.len() >= 4).then(|| Parabola::through(ends.iter().map(|e| e.end))).flatten();
    // Ends of something else bend it away from where the whole shaft points.
    let bottom = parabola.map(|p| p.at(sweep.foot.x));
    let near = |y: &f64| (y - sweep.foot.y).abs() < STRAY * sweep.length;
    let y = match (bottom.filter(near), nearest) {
        (Some(y), _) => y,
        (None, Some(e)) if near(&e.end.y) => e.end.y.max(sweep.foot.y),
        _ => sweep.foot.y,
    };
    ImagePoint::new(sweep.foot.x - dx, y - dy)
}

/// The ball that lay before the strike and is gone after it, at the foot of the swing.
///
/// It is looked for in what has gone and in the picture before: a shadow's edge or the mark behind
/// a ball can leave half a disc of what has gone.
fn find_struck_ball(window: &Window, sweep: &Sweep, ends: &[ShaftEnd]) -> Option<BallFit> {
    let gone = Plane {
        data: window.before.data.iter().zip(&window.after.data).map(|(b, a)| b - a).collect(),
        ..window.before
    };
    let at = address_point(window, sweep, ends);
    let mut best: Option<(f64, BallFit)> = None;
    let Bright { spots: lying, light, .. } = bright_spots(&window.before)?;
    for spot in round_spots(&gone, light * LEAST_GONE).into_iter().chain(lying) {
        let (across, down) = ((spot.x - at.x) / sweep.length, (spot.y - at.y) / sweep.length);
        if across.abs() > 0.45 || !(-0.12..0.25).contains(&down) {
            continue;
        }
        let fit = fit_outline(&window.before, spot.x, spot.y, spot.diameter)
            .filter(|fit| fit.is_ball(light) && has_gone(&gone, fit, light));
        let Some(fit) = fit else { continue };
        let distance = (across / 0.2).powi(2) + ((down - 0.04) / 0.08).powi(2);
        let score = spot.peak * fit.seen * (-0.5 * distance).exp().max(0.02);
        if best.as_ref().is_none_or(|b| score > b.0) {
            best = Some((score, fit));
        }
    }
    best.map(|b| b.1)
}

/// Grey levels by which a ball stands out of what has gone, by day.
const LEAST_GONE: f32 = 30.0;

/// Whether the whole disc has darkened: the median of what has gone within it.
fn has_gone(gone: &Plane, fit: &BallFit, light: f32) -> bool {
    let BallOutline { centre, diameter, .. } = fit.outline;
    let reach = 0.4 * diameter.0;
    let mut levels = Vec::new();
    for y in 0..gone.height {
        for x in 0..gone.width {
            if (x as f64 - centre.x).hypot(y as f64 - centre.y) <= reach {
                levels.push(f64::from(gone.at(x, y)));
            }
        }
    }
    median(&mut levels).is_some_and(|level| level >= f64::from(light * LEAST_GONE) / 2.0)
}

/// A ball lying at the foot of the swing before and after; and whether it lies so far from there
/// that it may be another.
///
/// Where pictures are rare the club's end is seen far to either side of the ball, and one that is cut
/// off at the picture's edge leads away from it; so the place where it was seen lowest counts, too.
fn find_lying_ball(window: &Window, sweep: &Sweep, ends: &[ShaftEnd]) -> Option<(BallFit, bool)> {
    let at = address_point(window, sweep, ends);
    let feet = sweep.lines.iter().map(|l| l.line.point(l.foot, 0.0));
    let lowest = feet
        .max_by(|a, b| a.y.total_cmp(&b.y))
        .map_or(at.x, |foot| foot.x - window.area.left as f64);
    let middle = (at.x + lowest) / 2.0;
    let across = |x: f64| (x - middle).abs() / sweep.length;
    let Bright { spots, light, .. } = bright_spots(&window.before)?;
    let nearest = spots
        .into_iter()
        .filter(|spot| {
            let down = (spot.y - at.y) / sweep.length;
            across(spot.x) < 0.3 && (-0.03..0.14).contains(&down)
        })
        .filter_map(|spot| fit_outline(&window.before, spot.x, spot.y, spot.diameter))
        .filter(|fit| fit.seen > 0.7 && fit.scatter < 0.08)
        .filter(|fit| {
            let c = fit.outline.centre;
            fit_outline(&window.after, c.x, c.y, fit.outline.diameter.0)
                .is_some_and(|again| again.is_ball(light) && again.outline.centre.distance(c) < 2.0)
        })
        .map(|fit| (across(fit.outline.centre.x), fit))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    nearest.map(|(across, fit)| (fit, across > ASTRAY))
}

/// A ball farther than this from where the club passed may be another, in lengths of the shaft seen.
const ASTRAY: f64 = 0.2;

/// When the club passes the origin, or its lowest place, in a practice swing; and the last
/// frame before that.
fn practice_instant(ends: &[ShaftEnd], sweep: &Sweep, look: &Look) -> (Found<Seconds>, usize) {
    let clock = look.clock;
    let origin = look.given.and_then(|g| g.origin).or(look.hints.origin);
    let origin = origin.map(|o| look.motion.from_first(o));
    let passed = origin.and_then(|o| {
        let behind = |e: &ShaftEnd| sweep.heading * (e.end.x - o.x);
        ends.windows(2).find_map(|w| {
            let (a, b) = (behind(&w[0]), behind(&w[1]));
            (a <= 0.0 && b > 0.0).then(|| w[0].time + (w[1].time - w[0].time) * a / (a - b))
        })
    });
    let time = passed.unwrap_or(sweep.time);
    let value = Seconds(clock.playback(time));
    let sigma = 0.5 * clock.playback(clock.pace.spacing_at(time));
    (Found { value, sigma, confidence: 0.9 }, clock.frame_at(time))
}

#[cfg(test)]
mod tests {
    use super::super::colours::{cut_tint, ground_tint};
    use super::super::motion::LineSighting;
    use super::super::plane::HeldPlane;
    use super::super::shaft::Line;
    use super::*;
    use crate::domain::ColourFrame;

    /// A shadow over the upper half of the ground; `ball`: before it at the shadow's edge, its
    /// lower half darker.
    fn ground(ball: bool) -> Plane {
        let mut plane = Plane::filled(200, 160, 0.0);
        for y in 0..plane.height {
            for x in 0..plane.width {
                let inside = ball && (x as f64 - 100.0).hypot(y as f64 - 80.0) < 10.0;
                plane.data[y * plane.width + x] = match (inside, y < 80) {
                    (true, true) => 200.0,
                    (true, false) => 150.0,
                    (false, true) => 60.0,
                    (false, false) => 100.0,
                };
            }
        }
        plane.blurred(0.6)
    }

    fn window(before: Plane, after: Plane) -> Window {
        let area = Area { left: 0, top: 0, width: 200, height: 160 };
        Window {
            area,
            laid_on: None,
            first: 0,
            frames: Vec::new(),
            times: Vec::new(),
            before,
            after,
        }
    }

    fn sweep() -> Sweep {
        Sweep {
            time: 1.0,
            heading: 1.0,
            speed: 25.0,
            turned: 2.0,
            length: 150.0,
            foot: ImagePoint::new(95.0, 76.0),
            lines: Vec::new(),
        }
    }

    #[test]
    fn a_ball_before_a_shadows_edge_is_found() {
        let seen = window(ground(true), ground(false));
        let ball = find_struck_ball(&seen, &sweep(), &[]).expect("a ball");
        let off = ball.outline.centre.distance(ImagePoint::new(100.0, 80.0));
        assert!(off < 1.0, "{:?}", ball.outline);
    }

    #[test]
    fn a_ball_that_stays_was_not_struck() {
        let seen = window(ground(true), ground(true));
        assert!(find_struck_ball(&seen, &sweep(), &[]).is_none());
        assert!(find_lying_ball(&seen, &sweep(), &[]).is_some());
    }

    #[test]
    fn a_ball_far_from_where_the_club_passed_may_be_another() {
        let seen = window(ground(true), ground(true));
        let astray = |foot: f64, lowest: &[f64]| {
            let line = |&x: &f64| {
                let line = Line { angle: 0.0, offset: x };
                LineSighting { frame: 0, time: 1.0, line, top: 0.0, foot: 78.0 }
            };
            let lines = lowest.iter().map(line).collect();
            let sweep = Sweep { foot: ImagePoint::new(foot, 76.0), lines, ..sweep() };
            find_lying_ball(&seen, &sweep, &[]).map(|(_, is_astray)| is_astray)
        };
        assert_eq!(
            [95.0, 65.0, 50.0].map(|foot| astray(foot, &[])),
            [Some(false), Some(true), None]
        );
        // Where the club was seen lowest it passed nearer.
        assert_eq!(astray(65.0, &[110.0]), Some(false));
    }

    #[test]
    fn a_ball_that_has_gone_does_not_lie_there() {
        let seen = window(ground(true), ground(false));
        assert!(find_lying_ball(&seen, &sweep(), &[]).is_none());
    }

    /// Grass of 200 by 160 pixels; `ball`: an orange one on it, no brighter than the grass.
    fn grass(ball: bool) -> ColourFrame {
        let pixel = |x: usize, y: usize| {
            let inside = ball && (x as f64 - 100.0).hypot(y as f64 - 80.0) < 10.0;
            let patchy = (x * 37 % 9 + y * 53 % 7) as u8;
            let [r, g, b] = if inside { [176, 74, 20] } else { [83, 112, 54] };
            [r + patchy, g + patchy, b + patchy, 255]
        };
        let data = (0..200 * 160).flat_map(|i| pixel(i % 200, i / 200)).collect();
        ColourFrame { width: 200, height: 160, data }
    }

    /// Nine frames at 60 a second; the ball is in the first four, and fades out if it is `slow`.
    fn film(with: Plane, without: Plane, slow: bool) -> Window {
        let frame = |i: usize| {
            let left = if slow { 1.0 - i as f32 / 8.0 } else { f32::from(i < 4) };
            let mix = with.data.iter().zip(&without.data).map(|(w, o)| o + left * (w - o));
            HeldPlane::of(&Plane { data: mix.collect(), ..with })
        };
        let frames = (0..9).map(frame).collect();
        let times = (0..9).map(|i| 1.0 + (f64::from(i) - 3.5) / 60.0).collect();
        Window { frames, times, ..window(with, without) }
    }

    #[test]
    fn an_orange_ball_is_found_by_its_colour() {
        let area = Area { left: 0, top: 0, width: 200, height: 160 };
        let ground = ground_tint(&grass(true), area);
        let [with, without] =
            [true, false].map(|ball| cut_tint(&grass(ball), area, ground).plane());
        let luma = |ball: bool| {
            let own = grass(ball);
            let grey = |p: &[u8]| 0.213 * p[0] as f32 + 0.715 * p[1] as f32 + 0.072 * p[2] as f32;
            Plane { width: 200, height: 160, data: own.data.chunks_exact(4).map(grey).collect() }
        };
        let seen = film(luma(true), luma(false), false);
        assert!(find_struck_ball(&seen, &sweep(), &[]).is_none());
        let tint = film(with, without, false);
        let ball = find_struck_ball(&tint, &sweep(), &[]).expect("a ball");
        let off = ball.outline.centre.distance(ImagePoint::new(100.0, 80.0));
        assert!(off < 1.0, "{:?}", ball.outline);
        let present = presences(&tint, &ball.outline);
        assert_eq!(leaving(&tint, &present, sweep().time), Some(4));
    }

    #[test]
    fn what_is_gone_at_once_leaves_a_practice_swing_in_doubt() {
        // Too faint to be taken for a ball.
        let faint = |ball: bool| {
            let mut plane = ground(false);
            let inside = |i: usize| (i % 200) as f64 - 100.0;
            for (i, v) in plane.data.iter_mut().enumerate() {
                let near = inside(i).hypot((i / 200) as f64 - 95.0) < 5.0;
                *v += if ball && near { 32.0 } else { 0.0 };
            }
            plane
        };
        let place = Place { foot: sweep().foot, length: 150.0, time: 1.0 };
        let seen = |slow: bool| film(faint(true), faint(false), slow);
        assert!(place.something_left(&seen(false)));
        assert!(!place.something_left(&seen(true)));
        assert!(!place.something_left(&film(faint(false), faint(false), false)));
    }

    #[test]
    fn a_ball_could_hide_on_glaring_ground_and_beyond_the_edge() {
        let place = Place { foot: sweep().foot, length: 150.0, time: 1.0 };
        let glaring = Plane::filled(200, 160, 225.0);
        assert!(place.is_too_bright(&window(glaring.clone(), glaring)));
        assert!(!place.is_too_bright(&window(ground(false), ground(false))));
        let size = |height| PictureSize { width: 200, height };
        assert!(!place.is_cut_off(size(160)) && place.is_cut_off(size(80)));
    }
}
