//! The shaft as a straight line among moving pixels.

use crate::domain::ImagePoint;

/// A steep straight line in the picture.
///
/// `angle`: from the vertical, positive when the lower end leans to the left; the line is
/// `x cos(angle) + y sin(angle) = offset`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Line {
    pub angle: f64,
    pub offset: f64,
}

/// A pixel that differs from what was there before and after, with how much.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Moving {
    pub x: f32,
    pub y: f32,
    pub weight: f32,
}

/// Lines lying flatter than this are left to shadows and stance.
const STEEPEST_LEAN: f64 = 1.36;
const ANGLE_STEP: f64 = 0.05;

impl Line {
    /// The distance to the line, positive on its right.
    pub fn across(&self, x: f64, y: f64) -> f64 {
        x * self.angle.cos() + y * self.angle.sin() - self.offset
    }

    /// The position along the line, growing downwards.
    pub fn along(&self, x: f64, y: f64) -> f64 {
        -x * self.angle.sin() + y * self.angle.cos()
    }

    /// The point at a position along and a distance to the right of the line.
    pub fn point(&self, along: f64, across: f64) -> ImagePoint {
        let (sin, cos) = self.angle.sin_cos();
        let right = self.offset + across;
        ImagePoint::new(right * cos - along * sin, right * sin + along * cos)
    }

    /// Where two lines cross; `None` if they are parallel.
    pub fn crossing(&self, other: &Self) -> Option<ImagePoint> {
        let ((s, c), (t, d)) = (self.angle.sin_cos(), other.angle.sin_cos());
        let determinant = c * t - s * d;
        (determinant.abs() > 1e-9).then(|| {
            ImagePoint::new(
                (self.offset * t - other.offset * s) / determinant,
                (other.offset * c - self.offset * d) / determinant,
            )
        })
    }

    /// The same line with all coordinates multiplied by `factor` and then moved.
    pub fn scaled(&self, factor: f64, dx: f64, dy: f64) -> Self {
        let (sin, cos) = self.angle.sin_cos();
        Self { angle: self.angle, offset: self.offset * factor + dx * cos + dy * sin }
    }
}

/// The steep line with the largest weight within about `bin` pixels of it (Hough transform;
/// Duda & Hart 1972), by its weight. `None` without moving pixels.
pub(crate) fn strongest_line(moving: &[Moving], bin: f64) -> Option<(Line, f64)> {
    let reach = moving.iter().map(|m| f64::from(m.x.abs() + m.y.abs())).fold(0.0, f64::max) + bin;
    let middle = (reach / bin).ceil();
    let mut votes = vec![0.0_f32; 2 * middle as usize + 3];
    let steps = (STEEPEST_LEAN / ANGLE_STEP) as i32;
    let mut best: Option<(Line, f64)> = None;
    for step in -steps..=steps {
        let angle = f64::from(step) * ANGLE_STEP;
        let (sin, cos) = (angle.sin() / bin, angle.cos() / bin);
        votes.fill(0.0);
        for m in moving {
            let rho = f64::from(m.x) * cos + f64::from(m.y) * sin + middle;
            votes[rho.round() as usize] += m.weight;
        }
        for (i, three) in votes.windows(3).enumerate() {
            let weight = f64::from(three.iter().sum::<f32>());
            if weight > best.map_or(0.0, |b| b.1) {
                let centre = i as f64 + f64::from(three[1] + 2.0 * three[2]) / weight;
                best = Some((Line { angle, offset: (centre - middle) * bin }, weight));
            }
        }
    }
    best
}

/// The line through the weighted middle of the moving pixels within `reach` of `line`.
/// `None` if they do not fix one.
pub(crate) fn refit(moving: &[Moving], line: Line, reach: f64) -> Option<Line> {
    let (mut w, mut ws, mut wss, mut wu, mut wsu) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for m in moving {
        let (x, y) = (f64::from(m.x), f64::from(m.y));
        let u = line.across(x, y);
        if u.abs() <= reach {
            let s = line.along(x, y);
            let k = f64::from(m.weight);
            w += k;
            ws += k * s;
            wss += k * s * s;
            wu += k * u;
            wsu += k * s * u;
        }
    }
    let determinant = w * wss - ws * ws;
    if w <= 0.0 || determinant <= 1e-6 * w * wss.max(1.0) {
        return None;
    }
    let slope = (w * wsu - ws * wu) / determinant;
    let intercept = (wu - slope * ws) / w;
    // u = intercept + slope * s in the old line's frame is the new line.
    let turn = slope.atan();
    let line = Line { angle: line.angle - turn, offset: (line.offset + intercept) * turn.cos() };
    (line.angle.abs() < 1.5).then_some(line)
}

