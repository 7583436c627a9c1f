//! How an iron that leaves the ground untouched meets the ball.

use super::club::expected;
use super::expand::{coverage_factor, expand};
use super::mark::BALL_DIAMETER;
use crate::domain::{Club, Measured};

/// Which part of the club meets the ball.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pickup {
    /// The face, below the ball's middle: picked clean off the ground.
    Clean,
    /// The leading edge, before the face: thin.
    Thin,
    /// The difference is smaller than its expanded uncertainty.
    TooClose,
}

/// Whether the face or the leading edge meets the ball first.
///
/// `height`: the leading edge over the ground where it passes the ball, mm. A face of loft λ
/// touches a ball of radius r at r (1 - sin λ) over the ground; with the leading edge above
/// that, the edge comes first. Plain geometry of a plane and a sphere; the loft is the one to
/// expect of the club, with its spread.
pub fn pickup(height: &Measured, club: Option<&Club>) -> Pickup {
    let club = expected(club);
    let (radius, loft) = (BALL_DIAMETER / 2.0, club.loft.to_radians());
    let limit = radius * (1.0 - loft.sin());
    let limit_u = radius * loft.cos() * club.loft_spread.to_radians();
    let above = height.value - limit;
    // Taken as independent: the one is the picture's doubt, the other the club's.
    let stated = expand(height);
    let toward = if above > 0.0 { height.value - stated.low } else { stated.high - height.value };
    let expanded = toward.hypot(coverage_factor(None) * limit_u);
    match above {
        _ if above.abs() <= expanded => Pickup::TooClose,
        _ if above > 0.0 => Pickup::Thin,
        _ => Pickup::Clean,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Contribution, Interval, Source};

    #[test]
    fn the_edge_comes_first_above_the_point_of_contact() {
        let of = |mm: f64, u: f64, club: &str| {
            let height = Measured::new(mm, vec![Contribution::new(Source::ArcFit, u)]);
            pickup(&height, Some(&Club(club.into())))
        };
        // 7-iron: 31.5 degrees of loft meet the ball at 21.3 (1 - sin 31.5°) = 10.2 mm.
        assert_eq!(of(3.0, 1.0, "7-iron"), Pickup::Clean);
        assert_eq!(of(17.0, 1.0, "7-iron"), Pickup::Thin);
        assert_eq!(of(10.0, 0.1, "7-iron"), Pickup::TooClose);
        assert_eq!(of(17.0, 4.0, "7-iron"), Pickup::TooClose);
        // What counts is the interval that is stated, here lopsided.
        let budget = vec![Contribution::new(Source::ArcFit, 1.0)];
        let low = Some(Interval { low: 8.0, high: 19.0 });
        let lopsided = Measured { monte_carlo: low, ..Measured::new(17.0, budget) };
        assert_eq!(pickup(&lopsided, Some(&Club("7-iron".into()))), Pickup::TooClose);
        // More loft meets the ball lower.
        assert_eq!(of(10.0, 0.1, "60 wedge"), Pickup::Thin);
    }
}
