//! Pictures as real numbers: reduce, blur, median, sample between pixels.

use crate::domain::{ColourFrame, GrayFrame};

/// A picture of real values, row by row; a whole coordinate is a pixel centre.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plane {
    pub width: usize,
    pub height: usize,
    pub data: Vec<f32>,
}

/// A rectangle of whole pixels inside a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Area {
    pub left: usize,
    pub top: usize,
    pub width: usize,
    pub height: usize,
}

impl Area {
    /// The part of the rectangle `left..right`, `top..bottom` that lies inside a picture of
    /// `width` by `height`; `None` if less than 3 pixels either way are left.
    pub fn inside(limits: [f64; 4], width: usize, height: usize) -> Option<Self> {
        let [left, top, right, bottom] = limits;
        if !limits.iter().all(|v| v.is_finite()) {
            return None;
        }
        let clip = |v: f64, most: usize| v.clamp(0.0, most as f64) as usize;
        let (left, right) = (clip(left.floor(), width), clip(right.ceil(), width));
        let (top, bottom) = (clip(top.floor(), height), clip(bottom.ceil(), height));
        (right >= left + 3 && bottom >= top + 3).then(|| Self {
            left,
            top,
            width: right - left,
            height: bottom - top,
        })
    }
}

impl Plane {
    /// A picture of one value.
    #[cfg(test)]
    pub fn filled(width: usize, height: usize, value: f32) -> Self {
        Self { width, height, data: vec![value; width * height] }
    }

    /// The luma of a frame.
    pub fn from_gray(frame: &GrayFrame) -> Self {
        Self {
            width: frame.width,
            height: frame.height,
            data: frame.data.iter().map(|&v| f32::from(v)).collect(),
        }
    }

    /// The luma of part of a frame.
    pub fn cut(frame: &GrayFrame, area: Area) -> Self {
        let mut data = Vec::with_capacity(area.width * area.height);
        for y in area.top..area.top + area.height {
            let row = y * frame.width + area.left;
            data.extend(frame.data[row..row + area.width].iter().map(|&v| f32::from(v)));
        }
        Self { width: area.width, height: area.height, data }
    }

    /// The frame's luma averaged over blocks of `factor` by `factor` pixels; an incomplete
    /// block at the right or lower edge is left out.
    pub fn reduced(frame: &GrayFrame, factor: usize) -> Self {
        let (width, height) = (frame.width / factor, frame.height / factor);
        let scale = 1.0 / (factor * factor) as f32;
        let mut data = Vec::with_capacity(width * height);
        let mut sums = vec![0_u32; width];
        for y in 0..height {
            sums.fill(0);
            for row in y * factor..(y + 1) * factor {
                let line = &frame.data[row * frame.width..][..width * factor];
                for (sum, block) in sums.iter_mut().zip(line.chunks_exact(factor)) {
                    *sum += block.iter().map(|&v| u32::from(v)).sum::<u32>();
                }
            }
            data.extend(sums.iter().map(|&sum| sum as f32 * scale));
        }
        Self { width, height, data }
    }

