//! A camera over a plane: where a point of the world falls in the picture, and back.
//!
//! Its frame ("foot frame") stands on the ground plane below the camera: x to the right of the
//! picture and parallel to the ground, y away, z up, in millimetres. So three numbers place the
//! camera (height, tilt, roll) and nothing is left undetermined.

use crate::domain::{ImagePoint, PictureSize};

/// Number of a camera's parameters, in the order of [`Camera::to_array`].
pub const CAMERA_PARAMETERS: usize = 8;

/// Focal length, principal point, lens and place of a camera with square pixels.
///
/// The lens is radial: a point at distance r from the principal point appears at
/// r (1 + k1 ρ² + k2 ρ⁴), ρ being r over the picture's long side. So k1 and k2 are Brown's
/// coefficients (Brown 1971) times (long side / f)² and (…)⁴, and do not change with f.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    /// Focal length, pixels.
    pub focal: f64,
    /// Principal point, pixels.
    pub centre: [f64; 2],
    /// Angle of the optical axis below the ground plane's parallel, radians.
    pub tilt: f64,
    /// Turn about the optical axis, radians; positive: the camera turned clockwise.
    pub roll: f64,
    /// Height over the ground plane, mm.
    pub height: f64,
    /// Radial distortion.
    pub lens: [f64; 2],
    /// The picture's long side, pixels: the unit of the lens's radius.
    pub long_side: f64,
}

/// The long side of a picture, pixels.
pub fn long_side(size: PictureSize) -> f64 {
    size.width.max(size.height) as f64
}

/// The middle of a picture, pixel centres being whole numbers.
pub fn middle(size: PictureSize) -> [f64; 2] {
    [(size.width as f64 - 1.0) / 2.0, (size.height as f64 - 1.0) / 2.0]
}

impl Camera {
    /// ln focal, principal point, tilt, roll, ln height, k1, k2.
    pub fn to_array(&self) -> [f64; CAMERA_PARAMETERS] {
        [
            self.focal.ln(),
            self.centre[0],
            self.centre[1],
            self.tilt,
            self.roll,
            self.height.ln(),
            self.lens[0],
            self.lens[1],
        ]
    }

    /// The inverse of [`Camera::to_array`].
    pub fn from_array(p: &[f64], long_side: f64) -> Self {
        Self {
            focal: p[0].exp(),
            centre: [p[1], p[2]],
            tilt: p[3],
            roll: p[4],
            height: p[5].exp(),
            lens: [p[6], p[7]],
            long_side,
        }
    }

    /// Where a point of the foot frame appears; `None` behind the camera or beyond the reach of
    /// the lens model.
    pub fn project(&self, point: [f64; 3]) -> Option<ImagePoint> {
        let (ray, depth) = self.camera_from_foot(point);
        (depth > 1.0).then(|| self.distort(self.picture_from_ray(ray, depth)))?
    }

    /// The point of the foot frame at height `z` that appears at `point`; `None` at or above the
    /// horizon of that plane.
    pub fn place_at_height(&self, point: ImagePoint, z: f64) -> Option<[f64; 2]> {
        let flat = self.undistort(point)?;
        let x = (flat.x - self.centre[0]) / self.focal;
        let y = (flat.y - self.centre[1]) / self.focal;
        let (sin_roll, cos_roll) = self.roll.sin_cos();
        let (right, down) = (cos_roll * x - sin_roll * y, sin_roll * x + cos_roll * y);
        let (sin_tilt, cos_tilt) = self.tilt.sin_cos();
        let forward = cos_tilt - sin_tilt * down;
        let fall = sin_tilt + cos_tilt * down;
        // A ray that falls by less than a thousandth meets the plane a kilometre away or never.
        let reach = (self.height - z) / fall;
        (fall > 1e-3 && reach > 0.0).then_some([right * reach, forward * reach])
    }

    /// A point of the foot frame in the camera's axes: (right, down) and the depth.
    pub fn camera_from_foot(&self, point: [f64; 3]) -> ([f64; 2], f64) {
        let (sin_tilt, cos_tilt) = self.tilt.sin_cos();
        let (sin_roll, cos_roll) = self.roll.sin_cos();
        let up = point[2] - self.height;
        let down = -sin_tilt * point[1] - cos_tilt * up;
        let depth = cos_tilt * point[1] - sin_tilt * up;
        let right = point[0];
        ([cos_roll * right + sin_roll * down, cos_roll * down - sin_roll * right], depth)
    }

    /// The undistorted picture of a ray.
    pub fn picture_from_ray(&self, ray: [f64; 2], depth: f64) -> ImagePoint {
        ImagePoint::new(
            self.centre[0] + self.focal * ray[0] / depth,
            self.centre[1] + self.focal * ray[1] / depth,
        )
    }

    /// Where the lens puts a point of the undistorted picture; `None` beyond the radius at which
    /// the model folds back on itself.
    pub fn distort(&self, flat: ImagePoint) -> Option<ImagePoint> {
        let (dx, dy) = (flat.x - self.centre[0], flat.y - self.centre[1]);
        let q = (dx * dx + dy * dy) / (self.long_side * self.long_side);
        let [k1, k2] = self.lens;
        let slope = 1.0 + q * (3.0 * k1 + 5.0 * k2 * q);
        let gain = 1.0 + q * (k1 + k2 * q);
        (slope > 0.0 && gain > 0.0)
            .then(|| ImagePoint::new(self.centre[0] + dx * gain, self.centre[1] + dy * gain))
    }

