//! The whole-pixel and sub-pixel shift between two pictures, from the phase of their spectra.
//!
//! Method: phase correlation (Kuglin & Hines 1975), the unreliable high frequencies damped
//! (Stone, Orchard, Chang & Martucci 2001) by a Gaussian, so that the correlation's peak is one
//! too and its neighbours tell the fraction of a pixel.

use rustfft::FftPlanner;
use rustfft::num_complex::Complex;

/// A picture as plain numbers, row by row.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plane {
    pub width: usize,
    pub height: usize,
    pub data: Vec<f32>,
}

/// The spectrum of a picture, ready to be compared with others of its size.
pub(crate) struct Spectrum {
    width: usize,
    height: usize,
    data: Vec<Complex<f32>>,
}

impl Spectrum {
    /// The spectrum under a Hann window, which keeps the picture's border out of the answer.
    pub fn new(plane: &Plane) -> Self {
        let (width, height) = (plane.width, plane.height);
        let mean = plane.data.iter().sum::<f32>() / plane.data.len() as f32;
        let hann = |i: usize, n: usize| {
            0.5 - 0.5 * (std::f32::consts::TAU * (i as f32 + 0.5) / n as f32).cos()
        };
        let mut data: Vec<Complex<f32>> = (0..width * height)
            .map(|i| {
                let window = hann(i % width, width) * hann(i / width, height);
                Complex::new((plane.data[i] - mean) * window, 0.0)
            })
            .collect();
        transform(&mut data, width, height, false);
        Self { width, height, data }
    }

    /// How far `self` may be shifted against `base`, (right, down) in pixels, and how much each
    /// peak of the correlation stands out: its height over the correlation's standard deviation.
    /// The highest peak first, at most `count` of them: what moves before a picture that moves
    /// too has a peak of its own.
    ///
    /// Taken to be no more than a third of the picture; both are of the same size.
    pub fn shifts_from(&self, base: &Self, count: usize) -> Vec<([f64; 2], f64)> {
        let (w, h) = (self.width, self.height);
        let cross = self.correlation(base);
        let spread = (cross.iter().map(|c| c.powi(2)).sum::<f64>() / (w * h) as f64).sqrt();
        let value = |x: usize, y: usize| cross[(y % h) * w + x % w];
        let is_peak = |&i: &usize| {
            let (x, y) = (i % w, i / w);
            let within =
                signed(x, w).abs() * 3.0 <= w as f64 && signed(y, h).abs() * 3.0 <= h as f64;
            let near = [(x + w - 1, y), (x + 1, y), (x, y + h - 1), (x, y + 1)];
            within && near.iter().all(|&(u, v)| value(u, v) <= cross[i])
        };
        let mut peaks: Vec<usize> = (0..w * h).filter(is_peak).collect();
        peaks.sort_by(|&a, &b| cross[b].total_cmp(&cross[a]));
        peaks.truncate(count);
        let refine = |&peak: &usize| {
            let (px, py) = (peak % w, peak / w);
            let dx = fraction(value(px + w - 1, py), value(px, py), value(px + 1, py));
            let dy = fraction(value(px, py + h - 1), value(px, py), value(px, py + 1));
            ([signed(px, w) + dx, signed(py, h) + dy], value(px, py) / spread.max(1e-12))
        };
        peaks.iter().map(refine).collect()
    }

    /// The inverse transform of the cross-spectrum's phase.
    fn correlation(&self, base: &Self) -> Vec<f64> {
        let (w, h) = (self.width, self.height);
        let mut cross: Vec<Complex<f32>> = (self.data.iter().zip(&base.data).enumerate())
            .map(|(i, (a, b))| {
                let product = a * b.conj();
                product * (low_pass(i % w, w) * low_pass(i / w, h) / product.norm().max(1e-6))
            })
            .collect();
        transform(&mut cross, w, h, true);
        cross.into_iter().map(|c| f64::from(c.re)).collect()
    }
}

