//! Light that changes from picture to picture.
//!
//! Lamps on the mains pulse at 100 or 120 hertz, and a camera that takes 30 to 240 pictures a
//! second catches them at other places of the pulse each time; a shutter that runs down the
//! picture makes bands of that. Against such a change of light a club does not stand out. Light
//! multiplies what the ground throws back, so a band of rows is set right by one factor: the median
//! of how much brighter its pixels are, of which club and body are few.

use super::plane::{HeldPlane, Plane, median};

/// The bands over the height of what is compared. A shutter takes some 5 to 20 ms to run down the
/// picture (common practice, no source), one or two pulses: a band is a small part of one, and
/// between the middles of bands the factor changes evenly.
const BANDS: usize = 16;
/// So many pixels of a band tell its factor to half a grey level; fewer than an eighth of
/// them, in a band that is black or too bright, do not.
const ENOUGH: usize = 120;
/// A smaller change of light stays below the least change that a club is seen by.
const LEAST: f64 = 0.02;
/// Darker pixels are rounded too coarsely for a ratio; brighter ones may be clipped.
const DARK: f32 = 20.0;
const CLIPPED: f32 = 250.0;

/// By how much the light in `now` is stronger than in `other`, row by row; `None` if it is the
/// same. Each is given by its values, for pictures of one size.
fn gains(
    now: impl Fn(usize) -> f32,
    other: impl Fn(usize) -> f32,
    [width, height]: [usize; 2],
) -> Option<Vec<f32>> {
    let bands = BANDS.min(height).max(1);
    let gain = |band: usize| {
        let pixels = band * height / bands * width..(band + 1) * height / bands * width;
        // An odd step does not fall on the same few columns in each row.
        let step = (pixels.len() / ENOUGH) | 1;
        let usable = DARK..CLIPPED;
        let mut ratios: Vec<f64> = pixels
            .step_by(step)
            .map(|i| (now(i), other(i)))
            .filter(|(n, o)| usable.contains(n) && usable.contains(o))
            .map(|(n, o)| f64::from(n / o))
            .collect();
        (8 * ratios.len() >= ENOUGH).then(|| median(&mut ratios)).flatten()
    };
    let known: Vec<(f64, f64)> =
        (0..bands).filter_map(|band| Some((band as f64 + 0.5, gain(band)?))).collect();
    let changed = known.iter().any(|(_, gain)| (gain - 1.0).abs() >= LEAST);
    let of_row = |row: usize| between(&known, (row as f64 + 0.5) * bands as f64 / height as f64);
    changed.then(|| (0..height).map(|row| of_row(row) as f32).collect())
}

/// The value at `x` between the known ones, in order of place; beyond them on by half a step more.
fn between(known: &[(f64, f64)], x: f64) -> f64 {
    let [.., _, _] = known else { return known[0].1 };
    let after = known.partition_point(|k| k.0 <= x).clamp(1, known.len() - 1);
    let (a, b) = (known[after - 1], known[after]);
    let share = ((x - a.0) / (b.0 - a.0)).clamp(-0.5, 1.5);
    a.1 + share * (b.1 - a.1)
}

/// What `other` would be in the light of `now`; where it is too bright to tell, as `now` is.
fn in_light_of(other: f32, now: f32, gain: f32) -> f32 {
    let lit = (other * gain).min(255.0);
    if other >= CLIPPED && lit < now { now } else { lit }
}

impl Plane {
    /// This picture in the light of another of the same scene; `None` if that is its own.
    pub fn in_light_of(&self, now: &Self) -> Option<Self> {
        let gains = gains(|i| now.data[i], |i| self.data[i], [self.width, self.height])?;
        let pixel = |i: usize| in_light_of(self.data[i], now.data[i], gains[i / self.width]);
        Some(Self { data: (0..self.data.len()).map(pixel).collect(), ..*self })
    }
}

impl HeldPlane {
    /// This picture in the light of another of the same scene.
    pub fn in_light_of(self, now: &Plane) -> Self {
        match gains(|i| now.data[i], |i| self.at(i), [now.width, now.height]) {
            Some(_) => self.plane().in_light_of(now).map_or(self, |lit| Self::of(&lit)),
            None => self,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Patchy ground of 120 by 96 pixels under a light of `light(row)`.
    fn ground(light: impl Fn(usize) -> f32) -> Plane {
        let pixel = |i: usize| (70 + (i * 37 % 41)) as f32 * light(i / 120);
        Plane { width: 120, height: 96, data: (0..120 * 96).map(pixel).collect() }
    }

    #[test]
    fn bands_of_light_are_taken_out() {
        let band = |row: usize| 1.0 + 0.12 * (row as f32 * 0.1).sin();
        let (now, other) = (ground(|_| 1.0), ground(band));
        let lit = other.in_light_of(&now).expect("the light has changed");
        let worst = lit.data.iter().zip(&now.data).map(|(l, n)| (l - n).abs()).fold(0.0, f32::max);
        // A club must stand out by 5 levels; the bands are up to 13 apart.
        assert!(worst < 2.0, "{worst}");
    }

    #[test]
    fn a_club_before_the_ground_is_left_as_it_is() {
        let now = ground(|_| 1.0);
        let mut other = ground(|_| 1.3);
        (0..96).for_each(|row| other.data[row * 120 + 60] = 234.0);
        let lit = other.in_light_of(&now).expect("the light has changed");
        assert!((lit.at(60, 48) - 180.0).abs() < 1.0, "{}", lit.at(60, 48));
    }

    #[test]
    fn the_same_light_changes_nothing() {
        let now = ground(|_| 1.0);
        assert!(ground(|_| 1.01).in_light_of(&now).is_none());
        let black = Plane::filled(120, 96, 0.0);
        assert!(black.in_light_of(&now).is_none());
    }

    #[test]
    fn what_is_clipped_is_not_darkened() {
        let mut now = ground(|_| 1.0);
        let mut other = ground(|_| 1.3);
        now.data[5_000] = 230.0;
        other.data[5_000] = 255.0;
        assert_eq!(other.in_light_of(&now).unwrap().data[5_000], 230.0);
    }
}
