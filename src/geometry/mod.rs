//! Picture to ground: calibration, lens, arc, budget.
//!
//! No input or output, no clock, no thread. Same input, same answer.
//!
//! In reading order: [`calibrate`] turns marked references into a [`GroundView`];
//! [`measure_offset`] reads a mark's distance from the ball off it, with a budget;
//! [`expand`] turns a budget into a 95 % interval.

mod adjust;
mod calibrate;
mod camera;
mod error;
mod expand;
mod homography;
mod least_squares;
mod lens;
mod offset;
mod view;

pub use adjust::{BALL_DIAMETER, CLICK_SIGMA};
pub use calibrate::{CalibrationRequest, calibrate};
pub use camera::Camera;
pub use error::GeometryError;
pub use expand::{coverage_factor, effective_freedom, expand, linear_interval};
pub use homography::{apply, homography};
pub use least_squares::{Minimum, minimise};
pub use lens::{Known, LensProfile};
pub use offset::{ImageMark, Origin, measure_offset};
pub use view::{GroundView, Pose, PoseValue, ReferenceFit};
