//! Repeatable noise.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use scuffline::domain::ImagePoint;

/// Normal noise from a fixed seed.
pub struct Noise(ChaCha8Rng);

impl Noise {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// A normal number with the given standard deviation.
    pub fn normal(&mut self, sigma: f64) -> f64 {
        let z: f64 = StandardNormal.sample(&mut self.0);
        z * sigma
    }

    /// A point moved in x and y.
    pub fn moved(&mut self, point: ImagePoint, sigma: f64) -> ImagePoint {
        point.moved(self.normal(sigma), self.normal(sigma))
    }
}
