//! The club head in the frames around the strike.
//!
//! In each frame the blurred shaft is a straight band: its middle line is the shaft at the
//! middle of the exposure. Where the band ends below, the head begins. That end is a point
//! fixed to the club; the middle of the leading edge is another, a little farther down and
//! ahead. Around the bottom both go round together, and have their lowest place at the same x: an
//! error in how far the edge lies from the shaft's end is common to all sightings and does not move
//! the low point.

use nalgebra::{Matrix5, Vector5};

use super::motion::LineSighting;
use super::pace::Pace;
use super::plane::{HeldPlane, Plane, median};
use super::shaft::{Line, longest_run, refit, strongest_line};
use super::swings::Sweep;
use super::window::Window;
use crate::domain::ImagePoint;

/// The lower end of the shaft in one frame; points in pixels of the full picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ShaftEnd {
    pub frame: usize,
    /// Capture time, seconds.
    pub time: f64,
    pub line: Line,
    pub end: ImagePoint,
    /// Half the width of the shaft's band near its end, pixels.
    pub half_width: f64,
    /// How far below the shaft's end the head is seen to reach, pixels.
    pub head_length: f64,
    /// Standard uncertainty along the shaft (that is, across the head's way), pixels.
    pub sigma: f64,
}

/// The club is followed while it leans less than this from its lean at the strike: farther
/// away, wrists and arms no longer turn as one (geometry of the swing, common practice).
const FURTHEST_LEAN: f64 = 0.62;
/// Fewer ends than this are no path.
const FEWEST: usize = 4;
/// Ends that scatter by less than this along the shaft tell where it ends, pixels.
const MOST_SCATTER: f64 = 4.0 * BODY_PX;
/// Leans of a shaft that is seen well scatter by 0.004 to 0.028 radians, those of one that is
/// not by 0.04 and more (footage and invented scenes).
const MOST_UNSTEADY: f64 = 0.03;
/// So many ends do not agree by chance.
const SURE_BY_NUMBER: usize = 6;
/// A body turning in a plane that is seen aslant does not turn as one in the picture, pixels.
const BODY_PX: f64 = 1.5;
/// How well the middle line of the shaft's band follows the shaft, pixels.
const LINE_SIGMA_PX: f64 = 2.0;
/// Sightings are compared with frames this long before and after.
const COMPARED_OVER_S: f64 = 1.0 / 120.0;

/// The band that the blurred shaft is in one frame, in the window's own pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Band {
    pub frame: usize,
    /// Capture time, seconds.
    pub time: f64,
    pub line: Line,
    pub half_width: f64,
    /// Where along the line its light ends below.
    pub foot: f64,
}

/// The shaft around the strike.
pub(crate) struct Shaft {
    /// One for each frame in which it is seen.
    pub bands: Vec<Band>,
    /// Its lower ends by their light, those that move as one body; empty if fewer than four, or if they
    /// are five at most and fewer than three in four of those seen.
    pub ends: Vec<ShaftEnd>,
}

/// The frames that a picture first shown in `frame` is compared with, before and after; `None` at
/// the ends of the recording.
pub(crate) fn compared_with(frame: usize, time: f64, pace: &Pace) -> [Option<usize>; 2] {
    let spacing = pace.spacing_at(time);
    let step = if spacing > 0.0 { (COMPARED_OVER_S / spacing).round().max(1.0) } else { 1.0 };
    let (number, step) = (pace.picture_in(frame), step as usize);
    let before = number.checked_sub(step).and_then(|n| pace.first_frame(n));
    [before, pace.first_frame(number + step)]
}

/// Finds the shaft in each picture of the window in which it is seen; copies show it no better.
pub(crate) fn find_shaft(window: &Window, sweep: &Sweep, pace: &Pace) -> Shaft {
    let mut shaft = Shaft { bands: Vec::new(), ends: Vec::new() };
    for i in 0..window.frames.len() {
        let frame = window.first + i;
        if pace.is_copy(frame) {
            continue;
        }
        let at = |frame: usize| {
            let inside = frame.checked_sub(window.first);
            inside.and_then(|i| window.frames.get(i)).map(HeldPlane::plane)
        };
        let [before, after] = compared_with(frame, sweep.time, pace).map(|f| f.and_then(at));
        let before = before.as_ref().unwrap_or(&window.before);
        let after = after.as_ref().unwrap_or(&window.after);
        let change = signed_change(&window.frames[i].plane(), before, after).blurred(1.0);
        if let Some((band, end)) = find_end(&change, window, i, sweep) {
            shaft.bands.push(band);
            shaft.ends.extend(end);
        }
    }
    drop_misread(&mut shaft.bands);
    shaft.ends.retain(|end| shaft.bands.iter().any(|band| band.frame == end.frame));
    keep_believed(&mut shaft.ends);
    shaft
}

