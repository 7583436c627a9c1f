//! The ground as it looks when nothing is in front of it: many frames averaged pixel by pixel,
//! without those in which something passes.

use super::steady::{Steadying, median};
use crate::domain::{ColourFrame, FrameIndex, ImagePoint, PictureError, Pictures};

/// Added to a colour before its logarithm is taken, so that the noise of dark pixels stays
/// bounded (8-bit levels).
const DARK: f32 = 10.0;
/// A pixel that differs by so many robust standard deviations is something passing.
const PASSING: f32 = 4.0;
/// Fewer frames than this do not show what is passing and what stays.
const MIN_FRAMES: u16 = 3;
/// Pixels along the side of the blocks that most coders transform.
pub(crate) const BLOCK: usize = 8;

/// A rectangle of the steadied picture: whole pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Patch {
    pub left: usize,
    pub top: usize,
    pub width: usize,
    pub height: usize,
}

/// Logarithms of red, green and blue of the clear ground: a shadow or a change of exposure adds
/// the same to all three.
pub(crate) struct Plate {
    pub patch: Patch,
    /// `width * height` pixels, row by row.
    pub pixels: Vec<[f32; 3]>,
    /// In how many frames the pixel was clear.
    pub clear: Vec<u16>,
}

impl Plate {
    /// Averages `frames` over `patch` of the steadied picture.
    pub fn new(
        pictures: &mut dyn Pictures,
        steadying: &mut Steadying,
        frames: &[FrameIndex],
        patch: Patch,
    ) -> Result<Self, PictureError> {
        let (mut stack, mut others) = (Vec::with_capacity(frames.len()), Vec::new());
        for &frame in frames {
            // Both at once, while the frame is decoded.
            let motion = steadying.motion(pictures, frame)?;
            let picture = pictures.colour(frame)?;
            let pixels = cut(&picture, patch, |point| motion.from_first(point));
            if motion.is_trusted { &mut stack } else { &mut others }.push(pixels);
        }
        // A frame that is not known how to lay on the others would smear them, but is better than
        // none.
        if stack.len() < usize::from(MIN_FRAMES) {
            stack.append(&mut others);
        }
        Ok(Self::from_stack(&stack, patch))
    }

    fn from_stack(stack: &[Vec<[f32; 3]>], patch: Patch) -> Self {
        let count = patch.width * patch.height;
        let mut pixels: Vec<[f32; 3]> = (0..count).map(|i| middle(stack, i)).collect();
        let limit = PASSING * typical_noise(stack, &pixels);
        let mut clear = vec![0u16; count];
        for i in 0..count {
            let (mut sum, mut n) = ([0.0f32; 3], 0u16);
            for picture in stack {
                if distance(&picture[i], &pixels[i]) < limit {
                    n += 1;
                    (0..3).for_each(|c| sum[c] += picture[i][c]);
                }
            }
            clear[i] = n;
            if n >= MIN_FRAMES {
                pixels[i] = sum.map(|s| s / f32::from(n));
            }
        }
        Self { patch, pixels, clear }
    }

    /// Bilinear colours at a point of the steadied picture; `None` outside the plate or where it
    /// was seldom clear.
    pub fn at(&self, point: ImagePoint) -> Option<[f64; 3]> {
        let (x, y) = (point.x - self.patch.left as f64, point.y - self.patch.top as f64);
        let inside = x >= 0.0
            && y >= 0.0
            && x < (self.patch.width - 1) as f64
            && y < (self.patch.height - 1) as f64;
        if !inside {
            return None;
        }
        let (x0, y0) = (x as usize, y as usize);
        let (fx, fy) = (x - x0 as f64, y - y0 as f64);
        let corner = y0 * self.patch.width + x0;
        let corners =
            [corner, corner + 1, corner + self.patch.width, corner + self.patch.width + 1];
        if corners.iter().any(|&i| self.clear[i] < MIN_FRAMES) {
            return None;
        }
        let shares = [(1.0 - fx) * (1.0 - fy), fx * (1.0 - fy), (1.0 - fx) * fy, fx * fy];
        let value = |c: usize| {
            corners.iter().zip(shares).map(|(&i, s)| s * f64::from(self.pixels[i][c])).sum()
        };
        Some([value(0), value(1), value(2)])
    }

