//! What is known of a camera's lens, kept for reuse.

use serde::{Deserialize, Serialize};

use super::PictureSize;

/// A number and its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Known {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard: f64,
}

/// A camera's lens as found once, for reuse with recordings of the same phone, lens and format.
///
/// All lengths are parts of the picture's long side, so a profile holds for every size of
/// picture that shows the same field.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LensProfile {
    /// Radial coefficients on the radius over the long side (see `geometry::Camera`).
    pub radial: [Known; 2],
    /// The correlation of the two: what the one gains at the edge the other loses.
    pub correlation: f64,
    /// Focal length over the long side, if it was found.
    pub focal: Option<Known>,
    /// Principal point from the middle, over the long side, if it was found.
    pub centre: Option<[Known; 2]>,
    /// Root mean square of what was left between seen and fitted points, pixels.
    pub residual: f64,
    /// The picture it was found in; pictures of another shape show another field.
    pub size: PictureSize,
}

impl LensProfile {
    /// Whether pictures of `size` can show the same field: the same shape, upright or turned,
    /// within 1 % (sizes are rounded to what coders take).
    pub fn fits(&self, size: PictureSize) -> bool {
        let shape =
            |s: PictureSize| s.width.max(s.height) as f64 / s.width.min(s.height).max(1) as f64;
        (shape(self.size) / shape(size)).ln().abs() < 0.01
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_profile_fits_pictures_of_its_own_shape() {
        let size = |width, height| PictureSize { width, height };
        let known = Known { value: 0.0, standard: 0.01 };
        let profile = LensProfile {
            radial: [known; 2],
            correlation: 0.0,
            focal: None,
            centre: None,
            residual: 0.0,
            size: size(1920, 1080),
        };
        assert!(profile.fits(size(1280, 720)) && profile.fits(size(1088, 1920)));
        assert!(!profile.fits(size(1440, 1080)));
    }
}
