//! Does the stated 95 % interval hold the truth 95 times in a hundred? Simulated set-ups, measured
//! by the real code.

mod scene;
mod swing;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::expand::expand;
use super::priors::DEPTH_SPREAD;
use crate::domain::{ImagePoint, Measured};
use scene::Scene;

/// Divot start and end, the ball in the stance, four of the arc, the low point from the mark and
/// from both.
const QUANTITIES: usize = 9;
/// Not every arc reaches the ground, so this one is counted as it comes.
const CONTACT: &str = "first contact (arc)";

/// By what the simulated ground is calibrated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ruler {
    /// An A4 sheet, its edge not along the target line, which is assumed.
    Sheet,
    /// An A4 sheet and a marked target line.
    SheetAndLine,
    /// An A4 sheet and a stored lens.
    SheetAndLens,
    /// Four points on the ground, no two sides alike, the target line assumed.
    FourPoints,
    /// An A4 sheet and the ball's outline.
    SheetAndBall,
    /// Two points on the ground a known distance apart, the target line assumed.
    TwoPoints,
    /// A 48-inch stick along the target line.
    Stick,
    /// A sheet and a stick along the target line.
    SheetAndStick,
    /// Two chalk lines 400 mm apart.
    LinePair,
    /// The ball's outline alone.
    Ball,
}

impl Ruler {
    /// All of them.
    pub const ALL: [Self; 10] = [
        Self::Sheet,
        Self::SheetAndLine,
        Self::SheetAndLens,
        Self::FourPoints,
        Self::SheetAndBall,
        Self::TwoPoints,
        Self::Stick,
        Self::SheetAndStick,
        Self::LinePair,
        Self::Ball,
    ];

    /// In plain words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Sheet => "sheet",
            Self::SheetAndLine => "sheet, target line marked",
            Self::SheetAndLens => "sheet, lens known",
            Self::FourPoints => "four points",
            Self::SheetAndBall => "sheet and ball",
            Self::TwoPoints => "two points",
            Self::Stick => "stick on the target line",
            Self::SheetAndStick => "sheet and stick",
            Self::LinePair => "pair of lines",
            Self::Ball => "ball alone",
        }
    }
}

/// Which cameras the simulated set-ups have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cameras {
    /// As widely spread as the calibration assumes before it looks.
    AsAssumed,
    /// One narrow kind that the calibration is not told about: f 1.0 to 1.6 times the long side,
    /// barrel distortion always, 0.85 to 1.15 m high, 2.7 to 3.6 m away, within 2° of level.
    OneKind,
}

/// How often an interval held the truth.
#[derive(Clone, Debug, PartialEq)]
pub struct Coverage {
    /// What was measured, in plain words.
    pub quantity: &'static str,
    /// How many were measured.
    pub count: usize,
    /// How many intervals held the truth.
    pub held: usize,
    /// The median distance from the truth, in the quantity's unit.
    pub median_error: f64,
    /// The median half width of the interval.
    pub median_half_width: f64,
}

impl Coverage {
    /// The share of intervals that held the truth.
    pub fn share(&self) -> f64 {
        self.held as f64 / self.count as f64
    }
}

/// Simulates set-ups with the given ruler and cameras, measures each, and counts until every
/// quantity has been measured `count` times; of the first contact as many as come by then. Same
/// seed, same answer.
///
/// A camera and what it is calibrated by are drawn together, and drawn anew where a reference does
/// not fit into the picture: that prefers wide views just as the calibration does, which knows
/// that everything marked was seen.
pub fn coverage(ruler: Ruler, cameras: Cameras, count: usize, seed: u64) -> Vec<Coverage> {
    let mut random = Random(ChaCha8Rng::seed_from_u64(seed));
    let mut tallies: Vec<Tally> = Vec::new();
    let is_done = |tallies: &[Tally]| {
        let full = tallies.iter().filter(|t| t.quantity != CONTACT && t.errors.len() >= count);
        full.count() == QUANTITIES
    };
    while !is_done(&tallies) {
        let Some(scene) = Scene::draw(&mut random, ruler, cameras) else {
            continue;
        };
        for (quantity, measured, truth) in swing::measure(&scene, &mut random) {
            let tally = Tally::of(&mut tallies, quantity);
            if tally.errors.len() < count {
                tally.add(&measured, truth);
            }
        }
    }
    tallies.into_iter().map(Tally::finish).collect()
}

