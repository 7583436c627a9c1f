//! A pin-hole camera with one radial distortion term.

use nalgebra::{Matrix3, Vector3};

use crate::domain::{ImagePoint, PictureSize};

/// Where the camera stands, how it is turned and what lens it has.
///
/// World: metres, x to the right along the target line, y away, z up. `x_cam = R (X - C)`,
/// the camera's axes being right, down, forward. Distortion: `x (1 + k1 r²)` on normalised
/// coordinates (Brown 1971), as in check-books and common libraries.
#[derive(Clone, Debug, PartialEq)]
pub struct Camera {
    /// Centre of projection, m.
    pub centre: Vector3<f64>,
    /// World to camera.
    pub rotation: Matrix3<f64>,
    /// Focal length, pixels.
    pub focal: f64,
    /// Principal point, pixels.
    pub principal: ImagePoint,
    /// First radial distortion coefficient.
    pub k1: f64,
    /// Turned from square to the target line, radians, + = looking toward +x.
    pub yaw: f64,
    /// About its own axis, radians.
    pub roll: f64,
}

/// How a camera is set up in front of a ball at the world's zero.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placing {
    /// Of the lens over the ground, m.
    pub height: f64,
    /// From the ball along the ground, m.
    pub distance: f64,
    pub yaw: f64,
    pub roll: f64,
    pub k1: f64,
    /// Width of the ball's picture.
    pub ball_px: f64,
    /// Where the ball shows, as a share of width and height.
    pub ball_at: [f64; 2],
}

impl Camera {
    /// A camera that shows the ball as wished.
    pub(super) fn placed(size: PictureSize, p: Placing) -> Self {
        let principal = ImagePoint::new(
            (size.width as f64 - 1.0) / 2.0 + p.roll * 90.0,
            (size.height as f64 - 1.0) / 2.0 - p.yaw * 40.0,
        );
        let focal = p.ball_px * p.distance.hypot(p.height) / super::scenario::BALL;
        let aside = (p.ball_at[0] * size.width as f64 - principal.x) / focal;
        let below = (p.ball_at[1] * size.height as f64 - principal.y) / focal;
        let pitch = (p.height / p.distance).atan() - below.atan();
        let (sin_yaw, cos_yaw) = p.yaw.sin_cos();
        let forward = Vector3::new(sin_yaw * pitch.cos(), cos_yaw * pitch.cos(), -pitch.sin());
        let right = Vector3::new(cos_yaw, -sin_yaw, 0.0);
        let down = forward.cross(&right);
        let level = Matrix3::from_rows(&[right.transpose(), down.transpose(), forward.transpose()]);
        let (sin_roll, cos_roll) = p.roll.sin_cos();
        let turn = Matrix3::new(cos_roll, sin_roll, 0.0, -sin_roll, cos_roll, 0.0, 0.0, 0.0, 1.0);
        let back = Vector3::new(sin_yaw, cos_yaw, 0.0) * -p.distance;
        let centre = back - right * (aside * p.distance) + Vector3::z() * p.height;
        Self {
            centre,
            rotation: turn * level,
            focal,
            principal,
            k1: p.k1,
            yaw: p.yaw,
            roll: p.roll,
        }
    }

    /// Where a world point shows; `None` behind the camera.
    pub fn project(&self, world: Vector3<f64>) -> Option<ImagePoint> {
        let c = self.rotation * (world - self.centre);
        if c.z < 0.05 {
            return None;
        }
        let (x, y) = (c.x / c.z, c.y / c.z);
        let bend = 1.0 + self.k1 * (x * x + y * y).min(4.0);
        Some(ImagePoint::new(
            self.principal.x + self.focal * x * bend,
            self.principal.y + self.focal * y * bend,
        ))
    }

    /// How many pixels a metre square to the view is at a world point.
    pub fn pixels_per_metre(&self, world: Vector3<f64>) -> f64 {
        self.focal / (self.rotation * (world - self.centre)).z.max(0.05)
    }

    /// The direction, in the world, in which a pixel looks; its forward part is 1.
    pub fn ray(&self, point: ImagePoint) -> Vector3<f64> {
        let xd = (point.x - self.principal.x) / self.focal;
        let yd = (point.y - self.principal.y) / self.focal;
        let (mut x, mut y) = (xd, yd);
        for _ in 0..12 {
            let bend = 1.0 + self.k1 * (x * x + y * y).min(4.0);
            (x, y) = (xd / bend, yd / bend);
        }
        self.rotation.transpose() * Vector3::new(x, y, 1.0)
    }

    /// Where a pixel's ray meets the level `height`; `None` when it looks to the sky.
    pub fn on_level(&self, point: ImagePoint, height: f64) -> Option<Vector3<f64>> {
        let ray = self.ray(point);
        if ray.z > -1e-4 {
            return None;
        }
        Some(self.centre + ray * ((height - self.centre.z) / ray.z))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn camera() -> Camera {
        let size = PictureSize { width: 1280, height: 720 };
        let placing = Placing {
            height: 1.0,
            distance: 3.5,
            yaw: 0.05,
            roll: -0.02,
            k1: -0.07,
            ball_px: 20.0,
            ball_at: [0.5, 0.8],
        };
        Camera::placed(size, placing)
    }

    #[test]
    fn shows_the_ball_where_it_was_told() {
        let p = camera().project(Vector3::zeros()).expect("in front");
        assert!((p.x - 640.0).abs() < 8.0 && (p.y - 576.0).abs() < 8.0, "{p:?}");
    }

    #[test]
    fn a_ray_comes_back_to_its_pixel() {
        let camera = camera();
        for p in [[10.0, 700.0], [640.0, 400.0], [1270.0, 650.0]] {
            let p = ImagePoint::from(p);
            let ground = camera.on_level(p, 0.006).expect("ground");
            assert!((ground.z - 0.006).abs() < 1e-12);
            assert!(camera.project(ground).expect("in front").distance(p) < 1e-6);
        }
    }

    #[test]
    fn rotation_is_a_rotation() {
        let r = camera().rotation;
        assert!((r.determinant() - 1.0).abs() < 1e-12);
        assert!((r * r.transpose() - Matrix3::identity()).norm() < 1e-12);
    }
}
