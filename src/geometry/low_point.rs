//! The low point from the mark, from arc and mark together, and which contact came first.

use super::arc::ArcFit;
use super::expand::{coverage_factor, effective_freedom, expand};
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
const PART: f64 = 0.625;
/// Standard uncertainty of a rectangular distribution from 0.35 to 0.9: 0.55 / √12.
const PART_SPREAD: f64 = 0.159;

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
    !matches!(source, Source::Mark | Source::ArcFit | Source::Model | Source::FrameTiming)
}

/// The low point, mm ahead of the ball, from where the mark starts and ends, with a wide model
/// term: the low point lies in the mark, but not in its middle.
///
/// `start`, `end`: offsets in mm measured from the same origin.
pub fn low_point_from_mark(start: &Measured, end: &Measured) -> Measured {
    let mut low = weighted(start, 1.0 - PART, end, PART);
    let model = (end.value - start.value).abs() * PART_SPREAD;
    low.budget.push(Contribution::new(Source::Model, model));
    low
}

/// The low point from arc and mark together, weighted by their uncertainties, and by which method.
///
/// Where they differ by more than chance allows (beyond 95 %) the result carries
/// [`Warning::LowPointsDisagree`] and its uncertainty is stretched to cover the difference.
///
/// Method: best linear combination of two correlated estimates (JCGM 100:2008, 5.2).
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
    let factor = coverage_factor(effective_freedom(&difference));
    if difference.value.abs() > factor * doubt {
        low.warnings.push(Warning::LowPointsDisagree { arc: arc.value, mark: mark.value });
        // The farther of the two must lie within the interval.
        let away = (arc.value - low.value).abs().max((mark.value - low.value).abs());
        low.budget.push(Contribution::new(Source::Model, away / factor));
    }
    (low, LowPointMethod::ArcAndMark)
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
    let half = coverage_factor(effective_freedom(&ahead)) * ahead.standard_uncertainty();
    match ahead.value {
        d if d.abs() <= half => ContactOrder::TooClose,
        d if d > 0.0 => ContactOrder::BallFirst,
        _ => ContactOrder::TurfFirst,
    }
}