/// Drops ends that stray; where many do, a few others may agree by chance, so all go.
fn keep_believed(ends: &mut Vec<ShaftEnd>) {
    let seen = ends.len();
    drop_strays(ends);
    if ends.len() < SURE_BY_NUMBER && 4 * ends.len() < 3 * seen {
        ends.clear();
    }
}

/// Drops bands that do not turn steadily with the others, one by one, and all of them if that leaves
/// too few: legs and shadows that a slow shutter smears can pass for the shaft, or pull it aside.
fn drop_misread(bands: &mut Vec<Band>) {
    while bands.len() >= FEWEST && unsteadiness(bands) > MOST_UNSTEADY {
        let without = |i: usize| {
            let mut others = bands.clone();
            others.remove(i);
            others
        };
        let steadiest = (0..bands.len())
            .map(without)
            .filter(|others| others.len() >= FEWEST)
            .min_by(|a, b| unsteadiness(a).total_cmp(&unsteadiness(b)));
        *bands = steadiest.unwrap_or_default();
    }
}

/// How much the bands' leans scatter about a parabola in time, radians: for so short a time a club
/// turns with an even change of speed.
fn unsteadiness(bands: &[Band]) -> f64 {
    let leans = bands.iter().map(|b| ImagePoint::new(1000.0 * b.time, b.line.angle));
    let Some(even) = Parabola::through(leans.clone()) else { return 0.0 };
    let squares: f64 = leans.map(|p| (p.y - even.at(p.x)).powi(2)).sum();
    (squares / (bands.len() as f64 - 3.0).max(1.0)).sqrt()
}

/// Where, going down, something first moves with the club behind the shaft's band: the head.
fn flank_start(
    change: &Plane,
    line: Line,
    end: f64,
    half_width: f64,
    sweep: &Sweep,
) -> Option<f64> {
    let shaft = line.point(end - 0.06 * sweep.length, 0.0);
    let sign = f64::from(change.sample(shaft.x, shaft.y)?).signum();
    let behind = |s: f64| {
        let mut sum = 0.0;
        let mut count = 0;
        for k in 0..6 {
            let u = -sweep.heading * half_width * (1.35 + 0.3 * f64::from(k));
            let p = line.point(s, u);
            sum += change.sample(p.x, p.y).map(|v| (sign * f64::from(v)).max(0.0))?;
            count += 1;
        }
        Some(sum / f64::from(count))
    };
    let from = end - 0.13 * sweep.length;
    let steps = (0.2 * sweep.length) as usize;
    let values: Option<Vec<f64>> = (0..steps).map(|i| behind(from + i as f64)).collect();
    let values = values?;
    let (peak_at, peak) = values.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
    if peak < 8.0 {
        return None;
    }
    let half = 0.5 * peak;
    let i = (1..=peak_at).rev().find(|&i| values[i] >= half && values[i - 1] < half)?;
    let share = (half - values[i - 1]) / (values[i] - values[i - 1]);
    Some(from + (i - 1) as f64 + share)
}

/// By how much a pixel stands out of both other pictures in the same direction.
fn signed_change(now: &Plane, before: &Plane, after: &Plane) -> Plane {
    let data = now
        .data
        .iter()
        .zip(&before.data)
        .zip(&after.data)
        .map(|((n, b), a)| {
            let (first, second) = (n - b, n - a);
            match first * second > 0.0 {
                true if first.abs() < second.abs() => first,
                true => second,
                false => 0.0,
            }
        })
        .collect();
    Plane { data, ..*now }
}

