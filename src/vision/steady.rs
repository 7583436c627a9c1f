//! Steadying: how far each frame's picture has moved against the recording's first frame.
//!
//! Blocks of ground texture are followed one by one (Lucas & Kanade 1981, with gain and offset
//! of the light free), and a shift, or where the blocks ask for it a similarity, is laid through
//! their displacements with Tukey's biweight, so that feet, club and shadows have no say. The
//! blocks' scatter about it gives the uncertainty.

use std::collections::BTreeMap;

use super::phase_correlation::{Plane, Spectrum};
use crate::domain::{
    FrameIndex, GrayFrame, ImagePoint, Mark, PictureError, PictureSize, Pictures, Pixels, Register,
    Warning,
};

/// Half a block's side, pixels.
const BLOCK_HALF: usize = 12;
/// At most so many blocks are followed; more add time, not accuracy.
const MAX_BLOCKS: usize = 120;
/// Fewer steady blocks than this carry no conclusion.
const MIN_BLOCKS: usize = 8;
/// So many of the shifts that the whole pictures tell are tried, and so many guesses in all.
const PEAKS: usize = 5;
const MAX_GUESSES: usize = 16;
/// Longest side of the picture from which a first guess is taken.
const GUESS_SIDE: usize = 320;
/// How much the pictures are smoothed where noise keeps the blocks from being found, pixels: it
/// leaves a fifth of the noise and most of the turf.
const CALMING: f64 = 1.4;
/// Standard uncertainty that the blocks' scatter does not show, pixels: coders skip blocks that
/// move by less than a quarter of a pixel, so the coded picture lags a slow drift as a whole.
const SIGMA_FLOOR: f64 = 0.06;
/// Beyond this scatter of the blocks (pixels) the picture did not move as one.
const MAX_SCATTER: f64 = 0.6;
/// Blocks all over the picture have a standard deviation of 0.29 of its width, a golfer's 0.05.
const LEAST_SPREAD: f64 = 0.12;
/// Beyond this share of the picture's width the lens (some 1 % of distortion across a third of
/// the picture) bends what a similarity keeps straight by more than a few tenths of a pixel.
const MAX_SHIFT_SHARE: f64 = 0.04;

/// Where one frame's picture lies relative to the first frame's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motion {
    /// The point about which rotation and scale act, in the first frame.
    centre: ImagePoint,
    /// The shift of that point, pixels.
    shift: [f64; 2],
    /// `scale * cos - 1` and `scale * sin` of the similarity; zero for a plain shift.
    turn: [f64; 2],
    /// Standard uncertainty of the shift at the centre, pixels.
    sigma: f64,
    /// Distance from the centre at which rotation and scale double the variance, pixels.
    reach: f64,
    /// The blocks agree on one motion, within what can be steadied.
    pub is_trusted: bool,
}

impl Motion {
    /// No motion, known exactly: the first frame's own.
    fn none(centre: ImagePoint) -> Self {
        let reach = f64::INFINITY;
        Self { centre, shift: [0.0; 2], turn: [0.0; 2], sigma: 0.0, reach, is_trusted: true }
    }

    /// The place in this frame of a point of the first frame.
    pub fn from_first(&self, point: ImagePoint) -> ImagePoint {
        let (x, y) = (point.x - self.centre.x, point.y - self.centre.y);
        let [c, s] = self.turn;
        point.moved(self.shift[0] + c * x - s * y, self.shift[1] + s * x + c * y)
    }

    /// The place in the first frame of a point of this frame; undoes [`Motion::from_first`].
    pub fn to_first(&self, point: ImagePoint) -> ImagePoint {
        let x = point.x - self.centre.x - self.shift[0];
        let y = point.y - self.centre.y - self.shift[1];
        let (c, s) = (1.0 + self.turn[0], self.turn[1]);
        let norm = c * c + s * s;
        self.centre.moved((c * x + s * y) / norm, (c * y - s * x) / norm)
    }

    /// The place in another frame, whose motion is `other`, of a point of this one.
    pub fn carry(&self, other: &Motion, point: ImagePoint) -> ImagePoint {
        other.from_first(self.to_first(point))
    }

