//! Points that say which space they live in.
//!
//! - Image: the picture as displayed (rotation and mirroring applied, non-square
//!   pixels widened, lens distortion included), origin top left, x right, y down,
//!   a whole number is a pixel *centre*.
//! - Ground: millimetres, x along the target line, + toward the target; y away from
//!   the camera; zero at the ball's resting point. Right-handed with z up when the
//!   target is to the right of the picture, left-handed when it is to the left.
//! - World: the ground frame with its height z, normal to the ground plane.

use serde::{Deserialize, Serialize};

/// A point of the displayed picture, in pixels.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct ImagePoint {
    /// To the right.
    pub x: f64,
    /// Downwards.
    pub y: f64,
}

/// A point on the ground plane, in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct GroundPoint {
    /// Along the target line, + toward the target ("ahead").
    pub x: f64,
    /// Away from the camera.
    pub y: f64,
}

/// A point over (z > 0) or under the ground plane, in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct WorldPoint {
    /// Along the target line, + toward the target.
    pub x: f64,
    /// Away from the camera.
    pub y: f64,
    /// Along the ground plane's normal, up.
    pub z: f64,
}

/// A point of the window, in logical points. Only the window uses it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ScreenPoint {
    /// To the right.
    pub x: f32,
    /// Downwards.
    pub y: f32,
}

macro_rules! planar {
    ($name:ident) => {
        impl $name {
            /// A point from its two coordinates.
            pub const fn new(x: f64, y: f64) -> Self {
                Self { x, y }
            }

            /// The distance to another point of the same space.
            pub fn distance(self, other: Self) -> f64 {
                (self.x - other.x).hypot(self.y - other.y)
            }

            /// Both coordinates are finite numbers.
            pub fn is_finite(self) -> bool {
                self.x.is_finite() && self.y.is_finite()
            }

            /// The point moved by (`dx`, `dy`).
            pub fn moved(self, dx: f64, dy: f64) -> Self {
                Self::new(self.x + dx, self.y + dy)
            }
        }

        impl From<[f64; 2]> for $name {
            fn from([x, y]: [f64; 2]) -> Self {
                Self { x, y }
            }
        }

        impl From<$name> for [f64; 2] {
            fn from(point: $name) -> Self {
                [point.x, point.y]
            }
        }
    };
}

planar!(ImagePoint);
planar!(GroundPoint);