/// The shaft's lean at `time` by the sweep's sightings, with the nearest sighting.
fn expected_lean(sweep: &Sweep, time: f64) -> Option<f64> {
    let lines = &sweep.lines;
    if lines.len() < 2 {
        return None;
    }
    let after = lines.partition_point(|l| l.time <= time);
    let (a, b) = (after.saturating_sub(1), after.min(lines.len() - 1));
    let (a, b) = if a == b { (a.saturating_sub(1), a.max(1).min(lines.len() - 1)) } else { (a, b) };
    let (a, b): (&LineSighting, &LineSighting) = (&lines[a], &lines[b]);
    if b.time <= a.time {
        return None;
    }
    let share = (time - a.time) / (b.time - a.time);
    let lean = a.line.angle + share * (b.line.angle - a.line.angle);
    (-1.0..=2.0).contains(&share).then_some(lean)
}

/// The shaft's band in frame `i` of the window, and its lower end if its light shows one.
fn find_end(
    change: &Plane,
    window: &Window,
    i: usize,
    sweep: &Sweep,
) -> Option<(Band, Option<ShaftEnd>)> {
    let frame = window.first + i;
    let time = window.times[i];
    let expected = expected_lean(sweep, time)?;
    if (expected - sweep.heading * 0.14).abs() > FURTHEST_LEAN + 0.2 {
        return None;
    }
    let (dx, dy) = (window.area.left as f64, window.area.top as f64);
    let moving = moving_pixels(change);
    let start = sweep.lines.iter().find(|l| l.frame == frame).map(|l| l.line.scaled(1.0, -dx, -dy));
    let start = match start {
        Some(line) => line,
        None => strongest_line(&moving, 4.0)?.0,
    };
    if (start.angle - expected).abs() > 0.22 {
        return None;
    }
    let (line, half_width) = settle(&moving, start, sweep.length)?;
    if (line.angle - sweep.heading * 0.14).abs() > FURTHEST_LEAN {
        return None;
    }
    let (top, foot, _) = longest_run(&moving, line, half_width, 0.08 * sweep.length)?;
    if foot - top < 0.3 * sweep.length {
        return None;
    }
    let band = Band { frame, time, line, half_width, foot };
    let end = shaft_end(change, window, band, top, sweep);
    let foot = end.map_or(foot, |end| line.along(end.end.x - dx, end.end.y - dy));
    Some((Band { foot, ..band }, end))
}

/// Where the light of the shaft, seen from `top` on, ends.
fn shaft_end(
    change: &Plane,
    window: &Window,
    band: Band,
    top: f64,
    sweep: &Sweep,
) -> Option<ShaftEnd> {
    let Band { frame, time, line, half_width, .. } = band;
    let profile = Profile::new(change, line, top, half_width, sweep.heading);
    let (end, sharpness) = profile.end(sweep.length)?;
    let flank = flank_start(change, line, end, half_width, sweep);
    // A head as bright as the shaft hides where the shaft ends, but then stands out behind it.
    let (end, sharpness) = match flank {
        Some(flank) if flank < end - 0.014 * sweep.length => (flank, sharpness.max(3.0)),
        _ => (end, sharpness),
    };
    let local = line.point(end, 0.0);
    let (dx, dy) = (window.area.left as f64, window.area.top as f64);
    cut_off_clear(local, [change.width, change.height]).then(|| ShaftEnd {
        frame,
        time,
        line: line.scaled(1.0, dx, dy),
        end: local.moved(dx, dy),
        half_width,
        head_length: head_length(change, line, end, half_width, sweep),
        sigma: sharpness.clamp(0.7, 8.0),
    })
}

/// The end is not simply where the picture ends.
pub(crate) fn cut_off_clear(end: ImagePoint, [width, height]: [usize; 2]) -> bool {
    let margin = 6.0;
    end.x > margin
        && end.y > margin
        && end.x < width as f64 - margin
        && end.y < height as f64 - margin
}

fn moving_pixels(change: &Plane) -> Vec<super::shaft::Moving> {
    let noise = super::plane::sigma_from_median_distance(
        change.data.iter().filter(|v| **v != 0.0).step_by(7).map(|&v| f64::from(v)),
    );
    let limit = (3.0 * noise).clamp(4.0, 12.0) as f32;
    let mut moving = Vec::new();
    for (y, row) in change.data.chunks_exact(change.width).enumerate() {
        for (x, &v) in row.iter().enumerate() {
            if v.abs() > limit {
                moving.push(super::shaft::Moving {
                    x: x as f32,
                    y: y as f32,
                    weight: v.abs().min(30.0),
                });
            }
        }
    }
    moving
}