    /// The motion this far (0 to 1) on the way to a later one's, if the camera went evenly.
    pub fn on_the_way_to(&self, later: &Motion, share: f64) -> Motion {
        let mix = |a: f64, b: f64| a + (b - a) * share;
        let mixed = |a: [f64; 2], b: [f64; 2]| [mix(a[0], b[0]), mix(a[1], b[1])];
        // Each turns about a centre of its own.
        let there = later.from_first(self.centre);
        let shift = [there.x - self.centre.x, there.y - self.centre.y];
        Self {
            shift: mixed(self.shift, shift),
            turn: mixed(self.turn, later.turn),
            sigma: self.sigma.max(later.sigma),
            ..*self
        }
    }

    /// How far the two differ at this motion's centre, pixels.
    fn apart(&self, other: &Motion) -> f64 {
        self.from_first(self.centre).distance(other.from_first(self.centre))
    }

    /// How far the picture's middle moved, pixels.
    pub fn shift(&self) -> Pixels {
        Pixels(self.shift[0].hypot(self.shift[1]))
    }

    /// A mark of the steadied picture from a point of this frame, which is `frame`.
    pub fn steadied(&self, point: ImagePoint, frame: FrameIndex) -> Mark {
        let point = self.to_first(point);
        let register = Some(Register { frame, sigma: self.sigma_at(point) });
        Mark { point, frame: None, register }
    }

    /// Standard uncertainty of the register at a point, in each coordinate.
    pub fn sigma_at(&self, point: ImagePoint) -> Pixels {
        Pixels(self.sigma * (1.0 + (point.distance(self.centre) / self.reach).powi(2)).sqrt())
    }
}

/// A patch of the first frame's ground that is followed through the recording.
struct Block {
    /// Its middle, whole pixels.
    x: usize,
    y: usize,
    /// Values of its pixels less their mean.
    values: Vec<f32>,
    /// Slopes of its pixels to the right and downwards.
    slopes: Vec<[f32; 2]>,
}

/// The motion of a recording's frames against its first one, estimated when asked for and kept.
pub struct Steadying {
    size: PictureSize,
    sharp: Texture,
    /// That of the smoothed picture. On faint ground few of its blocks are left, and they must not
    /// be the golfer's alone.
    calm: Texture,
    step: usize,
    spectrum: Spectrum,
    motions: BTreeMap<FrameIndex, Motion>,
}

impl Steadying {
    /// Reads the first frame and picks the ground texture to follow.
    ///
    /// # Errors
    /// What the reader of pictures says.
    pub fn new(pictures: &mut dyn Pictures) -> Result<Self, PictureError> {
        Ok(Self::from_first(&*pictures.gray(FrameIndex(0))?))
    }

    fn from_first(first: &GrayFrame) -> Self {
        let size = PictureSize { width: first.width, height: first.height };
        let step = first.width.max(first.height).div_ceil(GUESS_SIDE).max(1);
        let centre = ImagePoint::new(size.width as f64 / 2.0, size.height as f64 * 0.7);
        Self {
            size,
            sharp: Texture { blocks: choose_blocks(first), least_spread: 0.0 },
            calm: Texture { blocks: choose_blocks(&calmed(first)), least_spread: LEAST_SPREAD },
            step,
            spectrum: Spectrum::new(&shrink(first, step)),
            motions: BTreeMap::from([(FrameIndex(0), Motion::none(centre))]),
        }
    }

    /// The motion of one frame against the first.
    ///
    /// # Errors
    /// What the reader of pictures says.
    pub fn motion(
        &mut self,
        pictures: &mut dyn Pictures,
        frame: FrameIndex,
    ) -> Result<Motion, PictureError> {
        if let Some(known) = self.motions.get(&frame) {
            return Ok(*known);
        }
        let picture = pictures.gray(frame)?;
        Ok(self.motion_of(frame, &picture))
    }

    /// The motion of a frame the luma of which is at hand.
    pub fn motion_of(&mut self, frame: FrameIndex, picture: &GrayFrame) -> Motion {
        if let Some(known) = self.motions.get(&frame) {
            return *known;
        }
        let motion = self.estimate(picture, &self.known_near(frame));
        self.motions.insert(frame, motion);
        motion
    }

