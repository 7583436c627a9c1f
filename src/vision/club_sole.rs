//! The lowest point of the club, followed by its tint.
//!
//! Metal is grey, grass and most mats are not: where club and head are in front of the ground its
//! tint is gone, however bright or dark they are, while a shadow changes the light alone. Along
//! the leading side of the shaft's band shaft, neck and head are one grey piece; where it ends
//! below is the sole under the leading edge, a point fixed to the club.

use super::club_head::{
    Band, Shaft, ShaftEnd, compared_with, cut_off_clear, drop_strays, keep_one_body,
    keep_one_distance,
};
use super::plane::{Area, Plane, median, sigma_from_median_distance};
use super::steady::Steadying;
use super::swings::Sweep;
use super::window::{Clock, Window, laid};
use crate::domain::{ColourFrame, FrameIndex, ImagePoint, PictureError, Pictures};

/// Added to a level before its logarithm is taken, so that the noise of dark pixels stays bounded.
const DARK: f32 = 10.0;
/// The shaft's change of tint must be so many standard deviations of a pixel's.
const LEAST_CONTRAST: f64 = 4.0;

/// Two tints of each pixel: green against red and blue, and red against blue (differences of
/// logarithms, so neither light nor exposure changes them).
struct Tints([Plane; 2]);

impl Tints {
    fn cut(frame: &ColourFrame, area: Area) -> Self {
        let logs: [f32; 256] = std::array::from_fn(|level| (level as f32 + DARK).ln());
        let mut planes = [const { Vec::new() }; 2];
        for y in area.top..area.top + area.height {
            for x in area.left..area.left + area.width {
                let [r, g, b] = frame.rgb(x, y).map(|level| logs[usize::from(level)]);
                planes[0].push(g - (r + b) / 2.0);
                planes[1].push(r - b);
            }
        }
        Self(planes.map(|data| Plane { width: area.width, height: area.height, data }.blurred(1.0)))
    }
}

/// The sole in each frame in which the shaft's band is known, as ends of the shaft; empty where
/// the ground has too little colour of its own to tell, or fewer than four frames agree.
pub(crate) fn find_soles(
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    window: &Window,
    shaft: &Shaft,
    sweep: &Sweep,
    clock: &Clock,
) -> Result<Vec<ShaftEnd>, PictureError> {
    let bands = &shaft.bands;
    let changes = read_changes(pictures, steadying, window, (bands, sweep.length), clock)?;
    let Some(weights) = shaft_weights(&changes) else {
        return Ok(Vec::new());
    };
    let greys: Vec<Grey> = changes.iter().map(|change| change.greyness(weights)).collect();
    let with = |least: f64| {
        let mut ends: Vec<ShaftEnd> = (greys.iter().zip(bands))
            .filter_map(|(grey, band)| sole(grey, least, band, window.area, sweep))
            .collect();
        keep_one_distance(&mut ends, shaft);
        keep_one_body(&mut ends);
        drop_strays(&mut ends);
        ends
    };
    // A head in the shade changes the tint less than the shaft does; but the less is asked for,
    // the more else is taken for the club.
    let plain = with(HALF_GREY);
    Ok(if plain.is_empty() { with(FAINT_GREY) } else { plain })
}

/// What counts as grey, as parts of the shaft's level.
const HALF_GREY: f64 = 0.45;
const FAINT_GREY: f64 = 0.25;

/// How the tints of one frame differ from those of a frame before and one after it.
///
/// Whole pictures of it for every frame around a strike would take more memory than anything
/// else: only what lies about the band is held, and what has to be known of the rest.
struct Change {
    near: Area,
    /// For each tint, against before and against after, in `near`.
    tints: [[Plane; 2]; 2],
    /// The shaft's own change of each tint, well above its end.
    shaft: [Option<f64>; 2],
    /// How much each tint changes where nothing moves.
    noise: [f64; 2],
}

impl Change {
    fn new(now: &Tints, others: [&Tints; 2], band: &Band, length: f64) -> Self {
        let near = about(band, length, &now.0[0]);
        let (mut shaft, mut noise) = ([None; 2], [0.0; 2]);
        let tints = [0, 1].map(|tint| {
            let whole = others.map(|other| {
                let pairs = now.0[tint].data.iter().zip(&other.0[tint].data);
                Plane { data: pairs.map(|(a, b)| a - b).collect(), ..now.0[tint] }
            });
            shaft[tint] = shaft_change(&whole, band, length);
            let quiet = whole[0].data.iter().step_by(13).map(|v| f64::from(*v));
            noise[tint] = sigma_from_median_distance(quiet);
            whole.map(|plane| plane.part(near))
        });
        Self { near, tints, shaft, noise }
    }

