//! Whether references agree with each other, with their sizes, and on where the target line runs.

use super::adjust::{ALONG_SPREAD, Adjusted, Adjustment, Body, GLOBALS, Lying, TargetLine};
use super::camera::long_side;
use super::view::{State, scale};
use crate::domain::{Direction, ImagePoint, PictureSize, Warning};

/// So many standard uncertainties apart is beyond chance: one false alarm in a thousand.
const MOST: f64 = 3.3;

/// What contradicts what.
pub(super) struct Contradiction {
    /// In words.
    pub(super) warning: Warning,
    /// By what factor the joint answer is too sure of itself.
    pub(super) stretch: f64,
}

/// What does not fit: references that give different scales or directions, else marks that fit no
/// object of the stated size.
pub(super) fn contradiction(adjustment: &Adjustment, adjusted: &Adjusted) -> Option<Contradiction> {
    let scales = scales_apart(adjustment);
    let directions = directions_apart(adjustment);
    let first = match (scales, directions) {
        (Some(one), Some(other)) if other.stretch > one.stretch => Some(other),
        (one, other) => one.or(other),
    };
    first.or_else(|| misfit(adjustment, adjusted))
}

/// All of them: "sheet", "sheet and stick".
pub(super) fn list(bodies: &[Body]) -> String {
    let names: Vec<&str> = bodies.iter().map(|body| body.noun.as_str()).collect();
    names.join(" and ")
}

/// By how much the joint answer of two that lie `off` of their standard uncertainties apart is too
/// sure of itself.
///
/// The joint answer lies near the better one's. Its interval is to reach what either says: from
/// u = u1 u2 / √(u1² + u2²) about the joint answer it is off · √(u1² + u2²) · u2² / (u1² + u2²) to
/// what the poorer one says.
fn stretch(off: f64, u: [f64; 2]) -> f64 {
    (off / 2.0 * (u[0] / u[1]).max(u[1] / u[0])).max(1.0)
}

/// The reference that fits worst with the others, if the scales they give separately differ by
/// more than chance allows.
fn scales_apart(adjustment: &Adjustment) -> Option<Contradiction> {
    let count = adjustment.bodies.len();
    if count < 2 {
        return None;
    }
    let scale_of = |bodies: &[Body]| {
        let target_line = TargetLine::Assumed;
        let alone = Adjustment { bodies, target_line, ..*adjustment };
        let a = alone.solve()?;
        scale_and_uncertainty(&a, adjustment.size, adjustment.about.0)
    };
    let of = |i: usize| {
        let alone = scale_of(&adjustment.bodies[i..=i])?;
        let rest = (0..count).filter(|k| *k != i);
        let others: Vec<Body> = rest.map(|k| adjustment.bodies[k].clone()).collect();
        let others = scale_of(&others)?;
        let off = (alone.0 / others.0).ln().abs() / alone.1.hypot(others.1);
        Some((i, alone, others, off))
    };
    let (i, alone, others, off) = (0..count).filter_map(of).max_by(|a, b| a.3.total_cmp(&b.3))?;
    // Of two that differ either may be wrong; the poorer ruler is the one to look at.
    let (i, alone, others) = match count == 2 && alone.1 < others.1 {
        true => (1 - i, others, alone),
        false => (i, alone, others),
    };
    (off > MOST).then(|| {
        let which = adjustment.bodies[i].noun.clone();
        let against = match count {
            2 => adjustment.bodies[1 - i].noun.clone(),
            _ => "others".into(),
        };
        let (says, others, u) = (alone.0, others.0, [alone.1, others.1]);
        let warning = Warning::ReferencesDisagree { which, says, others, against };
        Contradiction { warning, stretch: stretch(off, u) }
    })
}

/// The two references that are said to lie along the target line (or across it) and point least the
/// same way, if they differ by more than chance allows.
fn directions_apart(adjustment: &Adjustment) -> Option<Contradiction> {
    let of = match &adjustment.target_line {
        TargetLine::Along(of) | TargetLine::Across(of) if of.len() > 1 => of,
        _ => return None,
    };
    // Without the line in common, which would draw them together.
    let free = Adjustment { target_line: TargetLine::Assumed, ..adjustment.clone() };
    let solved = free.solve()?;
    let pairs = of.iter().enumerate().flat_map(|(n, i)| of[n + 1..].iter().map(move |k| (*i, *k)));
    let apart = |(i, k): (usize, usize)| {
        let [one, other, between] = free.lying(&solved, [i, k])?;
        let doubt = between.standard.hypot(std::f64::consts::SQRT_2 * ALONG_SPREAD);
        Some((i, k, between, between.value.abs() / doubt, [one, other]))
    };
    let (i, k, between, off, alone) = pairs.filter_map(apart).max_by(|a, b| a.3.total_cmp(&b.3))?;
    (off > MOST).then(|| {
        let [one, other] = [i, k].map(|i| adjustment.bodies[i].noun.as_str());
        let note = format!(
            "The {one} and the {other} point {:.1}° apart, though both are said to tell the target line; check which of them does.",
            between.value.abs().to_degrees()
        );
        let u = alone.map(|lying: Lying| lying.standard.hypot(ALONG_SPREAD));
        Contradiction { warning: Warning::Note { note }, stretch: stretch(off, u) }
    })
}

/// Marks that fit no camera and no object of the stated size.
fn misfit(adjustment: &Adjustment, adjusted: &Adjusted) -> Option<Contradiction> {
    let (squares, freedom) = adjustment.misfit(adjusted)?;
    // Six standard deviations of chi squared above its mean: marks as noisy as they say never get
    // there, a sheet with its sides exchanged does.
    let most = freedom + 6.0 * (2.0 * freedom).sqrt() + 6.0;
    (squares > most).then(|| {
        let sizes = if adjustment.bodies.len() > 1 { "the sizes" } else { "the size" };
        let note = format!(
            "What is marked as {} does not fit {sizes} given; check the marks, their order and {sizes}.",
            list(adjustment.bodies)
        );
        Contradiction { warning: Warning::Note { note }, stretch: (squares / freedom).sqrt() }
    })
}

/// Scale at `about`, mm a pixel, and its relative standard uncertainty.
fn scale_and_uncertainty(
    adjusted: &Adjusted,
    size: PictureSize,
    about: ImagePoint,
) -> Option<(f64, f64)> {
    let root = adjusted.covariance.clone().cholesky()?.l();
    let at = |k: Option<usize>, part: f64| {
        let moved: [f64; GLOBALS] =
            std::array::from_fn(|i| adjusted.globals[i] + k.map_or(0.0, |k| part * root[(i, k)]));
        scale(&State::new(&moved, long_side(size), Direction::Right), about)
    };
    let mut variance = 0.0;
    for k in 0..GLOBALS {
        let slope = (at(Some(k), 0.1)? / at(Some(k), -0.1)?).ln() / 0.2;
        variance += slope * slope;
    }
    Some((at(None, 0.0)?, variance.sqrt()))
}