/// Damps the high frequencies, which aliasing makes unreliable.
fn low_pass(i: usize, n: usize) -> f32 {
    let frequency = (signed(i, n) / n as f64) as f32;
    (-frequency.powi(2) / (2.0 * 0.18f32.powi(2))).exp()
}

fn signed(i: usize, n: usize) -> f64 {
    if 2 * i > n { i as f64 - n as f64 } else { i as f64 }
}

/// The peak of a Gaussian through three neighbours: with the Gaussian low pass above, the
/// correlation peak is one.
fn fraction(before: f64, peak: f64, after: f64) -> f64 {
    if before <= 0.0 || after <= 0.0 || peak <= 0.0 {
        return 0.0;
    }
    let (b, p, a) = (before.ln(), peak.ln(), after.ln());
    let bend = b - 2.0 * p + a;
    if bend >= -1e-9 { 0.0 } else { (0.5 * (b - a) / bend).clamp(-0.5, 0.5) }
}

/// In-place two-dimensional transform.
fn transform(data: &mut [Complex<f32>], width: usize, height: usize, inverse: bool) {
    let mut planner = FftPlanner::new();
    let mut plan =
        |n| if inverse { planner.plan_fft_inverse(n) } else { planner.plan_fft_forward(n) };
    plan(width).process(data);
    let columns = plan(height);
    let mut column = vec![Complex::default(); height];
    for x in 0..width {
        for y in 0..height {
            column[y] = data[y * width + x];
        }
        columns.process(&mut column);
        for y in 0..height {
            data[y * width + x] = column[y];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Smooth texture that can be drawn at any shift: blobs on a fixed scatter.
    fn texture(width: usize, height: usize, dx: f64, dy: f64) -> Plane {
        let mut seed = 7u32;
        let mut next = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(seed >> 8) / f64::from(1u32 << 24)
        };
        let blobs: Vec<[f64; 4]> = (0..900)
            .map(|_| {
                let x = next() * (width as f64 + 80.0) - 40.0;
                let y = next() * (height as f64 + 80.0) - 40.0;
                [x, y, 1.6 + 2.0 * next(), next() - 0.5]
            })
            .collect();
        let mut data = vec![128.0f32; width * height];
        for [x, y, size, level] in blobs {
            let (cx, cy) = (x + dx, y + dy);
            let reach = 4.0 * size;
            let clip = |v: f64, n: usize| v.clamp(0.0, n as f64) as usize;
            for j in clip(cy - reach, height)..clip(cy + reach + 1.0, height) {
                for i in clip(cx - reach, width)..clip(cx + reach + 1.0, width) {
                    let r2 = (i as f64 - cx).powi(2) + (j as f64 - cy).powi(2);
                    data[j * width + i] +=
                        (80.0 * level * (-r2 / (2.0 * size * size)).exp()) as f32;
                }
            }
        }
        Plane { width, height, data }
    }

    fn check(dx: f64, dy: f64, tolerance: f64) {
        let base = Spectrum::new(&texture(256, 192, 0.0, 0.0));
        let moved = Spectrum::new(&texture(256, 192, dx, dy));
        let ([x, y], peak) = moved.shifts_from(&base, 3)[0];
        assert!((x - dx).abs() < tolerance && (y - dy).abs() < tolerance, "{x} {y} for {dx} {dy}");
        assert!(peak > 20.0, "the peak stands out by {peak} only");
    }

    #[test]
    fn follows_the_published_shift_with_its_sign() {
        // Guizar-Sicairos, Thurman & Fienup 2008 and scikit-image's example: a picture moved by
        // (down, right) = (-22.4, 13.32); the shift that *brings it back* is (22.4, -13.32),
        // ours is the way the picture went.
        check(13.32, -22.4, 0.1);
    }

    #[test]
    fn follows_small_and_no_shifts() {
        check(0.0, 0.0, 0.02);
        check(0.5, -0.25, 0.1);
        check(-40.0, 30.0, 0.1);
    }
}