/// The longest stretch of the line, from upper to lower end, that is covered by moving
/// pixels within `reach` of it without a gap longer than `gap`; with the share covered.
pub(crate) fn longest_run(
    moving: &[Moving],
    line: Line,
    reach: f64,
    gap: f64,
) -> Option<(f64, f64, f64)> {
    let mut along: Vec<f64> = moving
        .iter()
        .map(|m| (f64::from(m.x), f64::from(m.y)))
        .filter(|&(x, y)| line.across(x, y).abs() <= reach)
        .map(|(x, y)| line.along(x, y))
        .collect();
    along.sort_by(f64::total_cmp);
    let mut best: Option<(f64, f64, f64)> = None;
    let mut start = 0;
    for i in 0..along.len() {
        let ends = i + 1 == along.len() || along[i + 1] - along[i] > gap;
        if !ends {
            continue;
        }
        let length = along[i] - along[start];
        if best.is_none_or(|b| length > b.1 - b.0) {
            best = Some((along[start], along[i], covered(&along[start..=i])));
        }
        start = i + 1;
    }
    best
}

/// The share of unit steps that hold at least one of the sorted positions.
fn covered(along: &[f64]) -> f64 {
    let steps = along[along.len() - 1] - along[0] + 1.0;
    let filled = 1 + along.windows(2).filter(|pair| pair[1].floor() > pair[0].floor()).count();
    filled as f64 / steps
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A band of moving pixels about `truth` from `top` to `foot`, among scattered others.
    fn band(truth: Line, top: f64, foot: f64) -> Vec<Moving> {
        let mut moving = Vec::new();
        let mut s = top;
        while s <= foot {
            for u in -3..=3 {
                let p = truth.point(s, f64::from(u));
                moving.push(Moving { x: p.x as f32, y: p.y as f32, weight: 10.0 });
            }
            s += 1.0;
        }
        for i in 0..60 {
            let (x, y) = ((i * 37 % 300) as f32, (i * 91 % 200) as f32);
            moving.push(Moving { x, y, weight: 10.0 });
        }
        moving
    }

    #[test]
    fn a_band_is_found_and_refined_to_a_fraction_of_a_pixel() {
        for angle in [-0.9, -0.2, 0.0, 0.31, 1.1] {
            let truth = Line { angle, offset: 120.0 };
            let moving = band(truth, 20.0, 150.0);
            let mut line = strongest_line(&moving, 2.0).unwrap().0;
            for reach in [8.0, 6.0, 5.0, 5.0] {
                line = refit(&moving, line, reach).unwrap();
            }
            assert!((line.angle - angle).abs() < 0.01, "{angle}: {line:?}");
            assert!(line.across(truth.point(90.0, 0.0).x, truth.point(90.0, 0.0).y).abs() < 0.5);
            let (top, foot, share) = longest_run(&moving, line, 5.0, 4.0).unwrap();
            assert!((top - 20.0).abs() < 4.0 && (foot - 150.0).abs() < 4.0 && share > 0.9);
        }
    }

    #[test]
    fn a_point_of_the_line_returns() {
        let line = Line { angle: 0.4, offset: 33.0 };
        let p = line.point(12.0, -5.0);
        assert!((line.along(p.x, p.y) - 12.0).abs() < 1e-12);
        assert!((line.across(p.x, p.y) + 5.0).abs() < 1e-12);
        let other = Line { angle: -0.3, offset: 50.0 };
        let q = line.crossing(&other).unwrap();
        assert!(line.across(q.x, q.y).abs() < 1e-9 && other.across(q.x, q.y).abs() < 1e-9);
        assert!(line.crossing(&line).is_none());
        let twice = line.scaled(2.0, 3.0, 4.0);
        let q = line.point(7.0, 0.0);
        assert!(twice.across(2.0 * q.x + 3.0, 2.0 * q.y + 4.0).abs() < 1e-12);
    }

    #[test]
    fn nothing_moving_is_no_line() {
        assert!(strongest_line(&[], 2.0).is_none());
        assert!(refit(&[], Line { angle: 0.0, offset: 0.0 }, 3.0).is_none());
    }
}
