//! What any swing is like, and what a club's name says about its swing, before anything is seen.
//!
//! Common practice, no source, except the order of the plane angles (driver < irons < wedges,
//! Kwon et al. 2012, Sports Biomech 11:127-148). All are starting points with wide spreads.

use crate::domain::Club;

// Of any swing, standard; common practice, no source.

/// Of the path's direction on the ground against the target line, degrees.
pub(super) const PATH_SPREAD: f64 = 2.5;
/// Of the leading edge's middle to the side of a struck ball's centre, mm: toe and heel strikes.
pub(super) const STRIKE_SPREAD: f64 = 10.0;
/// The same where nothing is struck and a point on the ground stands in for the ball.
pub(super) const PRACTICE_SPREAD: f64 = 60.0;
/// Leading edge's height over the ground at a ball on the ground, and its spread, mm.
pub(super) const EDGE_HEIGHT: (f64, f64) = (3.0, 12.0);
/// The same at a ball on a tee.
pub(super) const EDGE_HEIGHT_TEE: (f64, f64) = (20.0, 20.0);

/// Loft, plane and radius to expect of a club, with their standard spreads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Expected {
    /// Loft at the strike, degrees.
    pub(super) loft: f64,
    pub(super) loft_spread: f64,
    /// Inclination of the club head's plane near the ground, degrees.
    pub(super) plane: f64,
    pub(super) plane_spread: f64,
    /// Radius of the leading edge's arc, mm: from the lead shoulder's height down arm and club.
    pub(super) radius: f64,
    pub(super) radius_spread: f64,
}

/// Whether an arc's radius (mm) lies farther from what is expected of the club than two of its
/// spreads: such a path is more often another thing taken for the head than a swing.
pub fn is_odd_radius(radius: f64, club: Option<&Club>) -> bool {
    let Expected { radius: usual, radius_spread, .. } = expected(club);
    (radius - usual).abs() > 2.0 * radius_spread
}

enum Kind {
    Driver,
    Wood(f64),
    Hybrid(f64),
    Iron(f64),
    Wedge(f64),
}

/// What to expect of `club`; of any club if it is not given or not understood.
pub(super) fn expected(club: Option<&Club>) -> Expected {
    let (loft, plane, radius) = match club.and_then(kind) {
        Some(Kind::Driver) => (12.0, 47.0, 1750.0),
        Some(Kind::Wood(number)) => (9.0 + 2.0 * number, 52.0, 1680.0),
        Some(Kind::Hybrid(number)) => (11.0 + 3.0 * number, 56.0, 1600.0),
        Some(Kind::Iron(number)) => {
            (7.0 + 3.5 * number, 55.0 + 0.8 * number, 1620.0 - 11.0 * number)
        }
        Some(Kind::Wedge(loft)) => (loft - 3.0, 63.5, 1510.0),
        None => {
            return Expected {
                loft: 31.0,
                loft_spread: 10.0,
                plane: 59.0,
                plane_spread: 6.0,
                radius: 1560.0,
                radius_spread: 200.0,
            };
        }
    };
    Expected { loft, loft_spread: 5.0, plane, plane_spread: 4.0, radius, radius_spread: 150.0 }
}

fn kind(club: &Club) -> Option<Kind> {
    let name = club.0.to_lowercase();
    let digits: String = name.chars().filter(char::is_ascii_digit).collect();
    let number = digits.parse::<f64>().ok();
    let has = |word: &str| name.contains(word);
    let small = number.filter(|n| (1.0..=11.0).contains(n));
    match () {
        () if has("driver") => Some(Kind::Driver),
        () if has("hybrid") => Some(Kind::Hybrid(small.unwrap_or(4.0))),
        () if has("wood") => Some(Kind::Wood(small.unwrap_or(3.0))),
        () if has("iron") => small.map(Kind::Iron),
        () => wedge_loft(&name).map(Kind::Wedge),
    }
}

/// The loft of a wedge by its number of degrees, its word or its letters, in any case (usual lofts:
/// common practice, no source); `None`: no wedge.
pub fn wedge_loft(name: &str) -> Option<f64> {
    let name = name.trim().to_lowercase();
    let has = |word: &str| name.contains(word);
    let digits: String = name.chars().filter(char::is_ascii_digit).collect();
    let degrees = digits.parse::<f64>().ok().filter(|n| (40.0..=66.0).contains(n));
    match name.as_str() {
        _ if degrees.is_some() => degrees,
        "pw" => Some(46.0),
        "gw" | "aw" => Some(50.0),
        "sw" => Some(55.0),
        "lw" => Some(60.0),
        _ if has("pitching") => Some(46.0),
        _ if has("gap") || has("approach") => Some(50.0),
        _ if has("sand") => Some(55.0),
        _ if has("lob") => Some(60.0),
        _ if has("wedge") => Some(48.0),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wedge_by_its_word_is_the_one_by_its_letters() {
        let of = |name: &str| expected(Some(&Club(name.into()))).loft;
        let pairs =
            [("pitching wedge", "PW"), ("Gap wedge", "GW"), ("sand wedge", "SW"), ("lob", "LW")];
        for (word, letters) in pairs {
            assert_eq!(of(word), of(letters), "{word}");
        }
    }

    #[test]
    fn names_are_understood_in_their_order() {
        let of = |name: &str| expected(Some(&Club(name.into())));
        let order = ["driver", "3-wood", "4-hybrid", "5-iron", "7-iron", "PW", "60 wedge"];
        for pair in order.windows(2) {
            let (a, b) = (of(pair[0]), of(pair[1]));
            assert!(a.loft < b.loft && a.plane <= b.plane && a.radius >= b.radius, "{pair:?}");
        }
        assert_eq!(of("a stick"), expected(None));
    }

    #[test]
    fn a_radius_that_few_swings_have_is_odd() {
        let driver = Club("driver".into());
        let odd = |radius| [None, Some(&driver)].map(|club| is_odd_radius(radius, club));
        assert_eq!(odd(1030.0), [true, true]);
        assert_eq!(odd(1400.0), [false, true]);
        assert_eq!(odd(1750.0), [false, false]);
        assert_eq!(odd(2100.0), [true, true]);
    }
}