    /// By how much (log units) neighbouring pixels differ more across the borders of coding blocks
    /// than within them; nothing, or nearly so, where the blocks do not show. Method: mean
    /// differences from row to row and from column to column less those about them, and of every
    /// eighth the median, so that the edge of a mat, which lies at one row, does not count; the
    /// larger of both ways.
    pub fn block_step(&self) -> f64 {
        let Patch { left, top, width, height } = self.patch;
        let along = stepping(left, width - 1, |x| {
            self.difference(height, |y| [y * width + x, y * width + x + 1])
        });
        let down = stepping(top, height - 1, |y| {
            self.difference(width, |x| [y * width + x, (y + 1) * width + x])
        });
        along.max(down)
    }

    /// The mean difference of green over so many pairs of pixels that were clear; `None` if few.
    fn difference(&self, count: usize, pair: impl Fn(usize) -> [usize; 2]) -> Option<f64> {
        let clear = (0..count).map(pair).filter(|p| p.iter().all(|&i| self.clear[i] >= MIN_FRAMES));
        let (mut sum, mut n) = (0.0, 0);
        for [a, b] in clear {
            sum += f64::from((self.pixels[a][1] - self.pixels[b][1]).abs());
            n += 1;
        }
        (2 * n > count).then(|| sum / n as f64)
    }

    /// The plate as an ordinary picture.
    pub fn to_colour(&self) -> ColourFrame {
        let level = |v: f32| (v.exp() - DARK).round().clamp(0.0, 255.0) as u8;
        let data = self.pixels.iter().flat_map(|p| [level(p[0]), level(p[1]), level(p[2]), 255]);
        ColourFrame { width: self.patch.width, height: self.patch.height, data: data.collect() }
    }
}

/// By how much every eighth line's difference exceeds those of the lines about it.
fn stepping(first: usize, count: usize, difference: impl Fn(usize) -> Option<f64>) -> f64 {
    let lines: Vec<Option<f64>> = (0..count).map(difference).collect();
    let stands_out = |i: usize| -> Option<f64> {
        let about = i.saturating_sub(BLOCK / 2 - 1)..(i + BLOCK / 2).min(count);
        let about: Vec<f64> = about.filter(|&k| k != i).filter_map(|k| lines[k]).collect();
        let line = lines[i].filter(|_| !about.is_empty())?;
        Some(line - median(about))
    };
    let phases = (0..BLOCK).map(|phase| {
        let own = (0..count).filter(|i| (first + i) % BLOCK == phase);
        median(own.filter_map(stands_out).collect())
    });
    phases.fold(0.0, f64::max)
}

/// Log colours of the patch, each pixel fetched from where it went in this frame.
fn cut(
    picture: &ColourFrame,
    patch: Patch,
    from_first: impl Fn(ImagePoint) -> ImagePoint,
) -> Vec<[f32; 3]> {
    let table: Vec<f32> = (0..=255u8).map(|v| (f32::from(v) + DARK).ln()).collect();
    let last = [(picture.width - 1) as f64, (picture.height - 1) as f64];
    let log = |x: usize, y: usize| picture.rgb(x, y).map(|v| table[usize::from(v)]);
    let mut pixels = Vec::with_capacity(patch.width * patch.height);
    for y in patch.top..patch.top + patch.height {
        for x in patch.left..patch.left + patch.width {
            let p = from_first(ImagePoint::new(x as f64, y as f64));
            let (px, py) = (p.x.clamp(0.0, last[0]), p.y.clamp(0.0, last[1]));
            let (x0, y0) = (px as usize, py as usize);
            let (fx, fy) = ((px - x0 as f64) as f32, (py - y0 as f64) as f32);
            if fx < 1e-3 && fy < 1e-3 {
                pixels.push(log(x0, y0));
                continue;
            }
            let (x1, y1) = ((x0 + 1).min(picture.width - 1), (y0 + 1).min(picture.height - 1));
            let (a, b, c, d) = (log(x0, y0), log(x1, y0), log(x0, y1), log(x1, y1));
            pixels.push([0, 1, 2].map(|k| {
                (a[k] * (1.0 - fx) + b[k] * fx) * (1.0 - fy) + (c[k] * (1.0 - fx) + d[k] * fx) * fy
            }));
        }
    }
    pixels
}