    /// The largest shift of all frames looked at so far.
    pub fn largest_shift(&self) -> Pixels {
        Pixels(self.motions.values().map(|m| m.shift().0).fold(0.0, f64::max))
    }

    /// Says so if a frame looked at so far moved beyond what can be steadied.
    pub fn warning(&self) -> Option<Warning> {
        let lost = self.motions.values().any(|m| !m.is_trusted);
        lost.then(|| Warning::CameraMoved { pixels: self.largest_shift().0 })
    }

    /// The trusted motions, those of the nearest frames first.
    fn known_near(&self, frame: FrameIndex) -> Vec<Motion> {
        let mut known: Vec<(usize, Motion)> = (self.motions.iter())
            .filter(|(_, motion)| motion.is_trusted)
            .map(|(other, motion)| (other.0.abs_diff(frame.0), *motion))
            .collect();
        known.sort_by_key(|(distance, _)| *distance);
        known.into_iter().map(|(_, motion)| motion).collect()
    }

    /// Follows the blocks from the nearest known motion; if they get lost, from others: those that
    /// the whole pictures tell, of which one may be the golfer's own, and those known elsewhere. If
    /// they still are, noise may hide them, and smoothed ones are followed.
    fn estimate(&self, picture: &GrayFrame, known: &[Motion]) -> Motion {
        let here = self.follow(&self.sharp, picture, &known[0]);
        if here.is_trusted {
            return here;
        }
        let shifts = Spectrum::new(&shrink(picture, self.step)).shifts_from(&self.spectrum, PEAKS);
        let told = shifts.into_iter().map(|(shift, _)| Motion {
            shift: shift.map(|s| s * self.step as f64),
            ..Motion::none(known[0].centre)
        });
        let mut guesses: Vec<Motion> = told.collect();
        let first = guesses[0];
        for motion in known.iter().skip(1) {
            // A guess is good for blocks within its reach.
            let is_new = |g: &Motion| g.apart(motion) > BLOCK_HALF as f64 / 4.0;
            if guesses.len() < MAX_GUESSES && guesses.iter().all(is_new) {
                guesses.push(*motion);
            }
        }
        let sharp =
            guesses.iter().map(|g| self.follow(&self.sharp, picture, g)).find(|m| m.is_trusted);
        let calm = || {
            let calm = calmed(picture);
            let nearest = std::iter::once(&known[0]).chain(&guesses);
            nearest.map(|g| self.follow(&self.calm, &calm, g)).find(|m| m.is_trusted)
        };
        sharp.or_else(calm).unwrap_or(Motion { is_trusted: false, ..first })
    }

    /// Follows the blocks from a guess; from afar only some find their place, and what those say
    /// is a better guess for the others.
    fn follow(&self, texture: &Texture, picture: &GrayFrame, guess: &Motion) -> Motion {
        let once = self.follow_once(texture, picture, guess);
        if once.is_trusted { once } else { self.follow_once(texture, picture, &once) }
    }

    fn follow_once(&self, texture: &Texture, picture: &GrayFrame, guess: &Motion) -> Motion {
        let Texture { blocks, least_spread } = texture;
        let tracks: Vec<Track> =
            blocks.iter().filter_map(|block| block.follow(picture, guess)).collect();
        let width = self.size.width as f64;
        let motion = fit_motion(&tracks, blocks.len(), guess.centre, MAX_SHIFT_SHARE * width);
        let is_wide = breadth(&tracks, &motion) >= least_spread * width;
        Motion { is_trusted: motion.is_trusted && is_wide, ..motion }
    }
}

/// The blocks to be followed through a picture.
struct Texture {
    blocks: Vec<Block>,
    /// Those that go along must lie so widely, as a share of the picture's width.
    least_spread: f64,
}

/// Where a block went.
struct Track {
    from: ImagePoint,
    by: [f64; 2],
}

