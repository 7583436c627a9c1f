//! Units as types, where a mix-up would give a believable wrong number.

use std::ops::{Add, Div, Mul, Neg, Sub};

use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        impl $name {
            /// The size without its sign.
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }

            /// Neither infinite nor NaN.
            pub fn is_finite(self) -> bool {
                self.0.is_finite()
            }
        }
    };
}

quantity!(
    /// A length on the ground or in the world, in millimetres.
    Millimetres
);
quantity!(
    /// A length in the displayed picture, in pixels.
    Pixels
);
quantity!(
    /// A time or duration on the playback clock, in seconds.
    Seconds
);
quantity!(
    /// The local scale of the picture on the ground, along the target line.
    MillimetresPerPixel
);
quantity!(
    /// A speed in metres a second.
    MetresPerSecond
);

impl Millimetres {
    /// One inch, exact by definition (international yard and pound agreement, 1959).
    pub const INCH: Self = Self(25.4);
    /// One foot of twelve inches, exact likewise.
    pub const FOOT: Self = Self(304.8);
    /// The least diameter of a golf ball (The R&A and USGA, Equipment Rules, part 4).
    pub const BALL: Self = Self(42.67);
    /// One metre.
    pub const METRE: Self = Self(1000.0);
}

impl Mul<MillimetresPerPixel> for Pixels {
    type Output = Millimetres;
    fn mul(self, scale: MillimetresPerPixel) -> Millimetres {
        Millimetres(self.0 * scale.0)
    }
}

impl Div<Seconds> for Millimetres {
    type Output = MetresPerSecond;
    fn div(self, time: Seconds) -> MetresPerSecond {
        MetresPerSecond(self.0 / 1000.0 / time.0)
    }
}

/// The number of a frame, from 0, in presentation order.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct FrameIndex(pub usize);

/// A presentation time in whole ticks of the stream's [`TimeBase`].
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Pts(pub i64);

/// How long one tick of a stream is: `numerator / denominator` seconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TimeBase {
    /// Seconds in `denominator` ticks.
    pub numerator: i32,
    /// Ticks in `numerator` seconds; never zero.
    pub denominator: i32,
}

impl TimeBase {
    /// The time from `start` to `end`: subtracted in ticks, then converted once.
    pub fn between(self, start: Pts, end: Pts) -> Seconds {
        let ticks = i128::from(end.0) - i128::from(start.0);
        Seconds(ticks as f64 * f64::from(self.numerator) / f64::from(self.denominator))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inch_is_exact() {
        // ISO 31-1 / NIST SP 811: 1 in = 25.4 mm exactly; a 48-inch stick is 1219.2 mm.
        assert_eq!(Millimetres::INCH, Millimetres(25.4));
        assert!((Millimetres::INCH * 48.0 - Millimetres(1219.2)).0.abs() < 1e-9);
    }

    #[test]
    fn times_are_differences_of_ticks() {
        let base = TimeBase { numerator: 1, denominator: 90_000 };
        assert_eq!(base.between(Pts(-3000), Pts(6000)), Seconds(0.1));
    }

    #[test]
    fn extreme_ticks_do_not_overflow() {
        let base = TimeBase { numerator: 1, denominator: 1 };
        assert!(base.between(Pts(i64::MIN), Pts(i64::MAX)).0 > 1.8e19);
    }
}