/// Narrows the band around the line until it just holds the shaft; the line and the band's
/// half width.
fn settle(moving: &[super::shaft::Moving], start: Line, length: f64) -> Option<(Line, f64)> {
    let mut line = start;
    let mut reach = 0.06 * length;
    for _ in 0..8 {
        line = refit(moving, line, reach)?;
        let (mut weight, mut square) = (0.0, 0.0);
        for m in moving {
            let u = line.across(f64::from(m.x), f64::from(m.y));
            if u.abs() <= reach {
                weight += f64::from(m.weight);
                square += f64::from(m.weight) * u * u;
            }
        }
        // An even band of half width h has the standard deviation h / sqrt(3).
        let half = (square / weight).sqrt() * 3.0_f64.sqrt();
        reach = (1.1 * half + 1.0).clamp(0.012 * length + 1.5, 0.08 * length);
    }
    Some((line, reach))
}

/// The change along the shaft, averaged over the leading half of its band.
struct Profile {
    start: f64,
    values: Vec<f64>,
}

impl Profile {
    fn new(change: &Plane, line: Line, top: f64, half_width: f64, heading: f64) -> Self {
        let mut values = Vec::new();
        let mut s = top;
        let far = (change.width + change.height) as f64 + top;
        while s < far {
            let (mut sum, mut count) = (0.0, 0);
            // The head lies behind and below the shaft's end; ahead of it there is nothing.
            for k in 0..6 {
                let u = heading * half_width * (0.1 + 0.1 * f64::from(k));
                let p = line.point(s, u);
                if let Some(v) = change.sample(p.x, p.y) {
                    sum += f64::from(v);
                    count += 1;
                }
            }
            if count == 0 && s > top + 20.0 {
                break;
            }
            values.push(if count > 0 { sum / f64::from(count) } else { 0.0 });
            s += 1.0;
        }
        Self { start: top, values }
    }

    /// Where the shaft's level ends (half level), and the standard uncertainty
    /// by how far apart one quarter and three quarters of it lie.
    fn end(&self, length: f64) -> Option<(f64, f64)> {
        let smooth: Vec<f64> = (0..self.values.len())
            .map(|i| {
                let range = i.saturating_sub(1)..(i + 2).min(self.values.len());
                self.values[range.clone()].iter().sum::<f64>() / range.len() as f64
            })
            .collect();
        let mut all: Vec<f64> = smooth.iter().copied().filter(|v| v.abs() > 3.0).collect();
        let sign = median(&mut all)?.signum();
        let quiet = (0.05 * length).max(5.0) as usize;
        let above = (0.12 * length) as usize;
        let mut last = None;
        for i in above.max(4)..smooth.len().saturating_sub(1) {
            let mut near: Vec<f64> =
                smooth[i - above.max(4)..i - 2].iter().map(|v| sign * v).collect();
            let level = median(&mut near)?;
            let half = 0.7 * level;
            if level > 4.0
                && sign * smooth[i - 1] >= half
                && sign * smooth[i] < half
                && smooth[i..(i + quiet).min(smooth.len())].iter().all(|v| sign * v < half)
            {
                let (a, b) = (sign * smooth[i - 1], sign * smooth[i]);
                let at = (i - 1) as f64 + (a - half) / (a - b);
                let spread = falls(&smooth, sign, i, level);
                last = Some((self.start + at, 0.8 + 0.25 * spread));
            }
        }
        last
    }
}

/// How many steps the fall from three quarters to one quarter of the level takes around `i`.
fn falls(smooth: &[f64], sign: f64, i: usize, level: f64) -> f64 {
    let from = (0..i).rev().find(|&j| sign * smooth[j] >= 0.75 * level).unwrap_or(0);
    let to = (i..smooth.len()).find(|&j| sign * smooth[j] < 0.25 * level).unwrap_or(smooth.len());
    (to - from) as f64
}

/// How far below the shaft's end something moves with the club, pixels.
fn head_length(change: &Plane, line: Line, end: f64, half_width: f64, sweep: &Sweep) -> f64 {
    let mut reached = 0.0;
    let mut s = 2.0;
    while s < 0.2 * sweep.length {
        let strength = (-3..=1)
            .filter_map(|k| {
                let u = sweep.heading * half_width * 0.5 * f64::from(k);
                let p = line.point(end + s, u);
                change.sample(p.x, p.y).map(|v| f64::from(v.abs()))
            })
            .fold(0.0, f64::max);
        if strength > 6.0 {
            reached = s;
        } else if s > reached + 3.0 {
            break;
        }
        s += 1.0;
    }
    reached
}

