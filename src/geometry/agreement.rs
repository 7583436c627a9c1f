//! Whether references agree with each other, with their sizes, and on where the target line runs.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::adjust::{Adjusted, Adjustment, GLOBALS, Lying, TargetLine, Teller};
use super::body::Body;
use super::camera::long_side;
use super::mark::{BALL_DIAMETER, ball_rest};
use super::priors::ALONG_SPREAD;
use super::view::{GroundView, State, scale};
use crate::domain::{BallOutline, Direction, ImagePoint, PictureSize, Warning};

/// So many standard uncertainties apart is beyond chance: one false alarm in a thousand.
const MOST: f64 = 3.3;
/// So many are beyond what is likely (95 %).
const LIKELY: f64 = 1.96;
/// Beyond chance, of a sum of squares.
const MOST_PROBABLE: f64 = 0.999;

/// How well a thing that is not what the target line is taken from is laid along or across it,
/// radians, standard (common practice, no source).
const BY_EYE: f64 = 1.0 / 57.3;

/// What contradicts what.
pub(super) struct Contradiction {
    /// In words.
    pub(super) warning: Warning,
    /// By what factor the joint answer is too sure of itself.
    pub(super) stretch: f64,
}

/// What does not fit: references that give different scales or directions, else marks that fit no
/// object of the stated size.
pub(super) fn contradictions(adjustment: &Adjustment, adjusted: &Adjusted) -> Vec<Contradiction> {
    let scales = scales_apart(adjustment, adjusted, MOST);
    let directions = directions_apart(adjustment, adjusted);
    let told: Vec<_> = scales.into_iter().chain(directions).collect();
    if !told.is_empty() {
        return told;
    }
    // That something is wrong is sure then; two scales that are likely apart name it.
    let named = |misfit| scales_apart(adjustment, adjusted, LIKELY).unwrap_or(misfit);
    misfit(adjustment, adjusted).map(named).into_iter().collect()
}

/// All of them: "sheet", "sheet and stick".
pub(super) fn list(bodies: &[Body]) -> String {
    let names: Vec<&str> = bodies.iter().map(|body| body.noun.as_str()).collect();
    names.join(" and ")
}

/// A value that one of several says, or all of them together, and its standard uncertainty.
#[derive(Clone, Copy)]
struct Said {
    value: f64,
    standard: f64,
}

/// By how much the joint answer is too sure of itself where two contradict each other. Nobody knows
/// which of them is right, so its 95 % interval is to reach what either says, and 95 % of what that
/// one leaves open on the far side (1.64 standard uncertainties).
fn stretch(joint: Said, either: [Said; 2]) -> f64 {
    // What is measured from such a view may lean on it less than the scale does (a struck mark
    // beside the ball tells some of it), and is stretched less: a third more covers that (seen in
    // tests, no source).
    const LEANING: f64 = 4.0 / 3.0;
    let reach = |one: Said| (joint.value - one.value).abs() + 1.64 * one.standard;
    let farthest = either.map(reach).into_iter().fold(0.0, f64::max);
    (LEANING * farthest / (1.96 * joint.standard)).max(1.0)
}

/// What one reference says, what the others say (scale and its relative standard uncertainty), how
/// far apart that is in standard uncertainties, and how badly the others fit together.
struct Apart {
    i: usize,
    alone: (f64, f64),
    others: (f64, f64),
    off: f64,
    rest: f64,
}

/// How badly these fit together by themselves.
fn misfit_of(adjustment: &Adjustment, bodies: &[Body]) -> Option<f64> {
    let target_line = TargetLine::Assumed;
    let alone = Adjustment { bodies, target_line, ..*adjustment };
    Some(alone.misfit(&alone.solve()?)?.0)
}

/// The reference that fits worst with the others, if the scales they give separately differ by
/// more than `most` standard uncertainties.
fn scales_apart(adjustment: &Adjustment, adjusted: &Adjusted, most: f64) -> Option<Contradiction> {
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
        let bodies: Vec<Body> = rest.map(|k| adjustment.bodies[k].clone()).collect();
        let others = scale_of(&bodies)?;
        let off = (alone.0 / others.0).ln().abs() / alone.1.hypot(others.1);
        Some(Apart { i, alone, others, off, rest: misfit_of(adjustment, &bodies)? })
    };
    let apart: Vec<Apart> = (0..count).filter_map(of).filter(|apart| apart.off > most).collect();
    // Of three or more the odd one is that without which the others fit together best.
    let Apart { i, alone, others, .. } =
        apart.into_iter().min_by(|a, b| a.rest.total_cmp(&b.rest))?;
    // Of two that differ either may be wrong; the poorer ruler is the one to look at.
    let (i, alone, others) = match count == 2 && alone.1 < others.1 {
        true => (1 - i, others, alone),
        false => (i, alone, others),
    };
    let said = |(mm, standard): (f64, f64)| Said { value: mm.ln(), standard };
    let joint = scale_and_uncertainty(adjusted, adjustment.size, adjustment.about.0)?;
    let stretch = stretch(said(joint), [said(alone), said(others)]);
    Some({
        let which = adjustment.bodies[i].noun.clone();
        let against = match count {
            2 => adjustment.bodies[1 - i].noun.clone(),
            _ => "others".into(),
        };
        let (says, others) = (alone.0, others.0);
        let warning = Warning::ReferencesDisagree { which, says, others, against };
        Contradiction { warning, stretch }
    })
}

