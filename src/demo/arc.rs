//! The club head's way near the ground: a circle in a tilted plane.

use nalgebra::Vector3;

/// The circle on which the mid point of the leading edge runs, in golfer's coordinates.
///
/// With the arc angle φ past (+) or before (-) the low point and the plane's inclination θ,
/// the point lies at `low + R (sin φ, (1 - cos φ) cos θ, (1 - cos φ) sin θ)`; hence
/// `sin(attack angle) = sin φ sin θ`, exactly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc3 {
    /// The lowest point; z is its height over the level on which the ball rests (m).
    pub low: Vector3<f64>,
    /// Radius, m.
    pub radius: f64,
    /// Inclination of the plane to the ground, radians.
    pub plane: f64,
    /// Angular speed, radians a second.
    pub turn_rate: f64,
}

impl Arc3 {
    /// The centre of the circle.
    pub fn hub(&self) -> Vector3<f64> {
        self.low - self.toward(0.0) * self.radius
    }

    /// The unit vector from the hub toward arc angle `phi`.
    pub fn toward(&self, phi: f64) -> Vector3<f64> {
        Vector3::new(phi.sin(), -phi.cos() * self.plane.cos(), -phi.cos() * self.plane.sin())
    }

    /// The leading edge's mid point at arc angle `phi`.
    pub fn at(&self, phi: f64) -> Vector3<f64> {
        self.hub() + self.toward(phi) * self.radius
    }

    /// The arc angle at which the edge is at `s` along the target line.
    pub fn angle_at(&self, s: f64) -> f64 {
        ((s - self.low.x) / self.radius).clamp(-1.0, 1.0).asin()
    }

    /// The arc angle (before the low point) at which the edge enters the ground.
    pub fn entry(&self) -> Option<f64> {
        let depth = -self.low.z;
        (depth > 0.0).then(|| -(1.0 - depth / (self.radius * self.plane.sin())).acos())
    }

    /// Slope of the edge's path to the ground, radians; down is negative.
    pub fn attack(&self, phi: f64) -> f64 {
        (phi.sin() * self.plane.sin()).asin()
    }

    /// Speed of the edge, m/s.
    pub fn speed(&self) -> f64 {
        self.radius * self.turn_rate
    }

    /// The arc angle at which a face of loft `loft` first touches a ball of radius `r` that
    /// rests with its centre at `s`, `height` (m); `None`: it passes over or beneath.
    pub fn touch(&self, s: f64, height: f64, r: f64, loft: f64) -> Option<f64> {
        let mut phi = self.angle_at(s);
        for _ in 0..20 {
            let up = height - self.at(phi).z;
            let behind = if up < r * loft.sin() {
                // The tangent point would lie under the edge: the edge itself meets the ball.
                (r * r - up * up).max(0.0).sqrt()
            } else {
                (r - up * loft.sin()) / loft.cos()
            };
            phi = self.angle_at(s - behind);
        }
        let up = height - self.at(phi).z;
        (up > -0.8 * r && up < r + 0.06).then_some(phi)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arc(plane_deg: f64, radius: f64, depth: f64) -> Arc3 {
        let low = Vector3::new(0.1, 0.0, -depth);
        Arc3 { low, radius, plane: plane_deg.to_radians(), turn_rate: 25.0 }
    }

    #[test]
    fn attack_angle_and_low_point_go_together() {
        // Circle in a tilted plane, R = 1.5 m: attack -4.3° in a plane of 61° puts the low
        // point 128.6 mm ahead, -1.3° in 47° 46.5 mm (derivation in the type's description).
        for (plane, attack, ahead) in [(61.0, -4.3_f64, 128.6), (47.0, -1.3, 46.5)] {
            let arc = arc(plane, 1.5, 0.003);
            let phi = arc.angle_at(arc.low.x - ahead / 1000.0);
            assert!((arc.attack(phi).to_degrees() - attack).abs() < 0.003);
        }
    }

    #[test]
    fn entry_is_where_the_edge_is_level_with_the_ground() {
        let arc = arc(61.0, 1.5, 0.003);
        let phi = arc.entry().expect("it cuts");
        assert!(arc.at(phi).z.abs() < 1e-12 && phi < 0.0);
        assert_eq!(super::Arc3 { low: Vector3::new(0.0, 0.0, 0.001), ..arc }.entry(), None);
    }

    #[test]
    fn face_meets_the_ball_twelve_millimetres_early() {
        // A plane leaning back by 31° through the ground behind a resting ball of radius
        // 21.335 mm touches it when it is r (1 - sin loft) / cos loft = 12.07 mm behind.
        let level = Arc3 { low: Vector3::zeros(), radius: 1e4, plane: 1.0, turn_rate: 1.0 };
        let r = 0.021335;
        let phi = level.touch(0.0, r, r, 31_f64.to_radians()).expect("it meets it");
        assert!((level.at(phi).x + 0.01207).abs() < 1e-5, "{}", level.at(phi).x);
    }
}
