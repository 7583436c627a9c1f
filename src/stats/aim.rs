//! Where a swing should meet the ground, by common practice.

use statrs::distribution::{ContinuousCDF, Normal};

use super::summary::Moments;
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

    /// How a block's mean and spread fit the window; `None` without a spread.
    pub fn capability(self, of: &Moments) -> Option<Capability> {
        let sd = of.sd.filter(|sd| *sd > 0.0)?;
        Some(Capability {
            cp: (self.high_mm - self.low_mm) / (6.0 * sd),
            lower: (of.mean - self.low_mm) / (3.0 * sd),
            upper: (self.high_mm - of.mean) / (3.0 * sd),
        })
    }
}

/// Capability indices of a block against its aim window.
///
/// Method: NIST/SEMATECH e-Handbook, 6.1.6; shares are those of a normal scatter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Capability {
    /// Cp: the window's width in six spreads.
    pub cp: f64,
    /// Cpl: from its lower end to the mean, in three spreads; negative where the mean lies below.
    pub lower: f64,
    /// Cpu: from the mean to its upper end, likewise.
    pub upper: f64,
}

impl Capability {
    /// Cpk: the end that is nearer to the mean, or farther beyond it.
    pub fn cpk(self) -> f64 {
        self.lower.min(self.upper)
    }

    /// Which share lies in the window by mean and spread.
    pub fn share(self) -> f64 {
        let normal = Normal::standard();
        normal.cdf(3.0 * self.upper) - normal.cdf(-3.0 * self.lower)
    }

    /// Which share would, were the mean in the middle of the window.
    pub fn share_if_centred(self) -> f64 {
        Self { lower: self.cp, upper: self.cp, ..self }.share()
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
