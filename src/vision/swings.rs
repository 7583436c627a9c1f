//! Swings among the club-like lines: a shaft that sweeps fast through the upright.

use super::motion::LineSighting;
use super::pace::Pace;
use crate::domain::ImagePoint;

/// A fast sweep of the shaft through the upright.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Sweep {
    /// When the shaft stands as at address, capture time in seconds; good to about half a
    /// frame.
    pub time: f64,
    /// +1 when the club goes to the right of the picture, -1 to the left.
    pub heading: f64,
    /// Turning speed at the bottom, radians a second.
    pub speed: f64,
    /// How far the shaft was seen to turn, radians.
    pub turned: f64,
    /// Its longest visible length, pixels.
    pub length: f64,
    /// Where the lower end of the shaft passes at `time`.
    pub foot: ImagePoint,
    /// The sightings it is made of, in order of time.
    pub lines: Vec<LineSighting>,
}

/// A chip turns the club at some 8 rad/s, a full swing at 20 to 35, a waggle or a takeaway
/// through the ball at less than 5 (head speed over club length; common practice, no source).
const SLOWEST: f64 = 7.0;
const SLOWEST_STEP: f64 = 3.5;
const FASTEST_STEP: f64 = 45.0;
/// Between neighbouring sightings the shaft turns less than this, even at 25 frames a second.
const WIDEST_STEP: f64 = 1.45;
const LEAST_TURN: f64 = 0.6;
/// From so near that the club comes in at one side of the picture and is nearly out at the other in
/// the next, two pictures count at any rate, and so much of a turn: its end moves by this part of the
/// picture's width from one to the next, which nothing else does.
const ACROSS: f64 = 0.5;
const TURN_ACROSS: f64 = 0.4;
/// A run of three sightings or more may begin so far past the upright (radians), if it is at least
/// so fast there (radians a second).
const MOST_PAST: f64 = 0.4;
const FAST_PAST: f64 = 15.0;
/// The same, radians, for a club that is seen twice and goes across the picture in between.
const MOST_PAST_ACROSS: f64 = 0.5;
/// Pictures farther apart than this show a full swing near the ground but two or three times.
pub(crate) const RARE_S: f64 = 0.025;
/// Hands lead the head: the shaft leans by about this much when the ball is struck.
const LEAN_AT_STRIKE: f64 = 0.14;
/// Two strikes of one golfer are farther apart than this.
pub(crate) const APART_S: f64 = 1.2;
/// The club passes the ground about where it does in the plainest swing; a person who walks to
/// the next ball swings an arm or a club higher up. In lengths of that swing's club.
const GROUND: f64 = 0.3;
/// The same where there are but two sightings, one of them so near the upright (radians) that the
/// club's end is known there to a twentieth of its length.
const GROUND_OF_TWO: f64 = 0.2;
const NEAR_UPRIGHT: f64 = 0.3;
/// A golfer farther back shows a club less than this share of the nearest one's length.
const BACKGROUND: f64 = 0.55;

/// A line that ends within so many pixels of the picture's edge is cut off by it; what lies above
/// the upper edge is at most so many times as long as what is seen of it.
const AT_EDGE: f64 = 6.0;
const MOST_HIDDEN: f64 = 4.0;

/// The swings among `seen` (in order of time) in a picture `width` pixels wide, in order of time.
pub(crate) fn find_sweeps(seen: &[LineSighting], pace: &Pace, width: usize) -> Vec<Sweep> {
    let mut sweeps: Vec<Sweep> = [-1.0, 1.0]
        .into_iter()
        .flat_map(|heading| chains(seen, pace, width as f64, heading))
        .filter(|(_, lines)| are_enough(lines, pace, width as f64))
        .filter_map(|(heading, lines)| sweep_of(lines, heading, width as f64))
        .collect();
    sweeps.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
    let plainest = sweeps.first().map_or((0.0, 0.0), |plainest| (plainest.foot.y, plainest.length));
    let longest = sweeps.iter().map(|s| s.length).fold(0.0, f64::max);
    let mut kept: Vec<Sweep> = Vec::new();
    for sweep in sweeps {
        let alone = kept.iter().all(|k| (k.time - sweep.time).abs() > APART_S);
        let ground = plainest.0 - height_over_ground(&sweep) * plainest.1;
        if alone && sweep.length > BACKGROUND * longest && sweep.foot.y > ground {
            kept.push(sweep);
        }
    }
    kept.sort_by(|a, b| a.time.total_cmp(&b.time));
    kept
}