/// The two things that are said to tell the target line and point least the same way, if they
/// differ by more than chance allows: marked points, edges along the line, pairs of lines across it.
fn directions_apart(adjustment: &Adjustment, adjusted: &Adjusted) -> Option<Contradiction> {
    let tellers = adjustment.tellers;
    if tellers.len() < 2 {
        return None;
    }
    // Without the line in common, which would draw them together.
    let free = Adjustment { target_line: TargetLine::Assumed, ..adjustment.clone() };
    let solved = free.solve()?;
    let pairs = (1..tellers.len()).flat_map(|k| (0..k).map(move |i| [i, k]));
    let alike = |[i, k]: [usize; 2]| {
        std::mem::discriminant(&tellers[i]) == std::mem::discriminant(&tellers[k])
    };
    let apart = |of: [usize; 2]| {
        let [one, other, between] = free.lying(&solved, of.map(|i| &tellers[i]))?;
        let laid = if alike(of) { ALONG_SPREAD } else { BY_EYE };
        let doubt = between.standard.hypot(std::f64::consts::SQRT_2 * laid);
        Some((of, between, between.value.abs() / doubt, [one, other]))
    };
    let (of, between, off, alone) = pairs.filter_map(apart).max_by(|a, b| a.2.total_cmp(&b.2))?;
    if off <= MOST {
        return None;
    }
    // All as turns against the first of the two.
    let said = |value: f64, standard: f64| Said { value, standard };
    let own = alone.map(|lying: Lying| lying.standard.hypot(ALONG_SPREAD));
    let either = [said(0.0, own[0]), said(between.value, own[1])];
    let joint = adjustment.target_against(adjusted, &tellers[of[0]])?;
    let which = of.map(|i| match &tellers[i] {
        Teller::Points(_) => "marked target line".into(),
        Teller::Along(i) | Teller::Across(i) => adjustment.bodies[*i].noun.clone(),
    });
    let degrees = between.value.abs().to_degrees();
    // The one that comes first (marked points, edges along, pairs across) is the target line, and
    // the other was laid by eye; of two alike nobody knows which is right.
    let stretch = match alike(of) {
        true => stretch(said(joint.value, joint.standard), either),
        false => 1.0,
    };
    Some(Contradiction { warning: Warning::DirectionsDisagree { which, degrees }, stretch })
}

/// Marks that fit no camera and no object of the stated size.
fn misfit(adjustment: &Adjustment, adjusted: &Adjusted) -> Option<Contradiction> {
    let (squares, freedom) = adjustment.misfit(adjusted)?;
    let most = ChiSquared::new(freedom).ok()?.inverse_cdf(MOST_PROBABLE);
    (squares > most).then(|| Contradiction {
        warning: Warning::SizeMisfit { which: list(adjustment.bodies) },
        stretch: (squares / freedom).sqrt(),
    })
}

/// Whether a ball that was seen is as wide as the view has a ball there, as far as both are known;
/// `None` where the view does not reach it.
pub fn ball_fits(view: &GroundView, outline: &BallOutline, on_tee: bool) -> Option<bool> {
    let (rest, spread) = ball_rest(on_tee);
    let radius = BALL_DIAMETER / 2.0;
    let width = |state: &State, rest: f64| {
        let [x, y] = state.camera.place_at_height(outline.centre, rest + radius)?;
        let (_, width) = state.camera.outline_of_sphere([x, y, rest + radius], radius)?;
        Some(width.ln())
    };
    let state = view.state();
    let of_view = view.sensitivities(|state| width(state, rest))?;
    let of_rest = (width(&state, rest + spread)? - width(&state, rest - spread)?) / 2.0;
    let own = outline.diameter_sigma.0 / outline.diameter.0;
    let others = of_rest * of_rest + own * own;
    let doubt = (of_view.iter().map(|part| part * part).sum::<f64>() + others).sqrt();
    Some((outline.diameter.0.ln() - width(&state, rest)?).abs() <= MOST * doubt)
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
