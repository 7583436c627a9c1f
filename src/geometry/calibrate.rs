//! From marked references to a [`GroundView`].

use nalgebra::{DMatrix, DVector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::adjust::{Adjusted, Adjustment, GLOBALS, TargetLine, Teller, Told};
use super::agreement::{contradictions, list};
use super::body::{Body, Shape};
use super::camera::{Camera, long_side};
use super::error::GeometryError;
use super::least_squares::Minimum;
use super::mark::ImageMark;
use super::view::{GroundView, ReferenceFit, TILT_UNKNOWN};
use crate::domain::{
    Direction, ImagePoint, LensProfile, Millimetres, PictureSize, Reference, ReferenceKind, Warning,
};

/// How many cameras are drawn for Monte Carlo. 2000 place the limits of a 95 % interval to 6 %
/// of a standard uncertainty.
const DRAWS: usize = 2000;
const PROPOSALS: usize = 8000;
/// A fixed seed: same input, same answer.
const SEED: u64 = 42_670;

/// What a calibration is made from. All points lie in the steadied picture.
#[derive(Clone, Debug)]
pub struct CalibrationRequest<'a> {
    /// The displayed picture.
    pub size: PictureSize,
    /// Objects of known size; a ball's outline must be given.
    pub references: &'a [Reference],
    /// Two points along the target line on the ground; what both share of their doubt does not
    /// count.
    pub target_line: Option<[ImageMark; 2]>,
    /// Which way the target lies; it changes signs only, so take either where it is unknown.
    pub direction: Direction,
    /// Where things happen (the ball) and how high above the ground that is, if known; else the
    /// middle of the first reference.
    pub about: Option<(ImagePoint, Millimetres)>,
    /// A stored lens.
    pub lens: Option<&'a LensProfile>,
}

/// Calibrates the view from everything of known size at once.
///
/// Warnings of the view name what is only assumed, and which reference does not agree with the
/// others.
///
/// # Errors
/// [`GeometryError::NoReference`] if nothing of known size is there; sizes of zero or below,
/// repeated or collinear points, coordinates that are no numbers, marks that no camera above the
/// ground could see.
///
/// Method: maximum a posteriori least squares over all marks and priors (see `adjust` and `priors`), with the
/// joint distribution drawn by importance sampling about its minimum.
pub fn calibrate(request: &CalibrationRequest) -> Result<GroundView, GeometryError> {
    let (ranked, bodies) = checked(request)?;
    let about = about(request, &bodies);
    let tellers = tellers(request, &ranked);
    let target_line = target_line(&tellers);
    let adjustment = Adjustment {
        size: request.size,
        bodies: &bodies,
        target_line: target_line.clone(),
        tellers: &tellers,
        about,
        lens: request.lens,
    };
    let no_camera = || GeometryError::NoCamera { which: list(&bodies) };
    let adjusted = adjustment.solve().ok_or_else(no_camera)?;
    let mut warnings = Vec::new();
    // References that contradict each other, or themselves, make every uncertainty too small; the
    // misfit tells by how much (Birge 1932).
    let odd = contradictions(&adjustment, &adjusted);
    let stretch = odd.iter().fold(1.0, |most: f64, odd| most.max(odd.stretch));
    warnings.extend(odd.into_iter().map(|odd| odd.warning));
    let known = Posterior::of(&adjustment, &adjusted, stretch).ok_or_else(no_camera)?;
    let camera = Camera::from_array(&known.globals, long_side(request.size));
    let zero = camera.place_at_height(about.0, about.1).ok_or(GeometryError::AboveHorizon {
        which: "point that the calibration is about".into(),
    })?;
    let references = fits(&adjustment, &adjusted);
    let told_by = told_by(&adjustment, &adjusted, &known.root).ok_or_else(no_camera)?;
    let mut view = GroundView {
        globals: known.globals,
        root: known.root,
        told_by,
        draws: known.draws,
        worth: known.worth,
        size: request.size,
        direction: request.direction,
        zero,
        references,
        warnings: Vec::new(),
    };
    // Where things contradict each other that is what is to be mended, not the camera.
    warnings.extend(pose_warnings(&view, &bodies, &target_line, stretch));
    view.warnings = warnings;
    Ok(view)
}