/// Two sightings count only where pictures are rare, a full swing turning by one radian between
/// them at 25 a second, or where the club is as good as across it, and only in neighbouring pictures:
/// between others the club should have been seen once more, where it is easiest to see.
fn are_enough(lines: &[LineSighting], pace: &Pace, width: f64) -> bool {
    let number = |s: &LineSighting| pace.picture_in(s.frame);
    let is_rare = |a: &LineSighting| pace.spacing_at(a.time) > RARE_S;
    match lines {
        [a, b] => number(b) == number(a) + 1 && (is_rare(a) || is_across(lines, width)),
        _ => lines.len() > 2,
    }
}

/// Whether two sightings show a club at the picture's side, where it is cut off, and far from there.
fn is_across(lines: &[LineSighting], width: f64) -> bool {
    let [a, b] = lines else { return false };
    let shorter = if a.length() < b.length() { a } else { b };
    is_at_side(shorter, width) && (foot(b).x - foot(a).x).abs() > ACROSS * width
}

/// The lower end of what is seen.
fn foot(s: &LineSighting) -> ImagePoint {
    s.line.point(s.foot, 0.0)
}

/// Whether the picture's side cuts off the club.
fn is_at_side(s: &LineSighting, width: f64) -> bool {
    !(AT_EDGE..width - AT_EDGE).contains(&foot(s).x)
}

/// How high over the plainest swing's ground a sweep may pass, in lengths of that swing's club.
fn height_over_ground(sweep: &Sweep) -> f64 {
    let lean = |s: &LineSighting| (sweep.heading * s.line.angle - LEAN_AT_STRIKE).abs();
    let upright = sweep.lines.iter().any(|s| lean(s) < NEAR_UPRIGHT);
    if sweep.lines.len() == 2 && upright { GROUND_OF_TWO } else { GROUND }
}

/// How much there is to a sweep: what was seen of it, and more for a fast one.
fn rank(sweep: &Sweep) -> f64 {
    sweep.speed.min(25.0) * sweep.lines.iter().map(LineSighting::length).sum::<f64>()
}

/// Runs of sightings that turn steadily one way, each sighting in one run at most: longest
/// paths through the sightings in order of time. What lies flat, as shadows do, counts for little.
fn chains(
    seen: &[LineSighting],
    pace: &Pace,
    width: f64,
    heading: f64,
) -> Vec<(f64, Vec<LineSighting>)> {
    let mut best: Vec<(f64, Option<usize>)> = Vec::with_capacity(seen.len());
    let reach: Vec<f64> = seen.iter().map(|s| (2.6 * pace.spacing_at(s.time)).max(0.02)).collect();
    for (i, now) in seen.iter().enumerate() {
        let mut here = (now.height(), None);
        for j in (0..i).rev() {
            let apart = now.time - seen[j].time;
            if apart > reach[i] {
                break;
            }
            // Where nothing moves pictures count as copies, and seem rare from there on.
            if apart <= reach[j]
                && follows(&seen[j], now, width, heading)
                && best[j].0 + now.height() > here.0
            {
                here = (best[j].0 + now.height(), Some(j));
            }
        }
        best.push(here);
    }
    let mut order: Vec<usize> = (0..seen.len()).collect();
    order.sort_by(|&a, &b| best[b].0.total_cmp(&best[a].0));
    let mut used = vec![false; seen.len()];
    let mut out = Vec::new();
    for last in order {
        let mut path = Vec::new();
        let mut at = Some(last);
        while let Some(i) = at.filter(|&i| !used[i]) {
            used[i] = true;
            path.push(seen[i]);
            at = best[i].1;
        }
        if path.len() >= 2 {
            path.reverse();
            out.push((heading, path));
        }
    }
    out
}

/// Whether `next` can be the same club as `last` in a swing toward `heading`.
fn follows(last: &LineSighting, next: &LineSighting, width: f64, heading: f64) -> bool {
    let turn = -heading * (next.line.angle - last.line.angle);
    let rate = turn / (next.time - last.time);
    let ratio = next.length() / last.length();
    // From very near, the next picture shows but the last of a club that goes out at the side.
    let shorter = if ratio < 1.0 { next } else { last };
    turn < WIDEST_STEP
        && (SLOWEST_STEP..FASTEST_STEP).contains(&rate)
        && heading * (foot(next).x - foot(last).x) > 0.0
        && (is_at_side(shorter, width) || (0.3..3.3).contains(&ratio))
}

