//! How the stored picture is turned, mirrored and widened into the displayed one.

use serde::{Deserialize, Serialize};

use crate::domain::PictureSize;

/// Stored to displayed: first mirrored left to right if `mirrored`, then turned clockwise.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Turn {
    /// Degrees a player turns the picture clockwise: 0, 90, 180 or 270.
    pub clockwise: u16,
    /// Left and right are exchanged before turning.
    pub mirrored: bool,
}

impl Turn {
    /// The nearest of the eight turns that a display matrix stands for.
    ///
    /// `matrix`: nine fixed-point numbers a b u, c d v, x y w; a stored point (p, q) is shown at
    /// (a p + c q + x, b p + d q + y) (ISO/IEC 14496-12, 8.3.2, track header matrix).
    pub fn from_matrix(matrix: &[i32; 9]) -> Self {
        let [a, b, c, d] = [matrix[0], matrix[1], matrix[3], matrix[4]].map(f64::from);
        let mirrored = a * d - b * c < 0.0;
        // The direction in which the stored x axis points when shown; y runs down, so a
        // positive angle is clockwise. Mirroring first has turned the axis around.
        let (x, y) = if mirrored { (-a, -b) } else { (a, b) };
        let quarter = (y.atan2(x).to_degrees() / 90.0).round() as i32;
        Self { clockwise: (quarter.rem_euclid(4) * 90) as u16, mirrored }
    }

    /// Width and height change places.
    pub fn swaps_sides(self) -> bool {
        self.clockwise % 180 == 90
    }

    /// The size after turning.
    pub fn apply_to_size(self, size: PictureSize) -> PictureSize {
        if self.swaps_sides() {
            PictureSize { width: size.height, height: size.width }
        } else {
            size
        }
    }

    /// Turns a picture of `size`, row by row without padding.
    pub fn apply<T: Copy + Default>(self, data: Vec<T>, size: PictureSize) -> Vec<T> {
        let PictureSize { width, height } = size;
        if self == Self::default() || data.is_empty() {
            return data;
        }
        let shown = self.apply_to_size(size);
        let mut out = vec![T::default(); data.len()];
        // Where the shown pixel (0, 0) is stored, and the steps to its right and lower neighbour.
        let (w, h) = (width as isize, height as isize);
        let (start, right, down) = match (self.clockwise, self.mirrored) {
            (90, false) => ((h - 1) * w, -w, 1),
            (180, false) => (h * w - 1, -1, -w),
            (270, false) => (w - 1, w, -1),
            (0, _) => (w - 1, -1, w),
            (90, true) => (h * w - 1, -w, -1),
            (180, true) => ((h - 1) * w, 1, -w),
            _ => (0, w, 1),
        };
        if self.swaps_sides() {
            copy_in_tiles(&data, &mut out, shown, start, right, down);
        } else {
            for (y, row) in out.chunks_exact_mut(shown.width).enumerate() {
                let first = start + y as isize * down;
                let stored = &data[(first.min(first + right * (w - 1))) as usize..][..width];
                if right == 1 {
                    row.copy_from_slice(stored);
                } else {
                    row.iter_mut().zip(stored.iter().rev()).for_each(|(to, from)| *to = *from);
                }
            }
        }
        out
    }
}

/// Transposing row by row would touch a new cache line for each pixel; tiles keep them in reach.
fn copy_in_tiles<T: Copy>(
    data: &[T],
    out: &mut [T],
    shown: PictureSize,
    start: isize,
    right: isize,
    down: isize,
) {
    const TILE: usize = 32;
    for top in (0..shown.height).step_by(TILE) {
        for left in (0..shown.width).step_by(TILE) {
            let end = (left + TILE).min(shown.width);
            for y in top..(top + TILE).min(shown.height) {
                let mut from = start + y as isize * down + left as isize * right;
                for to in &mut out[y * shown.width + left..y * shown.width + end] {
                    *to = data[from as usize];
                    from += right;
                }
            }
        }
    }
}

/// Stretches rows of `from` columns to `to` columns, `channels` values a pixel, linearly;
/// outer edges stay outer edges.
pub(super) fn widen(data: &[u8], from: usize, to: usize, channels: usize) -> Vec<u8> {
    let taps = taps(from, to);
    let rows = data.len() / (from * channels).max(1);
    let mut out = vec![0; rows * to * channels];
    for (row, wide) in data.chunks_exact(from * channels).zip(out.chunks_exact_mut(to * channels)) {
        for (pixel, &(left, right, weight)) in wide.chunks_exact_mut(channels).zip(&taps) {
            for (c, value) in pixel.iter_mut().enumerate() {
                let a = u32::from(row[left * channels + c]);
                let b = u32::from(row[right * channels + c]);
                *value = ((a * (256 - weight) + b * weight + 128) >> 8) as u8;
            }
        }
    }
    out
}

