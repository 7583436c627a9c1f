//! What a swing leaves in the ground.

use super::noise::{fade, rough, value};

/// The kind of mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// Turf cut out: bare soil.
    Divot,
    /// Brushed, nothing removed.
    Scuff,
    /// Chalk wiped.
    Smear,
}

impl MarkKind {
    /// The word used in truth files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Divot => "divot",
            Self::Scuff => "scuff",
            Self::Smear => "smear",
        }
    }
}

/// A mark, in golfer's coordinates (m).
///
/// Its shape is not that of a rigid arc: how fast it opens and closes, how long it is and
/// where it is deepest are free, since real turf pushes, tears and holds.
#[derive(Clone, Debug, PartialEq)]
pub struct CutMark {
    /// Divot, scuff or smear.
    pub kind: MarkKind,
    /// s of the first contact.
    pub start: f64,
    /// s where it ends.
    pub end: f64,
    /// y of its middle.
    pub middle: f64,
    /// Across.
    pub width: f64,
    /// Over what length it opens to full width and strength.
    pub opening: f64,
    /// Over what length it closes.
    pub closing: f64,
    /// How far the start and the end edge wander.
    pub ragged: [f64; 2],
    /// Divot: the soil's linear colour. Scuff: unused.
    pub soil: [f32; 3],
    /// Divot and smear: how complete, 0..1. Scuff: relative change of brightness, signed.
    pub strength: f32,
    /// Decides the raggedness.
    pub seed: u32,
}

impl CutMark {
    /// How much of the surface is changed at a place, 0..1. `hidden`: how far (m) the blades
    /// on the camera's side reach over the mark.
    pub fn cover(&self, s: f64, y: f64, hidden: f64) -> f32 {
        let across = y - self.middle;
        if s < self.start || s > self.end || across.abs() > 0.6 * self.width {
            return 0.0;
        }
        let wander =
            |salt: u32, fine: f64| 0.5 + 0.5 * f64::from(rough(y / fine, 0.5, self.seed ^ salt));
        let from_start = s - self.start - self.ragged[0] * wander(1, 0.007);
        let from_end = self.end - s - self.ragged[1] * wander(2, 0.009);
        let along = ramp(from_start, self.opening) * ramp(from_end, self.closing);
        // Ends are narrower than the middle; sides wander by some millimetres.
        let narrow = 0.72 + 0.28 * f64::from(along.min(1.0));
        let side = 0.0025 * f64::from(rough(s / 0.012, 1.5, self.seed ^ 3));
        let half = 0.5 * self.width * narrow + side;
        let blade = hidden * (0.55 + 0.45 * f64::from(value(s / 0.004, 2.5, self.seed ^ 4)));
        let near = across + half - blade.min(0.6 * self.width);
        along * ramp(near, 0.003) * ramp(half - across, 0.003)
    }

    /// The y range in which the mark is seen, given what blades hide.
    pub fn seen_width(&self, hidden: f64) -> [f64; 2] {
        let half = self.width / 2.0;
        [self.middle - half + (0.55 * hidden).min(0.6 * self.width), self.middle + half]
    }
}

fn ramp(distance: f64, over: f64) -> f32 {
    fade((distance / over.max(1e-4)) as f32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn covers_what_lies_between_start_and_end_only() {
        let mark = CutMark {
            kind: MarkKind::Divot,
            start: -0.02,
            end: 0.1,
            middle: 0.0,
            width: 0.05,
            opening: 0.004,
            closing: 0.02,
            ragged: [0.003, 0.008],
            soil: [0.05, 0.03, 0.02],
            strength: 1.0,
            seed: 4,
        };
        assert_eq!(mark.cover(-0.021, 0.0, 0.0), 0.0);
        assert_eq!(mark.cover(0.101, 0.0, 0.0), 0.0);
        assert!(mark.cover(0.04, 0.0, 0.0) > 0.95);
        assert_eq!(mark.cover(0.04, -0.02, 0.03), 0.0, "hidden by the blades in front");
        assert!(mark.cover(0.04, 0.015, 0.03) > 0.5);
    }
}