/// The median of each colour of pixel `i`.
fn middle(stack: &[Vec<[f32; 3]>], i: usize) -> [f32; 3] {
    [0, 1, 2].map(|c| {
        let mut values: Vec<f32> = stack.iter().map(|picture| picture[i][c]).collect();
        let half = values.len() / 2;
        *values.select_nth_unstable_by(half, f32::total_cmp).1
    })
}

fn distance(a: &[f32; 3], b: &[f32; 3]) -> f32 {
    (0..3).map(|c| (a[c] - b[c]).abs()).sum::<f32>() / 3.0
}

/// The noise of a single frame's pixel about the clear ground, at least one per cent of light.
fn typical_noise(stack: &[Vec<[f32; 3]>], pixels: &[[f32; 3]]) -> f32 {
    let sample = (pixels.len() / 2000).max(1);
    let distances: Vec<f64> = stack
        .iter()
        .flat_map(|picture| {
            picture.iter().zip(pixels).step_by(sample).map(|(a, b)| f64::from(distance(a, b)))
        })
        .collect();
    (1.5 * median(distances) as f32).max(0.01)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Patchy ground; blocks of eight pixels lie lower or higher by half the step, by turns.
    fn blocky(step: f32, left: usize) -> Plate {
        let patch = Patch { left, top: 3, width: 80, height: 40 };
        let pixel = |i: usize| {
            let (x, y) = (left + i % 80, 3 + i / 80);
            let is_high = (x / BLOCK * 5 + y / BLOCK * 3) % 4 < 2;
            let patchy = 0.02 * ((x * 37 % 9 + y * 53 % 7) as f32 / 14.0);
            [4.0 + patchy + if is_high { step / 2.0 } else { -step / 2.0 }; 3]
        };
        Plate { patch, pixels: (0..80 * 40).map(pixel).collect(), clear: vec![9; 80 * 40] }
    }

    #[test]
    fn blocks_of_the_coder_show_wherever_the_patch_begins() {
        for left in [0, 5] {
            assert!(blocky(0.0, left).block_step() < 0.004);
            let step = blocky(0.06, left).block_step();
            assert!((0.015..0.07).contains(&step), "{step}");
        }
    }

    #[test]
    fn a_mats_edge_is_no_block() {
        let mut plate = blocky(0.0, 0);
        plate.pixels[80 * 21..].iter_mut().for_each(|p| *p = p.map(|v| v - 0.8));
        assert!(plate.block_step() < 0.004);
        // Nothing clear: nothing said.
        plate.clear.fill(0);
        assert_eq!(plate.block_step(), 0.0);
    }

    #[test]
    fn what_passes_leaves_no_trace() {
        let patch = Patch { left: 0, top: 0, width: 8, height: 4 };
        let ground = |i: usize| [4.0 + 0.05 * (i % 5) as f32, 4.4, 3.9];
        let stack: Vec<Vec<[f32; 3]>> = (0..9)
            .map(|k| {
                let passes = |i: usize| i % 9 == k || i % 9 == (k + 1) % 9;
                (0..32).map(|i| if passes(i) { [5.5; 3] } else { ground(i) }).collect()
            })
            .collect();
        let plate = Plate::from_stack(&stack, patch);
        for i in 0..32 {
            assert_eq!(plate.clear[i], 7);
            (0..3).for_each(|c| assert!((plate.pixels[i][c] - ground(i)[c]).abs() < 1e-5));
        }
    }
}
