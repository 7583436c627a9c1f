//! A circle in a tilted plane over the ground.

use crate::geometry::mark::BALL_DIAMETER;

/// Low point, direction, radius and plane of a path, in the ground frame of the origin.
#[derive(Clone, Copy)]
pub(in crate::geometry) struct Arc {
    pub(in crate::geometry) low: [f64; 3],
    pub(in crate::geometry) radius: f64,
    pub(super) plane: f64,
    pub(super) direction: f64,
    /// Angle at which it passes x = 0.
    pub(in crate::geometry) at_ball: f64,
}

impl Arc {
    /// The arc with its low point at `low_x` that passes x = 0 at `side` and `height`; `None` if
    /// it does not reach x = 0.
    pub(in crate::geometry) fn through(
        low_x: f64,
        side: f64,
        height: f64,
        radius: f64,
        plane: f64,
        direction: f64,
    ) -> Option<Self> {
        let mut arc = Self { low: [low_x, 0.0, 0.0], radius, plane, direction, at_ball: 0.0 };
        let mut phi = (-low_x / radius).clamp(-0.9, 0.9).asin();
        for _ in 0..20 {
            let slope =
                radius * (phi.cos() * direction.cos() - phi.sin() * direction.sin() * plane.cos());
            let step = arc.at(phi)[0] / slope;
            phi -= step;
            if step.abs() < 1e-14 {
                break;
            }
        }
        let there = arc.at(phi);
        arc.low = [low_x, side - there[1], height - there[2]];
        arc.at_ball = phi;
        (phi.abs() < 1.2 && arc.at(phi)[0].abs() < 1e-6).then_some(arc)
    }

    /// The point at the angle `phi` past the low point.
    pub(in crate::geometry) fn at(&self, phi: f64) -> [f64; 3] {
        let (along, up) = (self.radius * phi.sin(), self.radius * (1.0 - phi.cos()));
        let (sin, cos) = self.direction.sin_cos();
        let away = up * self.plane.cos();
        [
            self.low[0] + along * cos - away * sin,
            self.low[1] + along * sin + away * cos,
            self.low[2] + up * self.plane.sin(),
        ]
    }

    /// Slope of the path to the ground at the origin, radians: sin A = sin φ sin θ.
    pub(in crate::geometry) fn attack(&self) -> f64 {
        (self.at_ball.sin() * self.plane.sin()).asin()
    }

    /// The angle at which it comes down to the ground; `None` if it never does.
    pub(in crate::geometry) fn contact(&self) -> Option<f64> {
        let cosine = 1.0 + self.low[2] / (self.radius * self.plane.sin());
        (self.low[2] < 0.0 && cosine > 0.0).then(|| -cosine.acos())
    }
}

/// How far behind (-) the ball's centre the leading edge is when the face meets the ball, mm;
/// `height`: of the edge over what the ball rests on, the ground or a tee.
///
/// The face of loft λ touches the ball of radius r at (-r cos λ, r - r sin λ) and leans back, so
/// its edge, at the height h, is (r - r sin λ - h) tan λ ahead of that: 12 mm for 31°, 0 mm.
pub(in crate::geometry) fn edge_at_contact(height: f64, loft_degrees: f64) -> f64 {
    let radius = BALL_DIAMETER / 2.0;
    let (sin, cos) = loft_degrees.to_radians().sin_cos();
    -radius * cos + (radius - radius * sin - height) * sin / cos
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_degree_of_slope_taken_for_level_moves_the_low_point_by_its_share_of_the_radius() {
        // The same circle over a ground that rises by 1 degree toward the target is lowest where
        // its own slope to level ground is 1 degree up: tan(phi) sin(plane) = tan(1 deg), so
        // 1540 mm · sin(1.147 deg) = 30.8 mm farther ahead.
        let plane = 60.6f64.to_radians();
        let arc = Arc::through(0.0, 0.0, 2.0, 1540.0, plane, 0.0).unwrap();
        let rise = 1f64.to_radians().tan();
        let over = |phi: f64| arc.at(phi)[2] - rise * arc.at(phi)[0];
        let steps = (-2000..2000).map(|i| f64::from(i) * 1e-4);
        let lowest = steps.min_by(|a, b| over(*a).total_cmp(&over(*b))).unwrap();
        assert!((arc.at(lowest)[0] - 30.8).abs() < 0.2, "{}", arc.at(lowest)[0]);
    }
}
