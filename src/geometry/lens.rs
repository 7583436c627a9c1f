//! What is known of a lens before a recording is calibrated.

use serde::{Deserialize, Serialize};

use super::camera::{long_side, middle};
use crate::domain::PictureSize;

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
    /// Radial coefficients on the radius over the long side (see [`super::Camera`]).
    pub radial: [Known; 2],
    /// Focal length over the long side, if it was found.
    pub focal: Option<Known>,
    /// Principal point from the middle, over the long side, if it was found.
    pub centre: Option<[Known; 2]>,
}

impl LensProfile {
    /// Puts what the profile knows in place of the priors.
    pub(super) fn narrow(&self, size: PictureSize, mean: &mut [f64], spread: &mut [f64]) {
        let long = long_side(size);
        for (i, known) in self.radial.iter().enumerate() {
            mean[6 + i] = known.value;
            spread[6 + i] = known.standard.max(1e-6);
        }
        if let Some(focal) = self.focal {
            mean[0] = (focal.value * long).ln();
            spread[0] = (focal.standard / focal.value).max(1e-6);
        }
        if let Some(centre) = self.centre {
            for (i, known) in centre.iter().enumerate() {
                mean[1 + i] = middle(size)[i] + known.value * long;
                spread[1 + i] = (known.standard * long).max(1e-6);
            }
        }
    }
}