struct Tally {
    quantity: &'static str,
    held: usize,
    errors: Vec<f64>,
    halves: Vec<f64>,
}

impl Tally {
    fn of<'t>(tallies: &'t mut Vec<Self>, quantity: &'static str) -> &'t mut Self {
        let at = tallies.iter().position(|t| t.quantity == quantity).unwrap_or_else(|| {
            tallies.push(Self { quantity, held: 0, errors: Vec::new(), halves: Vec::new() });
            tallies.len() - 1
        });
        &mut tallies[at]
    }

    fn add(&mut self, measured: &Measured, truth: f64) {
        let interval = expand(measured);
        self.held += usize::from(interval.contains(truth));
        self.errors.push((measured.value - truth).abs());
        self.halves.push(interval.half_width());
    }

    fn finish(mut self) -> Coverage {
        let median = |v: &mut Vec<f64>| {
            v.sort_by(f64::total_cmp);
            v.get(v.len() / 2).copied().unwrap_or_default()
        };
        Coverage {
            quantity: self.quantity,
            count: self.errors.len(),
            held: self.held,
            median_error: median(&mut self.errors),
            median_half_width: median(&mut self.halves),
        }
    }
}

/// What was measured, as it was measured, and the truth.
type Comparison = (&'static str, Measured, f64);

struct Random(ChaCha8Rng);

impl Random {
    fn normal(&mut self, spread: f64) -> f64 {
        let z: f64 = StandardNormal.sample(&mut self.0);
        z * spread
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0.random_range(low..high)
    }

    /// How far behind the ball a reference object lies: as widely spread as is assumed, or between
    /// two depths that the calibration is not told about.
    fn depth(&mut self, cameras: Cameras, low: f64, high: f64) -> f64 {
        match cameras {
            Cameras::AsAssumed => self.normal(DEPTH_SPREAD),
            Cameras::OneKind => self.between(low, high),
        }
    }

    fn moved(&mut self, p: ImagePoint, spread: f64) -> ImagePoint {
        p.moved(self.normal(spread), self.normal(spread))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 80 set-ups tell a share of 95 % from one of 80 % (2.4 % standard); the study with thousands
    /// is a command, its table is in the documentation.
    #[test]
    fn intervals_hold_the_truth_about_as_often_as_they_say() {
        for (ruler, cameras) in
            [(Ruler::Sheet, Cameras::OneKind), (Ruler::Stick, Cameras::AsAssumed)]
        {
            for row in coverage(ruler, cameras, 80, 11) {
                assert!(row.count == 80 || row.quantity == CONTACT && row.count > 20, "{row:?}");
                assert!(row.share() >= 0.86, "{ruler:?} {row:?}");
                // Nor is it held by being far too wide: normal errors have a median of 0.34 of
                // the half width.
                assert!(row.median_error > 0.12 * row.median_half_width, "{ruler:?} {row:?}");
            }
        }
    }

    /// What is simulated of each calibration is measured by it: two set-ups tell no share, but that
    /// the numbers are near the truth.
    #[test]
    fn every_calibration_is_simulated() {
        for ruler in [Ruler::FourPoints, Ruler::SheetAndBall, Ruler::TwoPoints, Ruler::LinePair] {
            let rows = coverage(ruler, Cameras::OneKind, 2, 3);
            assert!(rows.len() >= QUANTITIES, "{ruler:?} {rows:?}");
            for row in rows.iter().filter(|row| row.quantity.starts_with("divot")) {
                assert!(row.median_error < 2.0 * row.median_half_width, "{ruler:?} {row:?}");
                assert!(row.median_half_width < 20.0, "{ruler:?} {row:?}");
            }
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_table() {
        let once = coverage(Ruler::Ball, Cameras::OneKind, 2, 5);
        assert_eq!(once, coverage(Ruler::Ball, Cameras::OneKind, 2, 5));
    }
}