impl Block {
    /// Cuts a block out of `picture` if its texture fixes both directions.
    fn new(picture: &GrayFrame, x: usize, y: usize) -> Option<(f64, Self)> {
        let at = |x: usize, y: usize| f32::from(picture.at(x, y));
        let (mut values, mut slopes) = (Vec::new(), Vec::new());
        let (mut xx, mut xy, mut yy) = (0.0f64, 0.0f64, 0.0f64);
        for j in y - BLOCK_HALF..=y + BLOCK_HALF {
            for i in x - BLOCK_HALF..=x + BLOCK_HALF {
                let gx = (at(i + 1, j) - at(i - 1, j)) / 2.0;
                let gy = (at(i, j + 1) - at(i, j - 1)) / 2.0;
                values.push(at(i, j));
                slopes.push([gx, gy]);
                xx += f64::from(gx * gx);
                xy += f64::from(gx * gy);
                yy += f64::from(gy * gy);
            }
        }
        let mean = values.iter().sum::<f32>() / values.len() as f32;
        values.iter_mut().for_each(|v| *v -= mean);
        let count = values.len() as f64;
        let weakest = ((xx + yy) - ((xx - yy).powi(2) + 4.0 * xy * xy).sqrt()) / 2.0 / count;
        // A slope of one grey level a pixel (RMS) in the weaker direction: below it coding
        // noise has more to say than texture.
        (weakest > 1.0).then_some((weakest, Self { x, y, values, slopes }))
    }

    /// Gauss-Newton for the block's shift in `picture`, gain and offset free.
    fn follow(&self, picture: &GrayFrame, guess: &Motion) -> Option<Track> {
        let from = ImagePoint::new(self.x as f64, self.y as f64);
        let start = guess.from_first(from);
        let mut by = [start.x - from.x, start.y - from.y];
        for _ in 0..12 {
            let seen = self.sample(picture, from.moved(by[0], by[1]))?;
            let step = self.step(&seen)?;
            by = [by[0] + step[0], by[1] + step[1]];
            let drift = (by[0] - start.x + from.x).hypot(by[1] - start.y + from.y);
            if drift > BLOCK_HALF as f64 / 2.0 {
                return None;
            }
            if step[0].hypot(step[1]) < 0.003 {
                return Some(Track { from, by });
            }
        }
        None
    }

    /// The block's pixels in `picture` about `centre`, less their mean; `None` outside.
    fn sample(&self, picture: &GrayFrame, centre: ImagePoint) -> Option<Vec<f32>> {
        let half = BLOCK_HALF as f64;
        let (left, top) = (centre.x - half, centre.y - half);
        let side = 2 * BLOCK_HALF + 1;
        let fits = left >= 0.0
            && top >= 0.0
            && left + side as f64 + 1.0 < picture.width as f64
            && top + side as f64 + 1.0 < picture.height as f64;
        if !fits {
            return None;
        }
        let (x0, y0) = (left as usize, top as usize);
        let (fx, fy) = ((left - x0 as f64) as f32, (top - y0 as f64) as f32);
        let mut values = Vec::with_capacity(side * side);
        for j in y0..y0 + side {
            let row = &picture.data[j * picture.width..];
            let next = &picture.data[(j + 1) * picture.width..];
            for i in x0..x0 + side {
                let upper = f32::from(row[i]) * (1.0 - fx) + f32::from(row[i + 1]) * fx;
                let lower = f32::from(next[i]) * (1.0 - fx) + f32::from(next[i + 1]) * fx;
                values.push(upper * (1.0 - fy) + lower * fy);
            }
        }
        let mean = values.iter().sum::<f32>() / values.len() as f32;
        values.iter_mut().for_each(|v| *v -= mean);
        Some(values)
    }

    /// The next step of the shift: least squares of `seen = gain * block(p - step)`. `None`
    /// where the block no longer looks like itself (correlation below 0.6).
    fn step(&self, seen: &[f32]) -> Option<[f64; 2]> {
        let dot =
            |a: &[f32], b: &[f32]| -> f64 { a.iter().zip(b).map(|(p, q)| f64::from(p * q)).sum() };
        let (own, cross, other) =
            (dot(&self.values, &self.values), dot(&self.values, seen), dot(seen, seen));
        if cross < 0.6 * (own * other).sqrt() {
            return None;
        }
        let gain = (cross / own) as f32;
        let (mut xx, mut xy, mut yy, mut bx, mut by) = (0.0f64, 0.0, 0.0, 0.0, 0.0);
        for ((v, s), [gx, gy]) in self.values.iter().zip(seen).zip(&self.slopes) {
            let rest = f64::from(gain * v - s);
            let (gx, gy) = (f64::from(gain * gx), f64::from(gain * gy));
            xx += gx * gx;
            xy += gx * gy;
            yy += gy * gy;
            bx += gx * rest;
            by += gy * rest;
        }
        let det = xx * yy - xy * xy;
        (det > 0.0).then(|| [(yy * bx - xy * by) / det, (xx * by - xy * bx) / det])
    }
}