    /// Part of the picture.
    pub fn part(&self, area: Area) -> Self {
        let rows = (area.top..area.top + area.height)
            .flat_map(|y| self.data[y * self.width + area.left..][..area.width].iter().copied());
        Self { width: area.width, height: area.height, data: rows.collect() }
    }

    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.data[y * self.width + x]
    }

    /// The value between pixel centres by bilinear interpolation; `None` outside.
    pub fn sample(&self, x: f64, y: f64) -> Option<f32> {
        if !(x >= 0.0 && y >= 0.0) {
            return None;
        }
        let (i, j) = (x as usize, y as usize);
        if i + 1 >= self.width || j + 1 >= self.height {
            return None;
        }
        let (u, v) = ((x - i as f64) as f32, (y - j as f64) as f32);
        let upper = self.at(i, j) * (1.0 - u) + self.at(i + 1, j) * u;
        let lower = self.at(i, j + 1) * (1.0 - u) + self.at(i + 1, j + 1) * u;
        Some(upper * (1.0 - v) + lower * v)
    }

    /// The picture as it looks from elsewhere: each pixel is fetched from where `from` says, by
    /// bilinear interpolation; the border is continued.
    pub fn resampled(&self, from: impl Fn(f64, f64) -> (f64, f64)) -> Self {
        let last = [self.width as f64 - 1.001, self.height as f64 - 1.001];
        let mut data = Vec::with_capacity(self.data.len());
        for y in 0..self.height {
            for x in 0..self.width {
                let (u, v) = from(x as f64, y as f64);
                let (u, v) = (u.clamp(0.0, last[0].max(0.0)), v.clamp(0.0, last[1].max(0.0)));
                data.push(self.sample(u, v).unwrap_or_else(|| self.at(x, y)));
            }
        }
        Self { data, ..*self }
    }

    /// Smoothed by a Gaussian of `sigma` pixels; the border is continued.
    pub fn blurred(&self, sigma: f64) -> Self {
        let reach = (3.0 * sigma).ceil() as isize;
        let mut kernel: Vec<f32> =
            (-reach..=reach).map(|i| (-0.5 * (i as f64 / sigma).powi(2)).exp() as f32).collect();
        let total: f32 = kernel.iter().sum();
        kernel.iter_mut().for_each(|k| *k /= total);
        self.along_rows(&kernel).along_columns(&kernel)
    }

    fn along_rows(&self, kernel: &[f32]) -> Self {
        let reach = kernel.len() / 2;
        let mut out = Vec::with_capacity(self.data.len());
        let mut padded = vec![0.0; self.width + 2 * reach];
        for row in self.data.chunks_exact(self.width) {
            padded[..reach].fill(row[0]);
            padded[reach..reach + self.width].copy_from_slice(row);
            padded[reach + self.width..].fill(row[self.width - 1]);
            out.extend(
                padded
                    .windows(kernel.len())
                    .map(|w| w.iter().zip(kernel).map(|(v, k)| v * k).sum::<f32>()),
            );
        }
        Self { data: out, ..*self }
    }

    fn along_columns(&self, kernel: &[f32]) -> Self {
        let reach = (kernel.len() / 2) as isize;
        let mut out = vec![0.0; self.data.len()];
        for y in 0..self.height {
            let target = &mut out[y * self.width..(y + 1) * self.width];
            for (i, k) in kernel.iter().enumerate() {
                let row = (y as isize + i as isize - reach).clamp(0, self.height as isize - 1);
                let source = &self.data[row as usize * self.width..][..self.width];
                for (t, s) in target.iter_mut().zip(source) {
                    *t += k * s;
                }
            }
        }
        Self { data: out, ..*self }
    }
}

/// A picture that is held for long beside many others, in a quarter or half of the memory.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct HeldPlane {
    width: usize,
    height: usize,
    values: Values,
}

#[derive(Clone, Debug, PartialEq)]
enum Values {
    /// As the camera gave them.
    Bytes(Vec<u8>),
    /// Values between bytes, in parts of 1/256.
    Parts(Vec<u16>),
}

impl HeldPlane {
    /// The luma of part of a frame.
    pub fn cut(frame: &GrayFrame, area: Area) -> Self {
        let mut bytes = Vec::with_capacity(area.width * area.height);
        for y in area.top..area.top + area.height {
            let row = y * frame.width + area.left;
            bytes.extend_from_slice(&frame.data[row..row + area.width]);
        }
        Self { width: area.width, height: area.height, values: Values::Bytes(bytes) }
    }

    /// What `level` makes of red, green and blue in part of a frame.
    pub fn cut_colours(frame: &ColourFrame, area: Area, level: impl Fn([u8; 3]) -> u8) -> Self {
        let columns = area.left..area.left + area.width;
        let bytes = (area.top..area.top + area.height)
            .flat_map(|y| columns.clone().map(move |x| (x, y)))
            .map(|(x, y)| level(frame.rgb(x, y)))
            .collect();
        Self { width: area.width, height: area.height, values: Values::Bytes(bytes) }
    }

