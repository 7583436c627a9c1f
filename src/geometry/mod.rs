//! Picture to ground: calibration, lens, arc, budget.
//!
//! No input or output, no clock, no thread. Same input, same answer.
//!
//! In reading order: [`calibrate()`] turns marked references into a [`GroundView`];
//! [`measure_offset`] reads a mark's distance from the ball off it, with a budget;
//! [`fit_arc`] reads the club head's path; [`low_point_from_mark`], [`combine_low_points`],
//! [`contact_order`] and [`pickup`] draw the conclusions; [`expand()`] turns a budget into a 95 % interval.

mod adjust;
mod agreement;
mod arc;
mod body;
mod calibrate;
mod camera;
mod clearance;
mod club;
mod coverage;
mod error;
mod expand;
mod homography;
mod least_squares;
mod lens;
mod low_point;
mod mark;
mod offset;
mod priors;
mod view;

pub use agreement::ball_fits;
pub use arc::{ArcFit, ArcRequest, fit_arc};
pub use calibrate::{CalibrationRequest, calibrate, misfit_of};
pub use camera::Camera;
pub use clearance::{Pickup, pickup};
pub use club::{is_odd_radius, wedge_loft};
pub use coverage::{Cameras, Coverage, Ruler, coverage};
pub use error::GeometryError;
pub use expand::{coverage_factor, expand, linear_interval};
pub use homography::{apply, homography};
pub use least_squares::{Minimum, minimise};
pub use lens::{Board, fit_lens_from_boards, fit_lens_from_edges};
pub use low_point::{Contacts, combine_low_points, contact_order, low_point_from_mark};
pub use mark::{
    BALL_DIAMETER, CLICK_SIGMA, ImageMark, MiddleLine, Origin, ball_rest, placed_sigma,
};
pub use offset::{OffsetRequest, measure_offset};
pub use view::{BudgetPart, CameraBudget, CameraNumber, GroundView, Pose, PoseValue, ReferenceFit};