    /// Weighted sum of the tints' changes: the lesser of those against before and after, 0 where
    /// they disagree.
    fn greyness(&self, weights: [f32; 2]) -> Grey {
        let [first, second] = &self.tints;
        let data = (0..first[0].data.len())
            .map(|i| {
                let [a, b] =
                    [0, 1].map(|k| weights[0] * first[k].data[i] + weights[1] * second[k].data[i]);
                if a * b <= 0.0 {
                    0.0
                } else if a.abs() < b.abs() {
                    a
                } else {
                    b
                }
            })
            .collect();
        let plane = Plane { data, ..first[0] };
        Grey { plane, left: self.near.left as f64, top: self.near.top as f64 }
    }
}

/// Greyness about a band, addressed as the window is.
struct Grey {
    plane: Plane,
    left: f64,
    top: f64,
}

impl Grey {
    fn sample(&self, x: f64, y: f64) -> Option<f32> {
        self.plane.sample(x - self.left, y - self.top)
    }
}

/// The part of a picture that the profile along a band looks at.
fn about(band: &Band, length: f64, picture: &Plane) -> Area {
    let ends = [-REACH_UP, REACH_DOWN].map(|reach| band.foot + reach * length);
    let sides = [-band.half_width, band.half_width];
    let corners = ends.map(|s| sides.map(|u| band.line.point(s, u)));
    let bound = |of: fn(ImagePoint) -> f64, pick: fn(f64, f64) -> f64, start: f64| {
        corners.as_flattened().iter().map(|corner| of(*corner)).fold(start, pick)
    };
    // Two pixels more, for the neighbours that a value between pixels is made of.
    let limits = [
        bound(|p| p.x, f64::min, f64::INFINITY) - 2.0,
        bound(|p| p.y, f64::min, f64::INFINITY) - 2.0,
        bound(|p| p.x, f64::max, f64::NEG_INFINITY) + 2.0,
        bound(|p| p.y, f64::max, f64::NEG_INFINITY) + 2.0,
    ];
    let nowhere = Area { left: 0, top: 0, width: 0, height: 0 };
    Area::inside(limits, picture.width, picture.height).unwrap_or(nowhere)
}

/// The middle change of one tint on the shaft well above its end, against before and after.
fn shaft_change(tint: &[Plane; 2], band: &Band, length: f64) -> Option<f64> {
    let mut own: Vec<f64> = (0..(0.2 * length) as usize)
        .filter_map(|i| {
            let p = band.line.point(band.foot - 0.08 * length - i as f64, 0.0);
            let [a, b] = [0, 1].map(|k| tint[k].sample(p.x, p.y));
            Some(f64::from(a? + b?) / 2.0)
        })
        .collect();
    median(&mut own)
}

/// The changes of tint in the bands' frames.
fn read_changes(
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    window: &Window,
    (bands, length): (&[Band], f64),
    clock: &Clock,
) -> Result<Vec<Change>, PictureError> {
    let area = window.area;
    let last = clock.timeline.len() - 1;
    let mut kept: Vec<(usize, Tints)> = Vec::new();
    let mut changes = Vec::new();
    for band in bands {
        let [from, to] = compared_with(band.frame, band.time, &clock.pace);
        let (from, to) = (from.unwrap_or(0), to.unwrap_or(last));
        kept.retain(|(frame, _)| *frame >= from);
        for frame in [from, band.frame, to] {
            if kept.iter().all(|k| k.0 != frame) {
                let colours = pictures.colour(FrameIndex(frame))?;
                let mut tints = Tints::cut(&colours, area);
                if let Some(own) = &window.laid_on {
                    let other = steadying.motion(pictures, FrameIndex(frame))?;
                    tints = Tints(tints.0.map(|plane| laid(plane, area, own, &other)));
                }
                kept.push((frame, tints));
            }
        }
        let of = |frame: usize| &kept.iter().find(|k| k.0 == frame).expect("just read").1;
        changes.push(Change::new(of(band.frame), [of(from), of(to)], band, length));
    }
    Ok(changes)
}

/// Weights of the two tints that make the shaft's change 1 and stand out most from the ground's
/// own noise (Fisher's discriminant with independent tints); `None` if it does not stand out.
///
/// Learned from the shaft well above its end in all frames together: in some a shoe or another
/// grey thing lies behind it.
fn shaft_weights(changes: &[Change]) -> Option<[f32; 2]> {
    let mut mean = [0.0; 2];
    let mut noise = [0.0; 2];
    for tint in 0..2 {
        let mut on_shaft: Vec<f64> = changes.iter().filter_map(|c| c.shaft[tint]).collect();
        let mut still: Vec<f64> = changes.iter().map(|c| c.noise[tint]).collect();
        mean[tint] = median(&mut on_shaft)?;
        noise[tint] = median(&mut still)?.max(0.004);
    }
    let strength: f64 = (0..2).map(|t| (mean[t] / noise[t]).powi(2)).sum();
    let weights = [0, 1].map(|t| (mean[t] / noise[t].powi(2) / strength) as f32);
    (strength.sqrt() >= LEAST_CONTRAST).then_some(weights)
}