/// Keeps the ends that move as one body with the most others, as some three of them say
/// (Fischler & Bolles 1981, every triple tried): two strays can hide each other from a fit of all.
pub(crate) fn keep_one_body(ends: &mut Vec<ShaftEnd>) {
    let off = |body: &Body, e: &ShaftEnd| {
        let residual = body.end_along(e) - e.line.along(e.end.x, e.end.y);
        residual.abs() / e.sigma.hypot(2.0 * BODY_PX)
    };
    let mut best: Option<(usize, f64, Body)> = None;
    for i in 0..ends.len() {
        for j in i + 1..ends.len() {
            for k in j + 1..ends.len() {
                let Some(body) = Body::fit(&[ends[i], ends[j], ends[k]]) else { continue };
                let near = ends.iter().map(|e| off(&body, e)).filter(|o| *o < 3.0);
                let (count, sum) = near.fold((0, 0.0), |(n, s), o| (n + 1, s + o));
                if best.as_ref().is_none_or(|b| (count, -sum) > (b.0, -b.1)) {
                    best = Some((count, sum, body));
                }
            }
        }
    }
    // Three close together say little of the others: what they agree with says more.
    let Some((_, _, mut body)) = best else { return };
    for _ in 0..3 {
        let near: Vec<ShaftEnd> = ends.iter().filter(|e| off(&body, e) < 3.0).copied().collect();
        match Body::fit(&near) {
            Some(better) => body = better,
            None => break,
        }
    }
    ends.retain(|e| off(&body, e) < 3.0);
}

/// Drops ends that do not move as one body with the shaft, and all of them if too few
/// are left to tell.
pub(crate) fn drop_strays(ends: &mut Vec<ShaftEnd>) {
    while ends.len() >= FEWEST {
        let Some(worst) = worst_stray(ends) else { return };
        ends.remove(worst);
    }
    ends.clear();
}

/// Drops soles that lie farther or less far below the shaft than most, and all of them if there are no
/// most: dark parts of a head may look like its sole in some pictures and not in others. They are left
/// as they are where the shaft's own ends, which noise shortens, are not known well enough to tell.
pub(crate) fn keep_one_distance(soles: &mut Vec<ShaftEnd>, shaft: &Shaft) {
    let Shaft { bands, ends } = shaft;
    let is_known = ends.len() > FEWEST && 4 * ends.len() >= 3 * bands.len();
    let known = Body::fit(ends).filter(|body| is_known && body.scatter < MOST_SCATTER);
    let Some(body) = known else { return };
    let below = |e: &ShaftEnd| e.line.along(e.end.x, e.end.y) - body.end_along(e);
    let doubt =
        |e: &ShaftEnd| e.sigma.hypot(body.scatter).hypot(body.doubt_along(e)).hypot(2.0 * BODY_PX);
    let agree = |middle: f64| move |e: &&ShaftEnd| (below(e) - middle).abs() < 3.0 * doubt(e);
    let count = |middle: f64| soles.iter().filter(agree(middle)).count();
    let Some((most, middle)) =
        soles.iter().map(|e| (count(below(e)), below(e))).max_by_key(|(n, _)| *n)
    else {
        return;
    };
    if 4 * most < 3 * soles.len() {
        soles.clear();
    }
    soles.retain(|e| agree(middle)(&e));
}