    /// A picture of values from 0 to 255.
    pub fn of(plane: &Plane) -> Self {
        // A float turned into a whole number is held to what fits.
        let parts = plane.data.iter().map(|v| (v * 256.0).round() as u16).collect();
        Self { width: plane.width, height: plane.height, values: Values::Parts(parts) }
    }

    pub fn at(&self, i: usize) -> f32 {
        match &self.values {
            Values::Bytes(bytes) => f32::from(bytes[i]),
            Values::Parts(parts) => f32::from(parts[i]) / 256.0,
        }
    }

    pub fn plane(&self) -> Plane {
        let data = match &self.values {
            Values::Bytes(bytes) => bytes.iter().map(|&v| f32::from(v)).collect(),
            Values::Parts(parts) => parts.iter().map(|&v| f32::from(v) / 256.0).collect(),
        };
        Plane { width: self.width, height: self.height, data }
    }

    /// The median of each pixel over pictures of one size; `None` without pictures.
    pub fn median_of(held: &[&Self]) -> Option<Plane> {
        let first = held.first()?;
        let middle = held.len() / 2;
        let mut values = vec![0.0; held.len()];
        let data = (0..first.width * first.height)
            .map(|i| {
                for (value, picture) in values.iter_mut().zip(held) {
                    *value = picture.at(i);
                }
                *values.select_nth_unstable_by(middle, f32::total_cmp).1
            })
            .collect();
        Some(Plane { width: first.width, height: first.height, data })
    }
}

/// The connected pixels from `level` on around `start`, marked as seen.
pub(crate) fn fill(
    plane: &Plane,
    start: usize,
    level: f32,
    seen: &mut [bool],
    region: &mut Vec<usize>,
) {
    region.clear();
    region.push(start);
    seen[start] = true;
    let mut next = 0;
    while next < region.len() {
        let i = region[next];
        next += 1;
        let (x, y) = (i % plane.width, i / plane.width);
        let neighbours = [
            (x > 0).then(|| i - 1),
            (x + 1 < plane.width).then(|| i + 1),
            (y > 0).then(|| i - plane.width),
            (y + 1 < plane.height).then(|| i + plane.width),
        ];
        for j in neighbours.into_iter().flatten() {
            if !seen[j] && plane.data[j] >= level {
                seen[j] = true;
                region.push(j);
            }
        }
    }
}

/// The median, reordering `values`; `None` if there are none.
pub(crate) fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// A Gaussian's standard deviation from the median distance to zero (Rousseeuw & Croux 1993).
pub(crate) fn sigma_from_median_distance(values: impl Iterator<Item = f64>) -> f64 {
    let mut distances: Vec<f64> = values.map(f64::abs).collect();
    1.4826 * median(&mut distances).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reducing_averages_blocks() {
        let frame = GrayFrame { width: 5, height: 2, data: vec![0, 4, 8, 8, 9, 4, 0, 8, 8, 9] };
        assert_eq!(Plane::reduced(&frame, 2).data, [2.0, 8.0]);
    }

    #[test]
    fn sampling_is_linear_between_centres() {
        let plane = Plane { width: 2, height: 2, data: vec![0.0, 2.0, 4.0, 6.0] };
        assert_eq!(plane.sample(0.5, 0.25), Some(2.0));
        assert_eq!(plane.sample(-0.1, 0.0), None);
        assert_eq!(plane.sample(f64::NAN, 0.0), None);
    }

    #[test]
    fn blurring_keeps_the_mean_and_the_middle() {
        let mut plane = Plane::filled(21, 21, 0.0);
        plane.data[10 * 21 + 10] = 100.0;
        let blurred = plane.blurred(1.5);
        assert!((blurred.data.iter().sum::<f32>() - 100.0).abs() < 1e-3);
        assert!(blurred.at(10, 10) > blurred.at(9, 10));
        assert_eq!(blurred.at(9, 10), blurred.at(11, 10));
    }
}