fn sole(grey: &Grey, least: f64, band: &Band, area: Area, sweep: &Sweep) -> Option<ShaftEnd> {
    let profile = profile(grey, band, sweep);
    let (at, sigma) = last_fall(&profile, sweep.length, least)?;
    let local = band.line.point(band.foot - REACH_UP * sweep.length + at, 0.0);
    let (dx, dy) = (area.left as f64, area.top as f64);
    cut_off_clear(local, [area.width, area.height]).then(|| ShaftEnd {
        frame: band.frame,
        time: band.time,
        line: band.line.scaled(1.0, dx, dy),
        end: local.moved(dx, dy),
        half_width: band.half_width,
        head_length: 0.0,
        sigma,
    })
}

/// Greyness along the shaft, averaged over the leading side of its band.
fn profile(grey: &Grey, band: &Band, sweep: &Sweep) -> Vec<f64> {
    let from = band.foot - REACH_UP * sweep.length;
    let steps = ((REACH_UP + REACH_DOWN) * sweep.length) as usize;
    (0..steps)
        .map(|i| {
            let values = (0..6).filter_map(|k| {
                let u = sweep.heading * band.half_width * (0.1 + 0.1 * f64::from(k));
                let p = band.line.point(from + i as f64, u);
                grey.sample(p.x, p.y)
            });
            let (sum, count) = values.fold((0.0, 0), |(s, n), v| (s + f64::from(v), n + 1));
            if count > 0 { sum / f64::from(count) } else { 0.0 }
        })
        .collect()
}

/// The profile begins so far above the place where the light of the shaft ends, and goes on so
/// far below it, in lengths of the shaft.
const REACH_UP: f64 = 0.16;
const REACH_DOWN: f64 = 0.16;

