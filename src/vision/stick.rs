//! A stick lying on the ground along the picture: proposed as a reference object.
//!
//! Only where it lies is found; how long it is a person says.

use super::plane::{Plane, median};
use super::references::through;
use super::runs::longest_stretch;
use crate::domain::{ColourFrame, Found, ImagePoint};

/// A thin bright thing on the ground: its two ends, the left one first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoundStick {
    /// On its middle line.
    pub ends: [ImagePoint; 2],
}

/// It stands out of the ground on both its sides by this many levels of red.
const LEAST_RIDGE: f64 = 25.0;
/// Steeper in the picture than this it does not lie along the target line of a face-on camera.
const STEEPEST: f64 = 0.12;
const SLOPES: i32 = 24;
/// Half the greatest thickness, as a part of the long side: a stick some 10 mm thick, 2 m away.
const REACH: f64 = 0.007;
/// Its length as a part of the long side: one of 1.2 m seen from 2 to 6 m.
const SHORTEST: f64 = 0.2;
const LONGEST: f64 = 0.85;
/// Shaft, ball or blades may hide so much of it at a time, as a part of the long side.
const HIDDEN: f64 = 0.03;
/// How far a stick's end lies from where its light falls half way, pixels, standard: blades stand
/// before it and ends are rounded.
const END_PX: f64 = 0.9;

/// The stick in a frame, `sigma` being that of each end's coordinates in pixels; `None` if there is
/// none that is plainly one.
///
/// `frame`: any frame in which its ends are free. Ridges, places brighter than what lies above and
/// below them, vote for straight lines; the longest unbroken stretch of a line that stands out
/// evenly and really ends at both its ends is a stick.
///
/// Red alone is looked at: white, yellow, orange and red sticks are bright in it, grass and most
/// mats are dark, while dry blades and lines in the turf differ mostly in green.
pub fn find_stick(frame: &ColourFrame) -> Option<Found<FoundStick>> {
    let red = frame.data.chunks_exact(4).map(|c| f32::from(c[0])).collect();
    let plane = Plane { width: frame.width, height: frame.height, data: red }.blurred(0.7);
    let longer = plane.width.max(plane.height) as f64;
    let reach = (REACH * longer).round().max(4.0) as usize;
    let mut ridges = ridges(&plane, reach);
    for _ in 0..4 {
        let line = strongest_line(&plane, &ridges, SHORTEST * longer)?;
        if let Some(stick) = stick(&plane, &ridges, line, reach as f64, longer) {
            return Some(stick);
        }
        ridges.retain(|p| off(p, line).abs() > 2.0 * reach as f64);
    }
    None
}

/// Offset at the picture's left side and slope.
type Line = (f64, f64);

fn off(p: &(f64, f64), line: Line) -> f64 {
    p.1 - line.0 - line.1 * p.0
}

/// Places between pixels where the picture's lower part is brighter than above and below.
fn ridges(plane: &Plane, reach: usize) -> Vec<(f64, f64)> {
    let mut places = Vec::new();
    for y in (2 * plane.height / 5).max(reach)..plane.height.saturating_sub(reach) {
        for x in 0..plane.width {
            let [above, here, below] = [y - 1, y, y + 1].map(|y| f64::from(plane.at(x, y)));
            let sides = plane.at(x, y - reach).max(plane.at(x, y + reach));
            if here >= above && here > below && here - f64::from(sides) > LEAST_RIDGE {
                let bend = above - 2.0 * here + below;
                places.push((x as f64, y as f64 + 0.5 * (above - below) / bend));
            }
        }
    }
    places
}

/// The line that most ridges lie on; `None` if fewer than half of `least` do.
fn strongest_line(plane: &Plane, ridges: &[(f64, f64)], least: f64) -> Option<Line> {
    let mut best = (0, (0.0, 0.0));
    let margin = (STEEPEST * plane.width as f64).ceil();
    let mut votes = vec![0_u32; plane.height + 2 * margin as usize + 2];
    for k in -SLOPES..=SLOPES {
        let slope = STEEPEST * f64::from(k) / f64::from(SLOPES);
        votes.fill(0);
        for (x, y) in ridges {
            votes[(y - slope * x + margin) as usize] += 1;
        }
        for (i, pair) in votes.windows(2).enumerate() {
            if pair[0] + pair[1] > best.0 {
                best = (pair[0] + pair[1], (i as f64 + 1.0 - margin, slope));
            }
        }
    }
    (f64::from(best.0) > least / 2.0).then_some(best.1)
}

