//! The low point from the mark, from arc and mark together, and which contact came first.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::arc::ArcFit;
use super::expand::{check_against_draws, coverage_factor, expand, linear_interval};
use crate::domain::{
    ContactOrder, Contribution, GroundMark, LowPointMethod, Measured, Source, Surface, SwingKind,
    Warning,
};

/// Where in a mark the low point lies, as a part of its length from its start.
///
/// A rigid head on a circular arc would leave the ground as far after the low point as it entered
/// before: the middle, 0.5. Real marks are not that (a divot of 100 mm cut by a rigid arc of
/// 1.7 m would be 0.7 mm deep, real ones are some ten times deeper): turf pushes the head up and
/// out, so the mark ends early and the low point lies later in it, up to its very end where the
/// sod comes off; or turf tears on beyond the exit, and it lies earlier. So: anywhere from 0.35 to
/// 0.9 alike (reasoned, no source; the divots of check recordings are not used).
pub(super) const PART: f64 = 0.625;
/// Standard uncertainty of a rectangular distribution from 0.35 to 0.9: 0.55 / √12.
pub(super) const PART_SPREAD: f64 = 0.159;

/// What even a short mark leaves open, mm, standard. A cut of 1 mm starts 59 mm before the low point
/// of a face-on radius of 1.73 m (c = √(2 R' d), exact geometry of a circle), and of so shallow a
/// touch only the high spots may be marked: 59 mm at 95 %. Invented short marks and smears that
/// end far from the low point are the reason for having it.
pub(super) const LEAST_MODEL: f64 = 30.0;

const DRAWS: usize = 4000;
const SEED: u64 = 3_590;

/// The leading edge is this far behind (-) the ball's centre when the face meets the ball, mm,
/// where no arc tells: ball radius and a mid iron's loft (`measure-contract`: 12 mm ± 4 mm).
const EDGE_AT_CONTACT: (f64, f64) = (-12.0, 4.0);

/// `a · wa + b · wb` with its budget: parts of one source that both share are added with sign,
/// those of the marks, which are placed separately, in quadrature.
fn weighted(a: &Measured, wa: f64, b: &Measured, wb: f64) -> Measured {
    let mut budget: Vec<Contribution> = Vec::new();
    for (of, weight) in [(a, wa), (b, wb)] {
        for part in &of.budget {
            let standard = part.standard * weight;
            match budget.iter_mut().find(|c| c.source == part.source) {
                Some(sum) if is_shared(&part.source) => sum.standard += standard,
                Some(sum) => sum.standard = sum.standard.hypot(standard),
                None => budget.push(Contribution { standard, ..part.clone() }),
            }
        }
    }
    let mut sum = Measured::new(a.value * wa + b.value * wb, budget);
    sum.warnings = a.warnings.clone();
    sum.warnings.extend(b.warnings.iter().filter(|w| !a.warnings.contains(w)).cloned());
    sum
}

/// Two results of one swing share everything but the placing of marks and the models.
fn is_shared(source: &Source) -> bool {
    !matches!(source, Source::Mark | Source::ArcFit | Source::Model)
}

/// The low point, mm ahead of the ball, from where the mark starts and ends, with a wide model
/// term: the low point lies in the mark, but not in its middle.
///
/// `start`, `end`: offsets in mm measured from the same origin.
pub fn low_point_from_mark(start: &Measured, end: &Measured) -> Measured {
    let mut low = weighted(start, 1.0 - PART, end, PART);
    let model = ((end.value - start.value).abs() * PART_SPREAD).max(LEAST_MODEL);
    let marked = low.standard_uncertainty();
    let sides = sides_of_sum([(start, 1.0 - PART), (end, PART)]);
    low.budget.push(Contribution::new(Source::Model, model));
    // A rectangular part that dominates makes the 95 % interval narrower than two standard
    // uncertainties (JCGM 101:2008, 9.2.4).
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let mut draws: Vec<f64> = (0..DRAWS)
        .map(|_| {
            let z: f64 = StandardNormal.sample(&mut rng);
            let part = rng.random_range(-1.0..1.0) * 3f64.sqrt();
            low.value + marked * z * sides[usize::from(z > 0.0)] + model * part
        })
        .collect();
    check_against_draws(low, &mut draws, DRAWS as f64)
}