/// How badly everything fits together at best: twice the negative logarithm of the joint density
/// at its highest. Tells which of several sizes an object most probably has; `None` where no
/// camera fits.
pub fn misfit_of(request: &CalibrationRequest) -> Option<f64> {
    let (ranked, bodies) = checked(request).ok()?;
    let tellers = tellers(request, &ranked);
    let adjustment = Adjustment {
        size: request.size,
        bodies: &bodies,
        target_line: target_line(&tellers),
        tellers: &tellers,
        about: about(request, &bodies),
        lens: request.lens,
    };
    Some(adjustment.solve()?.minimum.sum_of_squares() - 2.0 * adjustment.measure_constant())
}

/// The references best first, as they are given and as the adjustment sees them.
fn checked<'a>(
    request: &CalibrationRequest<'a>,
) -> Result<(Vec<&'a Reference>, Vec<Body>), GeometryError> {
    let ranked = best_first(request.references);
    let mut bodies = ranked.iter().map(|r| Body::new(r)).collect::<Result<Vec<_>, _>>()?;
    number(&mut bodies);
    if bodies.is_empty() {
        return Err(GeometryError::NoReference);
    }
    if let Some(marks) = request.target_line {
        check_target_line(marks.map(|mark| mark.point))?;
    }
    Ok((ranked, bodies))
}

/// Several of one kind are told apart in the order in which they were marked.
fn number(bodies: &mut [Body]) {
    let plain: Vec<String> = bodies.iter().map(|body| body.noun.clone()).collect();
    let of =
        |noun: &String, up_to: usize| plain[..up_to].iter().filter(|other| *other == noun).count();
    for (i, body) in bodies.iter_mut().enumerate() {
        if of(&plain[i], plain.len()) > 1 {
            body.noun = format!("{} {}", plain[i], of(&plain[i], i) + 1);
        }
    }
}

/// The references with marked points, best ruler first: the first one starts the search.
fn best_first(references: &[Reference]) -> Vec<&Reference> {
    let rank = |r: &Reference| match r.kind {
        ReferenceKind::Sheet { .. } | ReferenceKind::FourPoints { .. } => 0,
        ReferenceKind::Line { .. } => 1,
        ReferenceKind::LinePair { .. } => 2,
        ReferenceKind::Ball { .. } => 3,
    };
    let mut ranked: Vec<&Reference> = references
        .iter()
        .filter(|r| !matches!(r.kind, ReferenceKind::Ball { outline: None }))
        .collect();
    ranked.sort_by_key(|r| rank(r));
    ranked
}

/// The point of interest and its height, mm.
fn about(request: &CalibrationRequest, bodies: &[Body]) -> (ImagePoint, f64) {
    request.about.map_or_else(|| (bodies[0].middle(), 0.0), |(point, height)| (point, height.0))
}

fn check_target_line([a, b]: [ImagePoint; 2]) -> Result<(), GeometryError> {
    let which = "target line".to_string();
    match (a.is_finite() && b.is_finite(), a.distance(b) > 2.0) {
        (false, _) => Err(GeometryError::NotFinite { which }),
        (true, false) => Err(GeometryError::Degenerate { which }),
        (true, true) => Ok(()),
    }
}

/// What is said to tell the target line, what comes first of all first.
fn tellers(request: &CalibrationRequest, ranked: &[&Reference]) -> Vec<Teller> {
    let has_edge = |r: &Reference| match r.kind {
        ReferenceKind::Sheet { .. }
        | ReferenceKind::FourPoints { .. }
        | ReferenceKind::Line { .. } => true,
        ReferenceKind::LinePair { .. } | ReferenceKind::Ball { .. } => false,
    };
    let is_pair = |r: &Reference| matches!(r.kind, ReferenceKind::LinePair { .. });
    let which = |test: &dyn Fn(&Reference) -> bool| -> Vec<usize> {
        (0..ranked.len()).filter(|i| test(ranked[*i])).collect()
    };
    let along = which(&|r| r.along_target && has_edge(r)).into_iter().map(Teller::Along);
    let across = which(&is_pair).into_iter().map(Teller::Across);
    request.target_line.into_iter().map(Teller::Points).chain(along).chain(across).collect()
}