    /// The undistorted place of a point of the picture: the inverse of [`Camera::distort`] to
    /// 1e-9 px. `None` beyond the radius that the lens model reaches.
    ///
    /// Method: Newton's iteration on the radius.
    pub fn undistort(&self, seen: ImagePoint) -> Option<ImagePoint> {
        let (dx, dy) = (seen.x - self.centre[0], seen.y - self.centre[1]);
        let target = dx.hypot(dy) / self.long_side;
        if target == 0.0 {
            return Some(seen);
        }
        let [k1, k2] = self.lens;
        let mut radius = target;
        for _ in 0..30 {
            let q = radius * radius;
            let slope = 1.0 + q * (3.0 * k1 + 5.0 * k2 * q);
            if slope <= 0.0 {
                return None;
            }
            let step = (radius * (1.0 + q * (k1 + k2 * q)) - target) / slope;
            radius -= step;
            if step.abs() < 1e-15 {
                break;
            }
        }
        let q = radius * radius;
        let miss = radius * (1.0 + q * (k1 + k2 * q)) - target;
        let gain = radius / target;
        (miss.abs() < 1e-12 && radius > 0.0)
            .then(|| ImagePoint::new(self.centre[0] + dx * gain, self.centre[1] + dy * gain))
    }

    /// The outline of a sphere: its centre and its width in the picture's x direction.
    ///
    /// The outline is an ellipse whose horizontal reach is that of the two planes through the
    /// camera's y axis that touch the sphere; its centre is not the picture of the sphere's.
    pub fn outline_of_sphere(&self, centre: [f64; 3], radius: f64) -> Option<(ImagePoint, f64)> {
        let (ray, depth) = self.camera_from_foot(centre);
        let reach = |across: f64| {
            let (angle, distance) = (across.atan2(depth), across.hypot(depth));
            let half = (radius / distance).asin();
            ((angle - half).tan(), (angle + half).tan())
        };
        if depth <= radius * 2.0 {
            return None;
        }
        let ((left, right), (top, bottom)) = (reach(ray[0]), reach(ray[1]));
        let row = (top + bottom) / 2.0;
        let at = |x: f64| self.distort(self.picture_from_ray([x, row], 1.0));
        let width = at(left)?.distance(at(right)?);
        Some((at((left + right) / 2.0)?, width))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn camera() -> Camera {
        Camera {
            focal: 1500.0,
            centre: [642.0, 356.0],
            tilt: 0.28,
            roll: 0.02,
            height: 1050.0,
            lens: [-0.05, 0.01],
            long_side: 1280.0,
        }
    }

    #[test]
    fn distort_and_undistort_are_inverse_to_a_billionth_of_a_pixel() {
        for lens in [[-0.05, 0.01], [0.08, -0.02], [-0.2, 0.05], [0.0, 0.0]] {
            let camera = Camera { lens, ..camera() };
            for i in 0..=20 {
                for j in 0..=20 {
                    let seen = ImagePoint::new(64.0 * i as f64, 36.0 * j as f64);
                    let there = camera.distort(camera.undistort(seen).unwrap()).unwrap();
                    assert!(there.distance(seen) < 1e-9);
                    let back = camera.undistort(camera.distort(seen).unwrap()).unwrap();
                    assert!(back.distance(seen) < 1e-9);
                }
            }
        }
    }

    #[test]
    fn beyond_the_reach_of_the_lens_there_is_no_point() {
        let camera = Camera { lens: [-1.0, 0.0], ..camera() };
        assert_eq!(camera.distort(ImagePoint::new(1400.0, 700.0)), None);
        assert_eq!(camera.undistort(ImagePoint::new(1400.0, 700.0)), None);
    }

    #[test]
    fn a_place_on_the_ground_returns_through_the_picture() {
        for z in [0.0, 21.335, 300.0] {
            let seen = camera().project([250.0, 3500.0, z]).unwrap();
            let [x, y] = camera().place_at_height(seen, z).unwrap();
            assert!((x - 250.0).abs() < 1e-7 && (y - 3500.0).abs() < 1e-7);
        }
    }

    #[test]
    fn the_sky_has_no_place_on_the_ground() {
        assert_eq!(camera().place_at_height(ImagePoint::new(640.0, -200.0), 0.0), None);
    }

    #[test]
    fn a_nearer_thing_looks_larger_by_d_over_d_minus_dz() {
        // Textbook pinhole: D / (D - dz) - 1; 4 m and 100 mm: 2.56 %, 50 mm: 1.27 %, 200 mm: 5.26 %.
        let level = Camera { tilt: 0.0, roll: 0.0, lens: [0.0; 2], ..camera() };
        let width = |y: f64| {
            level.project([50.0, y, 0.0]).unwrap().x - level.project([-50.0, y, 0.0]).unwrap().x
        };
        for (dz, want) in [(20.0, 0.50), (50.0, 1.27), (100.0, 2.56), (200.0, 5.26)] {
            let over = 100.0 * (width(4000.0 - dz) / width(4000.0) - 1.0);
            assert!((over - want).abs() < 0.006, "{dz}: {over}");
        }
    }

    #[test]
    fn a_ball_at_four_metres_is_sixteen_pixels_wide() {
        // 42.67 mm, f = 1500 px, 4 m: 16.0 px (42.67 f / D).
        let level = Camera { tilt: 0.0, roll: 0.0, lens: [0.0; 2], height: 21.335, ..camera() };
        let (centre, width) = level.outline_of_sphere([0.0, 4000.0, 21.335], 21.335).unwrap();
        assert!((width - 16.0).abs() < 0.01);
        assert!(centre.distance(ImagePoint::new(642.0, 356.0)) < 1e-9);
    }
}