/// The best textured blocks of the ground: the lower three fifths of the picture, spread out.
fn choose_blocks(first: &GrayFrame) -> Vec<Block> {
    let margin = 2 * BLOCK_HALF + 2;
    if first.width <= 2 * margin || first.height <= 2 * margin {
        return Vec::new();
    }
    let pitch = (2 * BLOCK_HALF + 1).max(first.width / 24);
    let top = (first.height * 2 / 5).max(margin);
    let mut found: Vec<(f64, Block)> = (top..first.height - margin)
        .step_by(pitch)
        .flat_map(|y| (margin..first.width - margin).step_by(pitch).map(move |x| (x, y)))
        .filter_map(|(x, y)| Block::new(first, x, y))
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.truncate(MAX_BLOCKS);
    found.into_iter().map(|(_, block)| block).collect()
}

/// The picture with less noise.
fn calmed(picture: &GrayFrame) -> GrayFrame {
    let blurred = super::plane::Plane::from_gray(picture).blurred(CALMING);
    let data = blurred.data.iter().map(|v| v.round() as u8).collect();
    GrayFrame { data, ..*picture }
}

/// Averages squares of `step` pixels.
fn shrink(picture: &GrayFrame, step: usize) -> Plane {
    let (width, height) = (picture.width / step, picture.height / step);
    let mut data = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let mut sum = 0u32;
            for j in y * step..(y + 1) * step {
                let row = &picture.data[j * picture.width + x * step..][..step];
                sum += row.iter().map(|&v| u32::from(v)).sum::<u32>();
            }
            data.push(sum as f32 / (step * step) as f32);
        }
    }
    Plane { width, height, data }
}

/// A shift or a similarity through the tracks, robustly; distrusted where they disagree.
fn fit_motion(tracks: &[Track], all: usize, centre: ImagePoint, limit: f64) -> Motion {
    let shift = fit_robust(tracks, centre, false);
    let similar = fit_robust(tracks, centre, true);
    // Two further parameters must pay for themselves: a fifth less scatter.
    let best = match (shift, similar) {
        (Some(a), Some(b)) => Some(if b.scatter < 0.8 * a.scatter { b } else { a }),
        (a, b) => a.or(b),
    };
    let Some(fit) = best else {
        return Motion { is_trusted: false, ..Motion::none(centre) };
    };
    let is_trusted = fit.weight >= MIN_BLOCKS as f64
        && fit.weight >= 0.3 * all as f64
        && fit.scatter <= MAX_SCATTER
        && fit.motion.shift().0 <= limit;
    Motion { is_trusted, ..fit.motion }
}