/// For each new column: its two neighbours and the weight of the right one in 256ths.
fn taps(from: usize, to: usize) -> Vec<(usize, usize, u32)> {
    (0..to)
        .map(|x| {
            let stored = ((x as f64 + 0.5) * from as f64 / to as f64 - 0.5).max(0.0);
            let left = (stored as usize).min(from - 1);
            let weight = ((stored - left as f64) * 256.0).round() as u32;
            (left, (left + 1).min(from - 1), weight.min(256))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ONE: i32 = 1 << 16;

    fn shown(turn: Turn) -> Vec<u8> {
        // a b c
        // d e f
        turn.apply(b"abcdef".to_vec(), PictureSize { width: 3, height: 2 })
    }

    #[test]
    fn each_turn_moves_the_corners_where_a_player_puts_them() {
        let turn = |clockwise, mirrored| Turn { clockwise, mirrored };
        assert_eq!(shown(turn(0, false)), b"abcdef");
        assert_eq!(shown(turn(90, false)), b"daebfc");
        assert_eq!(shown(turn(180, false)), b"fedcba");
        assert_eq!(shown(turn(270, false)), b"cfbead");
        assert_eq!(shown(turn(0, true)), b"cbafed");
        assert_eq!(shown(turn(90, true)), b"fcebda");
        assert_eq!(shown(turn(180, true)), b"defabc");
        assert_eq!(shown(turn(270, true)), b"adbecf");
    }

    #[test]
    fn matrices_of_the_file_format_standard_are_read() {
        let turn = |a, b, c, d| Turn::from_matrix(&[a, b, 0, c, d, 0, 0, 0, 1 << 30]);
        let expected = |clockwise, mirrored| Turn { clockwise, mirrored };
        assert_eq!(turn(ONE, 0, 0, ONE), expected(0, false));
        assert_eq!(turn(0, ONE, -ONE, 0), expected(90, false));
        assert_eq!(turn(-ONE, 0, 0, -ONE), expected(180, false));
        assert_eq!(turn(0, -ONE, ONE, 0), expected(270, false));
        assert_eq!(turn(-ONE, 0, 0, ONE), expected(0, true));
        assert_eq!(turn(ONE, 0, 0, -ONE), expected(180, true));
        assert_eq!(turn(0, ONE, ONE, 0), expected(270, true));
        assert_eq!(turn(0, -ONE, -ONE, 0), expected(90, true));
    }

    #[test]
    fn the_matrix_and_the_picture_agree() {
        // Each matrix is applied to the stored corner pixel and compared with where `apply` puts it.
        let size = PictureSize { width: 40, height: 70 };
        for (a, b, c, d) in [
            (1, 0, 0, 1),
            (0, 1, -1, 0),
            (-1, 0, 0, -1),
            (0, -1, 1, 0),
            (-1, 0, 0, 1),
            (1, 0, 0, -1),
            (0, 1, 1, 0),
            (0, -1, -1, 0),
        ] {
            let turn = Turn::from_matrix(&[a * ONE, b * ONE, 0, c * ONE, d * ONE, 0, 0, 0, 0]);
            let out = turn.apply((0..2800u32).collect(), size);
            let shown = turn.apply_to_size(size);
            let (p, q) = (5i32, 9i32);
            let place = |v: i32, n: usize, sum: i32| if sum < 0 { n as i32 - 1 + v } else { v };
            let x = place(a * p + c * q, shown.width, a + c) as usize;
            let y = place(b * p + d * q, shown.height, b + d) as usize;
            assert_eq!(out[y * shown.width + x], (q * 40 + p) as u32, "{a} {b} {c} {d}");
        }
    }

    #[test]
    fn widening_keeps_edges_and_level() {
        assert_eq!(widen(&[0, 100], 2, 4, 1), [0, 25, 75, 100]);
        assert_eq!(widen(&[9; 6], 3, 5, 1), [9; 10]);
        assert_eq!(widen(&[1, 2, 3, 4, 5, 6, 7, 8], 2, 2, 4), [1, 2, 3, 4, 5, 6, 7, 8]);
    }
}