/// How far a line stands out along the picture's columns.
struct Profile {
    /// Above the brighter of both sides.
    contrast: Vec<f64>,
    /// What lies above it less what lies below.
    sides: Vec<f64>,
}

fn profile(plane: &Plane, line: Line, reach: f64) -> Profile {
    let read = |x: f64, dy: f64| plane.sample(x, line.0 + line.1 * x + dy).map(f64::from);
    let (mut contrast, mut sides) = (Vec::new(), Vec::new());
    for x in 0..plane.width {
        let x = x as f64;
        let middle = [-0.7, 0.0, 0.7].map(|dy| read(x, dy));
        match (middle, read(x, -reach), read(x, reach)) {
            ([Some(a), Some(b), Some(c)], Some(above), Some(below)) => {
                contrast.push((a + b + c) / 3.0 - above.max(below));
                sides.push(above - below);
            }
            _ => {
                contrast.push(0.0);
                sides.push(0.0);
            }
        }
    }
    Profile { contrast, sides }
}

/// The stick on a line, if there is one.
fn stick(
    plane: &Plane,
    ridges: &[(f64, f64)],
    rough: Line,
    reach: f64,
    longer: f64,
) -> Option<Found<FoundStick>> {
    let seen = profile(plane, rough, reach);
    let (from, to) = standing_out(&seen.contrast, LEAST_RIDGE / 2.0, HIDDEN * longer)?;
    let mut places: Vec<(f64, f64)> = ridges
        .iter()
        .filter(|p| (from as f64..=to as f64).contains(&p.0) && off(p, rough).abs() < 3.0)
        .copied()
        .collect();
    let line = straight(&mut places)?;
    let seen = profile(plane, line, reach);
    let (from, to) = standing_out(&seen.contrast, LEAST_RIDGE / 2.0, HIDDEN * longer)?;
    // Light and ground change along a stick; its ends are told by the level near them.
    let least = median(&mut seen.contrast[from..=to].to_vec())? / 4.0;
    let (from, to) = standing_out(&seen.contrast, least, HIDDEN * longer)?;
    let length = (to - from) as f64;
    if !(SHORTEST * longer..LONGEST * longer).contains(&length) {
        return None;
    }
    let mut inside = seen.contrast[from..=to].to_vec();
    let filled = inside.iter().filter(|&&c| c > least).count() as f64 / length;
    let level = median(&mut inside)?;
    let uneven = median(&mut inside.iter().map(|c| (c - level).abs()).collect::<Vec<_>>())?;
    let step = median(&mut seen.sides[from..=to].to_vec())?.abs();
    let scatter = places.iter().map(|p| off(p, line).powi(2)).sum::<f64>() / places.len() as f64;
    let scatter = scatter.sqrt();
    let is_stick = filled > 0.85
        && level > LEAST_RIDGE
        && uneven < 0.25 * level
        && step < 0.5 * level
        && scatter < 0.7
        && places.len() as f64 > 0.6 * length;
    if !is_stick {
        return None;
    }
    let ends = [end(&seen.contrast, from, -1)?, end(&seen.contrast, to, 1)?];
    Some(Found {
        value: FoundStick { ends: ends.map(|x| ImagePoint::new(x, line.0 + line.1 * x)) },
        sigma: END_PX + scatter / 2.0,
        confidence: if filled > 0.92 && scatter < 0.5 { 0.9 } else { 0.75 },
    })
}

/// The straight line through places, those far off left out.
fn straight(places: &mut Vec<(f64, f64)>) -> Option<Line> {
    let mut line = through(places)?;
    for _ in 0..4 {
        let mut distances: Vec<f64> = places.iter().map(|p| off(p, line).abs()).collect();
        let limit = (3.0 * 1.4826 * median(&mut distances)?).max(0.5);
        places.retain(|p| off(p, line).abs() <= limit);
        line = through(places)?;
    }
    Some(line)
}

/// First and last column of the longest stretch that stands out by `least`. It goes on beyond a
/// gap of at most `gap` columns if what follows is longer than the gap twice over: a stick behind
/// a shaft does, a blade beyond its end does not.
fn standing_out(contrast: &[f64], least: f64, gap: f64) -> Option<(usize, usize)> {
    let columns = (0..contrast.len()).filter(|x| contrast[*x] > least);
    longest_stretch(columns, |(first, last), away| {
        away as f64 <= gap && (last - first) as f64 > 2.0 * away as f64
    })
}