/// The target line is taken from all of the kind that comes first.
fn target_line(tellers: &[Teller]) -> TargetLine {
    let along = tellers.iter().filter_map(|teller| match teller {
        Teller::Along(i) => Some(*i),
        _ => None,
    });
    let across = tellers.iter().filter_map(|teller| match teller {
        Teller::Across(i) => Some(*i),
        _ => None,
    });
    match tellers.first() {
        Some(Teller::Points(marks)) => TargetLine::Points(*marks),
        Some(Teller::Along(_)) => TargetLine::Along(along.collect()),
        Some(Teller::Across(_)) => TargetLine::Across(across.collect()),
        None => TargetLine::Assumed,
    }
}

fn fits(adjustment: &Adjustment, adjusted: &Adjusted) -> Vec<ReferenceFit> {
    let parts = adjustment.of_references(&adjusted.minimum);
    let alone = adjustment.bodies.len() == 1;
    let fit = |(body, part): (&Body, &[f64])| ReferenceFit {
        is_checked: !alone || matches!(body.shape, Shape::Sheet { .. } | Shape::FourPoints { .. }),
        which: body.noun.clone(),
        residual: body.sigma()
            * (part.iter().map(|r| r * r).sum::<f64>() / part.len() as f64).sqrt(),
    };
    adjustment.bodies.iter().zip(parts).map(fit).collect()
}

/// What tells the camera and the target line, in words, and its part of their covariance, in units
/// of the `root` of what is known altogether.
fn told_by(
    adjustment: &Adjustment,
    adjusted: &Adjusted,
    root: &DMatrix<f64>,
) -> Option<Vec<(String, DMatrix<f64>)>> {
    let noun = |i: usize| &adjustment.bodies[i].noun;
    let words = |told: Told| match told {
        Told::Marks(i) => format!("marks of the {}", noun(i)),
        Told::Making(i) => format!("size and lie of the {}", noun(i)),
        Told::Tripod => "usual standing of cameras".into(),
        Told::Lens => "lens".into(),
        Told::TargetLine => match adjustment.target_line {
            TargetLine::Assumed => "target line, taken as level".into(),
            _ => "target line".into(),
        },
    };
    let whitened = |part: &DMatrix<f64>| {
        let half = root.solve_lower_triangular(part)?;
        root.solve_lower_triangular(&half.transpose())
    };
    let parts = adjustment.parts(adjusted)?;
    parts.iter().map(|(told, part)| Some((words(*told), whitened(part)?))).collect()
}

fn pose_warnings(
    view: &GroundView,
    bodies: &[Body],
    target_line: &TargetLine,
    stretch: f64,
) -> Vec<Warning> {
    let pose = view.pose();
    let mut warnings = Vec::new();
    if bodies.iter().all(|b| matches!(b.shape, Shape::Ball { .. })) {
        warnings.push(Warning::BallIsRuler);
    }
    if pose.tilt.standard > TILT_UNKNOWN * stretch {
        warnings.push(Warning::CameraAngleUnknown);
    }
    if matches!(target_line, TargetLine::Assumed) {
        warnings.push(Warning::TargetLineAssumed);
    }
    // At 5° a mark 50 mm deeper than the ball is read 4 mm off (50 sin 5°).
    if pose.yaw.value.abs() > 5.0 + 2.0 * pose.yaw.standard {
        warnings.push(Warning::CameraYaw { degrees: pose.yaw.value });
    }
    warnings
}

/// What is known of camera and target line: best values, covariance (its lower triangular root)
/// and equally likely draws.
struct Posterior {
    globals: [f64; GLOBALS],
    root: DMatrix<f64>,
    draws: Vec<[f64; GLOBALS]>,
    /// How many independent draws they are worth.
    worth: f64,
}

impl Posterior {
    /// From proposals out of the normal distribution about the adjustment's minimum, slightly
    /// wider, weighted by how likely each truly is (JCGM 101:2008 by importance sampling): the
    /// best value is their mean and not the minimum, which is to one side where the view is
    /// shallow. Where fewer than a fortieth of the proposals count, or where references contradict
    /// each other (`stretch` > 1), the minimum and its normal distribution.
    fn of(adjustment: &Adjustment, adjusted: &Adjusted, stretch: f64) -> Option<Self> {
        const WIDER: f64 = 1.15;
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        if stretch > 1.0 {
            return Self::normal(adjustment, adjusted, stretch, &mut rng);
        }
        let weighted: Vec<_> = proposals(&adjusted.minimum, WIDER, &mut rng)?
            .take(PROPOSALS)
            .filter_map(|(z, p)| {
                let (globals, sum) = adjustment.look(&p)?;
                Some(((p, globals), (z.norm_squared() - sum) / 2.0))
            })
            .collect();
        match resample(&weighted, DRAWS, 1.0 / 40.0, &mut rng) {
            Some((drawn, worth)) => Self::about_the_mean(adjustment, &drawn, worth),
            None => Self::normal(adjustment, adjusted, stretch, &mut rng),
        }
    }

