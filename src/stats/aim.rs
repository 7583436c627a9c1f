//! Where a swing should meet the ground, by common practice.

use crate::domain::{Club, Quantity};

/// From where to where a number should lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AimWindow {
    /// From, mm ahead of the ball (negative: behind).
    pub low_mm: f64,
    /// To, mm ahead of the ball.
    pub high_mm: f64,
}

impl AimWindow {
    /// Whether a value lies within.
    pub fn contains(self, mm: f64) -> bool {
        (self.low_mm..=self.high_mm).contains(&mm)
    }
}

const fn window(low_mm: f64, high_mm: f64) -> Option<AimWindow> {
    Some(AimWindow { low_mm, high_mm })
}

/// Aim windows by club: those of common practice, and a golfer's own in their place.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AimTable {
    own: Vec<(Club, Quantity, AimWindow)>,
}

impl AimTable {
    /// A table with the golfer's own windows.
    pub fn with_own(own: Vec<(Club, Quantity, AimWindow)>) -> Self {
        Self { own }
    }

    /// The window for a club; `None` where there is nothing to aim for, as with the divot of a
    /// driver. No club named: an iron.
    pub fn window(
        &self,
        club: Option<&Club>,
        on_tee: bool,
        quantity: Quantity,
    ) -> Option<AimWindow> {
        let own = self.own.iter().find(|(c, q, _)| Some(c) == club && *q == quantity);
        own.map_or_else(|| usual_window(club, on_tee, quantity), |(_, _, w)| Some(*w))
    }
}

/// The window of common practice for a club; no published source.
///
/// ```
/// use scuffline::domain::{Club, Quantity};
/// use scuffline::stats::usual_window;
///
/// let iron = usual_window(Some(&Club("7-iron".into())), false, Quantity::LowPoint).expect("a window");
/// assert!(iron.contains(85.0) && !iron.contains(10.0));
/// // A driver off a tee is to touch nothing.
/// assert_eq!(usual_window(Some(&Club("driver".into())), true, Quantity::DivotStart), None);
/// ```
pub fn usual_window(club: Option<&Club>, on_tee: bool, quantity: Quantity) -> Option<AimWindow> {
    let wood = club.is_some_and(|c| c.is_fairway_wood() || c.is_driver());
    let name = club.map_or(String::new(), |c| c.0.to_lowercase());
    match quantity {
        _ if name.contains("putter") => None,
        // Off a tee the driver is to sweep past its lowest point and touch nothing.
        Quantity::LowPoint if wood && on_tee => window(-150.0, -25.0),
        Quantity::LowPoint if wood => window(0.0, 60.0),
        Quantity::LowPoint => window(50.0, 125.0),
        Quantity::DivotStart if wood && on_tee => None,
        Quantity::DivotStart if wood => window(0.0, 60.0),
        Quantity::DivotStart => window(0.0, 100.0),
        Quantity::DivotEnd | Quantity::AttackAngle => None,
    }
}