/// The end that fits the others worst, if it is off by more than 4 of their sigmas.
fn worst_stray(ends: &[ShaftEnd]) -> Option<usize> {
    let off = |leave: usize| {
        let mut others = ends.to_vec();
        let left = others.remove(leave);
        let body = Body::fit(&others)?;
        let residual = body.end_along(&left) - left.line.along(left.end.x, left.end.y);
        let doubt = body.doubt_along(&left).hypot(body.scatter);
        Some(residual.abs() / left.sigma.hypot(doubt).hypot(BODY_PX))
    };
    let worst = (0..ends.len())
        .filter_map(|i| off(i).map(|size| (i, size)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (worst.1 > 4.0).then_some(worst.0)
}

/// The shaft as part of a club turning about the hands, in the picture: the end lies at `axis + along
/// * (direction of the shaft) + across * (its normal)`, and the farther down the more it leans.
///
/// The hands go round, too: where the head goes round at a radius R, the shaft turns k times as fast
/// and about a point R/k above it, the end lies R/k (1 + (k - 1)/(2k) λ²) below that point at a lean
/// λ (plane geometry, to the second order).
struct Body {
    /// Where that point is seen.
    axis: ImagePoint,
    along: f64,
    /// How much farther it is to the end for each square radian of lean, pixels.
    growth: f64,
    /// Scatter of the ends along the shaft, pixels.
    scatter: f64,
    /// Covariance of axis, `along`, across and `growth`, in that order; pixels squared.
    covariance: Matrix5<f64>,
}

/// The part (k - 1)/(2k) and its standard uncertainty: a head that goes round at some 1.7 m while the
/// shaft turns about a point 1.2 to 1.5 m above it (reasoned, no source); a plane seen aslant and its
/// farther parts seen smaller change it by some hundredths.
const GROWTH: (f64, f64) = (0.1, 0.07);
/// A length to begin with, pixels.
const LENGTH_PX: f64 = 600.0;

impl Body {
    /// Weighted least squares over the ends' positions along and across their shafts; at
    /// least three ends.
    fn fit(ends: &[ShaftEnd]) -> Option<Self> {
        if ends.len() < 3 {
            return None;
        }
        let centre = ends[0].end;
        let (mut normal, mut right) = (Matrix5::<f64>::zeros(), Vector5::<f64>::zeros());
        for e in ends {
            let (sin, cos) = e.line.angle.sin_cos();
            let (x, y) = (e.end.x - centre.x, e.end.y - centre.y);
            let across = Vector5::new(cos, sin, 0.0, 1.0, 0.0);
            let along = (row_along(e), -x * sin + y * cos, e.sigma);
            for (row, value, sigma) in [(across, x * cos + y * sin, LINE_SIGMA_PX), along] {
                normal += row * row.transpose() / (sigma * sigma);
                right += row * value / (sigma * sigma);
            }
        }
        // What is known beforehand is a part of the length, which the first round tells.
        let mut length = LENGTH_PX;
        let mut solved = None;
        for _ in 0..2 {
            let known = (GROWTH.1 * length).powi(-2);
            let (mut normal, mut right) = (normal, right);
            normal[(4, 4)] += known;
            right[4] += known * GROWTH.0 * length;
            let covariance = normal.try_inverse()?;
            let solution = covariance * right;
            length = solution[2].abs().max(1.0);
            solved = Some((solution, covariance));
        }
        let (solution, covariance) = solved?;
        let axis = centre.moved(solution[0], solution[1]);
        let (along, growth) = (solution[2], solution[4]);
        let mut body = Self { axis, along, growth, scatter: 0.0, covariance };
        body.scatter = body.scatter_of(ends);
        body.axis.is_finite().then_some(body)
    }

    /// How much the ends it was fitted to scatter along the shaft, pixels; those that are known badly
    /// say little of how well the others fit.
    fn scatter_of(&self, ends: &[ShaftEnd]) -> f64 {
        let weight = |e: &ShaftEnd| e.sigma.hypot(BODY_PX).powi(-2);
        let squares: f64 = ends
            .iter()
            .map(|e| (self.end_along(e) - e.line.along(e.end.x, e.end.y)).powi(2) * weight(e))
            .sum();
        let count = ends.len() as f64;
        let mean = squares / ends.iter().map(weight).sum::<f64>();
        (mean * count / (count - 1.5)).sqrt()
    }

    /// Where along its shaft the end of `e` should be.
    fn end_along(&self, e: &ShaftEnd) -> f64 {
        let lean = e.line.angle;
        e.line.along(self.axis.x, self.axis.y) + self.along + self.growth * lean * lean
    }

    /// How sure that is for an end that was not among those fitted: its standard uncertainty.
    fn doubt_along(&self, e: &ShaftEnd) -> f64 {
        let row = row_along(e);
        row.dot(&(self.covariance * row)).max(0.0).sqrt()
    }
}

/// How the place of an end along its shaft depends on what is fitted.
fn row_along(e: &ShaftEnd) -> Vector5<f64> {
    let (sin, cos) = e.line.angle.sin_cos();
    Vector5::new(-sin, cos, 1.0, 0.0, e.line.angle.powi(2))
}

/// `y` as a quadratic in `x` by least squares.
pub(crate) struct Parabola {
    centre: f64,
    scale: f64,
    terms: nalgebra::Vector3<f64>,
}

impl Parabola {
    pub fn through(points: impl Iterator<Item = ImagePoint> + Clone) -> Option<Self> {
        let n = points.clone().count() as f64;
        let centre = points.clone().map(|p| p.x).sum::<f64>() / n;
        let scale = points.clone().map(|p| (p.x - centre).abs()).fold(1.0, f64::max);
        let mut normal = nalgebra::Matrix3::<f64>::zeros();
        let mut right = nalgebra::Vector3::<f64>::zeros();
        for p in points {
            let t = (p.x - centre) / scale;
            let row = nalgebra::Vector3::new(1.0, t, t * t);
            normal += row * row.transpose();
            right += row * p.y;
        }
        Some(Self { centre, scale, terms: normal.cholesky()?.solve(&right) })
    }

    pub fn at(&self, x: f64) -> f64 {
        let t = (x - self.centre) / self.scale;
        self.terms.x + self.terms.y * t + self.terms.z * t * t
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPACING: f64 = 1.0 / 120.0;

    fn window_of(frames: Vec<Plane>, ground: Plane) -> Window {
        let times = (0..frames.len()).map(|i| i as f64 * SPACING).collect();
        let area = super::super::plane::Area { left: 100, top: 50, width: 600, height: 520 };
        Window {
            area,
            laid_on: None,
            first: 0,
            frames: frames.iter().map(HeldPlane::of).collect(),
            times,
            before: ground.clone(),
            after: ground,
        }
    }

    /// Where the shaft of 440 pixels ends that turns about (300, 20) of the window's area.
    fn line_of(lean: f64) -> (Line, f64) {
        let line = Line { angle: lean, offset: 300.0 * lean.cos() + 20.0 * lean.sin() };
        (line, line.along(300.0, 20.0) + 440.0)
    }

    /// A textured ground with a pale band along the shaft and a dark head below and behind it.
    fn picture(lean: Option<f64>) -> Plane {
        let mut plane = Plane::filled(600, 520, 0.0);
        for y in 0..plane.height {
            for x in 0..plane.width {
                let (fx, fy) = (x as f64, y as f64);
                let mut value = 95.0 + 6.0 * (0.9 * fx).sin() * (0.7 * fy).cos();
                if let Some(lean) = lean {
                    let (line, end) = line_of(lean);
                    let (u, s) = (line.across(fx, fy), line.along(fx, fy));
                    if u.abs() < 7.0 && s <= end && s > end - 430.0 {
                        value += 30.0;
                    } else if (-26.0..7.0).contains(&u) && s > end && s < end + 22.0 {
                        value -= 25.0;
                    }
                }
                plane.data[y * plane.width + x] = value as f32;
            }
        }
        plane
    }

    #[test]
    fn the_shafts_end_is_followed_to_two_pixels() {
        let leans: Vec<f64> = (0..7).map(|i| 0.14 + 0.2 * (3.0 - f64::from(i))).collect();
        let frames = leans.iter().map(|l| picture(Some(*l))).collect();
        let window = window_of(frames, picture(None));
        let lines = leans
            .iter()
            .enumerate()
            .map(|(frame, lean)| {
                let (line, end) = line_of(*lean);
                let line = line.scaled(1.0, 100.0, 50.0);
                let p = line_of(*lean).0.point(end, 0.0).moved(100.0, 50.0);
                let foot = line.along(p.x, p.y);
                let time = frame as f64 * SPACING;
                LineSighting { frame, time, line, top: foot - 420.0, foot }
            })
            .collect();
        let sweep = Sweep {
            time: 3.0 * SPACING,
            heading: 1.0,
            speed: 24.0,
            turned: 1.2,
            length: 430.0,
            foot: ImagePoint::new(400.0, 510.0),
            lines,
        };
        let ends = find_shaft(&window, &sweep, &Pace::even(SPACING, 20)).ends;
        assert!(ends.len() >= 5, "{ends:?}");
        for e in &ends {
            let (line, end) = line_of(leans[e.frame]);
            let truth = line.point(end, 0.0).moved(100.0, 50.0);
            assert!(e.end.distance(truth) < 2.0, "{}: {:?}, not {truth:?}", e.frame, e.end);
        }
    }

    /// Ends of a shaft that turns 1.44 times as fast as its head goes round, at 650 pixels, `below` the
    /// end in the order of the leans.
    fn ends(leans: &[f64], below: &[f64]) -> Vec<ShaftEnd> {
        let sighting = |(i, (lean, below)): (usize, (&f64, &f64))| {
            let round = lean / 1.44;
            let end = ImagePoint::new(500.0 - 650.0 * round.sin(), 650.0 * round.cos() - 200.0);
            let line = Line { angle: *lean, offset: end.x * lean.cos() + end.y * lean.sin() };
            let end = line.point(line.along(end.x, end.y) + below, 0.0);
            let time = i as f64 * SPACING;
            ShaftEnd { frame: i, time, line, end, half_width: 10.0, head_length: 30.0, sigma: 1.8 }
        };
        leans.iter().zip(below).enumerate().map(sighting).collect()
    }

    #[test]
    fn hands_that_go_round_too_leave_a_club_one_body() {
        let leans = [0.7, 0.43, 0.14, -0.16, -0.46];
        let kept = |below: [f64; 5]| {
            let mut ends = ends(&leans, &below);
            drop_strays(&mut ends);
            ends.iter().map(|e| e.frame).collect::<Vec<_>>()
        };
        assert_eq!(kept([0.0; 5]), [0, 1, 2, 3, 4]);
        assert_eq!(kept([0.0, 0.0, 25.0, 0.0, 0.0]), [0, 1, 3, 4]);
    }

    #[test]
    fn a_band_that_turns_unsteadily_is_dropped_and_all_where_most_do() {
        let kept = |leans: &[f64]| {
            let mut bands: Vec<Band> = (leans.iter().enumerate())
                .map(|(frame, lean)| Band {
                    frame,
                    time: frame as f64 * SPACING,
                    line: Line { angle: *lean, offset: 0.0 },
                    half_width: 10.0,
                    foot: 400.0,
                })
                .collect();
            drop_misread(&mut bands);
            bands.iter().map(|b| b.frame).collect::<Vec<_>>()
        };
        assert_eq!(kept(&[0.64, 0.43, 0.2, -0.03, -0.23]), [0, 1, 2, 3, 4]);
        assert_eq!(kept(&[0.64, 0.43, 0.2, 0.11, -0.23, -0.43]), [0, 1, 2, 4, 5]);
        assert!(kept(&[0.67, 0.43, 0.34, 0.0, -0.32]).is_empty());
        assert_eq!(kept(&[0.4, 0.3, -0.3]), [0, 1, 2], "three tell nothing");
    }

    #[test]
    fn soles_lie_at_one_distance_below_the_shaft() {
        let leans = [0.58, 0.4, 0.2, 0.0, -0.18, -0.36];
        let band = |e: &ShaftEnd| {
            let (foot, half_width) = (e.line.along(e.end.x, e.end.y), e.half_width);
            Band { frame: e.frame, time: e.time, line: e.line, half_width, foot }
        };
        let kept_by = |above: [f64; 6], below: [f64; 6]| {
            let mut soles = ends(&leans, &below);
            let ends = ends(&leans, &above);
            let shaft = Shaft { bands: ends.iter().map(band).collect(), ends };
            keep_one_distance(&mut soles, &shaft);
            soles.iter().map(|e| e.frame).collect::<Vec<_>>()
        };
        let kept = |below: [f64; 6]| kept_by([0.0; 6], below);
        assert_eq!(kept([34.0; 6]), [0, 1, 2, 3, 4, 5]);
        assert_eq!(kept([34.0, 34.0, 34.0, 10.0, 34.0, 34.0]), [0, 1, 2, 4, 5]);
        // A head whose crown is lost in half of the pictures: no telling which half.
        assert!(kept([34.0, 10.0, 10.0, 10.0, 34.0, 34.0]).is_empty());
        // In noise the light of the shaft ends anywhere.
        assert_eq!(kept_by([0.0, -14.0, 0.0, -5.0, -20.0, 12.0], [34.0; 6]), [0, 1, 2, 3, 4, 5]);
    }

    #[test]
    fn still_pictures_show_no_club() {
        let window = window_of(vec![picture(None); 5], picture(None));
        let sweep = Sweep {
            time: 2.0 * SPACING,
            heading: 1.0,
            speed: 0.0,
            turned: 0.0,
            length: 430.0,
            foot: ImagePoint::new(400.0, 510.0),
            lines: Vec::new(),
        };
        assert!(find_shaft(&window, &sweep, &Pace::even(SPACING, 20)).ends.is_empty());
    }
}