/// The club turns about a point near its upper end: the head is below the hands, as it is at
/// the strike and not half way up. From so near that the hands are above the picture, so is that
/// point, and how far is not seen.
fn head_is_below(a: &LineSighting, b: &LineSighting) -> bool {
    let Some(pivot) = a.line.crossing(&b.line) else { return false };
    let below = |l: &LineSighting| {
        let pivot = l.line.along(pivot.x, pivot.y);
        let is_cut_off = l.line.point(l.top, 0.0).y < AT_EDGE && pivot < l.top;
        match is_cut_off {
            true => l.top - pivot < MOST_HIDDEN * l.length(),
            false => l.foot - pivot > 1.5 * (pivot - l.top).abs(),
        }
    };
    below(a) || below(b)
}

/// When a run passes the ground that begins a little past the upright, as a share of the time to its
/// second sighting, if it may.
///
/// Before the first either the club was hidden, or a rolling shutter bent it so that it looks past the
/// upright too soon, and its shadow was the straighter line. Its lower end tells: it is lowest where it
/// passes, by a parabola through three of them. Of a club that is across the picture in two, it passes
/// the middle between them.
fn passing_of_late(lines: &[LineSighting], heading: f64, width: f64) -> Option<f64> {
    let [a, b, ..] = lines else { return None };
    let past = LEAN_AT_STRIKE - heading * a.line.angle;
    let turn = heading * (a.line.angle - b.line.angle);
    let (share, most) = match lines {
        [_, _, c, ..] => (lowest_end(a, b, c)?, MOST_PAST),
        _ => (middle_between(lines, width)?, MOST_PAST_ACROSS),
    };
    let is_late = (0.0..most).contains(&past) && turn > FAST_PAST * (b.time - a.time);
    is_late.then_some(share)
}

/// When the lower end is lowest, as a share of the time from `a` to `b`, if that is within one such
/// time of `a`.
fn lowest_end(a: &LineSighting, b: &LineSighting, c: &LineSighting) -> Option<f64> {
    let fall = |a: &LineSighting, b: &LineSighting| (foot(b).y - foot(a).y) / (b.time - a.time);
    let bend = (fall(b, c) - fall(a, b)) / (c.time - a.time);
    let share = 0.5 - fall(a, b) / (2.0 * bend * (b.time - a.time));
    (bend < 0.0 && (-1.0..1.0).contains(&share)).then_some(share)
}

/// When the lower end passes the picture's middle, as a share of the time between two sightings, if
/// they show the club on one side of it and across from there.
fn middle_between(lines: &[LineSighting], width: f64) -> Option<f64> {
    let [a, b] = lines else { return None };
    let share = (width / 2.0 - foot(a).x) / (foot(b).x - foot(a).x);
    (is_across(lines, width) && (0.0..1.0).contains(&share)).then_some(share)
}