/// The low point from arc and mark together, weighted by their uncertainties, and by which method.
///
/// Where they differ by more than chance allows (beyond 95 %) the result carries
/// [`Warning::LowPointsDisagree`] and its uncertainty is stretched to cover the difference.
///
/// Method: best linear combination of two correlated estimates (JCGM 100:2008, 5.2), its interval
/// checked against draws of both together (JCGM 101:2008).
pub fn combine_low_points(
    arc: Option<&Measured>,
    mark: Option<&Measured>,
) -> Option<(Measured, LowPointMethod)> {
    match (arc, mark) {
        (Some(arc), Some(mark)) => Some(combine(arc, mark)),
        (Some(arc), None) => Some((arc.clone(), LowPointMethod::Arc)),
        (None, Some(mark)) => Some((mark.clone(), LowPointMethod::Mark)),
        (None, None) => None,
    }
}

fn combine(arc: &Measured, mark: &Measured) -> (Measured, LowPointMethod) {
    let difference = weighted(arc, 1.0, mark, -1.0);
    let doubt = difference.standard_uncertainty();
    let (ua2, um2) = (arc.standard_uncertainty().powi(2), mark.standard_uncertainty().powi(2));
    let covariance = (ua2 + um2 - doubt * doubt) / 2.0;
    let share = ((ua2 - covariance) / (doubt * doubt)).clamp(0.0, 1.0);
    let mut low = weighted(arc, 1.0 - share, mark, share);
    let factor = coverage_factor(difference.effective_freedom());
    if difference.value.abs() > factor * doubt {
        low.warnings.push(Warning::LowPointsDisagree { arc: arc.value, mark: mark.value });
        // The farther of the two must lie within the interval.
        let away = (arc.value - low.value).abs().max((mark.value - low.value).abs());
        // By the smallest factor that the sum may be expanded with.
        low.budget.push(Contribution::new(Source::Model, away / coverage_factor(None)));
        // The stretched ± is meant to cover, not to describe a distribution.
        return (low, LowPointMethod::ArcAndMark);
    }
    let mut draws = draws_of_both(arc, mark, share);
    (check_against_draws(low, &mut draws, DRAWS as f64), LowPointMethod::ArcAndMark)
}

/// One cause of doubt in two results at once: its signed standard uncertainty in each.
struct Cause {
    standard: [f64; 2],
    /// Spread evenly instead of normally.
    is_even: bool,
}

/// The combined low point drawn [`DRAWS`] times (JCGM 101:2008): what both share is drawn once,
/// the place in the mark evenly, and an arc that carries a lopsided interval of its own has its
/// two sides stretched to it.
fn draws_of_both(arc: &Measured, mark: &Measured, share: f64) -> Vec<f64> {
    let causes = causes_of_both(arc, mark);
    let sides = sides_of(arc);
    let mut rng = ChaCha8Rng::seed_from_u64(SEED + 1);
    (0..DRAWS)
        .map(|_| {
            let mut off = [0.0; 2];
            for cause in &causes {
                let z: f64 = match cause.is_even {
                    true => rng.random_range(-1.0..1.0) * 3f64.sqrt(),
                    false => StandardNormal.sample(&mut rng),
                };
                off[0] += z * cause.standard[0];
                off[1] += z * cause.standard[1];
            }
            off[0] *= sides[usize::from(off[0] > 0.0)];
            (1.0 - share) * (arc.value + off[0]) + share * (mark.value + off[1])
        })
        .collect()
}

fn causes_of_both(arc: &Measured, mark: &Measured) -> Vec<Cause> {
    let mut causes: Vec<(Option<&Source>, Cause)> = Vec::new();
    for (side, of) in [arc, mark].into_iter().enumerate() {
        for part in &of.budget {
            let shared = is_shared(&part.source).then_some(&part.source);
            let known = causes.iter_mut().find(|(s, _)| s.is_some() && *s == shared);
            match known {
                Some((_, cause)) => cause.standard[side] += part.standard,
                None => {
                    let mut standard = [0.0; 2];
                    standard[side] = part.standard;
                    let is_even = side == 1 && part.source == Source::Model;
                    causes.push((shared, Cause { standard, is_even }));
                }
            }
        }
    }
    causes.into_iter().map(|(_, cause)| cause).collect()
}