/// How widely the tracks that go along with a motion lie, left to right: their standard deviation.
fn breadth(tracks: &[Track], motion: &Motion) -> f64 {
    let along = tracks.iter().filter(|t| rest(t, motion) < MAX_SCATTER);
    let places: Vec<f64> = along.map(|t| t.from.x).collect();
    let n = places.len().max(1) as f64;
    let mean = places.iter().sum::<f64>() / n;
    (places.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt()
}

struct RobustFit {
    motion: Motion,
    /// Robust standard deviation of the tracks about it, pixels a coordinate.
    scatter: f64,
    /// The sum of the tracks' weights.
    weight: f64,
}

/// Iteratively reweighted least squares with Tukey's biweight (tuning 4.685 scales).
fn fit_robust(tracks: &[Track], centre: ImagePoint, with_turn: bool) -> Option<RobustFit> {
    if tracks.len() < MIN_BLOCKS {
        return None;
    }
    let mut motion = Motion::none(centre);
    motion.shift = [0, 1].map(|k| median(tracks.iter().map(|t| t.by[k]).collect()));
    let mut fit = None;
    for _ in 0..15 {
        let rests: Vec<f64> = tracks.iter().map(|t| rest(t, &motion)).collect();
        // The median of a Rayleigh distance is 1.1774 standard deviations.
        let scatter = (median(rests.clone()) / 1.1774).max(0.005);
        let weights: Vec<f64> = rests
            .iter()
            .map(|r| (1.0 - (r / (4.685 * scatter)).powi(2)).max(0.0).powi(2))
            .collect();
        let (solved, weight) = solve(tracks, &weights, centre, with_turn)?;
        motion = solved;
        motion.sigma = (scatter.powi(2) / weight + SIGMA_FLOOR.powi(2)).sqrt();
        fit = Some(RobustFit { motion, scatter, weight });
    }
    fit
}

fn rest(track: &Track, motion: &Motion) -> f64 {
    let there = motion.from_first(track.from);
    (track.from.x + track.by[0] - there.x).hypot(track.from.y + track.by[1] - there.y)
}

/// Weighted least squares of the shift, and of turn and scale about the blocks' own middle.
fn solve(
    tracks: &[Track],
    weights: &[f64],
    centre: ImagePoint,
    with_turn: bool,
) -> Option<(Motion, f64)> {
    let total: f64 = weights.iter().sum();
    if total < 1.0 {
        return None;
    }
    let mean = |of: &dyn Fn(&Track) -> f64| -> f64 {
        tracks.iter().zip(weights).map(|(t, w)| w * of(t)).sum::<f64>() / total
    };
    let (mx, my) = (mean(&|t| t.from.x), mean(&|t| t.from.y));
    let (sx, sy) = (mean(&|t| t.by[0]), mean(&|t| t.by[1]));
    let mut motion = Motion::none(if with_turn { ImagePoint::new(mx, my) } else { centre });
    motion.shift = [sx, sy];
    if with_turn {
        let spread = mean(&|t| (t.from.x - mx).powi(2) + (t.from.y - my).powi(2));
        if spread <= 0.0 {
            return None;
        }
        let c = mean(&|t| (t.from.x - mx) * t.by[0] + (t.from.y - my) * t.by[1]);
        let s = mean(&|t| (t.from.x - mx) * t.by[1] - (t.from.y - my) * t.by[0]);
        motion.turn = [c / spread, s / spread];
        motion.reach = spread.sqrt();
    }
    Some((motion, total))
}

/// The middle value; 0 for none.
pub(crate) fn median(mut values: Vec<f64>) -> f64 {
    super::plane::median(&mut values).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_way_between_motions_about_two_centres() {
        let turned = |x: f64, shift: [f64; 2]| Motion {
            turn: [0.0, 0.005],
            shift,
            ..Motion::none(ImagePoint::new(x, 500.0))
        };
        // The same motion, told about two centres: half way it is still that.
        let one = turned(640.0, [3.0, 1.0]);
        let at = ImagePoint::new(840.0, 500.0);
        let there = one.from_first(at);
        let other = turned(840.0, [there.x - at.x, there.y - at.y]);
        let half = one.on_the_way_to(&other, 0.5);
        assert!(half.from_first(at).distance(there) < 1e-9);
    }

    fn tracks(turn: f64, shift: [f64; 2], wrong: usize) -> Vec<Track> {
        let motion = Motion {
            turn: [turn.cos() - 1.0, turn.sin()],
            shift,
            ..Motion::none(ImagePoint::new(640.0, 500.0))
        };
        (0..60)
            .map(|i| {
                let from =
                    ImagePoint::new(40.0 + 120.0 * (i % 10) as f64, 300.0 + 60.0 * (i / 10) as f64);
                let to = motion.from_first(from);
                let off = if i < wrong { 4.0 + i as f64 } else { 0.0 };
                let ripple = 0.02 * ((i * 7 % 5) as f64 - 2.0);
                Track { from, by: [to.x - from.x + off + ripple, to.y - from.y - ripple] }
            })
            .collect()
    }

    #[test]
    fn a_third_of_wrong_blocks_has_no_say() {
        let centre = ImagePoint::new(640.0, 500.0);
        let m = fit_motion(&tracks(0.0, [1.3, -0.7], 20), 60, centre, 50.0);
        assert!(m.is_trusted);
        let p = m.from_first(ImagePoint::new(600.0, 600.0));
        assert!((p.x - 601.3).abs() < 0.02 && (p.y - 599.3).abs() < 0.02, "{p:?}");
    }

    #[test]
    fn a_turn_is_followed_and_undone() {
        let centre = ImagePoint::new(640.0, 500.0);
        let m = fit_motion(&tracks(0.004, [2.0, 1.0], 10), 60, centre, 50.0);
        let truth = Motion {
            turn: [0.004f64.cos() - 1.0, 0.004f64.sin()],
            shift: [2.0, 1.0],
            ..Motion::none(centre)
        };
        let p = ImagePoint::new(200.0, 650.0);
        assert!(m.from_first(p).distance(truth.from_first(p)) < 0.03);
        assert!(m.to_first(m.from_first(p)).distance(p) < 1e-9);
    }

    /// Turf from a hash of 3-pixel cells, moved to the right and down, in noise that differs by frame.
    fn turf(frame: u64, by: [usize; 2], noise: f64) -> GrayFrame {
        let hash = |a: usize, b: usize, seed: u64| {
            let mut h = (a as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15)
                ^ (b as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F)
                ^ seed.wrapping_mul(0x1656_67B1_9E37_79F9);
            h = (h ^ (h >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            ((h >> 32) & 0xFF) as f64 / 255.0 - 0.5
        };
        let value = |i: usize| {
            let (x, y) = (i % 640, i / 640);
            let cell = hash((x + 30 - by[0]) / 3, (y + 30 - by[1]) / 3, 1);
            // The variance of a uniform number is a twelfth.
            (120.0 + 40.0 * cell + 12f64.sqrt() * noise * hash(x, y, 2 + frame)).round() as u8
        };
        GrayFrame { width: 640, height: 360, data: (0..640 * 360).map(value).collect() }
    }

    #[test]
    fn noise_stronger_than_the_turf_is_steadied_on_the_smoothed_picture() {
        let first = turf(0, [0, 0], 14.0);
        let steadying = Steadying::from_first(&first);
        let known = [Motion::none(ImagePoint::new(320.0, 250.0))];
        let moved = turf(1, [3, 2], 14.0);
        assert!(!steadying.follow(&steadying.sharp, &moved, &known[0]).is_trusted);
        let motion = steadying.estimate(&moved, &known);
        let [x, y] = motion.shift;
        assert!(motion.is_trusted && (x - 3.0).hypot(y - 2.0) < 0.1, "{motion:?}");
        // What lies beyond the limit (4 % of the width) stays untrusted.
        let far = turf(1, [30, 7], 14.0);
        assert!(!steadying.estimate(&far, &known).is_trusted);
    }

    #[test]
    fn what_moves_in_one_place_alone_is_not_the_camera() {
        let tracks = |pitch: f64| -> Vec<Track> {
            let at = |i: i32| ImagePoint::new(600.0 + pitch * f64::from(i % 8), 400.0);
            (0..24).map(|i| Track { from: at(i), by: [4.0, 0.0] }).collect()
        };
        let of = |pitch| {
            let tracks = tracks(pitch);
            let motion = fit_motion(&tracks, 24, ImagePoint::new(640.0, 500.0), 50.0);
            breadth(&tracks, &motion)
        };
        // Of a picture 1280 pixels wide: legs, and most of the ground.
        assert!(of(12.0) < LEAST_SPREAD * 1280.0 && of(120.0) > LEAST_SPREAD * 1280.0);
    }

    #[test]
    fn blocks_that_disagree_are_not_trusted() {
        let scattered: Vec<Track> = (0..60)
            .map(|i| Track {
                from: ImagePoint::new(10.0 * i as f64, 400.0),
                by: [(i * 37 % 23) as f64 - 11.0, (i * 17 % 19) as f64 - 9.0],
            })
            .collect();
        assert!(!fit_motion(&scattered, 60, ImagePoint::new(300.0, 400.0), 50.0).is_trusted);
    }
}