/// The sweep that a run of sightings makes, if it passes the upright fast and far enough.
fn sweep_of(lines: Vec<LineSighting>, heading: f64, width: f64) -> Option<Sweep> {
    // The lean counted so that it falls through zero at the strike.
    let lean = |s: &LineSighting| heading * s.line.angle - LEAN_AT_STRIKE;
    let turned = lean(&lines[0]) - lean(&lines[lines.len() - 1]);
    let crossing = lines.windows(2).position(|w| lean(&w[0]) > 0.0 && lean(&w[1]) <= 0.0);
    let (crossing, late) = match crossing {
        Some(crossing) => (crossing, None),
        None => (0, Some(passing_of_late(&lines, heading, width)?)),
    };
    let (a, b) = (&lines[crossing], &lines[crossing + 1]);
    if !head_is_below(a, b) {
        return None;
    }
    let share = late.unwrap_or_else(|| lean(a) / (lean(a) - lean(b)));
    let time = a.time + share * (b.time - a.time);
    // Over a few steps around the crossing, so that one bad line does not make a swing.
    let from = crossing.saturating_sub(1);
    let to = (crossing + 2).min(lines.len() - 1);
    let speed = (lean(&lines[from]) - lean(&lines[to])) / (lines[to].time - lines[from].time);
    let length = lines.iter().map(LineSighting::length).fold(0.0, f64::max);
    let (fa, fb) = (foot(a), foot(b));
    let least_turn = if is_across(&lines, width) { TURN_ACROSS } else { LEAST_TURN };
    let foot = ImagePoint::new(
        fa.x + share * (fb.x - fa.x),
        // A club that is cut off or half hidden ends too high, never too low.
        lines.iter().map(|s| foot(s).y).fold(fa.y.max(fb.y), f64::max),
    );
    (turned >= least_turn && speed >= SLOWEST).then_some(Sweep {
        time,
        heading,
        speed,
        turned,
        length,
        foot,
        lines,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vision::shaft::Line;

    const SPACING: f64 = 1.0 / 120.0;
    const WIDTH: usize = 1280;

    fn pace() -> Pace {
        Pace::even(SPACING, 600)
    }

    /// A club of 450 pixels hanging from (640, 150), swung so that its lean in the picture is
    /// `lean(time)`, seen 20 frames either side of time 1.
    fn club(lean: impl Fn(f64) -> f64) -> Vec<LineSighting> {
        (100..=140)
            .map(|frame| (frame, f64::from(frame) * SPACING))
            .map(|(frame, time)| {
                let angle = lean(time);
                let line = Line { angle, offset: 640.0 * angle.cos() + 150.0 * angle.sin() };
                let top = line.along(640.0, 150.0);
                LineSighting { frame: frame as usize, time, line, top, foot: top + 450.0 }
            })
            .filter(|s| s.line.angle.abs() < 1.3)
            .collect()
    }

    #[test]
    fn a_full_swing_either_way_is_a_swing() {
        for heading in [1.0, -1.0] {
            let seen = club(|t| heading * (LEAN_AT_STRIKE - 25.0 * (t - 1.0)));
            let sweeps = find_sweeps(&seen, &pace(), WIDTH);
            assert_eq!(sweeps.len(), 1);
            assert_eq!(sweeps[0].heading, heading);
            assert!((sweeps[0].time - 1.0).abs() < 0.002, "{}", sweeps[0].time);
            assert!((sweeps[0].speed - 25.0).abs() < 1.0);
        }
    }

    #[test]
    fn a_waggle_is_none() {
        let waggle = |t: f64| 0.25 * (std::f64::consts::TAU * 2.0 * t).sin();
        assert!(find_sweeps(&club(waggle), &pace(), WIDTH).is_empty());
    }

    #[test]
    fn a_shaft_above_the_hands_is_none() {
        // Half way up, the lower end of what is seen is the hands: it turns about a point below.
        let mut seen = club(|t| -25.0 * (t - 1.0));
        for s in &mut seen {
            s.top = s.line.along(640.0, 150.0) - 450.0;
            s.foot = s.top + 400.0;
        }
        assert!(find_sweeps(&seen, &pace(), WIDTH).is_empty());
    }

    #[test]
    fn a_club_of_which_the_foot_alone_is_in_the_picture_swings() {
        // It hangs from 2.4 times as far above the picture as is seen of it.
        let seen = |edge: f64| {
            let mut seen = club(|t| LEAN_AT_STRIKE - 25.0 * (t - 1.0));
            for s in &mut seen {
                let hidden = 850.0 / s.line.angle.cos();
                let line = Line { offset: s.line.offset - 1000.0 * s.line.angle.sin(), ..s.line };
                let at = line.along(640.0, -850.0);
                let top = at + hidden + edge;
                *s = LineSighting { line, top, foot: at + 1200.0, ..*s };
            }
            seen.retain(|s| s.length() > 50.0);
            find_sweeps(&seen, &pace(), WIDTH).len()
        };
        assert_eq!(seen(0.0), 1);
        // Where its upper end is in the picture it does not turn about a point near that.
        assert_eq!(seen(60.0), 0);
    }

    #[test]
    fn a_club_that_goes_out_at_the_side_swings_with_what_is_left_of_it() {
        // From very near at 60 a second: two pictures near the upright, and of the third a fifth.
        let swings = |width: usize| {
            let mut seen = club(|t| LEAN_AT_STRIKE + 0.2 - 24.0 * (t - 1.0));
            seen.retain(|s| [118, 120, 122].contains(&s.frame));
            seen[2].foot = seen[2].top + 90.0;
            for (k, s) in seen.iter_mut().enumerate() {
                s.frame = 60 + k;
            }
            find_sweeps(&seen, &Pace::even(1.0 / 60.0, 300), width).len()
        };
        let out = 640.0 + 90.0 * f64::sin(24.0 / 60.0 - LEAN_AT_STRIKE - 0.2);
        assert_eq!(swings(out as usize), 1);
        assert_eq!(swings(WIDTH), 0);
    }

    #[test]
    fn a_club_that_crosses_the_picture_at_once_swings() {
        // From very near at 60 a second, hanging from far above a picture 720 pixels wide: at its left
        // side, which cuts it off, and in the next one right of its middle.
        let sightings = |first: f64, gap: usize| {
            let sighting = |k: usize, angle: f64, from: f64, to: f64| {
                let line = Line { angle, offset: 360.0 * angle.cos() - 600.0 * angle.sin() };
                let at = |y: f64| line.along(360.0 - angle.tan() * (y + 600.0), y);
                let time = 1.0 + k as f64 / 60.0;
                LineSighting { frame: 60 + k, time, line, top: at(from), foot: at(to) }
            };
            let later = sighting(21, -1.3, 0.0, 200.0);
            [sighting(0, 0.353, 100.0, first), sighting(gap, -0.103, 0.0, 1050.0), later]
        };
        let pace = Pace::even(1.0 / 60.0, 300);
        let swings = |first, gap| find_sweeps(&sightings(first, gap)[..2], &pace, 720).len();
        assert_eq!(swings(371.0, 1), 1);
        assert_eq!(swings(330.0, 1), 0, "it is whole in the picture there");
        assert_eq!(swings(371.0, 2), 0, "between them it should have been seen");
        // Once it is out nothing moves, so pictures count as copies; what moves then is another thing.
        let mut pace = Pace::even(1.0 / 60.0, 64);
        (81..300).for_each(|i| pace.push(i, i as f64 / 60.0));
        assert_eq!(find_sweeps(&sightings(371.0, 1), &pace, 720).len(), 1);
    }

    #[test]
    fn a_club_seen_from_just_past_the_upright_swings() {
        // At 60 a second, the first of them 0.27 past the upright.
        let swings = |speed: f64, past: f64, sightings: usize| {
            let mut seen = club(|t| LEAN_AT_STRIKE - past - speed * (t - 1.0));
            seen.retain(|s| s.frame >= 120 && s.frame % 2 == 0);
            seen.truncate(sightings);
            seen.iter_mut().for_each(|s| s.frame /= 2);
            find_sweeps(&seen, &Pace::even(1.0 / 60.0, 300), WIDTH)
        };
        let found = swings(24.0, 0.27, 4);
        assert_eq!(found.len(), 1);
        // It hangs straight down, where it is lowest, 0.14 rad later than it leans as at a strike.
        let lowest = 1.0 - (0.27 - LEAN_AT_STRIKE) / 24.0;
        assert!((found[0].time - lowest).abs() < 0.003, "{}", found[0].time);
        assert!(swings(24.0, 0.45, 4).is_empty(), "it should have been seen before");
        assert!(swings(14.0, 0.2, 4).is_empty(), "it is slow");
        assert!(swings(24.0, 0.27, 2).is_empty(), "two are too few");
    }

    #[test]
    fn a_club_that_is_past_the_upright_in_both_pictures_it_crosses_swings() {
        // From very near at 60 a second, in a picture 960 pixels wide: a shutter bends it past the
        // upright at the left side, and in the next picture it goes out at the right.
        let sighting = |k: usize, angle: f64, (x, y): (f64, f64), length: f64| {
            let line = Line { angle, offset: x * angle.cos() + y * angle.sin() };
            let (time, foot) = (1.0 + k as f64 / 60.0, line.along(x, y));
            LineSighting { frame: 60 + k, time, line, top: foot - length, foot }
        };
        let find = |seen: &[LineSighting]| find_sweeps(seen, &Pace::even(1.0 / 60.0, 300), 960);
        let pair = |lean: f64, left: f64, right: f64| {
            let (a, b) = ((left, 440.0), (right, 250.0));
            [sighting(0, lean, a, 445.0), sighting(1, -0.947, b, 390.0)]
        };
        let swings = |lean, left, right| find(&pair(lean, left, right));
        let found = swings(-0.3, 145.0, 958.0);
        let middle = 1.0 + (480.0 - 145.0) / (958.0 - 145.0) / 60.0;
        assert!((found[0].time - middle).abs() < 1e-9 && found[0].heading == 1.0);
        assert!(swings(-0.45, 145.0, 958.0).is_empty(), "it should have been seen before");
        assert!(swings(-0.3, 545.0, 958.0).is_empty(), "it is not across the picture");
        assert!(swings(-0.3, 145.0, 940.0).is_empty(), "it is whole in both");
        // The arms' shadows afterwards lie flat, and are together longer than the club.
        let shadows = [(2, -1.355, (770.0, 75.0), 156.0), (3, -1.42, (913.0, 66.0), 242.0)];
        let mut seen = pair(-0.3, 145.0, 958.0).to_vec();
        seen.extend(shadows.map(|(k, angle, end, length)| sighting(k, angle, end, length)));
        assert_eq!(find(&seen).len(), 1);
    }

    #[test]
    fn a_club_that_the_shutter_bends_past_the_upright_is_still_before_the_ball() {
        // It hangs from above the picture, and the end is reached 10 ms after the top: it looks 0.2
        // past the upright while its end comes down yet.
        let mut seen = club(|t| LEAN_AT_STRIKE - 0.2 - 24.0 * (t - 1.0));
        seen.retain(|s| s.frame >= 120 && s.frame % 2 == 0);
        for (s, (x, y)) in seen.iter_mut().zip([(290.0, 427.0), (649.0, 408.0), (916.0, 291.0)]) {
            s.frame /= 2;
            let across = s.line.across(x, y);
            s.line.offset += across;
            s.foot = s.line.along(x, y);
            s.top = s.foot - 330.0;
        }
        seen.truncate(3);
        let found = find_sweeps(&seen, &Pace::even(1.0 / 60.0, 300), WIDTH);
        assert!(
            (1.002..1.008).contains(&found[0].time) && (350.0..450.0).contains(&found[0].foot.x)
        );
    }

    #[test]
    fn one_strange_line_does_not_hide_a_swing() {
        let mut seen = club(|t| LEAN_AT_STRIKE - 25.0 * (t - 1.0));
        let at = seen.iter().position(|s| s.time >= 1.0).unwrap();
        seen[at].line.angle = 1.2;
        assert_eq!(find_sweeps(&seen, &pace(), WIDTH).len(), 1);
    }

    #[test]
    fn two_sightings_with_a_gap_between_them_are_no_swing() {
        // 24 radians a second at 30 frames a second; with a gap it is half as fast.
        let mut seen = club(|t| LEAN_AT_STRIKE + 0.4 - 0.8 * (t - 1.0) / SPACING);
        seen.retain(|s| s.line.angle.abs() < 0.8);
        let swings = |gap: usize| {
            for (k, s) in seen.iter_mut().enumerate() {
                s.frame = 30 + k * gap;
                s.time = s.frame as f64 / 30.0;
            }
            find_sweeps(&seen, &Pace::even(1.0 / 30.0, 60), WIDTH).len()
        };
        assert_eq!([1, 2].map(swings), [1, 0]);
    }

    #[test]
    fn copies_between_two_sightings_are_no_gap() {
        // The same two sightings, each picture shown twice at 60 frames a second.
        let mut seen = club(|t| LEAN_AT_STRIKE + 0.4 - 0.8 * (t - 1.0) / SPACING);
        seen.retain(|s| s.line.angle.abs() < 0.8);
        let mut pace = Pace::default();
        (0..60).for_each(|i| pace.push(2 * i, i as f64 / 30.0));
        for (k, s) in seen.iter_mut().enumerate() {
            s.frame = 60 + 2 * k;
            s.time = s.frame as f64 / 60.0;
        }
        assert_eq!(find_sweeps(&seen, &pace, WIDTH).len(), 1);
        assert!(find_sweeps(&seen, &Pace::even(1.0 / 60.0, 120), WIDTH).is_empty());
    }

    #[test]
    fn a_sweep_high_over_the_ground_is_left_out() {
        let mut seen = club(|t| LEAN_AT_STRIKE - 25.0 * (t - 1.0));
        let mut high = club(|t| LEAN_AT_STRIKE - 25.0 * (t - 1.0));
        for s in &mut high {
            s.time += 3.0;
            s.frame += 360;
            s.top -= 100.0;
            s.foot -= 180.0;
        }
        seen.extend(high);
        assert_eq!(find_sweeps(&seen, &pace(), WIDTH).len(), 1);
    }

    #[test]
    fn a_smaller_club_farther_back_is_left_out() {
        let mut seen = club(|t| LEAN_AT_STRIKE - 25.0 * (t - 1.0));
        let mut far = club(|t| LEAN_AT_STRIKE - 25.0 * (t - 1.0));
        for s in &mut far {
            s.time += 3.0;
            s.frame += 360;
            s.foot = s.top + 150.0;
        }
        seen.extend(far);
        assert_eq!(find_sweeps(&seen, &pace(), WIDTH).len(), 1);
    }
}