/// By how much what lies below and above the value is wider than the budget says.
fn sides_of(of: &Measured) -> [f64; 2] {
    let (stated, linear) = (expand(of), linear_interval(of));
    let part = |of: f64, whole: f64| if whole > 0.0 { (of / whole).max(0.0) } else { 1.0 };
    [
        part(of.value - stated.low, of.value - linear.low),
        part(stated.high - of.value, linear.high - of.value),
    ]
}

/// The same of a weighted sum: each one's sides count by its part of the variance, and change
/// places where it is subtracted.
fn sides_of_sum(of: [(&Measured, f64); 2]) -> [f64; 2] {
    let mut sums = [0.0; 2];
    let mut plain = 0.0;
    for (measured, weight) in of {
        let variance = (weight * measured.standard_uncertainty()).powi(2);
        let [below, above] = sides_of(measured);
        let sides = if weight < 0.0 { [above, below] } else { [below, above] };
        plain += variance;
        sums.iter_mut().zip(sides).for_each(|(sum, side)| *sum += variance * side * side);
    }
    sums.map(|sum| if plain > 0.0 { (sum / plain).sqrt() } else { 1.0 })
}

/// What [`contact_order`] judges from.
#[derive(Clone, Debug)]
pub struct Contacts<'a> {
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// Turf or mat.
    pub surface: Surface,
    /// What the swing left; `None`: could not look.
    pub ground_mark: Option<GroundMark>,
    /// The mark's start, mm ahead of the ball.
    pub divot_start: Option<&'a Measured>,
    /// The fitted arc.
    pub arc: Option<&'a ArcFit>,
}

/// Which came first in time, the ball or the ground; `None`: not told by what is known.
///
/// A mark that starts ahead of where the leading edge is when the face meets the ball was made
/// after it. Too close to call within the expanded uncertainty of that difference.
pub fn contact_order(contacts: &Contacts) -> Option<ContactOrder> {
    if contacts.kind == SwingKind::Practice {
        return None;
    }
    let clears = contacts.arc.is_some_and(|arc| expand(&arc.low_point_height).low > 0.0);
    match (contacts.divot_start, contacts.ground_mark) {
        (Some(start), _) => Some(order(start, contacts.arc)),
        (None, Some(GroundMark::None)) if contacts.surface == Surface::Turf || clears => {
            Some(ContactOrder::NoGroundContact)
        }
        _ => None,
    }
}