/// Where the profile falls for good, at half the level before it, with its standard uncertainty.
/// `least`: what counts as grey, as a part of the shaft's level.
fn last_fall(profile: &[f64], length: f64, least: f64) -> Option<(f64, f64)> {
    let quiet = (0.04 * length).max(5.0) as usize;
    let run = (0.015 * length).max(3.0) as usize;
    let above = (REACH_UP * length) as usize;
    let mut shaft: Vec<f64> = profile[..above.min(profile.len())].to_vec();
    let limit = least * median(&mut shaft)?.clamp(0.3, 1.2);
    // The last place that is grey, with grey above and none below.
    let grey = |v: &f64| *v >= limit;
    let foot = (run..profile.len().saturating_sub(quiet)).rev().find(|&i| {
        profile[i - run..i].iter().all(grey) && !profile[i..i + quiet].iter().any(grey)
    })?;
    let near = (0.035 * length).max(5.0) as usize;
    let mut level: Vec<f64> = profile[foot.saturating_sub(near)..foot.saturating_sub(1)].to_vec();
    let level = median(&mut level)?;
    let half = 0.5 * level;
    let from = foot.saturating_sub(near);
    let i =
        (from.max(1)..foot + quiet).rev().find(|&i| profile[i - 1] >= half && profile[i] < half)?;
    let at = (i - 1) as f64 + (profile[i - 1] - half) / (profile[i - 1] - profile[i]);
    let upper = (0..i).rev().find(|&j| profile[j] >= 0.75 * level).unwrap_or(0);
    let lower = (i..profile.len()).find(|&j| profile[j] < 0.25 * level).unwrap_or(profile.len());
    Some((at, (0.6 + 0.2 * (lower - upper) as f64).clamp(0.8, 8.0)))
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::super::club_head::find_shaft;
    use super::super::motion::LineSighting;
    use super::super::plane::HeldPlane;
    use super::super::shaft::Line;
    use super::*;
    use crate::domain::{FrameEntry, GrayFrame, PictureSize, Pts, TimeBase, Timeline};

    const SIZE: PictureSize = PictureSize { width: 600, height: 520 };
    const RATE: i64 = 120;

    /// The shaft turns about (300, 20); 440 pixels down its light ends, the sole 24 farther.
    fn line_of(lean: f64) -> (Line, f64) {
        let line = Line { angle: lean, offset: 300.0 * lean.cos() + 20.0 * lean.sin() };
        (line, line.along(300.0, 20.0) + 440.0)
    }

    fn lean(frame: usize) -> f64 {
        0.14 + 0.2 * (6.0 - frame as f64)
    }

    /// A club over textured ground with its shadow; the head is lighter or darker from frame to
    /// frame, from as bright as the shaft to as dark as the ground.
    struct Drawn {
        timeline: Timeline,
        ground: [f64; 3],
    }

    impl Drawn {
        fn over(ground: [f64; 3]) -> Self {
            let frames = (0..13).map(|i| FrameEntry { pts: Pts(i), key: i == 0 }).collect();
            let time_base = TimeBase { numerator: 1, denominator: RATE as i32 };
            Self { timeline: Timeline { time_base, frames, slow_factor: 1.0 }, ground }
        }

        fn rgb(&self, frame: usize, x: f64, y: f64) -> [f64; 3] {
            let texture = 1.0 + 0.06 * (0.9 * x).sin() * (0.7 * y).cos();
            let mut rgb = self.ground.map(|c| c * texture);
            if !(3..10).contains(&frame) {
                return rgb;
            }
            let (line, end) = line_of(lean(frame));
            let (u, s) = (line.across(x, y), line.along(x, y));
            if (-40.0..30.0).contains(&(u + 20.0)) && (0.0..14.0).contains(&(s - end - 26.0)) {
                rgb = rgb.map(|c| 0.6 * c);
            }
            let head = 128.0 - 9.0 * (frame as f64 - 3.0);
            if u.abs() < 7.0 && s <= end && s > end - 430.0 {
                rgb = [128.0; 3];
            } else if (-26.0..8.0).contains(&u) && s > end - 10.0 && s < end + 24.0 {
                rgb = [head; 3];
            }
            rgb
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
            let colours = self.colour(frame)?;
            let luma = |p: &[u8]| {
                let [r, g, b] = [p[0], p[1], p[2]].map(f64::from);
                (0.213 * r + 0.715 * g + 0.072 * b) as u8
            };
            let data = colours.data.chunks_exact(4).map(luma).collect();
            Ok(Arc::new(GrayFrame { width: SIZE.width, height: SIZE.height, data }))
        }

        fn colour(&mut self, frame: FrameIndex) -> Result<Arc<ColourFrame>, PictureError> {
            let mut data = Vec::new();
            for y in 0..SIZE.height {
                for x in 0..SIZE.width {
                    let [r, g, b] = self.rgb(frame.0, x as f64, y as f64).map(|c| c as u8);
                    data.extend([r, g, b, 255]);
                }
            }
            Ok(Arc::new(ColourFrame { width: SIZE.width, height: SIZE.height, data }))
        }
    }

    fn soles_over(ground: [f64; 3]) -> Vec<ShaftEnd> {
        let mut drawn = Drawn::over(ground);
        let area = Area { left: 0, top: 0, width: SIZE.width, height: SIZE.height };
        let mut frames: Vec<Plane> = Vec::new();
        for i in 0..13 {
            frames.push(Plane::cut(&drawn.gray(FrameIndex(i)).unwrap(), area));
        }
        let (before, after) = (frames[0].clone(), frames[12].clone());
        let times: Vec<f64> = (0..13).map(|i| i as f64 / RATE as f64).collect();
        let lines = (3..10).map(|frame| {
            let (line, end) = line_of(lean(frame));
            LineSighting { frame, time: times[frame], line, top: end - 420.0, foot: end }
        });
        let sweep = Sweep {
            time: times[6],
            heading: 1.0,
            speed: 24.0,
            turned: 1.2,
            length: 430.0,
            foot: ImagePoint::new(300.0, 460.0),
            lines: lines.collect(),
        };
        let frames = frames.iter().map(HeldPlane::of).collect();
        let window = Window { area, laid_on: None, first: 0, frames, times, before, after };
        let clock = Clock::new(drawn.timeline.clone());
        let shaft = find_shaft(&window, &sweep, &clock.pace);
        let mut steadying = Steadying::new(&mut drawn).unwrap();
        find_soles(&mut drawn, &mut steadying, &window, &shaft, &sweep, &clock).unwrap()
    }

    #[test]
    fn the_sole_is_followed_whatever_the_heads_light() {
        let soles = soles_over([70.0, 110.0, 50.0]);
        assert!(soles.len() >= 5, "{soles:?}");
        for sole in &soles {
            let (line, end) = line_of(lean(sole.frame));
            let off = line.along(sole.end.x, sole.end.y) - end - 23.5;
            assert!(off.abs() < 1.5, "{}: {off}", sole.frame);
        }
    }

    #[test]
    fn grey_ground_tells_nothing() {
        assert!(soles_over([95.0; 3]).is_empty());
    }
}