/// Where, going outwards (`outward` is 1 or -1) about the column `at`, the contrast falls half
/// way from its level inside; `None` if it does not stay low then, or the picture ends there.
fn end(contrast: &[f64], at: usize, outward: isize) -> Option<f64> {
    const INSIDE: isize = 24;
    const OUTSIDE: isize = 16;
    let read = |i: isize| {
        let x = at as isize + outward * i;
        // Over three columns, so that one blade decides nothing.
        (x - 1..=x + 1)
            .map(|x| usize::try_from(x).ok().and_then(|x| contrast.get(x)).copied())
            .sum::<Option<f64>>()
            .map(|sum| sum / 3.0)
    };
    let level: Option<Vec<f64>> = (-INSIDE..-INSIDE / 4).map(&read).collect();
    let half = median(&mut level?)? / 2.0;
    // Passing blades and gaps beyond the end are no end: the last fall counts that is followed by
    // low contrast alone.
    let fall = (-INSIDE..OUTSIDE / 2)
        .rev()
        .find(|&i| matches!((read(i), read(i + 1)), (Some(a), Some(b)) if a >= half && b < half))?;
    let beyond: Option<Vec<f64>> = (fall + 3..fall + OUTSIDE).map(&read).collect();
    if median(&mut beyond?)? > half / 2.0 {
        return None;
    }
    let (a, b) = (read(fall)?, read(fall + 1)?);
    Some(at as f64 + outward as f64 * (fall as f64 + (a - half) / (a - b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ground with texture, and a bright bar between two points, 4 x 4 samples a pixel.
    fn picture(ends: [[f64; 2]; 2], thick: f64, bright: f64, above: f64) -> ColourFrame {
        let (width, height) = (640, 360);
        let [[ax, ay], [bx, by]] = ends;
        let length = (bx - ax).hypot(by - ay);
        let (tx, ty) = ((bx - ax) / length, (by - ay) / length);
        let data = (0..width * height)
            .flat_map(|i| {
                let (x, y) = ((i % width) as f64, (i / width) as f64);
                let hash = (i as u32).wrapping_mul(2_654_435_761) >> 24;
                let texture = f64::from(hash) / 12.0 + 6.0 * (0.11 * x + 0.07 * y).sin();
                let across = (y - ay) * tx - (x - ax) * ty;
                let ground = if across < 0.0 { 80.0 + above } else { 80.0 } + texture;
                let inside = |k: u32| {
                    let (u, v) = (f64::from(k % 4) / 4.0 - 0.375, f64::from(k / 4) / 4.0 - 0.375);
                    let (dx, dy) = (x + u - ax, y + v - ay);
                    (0.0..length).contains(&(dx * tx + dy * ty))
                        && (dy * tx - dx * ty).abs() < thick / 2.0
                };
                let share = (0..16).filter(|k| inside(*k)).count() as f64 / 16.0;
                let red = (share * bright + (1.0 - share) * ground).round() as u8;
                [red, 90, 60, 255]
            })
            .collect();
        ColourFrame { width, height, data }
    }

    #[test]
    fn its_ends_are_found_between_pixels() {
        let ends = [[150.4, 251.3], [460.8, 243.7]];
        for (bright, thick) in [(220.0, 4.0), (170.0, 3.0), (240.0, 2.5)] {
            let found = find_stick(&picture(ends, thick, bright, 0.0)).expect("a stick");
            for (a, b) in found.value.ends.iter().zip(ends) {
                let off = a.distance(ImagePoint::from(b));
                assert!(off < 1.5, "{a:?} is {off:.2} px off {b:?}");
            }
        }
    }

    #[test]
    fn ground_a_step_and_a_line_through_the_whole_picture_are_no_stick() {
        let ends = [[150.4, 251.3], [460.8, 243.7]];
        assert_eq!(find_stick(&picture(ends, 0.0, 0.0, 0.0)), None, "plain ground");
        assert_eq!(find_stick(&picture(ends, 4.0, 95.0, 0.0)), None, "too faint");
        assert_eq!(find_stick(&picture(ends, 0.0, 0.0, 60.0)), None, "an edge");
        assert_eq!(find_stick(&picture(ends, 3.0, 200.0, 70.0)), None, "a mat's trim");
        let through = [[-20.0, 250.0], [700.0, 245.0]];
        assert_eq!(find_stick(&picture(through, 4.0, 220.0, 0.0)), None, "a line on the ground");
        let cut = [[-20.0, 250.0], [300.0, 245.0]];
        assert_eq!(find_stick(&picture(cut, 4.0, 220.0, 0.0)), None, "cut by the picture");
        let steep = [[300.0, 200.0], [340.0, 340.0]];
        assert_eq!(find_stick(&picture(steep, 4.0, 220.0, 0.0)), None, "across the target line");
    }
}
