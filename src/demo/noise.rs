//! Repeatable randomness by place: the same place and seed always give the same value.

/// A well-mixed 32-bit value of a lattice place (finaliser of MurmurHash3, public domain).
pub(super) fn hash(x: i32, y: i32, seed: u32) -> u32 {
    let mut h = (x as u32).wrapping_mul(0x9E37_79B1)
        ^ (y as u32).wrapping_mul(0x85EB_CA77)
        ^ seed.wrapping_mul(0xC2B2_AE3D);
    h ^= h >> 16;
    h = h.wrapping_mul(0x85EB_CA6B);
    h ^= h >> 13;
    h = h.wrapping_mul(0xC2B2_AE35);
    h ^ (h >> 16)
}

/// A value in 0..1 of a lattice place.
pub(super) fn unit(x: i32, y: i32, seed: u32) -> f32 {
    (hash(x, y, seed) >> 8) as f32 / (1 << 24) as f32
}

/// Value noise: random lattice values, smoothly interpolated; -1..1.
pub(super) fn value(x: f64, y: f64, seed: u32) -> f32 {
    let (fx, fy) = (x.floor(), y.floor());
    let (ix, iy) = (fx as i32, fy as i32);
    let (u, v) = (fade((x - fx) as f32), fade((y - fy) as f32));
    let top = mix(unit(ix, iy, seed), unit(ix + 1, iy, seed), u);
    let bottom = mix(unit(ix, iy + 1, seed), unit(ix + 1, iy + 1, seed), u);
    2.0 * mix(top, bottom, v) - 1.0
}

/// Three octaves of value noise; about -1..1.
pub(super) fn rough(x: f64, y: f64, seed: u32) -> f32 {
    (value(x, y, seed)
        + 0.5 * value(2.1 * x, 2.1 * y, seed ^ 0x51)
        + 0.25 * value(4.3 * x, 4.3 * y, seed ^ 0xA3))
        / 1.4
}

/// From 0 to 1 as `x` goes from 0 to 1, level at both ends.
pub(super) fn fade(x: f32) -> f32 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// [`fade`] in double precision.
pub(super) fn ease(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// From `a` to `b` as `t` goes from 0 to 1.
pub(super) fn mix(a: f32, b: f32, t: f32) -> f32 {
    a + (b - a) * t
}

/// Standard normal values in a table: cheap noise for whole pictures.
pub(super) struct GaussTable(Vec<f32>);

impl GaussTable {
    const LEN: usize = 1 << 16;
    /// The longest row.
    const REACH: usize = 1 << 12;

    /// A table of its own for each seed.
    pub(super) fn new(seed: u32) -> Self {
        let value = |i: usize| {
            // Twelve uniform values have variance 1; their sum is close enough to normal.
            let sum: f32 = (0..12).map(|k| unit(i as i32, k, seed)).sum();
            sum - 6.0
        };
        let mut table: Vec<f32> = (0..Self::LEN).map(value).collect();
        table.extend_from_within(..Self::REACH);
        Self(table)
    }

    /// `count` values (at most 4096) that belong to a row of a frame.
    pub(super) fn row(&self, frame: usize, row: usize, count: usize) -> &[f32] {
        let start = hash(frame as i32, row as i32, 0x6A55) as usize % Self::LEN;
        &self.0[start..start + count]
    }
}