    /// The minimum and the normal distribution about it.
    fn normal(
        adjustment: &Adjustment,
        adjusted: &Adjusted,
        stretch: f64,
        rng: &mut ChaCha8Rng,
    ) -> Option<Self> {
        let covariance = &adjusted.covariance * (stretch * stretch);
        let drawn = proposals(&adjusted.minimum, stretch, rng)?.take(DRAWS);
        Some(Self {
            globals: adjusted.globals,
            root: covariance.cholesky()?.l(),
            draws: drawn.filter_map(|(_, p)| Some(adjustment.look(&p)?.0)).collect(),
            worth: DRAWS as f64,
        })
    }

    fn about_the_mean(
        adjustment: &Adjustment,
        drawn: &[(DVector<f64>, [f64; GLOBALS])],
        worth: f64,
    ) -> Option<Self> {
        let n = drawn.len() as f64;
        let size = drawn[0].0.len();
        // The mean of the adjustment's own unknowns, in which the marks are nearly linear: a mean
        // of cameras would not see the references at their size.
        let mean = drawn.iter().fold(DVector::zeros(size), |sum, (p, _)| sum + p) / n;
        let scatter = drawn.iter().fold(DMatrix::zeros(size, size), |sum, (p, _)| {
            let off = p - &mean;
            sum + &off * off.transpose()
        });
        let (globals, covariance) = adjustment.carry(&mean, &(scatter / n))?;
        let draws = drawn.iter().map(|(_, globals)| *globals).collect();
        Some(Self { globals, root: covariance.cholesky()?.l(), draws, worth })
    }
}

/// Endless draws from the normal distribution about a minimum, `wider` times as wide: in units of
/// its standard deviations, and where that is.
fn proposals<'a>(
    minimum: &'a Minimum,
    wider: f64,
    rng: &'a mut ChaCha8Rng,
) -> Option<impl Iterator<Item = (DVector<f64>, DVector<f64>)> + 'a> {
    let root = minimum.covariance.clone().cholesky()?.l() * wider;
    Some(std::iter::repeat_with(move || {
        let z = normal_vector(minimum.parameters.len(), rng);
        let p = &minimum.parameters + &root * &z;
        (z, p)
    }))
}

fn normal_vector(n: usize, rng: &mut ChaCha8Rng) -> DVector<f64> {
    DVector::from_fn(n, |_, _| StandardNormal.sample(rng))
}

/// Draws `count` of the weighted things in proportion to their weights (given as logarithms).
/// `None` if they are worth less than `least` of as many even ones (Kong's effective number, which
/// is returned beside them).
///
/// Method: systematic resampling (Kitagawa 1996) of weights that are cut off at ∛n times their
/// mean: a handful of proposals that happen to lie far out would stand for all (truncated importance
/// sampling, Ionides 2008).
pub(super) fn resample<T: Clone>(
    weighted: &[(T, f64)],
    count: usize,
    least: f64,
    rng: &mut ChaCha8Rng,
) -> Option<(Vec<T>, f64)> {
    let top = weighted.iter().map(|w| w.1).fold(f64::NEG_INFINITY, f64::max);
    let mut weights: Vec<f64> = weighted.iter().map(|w| (w.1 - top).exp()).collect();
    let n = weights.len() as f64;
    let most = weights.iter().sum::<f64>() / n * n.cbrt();
    weights.iter_mut().for_each(|weight| *weight = weight.min(most));
    let total: f64 = weights.iter().sum();
    let effective = total * total / weights.iter().map(|w| w * w).sum::<f64>();
    if effective.is_nan() || effective < least * weighted.len() as f64 {
        return None;
    }
    let step = total / count as f64;
    let mut next = rng.random_range(0.0..step);
    let mut passed = 0.0;
    let mut drawn = Vec::with_capacity(count);
    for ((thing, _), weight) in weighted.iter().zip(&weights) {
        passed += weight;
        while next < passed && drawn.len() < count {
            drawn.push(thing.clone());
            next += step;
        }
    }
    Some((drawn, effective))
}