fn order(start: &Measured, arc: Option<&ArcFit>) -> ContactOrder {
    let (value, spread) = EDGE_AT_CONTACT;
    let assumed = Measured::new(value, vec![Contribution::new(Source::Model, spread)]);
    let edge = arc.map_or(&assumed, |arc| &arc.edge_at_contact);
    let ahead = weighted(start, 1.0, edge, -1.0);
    let half = coverage_factor(ahead.effective_freedom()) * ahead.standard_uncertainty();
    let [below, above] = sides_of_sum([(start, 1.0), (edge, -1.0)]).map(|side| side * half);
    match ahead.value {
        d if d > below => ContactOrder::BallFirst,
        d if d < -above => ContactOrder::TurfFirst,
        _ => ContactOrder::TooClose,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Interval;
    use crate::geometry::arc::edge_at_contact;

    fn offset(value: f64, u: f64) -> Measured {
        Measured::new(value, vec![Contribution::new(Source::Mark, u)])
    }

    #[test]
    fn the_low_point_is_in_the_mark_but_not_its_middle() {
        let low = low_point_from_mark(&offset(-20.0, 1.0), &offset(160.0, 1.0));
        let interval = expand(&low);
        assert!(low.value > 70.0 && interval.low > -20.0 && interval.high < 160.0);
        // Rectangular with 30 mm standard: 95 % of it is 2 · 0.95 · 30 √3 = 99 mm wide.
        assert!((interval.half_width() - 49.4).abs() < 1.5, "{}", interval.half_width());
    }

    #[test]
    fn the_place_in_a_mark_is_a_rectangle() {
        // JCGM 100:2008, F.2.2.1: a whole width over √12, here from 0.35 to 0.9.
        assert!((PART - f64::midpoint(0.35, 0.9)).abs() < 1e-12);
        assert!((PART_SPREAD - (0.9 - 0.35) / 12f64.sqrt()).abs() < 5e-4);
    }

    #[test]
    fn a_long_mark_leaves_more_open_and_a_short_one_no_less() {
        let half =
            |end| expand(&low_point_from_mark(&offset(0.0, 1.0), &offset(end, 1.0))).half_width();
        assert!((half(40.0) - 49.4).abs() < 1.5, "{}", half(40.0));
        // 0.55 of 300 mm, 95 % of it: 157 mm wide.
        assert!((half(300.0) - 78.4).abs() < 2.0, "{}", half(300.0));
    }

    #[test]
    fn what_two_marks_share_is_added_with_its_sign() {
        let with = |value, shared| {
            let mut m = offset(value, 1.0);
            m.budget.push(Contribution::new(Source::Calibration(0), shared));
            m
        };
        // The scale's error grows with the offset and cancels between opposite ones.
        let sum = weighted(&with(-100.0, -2.0), 0.5, &with(100.0, 2.0), 0.5);
        assert!((sum.standard_uncertainty() - 0.5f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn arc_and_mark_are_weighted_and_a_contradiction_is_said() {
        let (low, method) =
            combine_low_points(Some(&offset(80.0, 10.0)), Some(&offset(100.0, 20.0))).unwrap();
        assert_eq!(method, LowPointMethod::ArcAndMark);
        assert!((low.value - 84.0).abs() < 1e-9);
        assert!((low.standard_uncertainty() - 80f64.sqrt()).abs() < 1e-9);
        assert!(low.warnings.is_empty());
        let (low, _) =
            combine_low_points(Some(&offset(0.0, 10.0)), Some(&offset(150.0, 20.0))).unwrap();
        assert!(matches!(low.warnings[..], [Warning::LowPointsDisagree { .. }]));
        let interval = expand(&low);
        assert!(interval.low <= 0.0 && interval.high >= 145.0, "{interval:?}");
        assert_eq!(combine_low_points(None, None), None);
    }

    #[test]
    fn arc_and_mark_together_are_checked_by_drawing() {
        // A mark's even part that leads the sum is narrower at 95 % than two standard
        // uncertainties; drawn here from the definitions, not by the code under test.
        let arc = offset(70.0, 45.0);
        let mark = low_point_from_mark(&offset(-20.0, 1.0), &offset(160.0, 1.0));
        let (low, _) = combine_low_points(Some(&arc), Some(&mark)).unwrap();
        let (a, m) = (45f64.powi(2), mark.standard_uncertainty().powi(2));
        let share = a / (a + m);
        let mut rng = ChaCha8Rng::seed_from_u64(77);
        let mut off: Vec<f64> = (0..200_000)
            .map(|_| {
                let (z, clicks): (f64, f64) =
                    (StandardNormal.sample(&mut rng), StandardNormal.sample(&mut rng));
                let even: f64 = rng.random_range(-1.0..1.0) * 3f64.sqrt();
                let click = clicks * (0.375f64.powi(2) + 0.625f64.powi(2)).sqrt();
                (1.0 - share) * 45.0 * z + share * (30.0 * even + click)
            })
            .map(f64::abs)
            .collect();
        off.sort_by(f64::total_cmp);
        let drawn = off[190_000];
        assert!(drawn < 0.95 * linear_interval(&low).half_width(), "{drawn}");
        let stated = expand(&low).half_width();
        assert!((stated - drawn).abs() < 0.04 * drawn, "{stated} drawn {drawn}");
    }

    #[test]
    fn what_arc_and_mark_share_is_drawn_once_and_a_lopsided_arc_stays_so() {
        let with = |value, own, shared| {
            let mut m = offset(value, own);
            m.budget.push(Contribution::new(Source::Calibration(0), shared));
            m
        };
        // Equal weights; the shared part has opposite signs and cancels.
        let (arc, mark) = (with(80.0, 10.0, 30.0), with(80.0, 10.0, -30.0));
        let mut draws = draws_of_both(&arc, &mark, 0.5);
        draws.sort_by(f64::total_cmp);
        let half = (draws[DRAWS * 975 / 1000] - draws[DRAWS / 40]) / 2.0;
        assert!((half - 1.96 * 50f64.sqrt()).abs() < 0.7, "{half}");
        let mut arc = offset(80.0, 10.0);
        arc.monte_carlo = Some(Interval { low: 40.0, high: 95.0 });
        let (low, _) = combine_low_points(Some(&arc), Some(&offset(80.0, 40.0))).unwrap();
        let stated = expand(&low);
        let (below, above) = (low.value - stated.low, stated.high - low.value);
        assert!(below > 1.7 * above, "{stated:?} about {}", low.value);
    }

    #[test]
    fn the_edge_is_twelve_millimetres_behind_at_a_mid_irons_loft() {
        // Ball radius 21.335 mm, loft 31°: -18.3 + (21.3 - 11.0) tan 31° = -12.1 mm.
        assert!((edge_at_contact(0.0, 31.0) + 12.1).abs() < 0.1);
        // A higher edge meets the ball farther back.
        assert!(edge_at_contact(5.0, 31.0) < edge_at_contact(0.0, 31.0));
    }

    #[test]
    fn lopsided_doubt_stays_so_in_what_follows_from_it() {
        // As sure as ever toward the target, three times less so away from it.
        let plain = offset(-17.0, 2.0);
        let half = linear_interval(&plain).half_width();
        let lopsided = |low: f64, high: f64| Measured {
            monte_carlo: Some(Interval { low: -17.0 - low * half, high: -17.0 + high * half }),
            ..plain.clone()
        };
        let [below, above] = sides_of_sum([(&lopsided(3.0, 1.0), 1.0), (&plain, 0.0)]);
        assert!((below - 3.0).abs() < 1e-9 && (above - 1.0).abs() < 1e-9, "{below} {above}");
        let [below, above] = sides_of_sum([(&plain, 0.0), (&lopsided(3.0, 1.0), -1.0)]);
        assert!((below - 1.0).abs() < 1e-9 && (above - 3.0).abs() < 1e-9, "{below} {above}");
        // 12 mm behind where the edge meets the ball, 8.8 mm of doubt: before the ball, unless it
        // may well lie farther ahead.
        let order = |start: Measured| {
            let start = Measured { value: -24.0, ..start };
            contact_order(&contacts(Some(&start), Some(GroundMark::Divot), Surface::Turf))
        };
        let moved = |mut m: Measured| {
            m.monte_carlo =
                m.monte_carlo.map(|i| Interval { low: i.low - 7.0, high: i.high - 7.0 });
            m
        };
        assert_eq!(order(moved(lopsided(4.0, 1.0))), Some(ContactOrder::TurfFirst));
        assert_eq!(order(moved(lopsided(1.0, 4.0))), Some(ContactOrder::TooClose));
    }

    fn contacts(
        start: Option<&Measured>,
        mark: Option<GroundMark>,
        surface: Surface,
    ) -> Contacts<'_> {
        Contacts {
            kind: SwingKind::Strike,
            surface,
            ground_mark: mark,
            divot_start: start,
            arc: None,
        }
    }

    #[test]
    fn contact_order_asks_which_came_first_in_time() {
        let order = |x: f64| {
            let start = offset(x, 2.0);
            contact_order(&contacts(Some(&start), Some(GroundMark::Divot), Surface::Turf))
        };
        // Threshold -12 mm, u = √(2² + 4²) = 4.47, expanded 8.8 mm.
        assert_eq!(order(0.0), Some(ContactOrder::BallFirst));
        assert_eq!(order(-4.0), Some(ContactOrder::TooClose));
        assert_eq!(order(-20.0), Some(ContactOrder::TooClose));
        assert_eq!(order(-21.5), Some(ContactOrder::TurfFirst));
    }

    #[test]
    fn without_a_mark_turf_was_not_touched_and_a_mat_does_not_tell() {
        let none = Some(GroundMark::None);
        let turf = contact_order(&contacts(None, none, Surface::Turf));
        assert_eq!(turf, Some(ContactOrder::NoGroundContact));
        assert_eq!(contact_order(&contacts(None, none, Surface::Mat)), None);
        assert_eq!(contact_order(&contacts(None, None, Surface::Turf)), None);
        let start = offset(0.0, 2.0);
        let practice = Contacts {
            kind: SwingKind::Practice,
            ..contacts(Some(&start), Some(GroundMark::Divot), Surface::Turf)
        };
        assert_eq!(contact_order(&practice), None);
    }
}
