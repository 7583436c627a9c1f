//! How far ahead of the ball something lies.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::calibrate::resample;
use super::club::{PATH_SPREAD, STRIKE_SPREAD};
use super::error::GeometryError;
use super::expand::check_against_draws;
use super::mark::{CLICKED_MIDDLE, ImageMark, MARK_HEIGHT_SPREAD, Origin};
use super::view::{GroundView, State, source_of_cause};
use crate::domain::{Contribution, GroundPoint, ImagePoint, Measured, Pixels, Source};

const SEED: u64 = 9_297;
/// The draws count if they are worth at least this part of as many even ones.
const LEAST_WORTH: f64 = 0.02;

/// What an offset is measured from.
#[derive(Clone, Copy, Debug)]
pub struct OffsetRequest<'a> {
    /// The calibrated view.
    pub view: &'a GroundView,
    /// A mark on the ground, at its level, give or take 2 mm.
    pub mark: &'a ImageMark,
    /// What it is counted from.
    pub origin: &'a Origin,
    /// The mark is where the club that struck the ball at the origin met the ground: it lies no
    /// farther to the side of the ball than swings go.
    pub struck: bool,
    /// Standard uncertainty of the register between the frames in which mark and origin were
    /// read, pixels in each coordinate; zero if they were read in the same frame.
    pub steadying: Pixels,
}

/// How far ahead (+) of the origin along the target line a ground mark lies, in mm, with its
/// budget: mark, ball, ball height, steadying, calibration by independent causes, lens, target
/// line. A struck ball's mark lies beside it in depth, which tells something about everything that
/// moves the two apart in depth, a tee's height above all; that is used, and what it leaves open is
/// booked under the model.
///
/// # Errors
/// A point that is not a number, or lies at or above the horizon.
///
/// Method: JCGM 100:2008, 5.1, with numerical sensitivities; the side on which the mark lies enters
/// as one more observation, by linear least squares; checked against the propagation of
/// distributions (JCGM 101:2008), the interval of which is carried where the two disagree.
pub fn measure_offset(request: &OffsetRequest) -> Result<Measured, GeometryError> {
    let start = request.origin.mark();
    for (which, point) in [("mark", request.mark.point), ("ball", start.point)] {
        if !point.is_finite() {
            return Err(GeometryError::NotFinite { which: which.into() });
        }
    }
    let best = Inputs::best(request);
    let horizon = || GeometryError::AboveHorizon { which: "mark or the ball".into() };
    let place = best.place(&request.view.state()).ok_or_else(horizon)?;
    let causes = causes(request, &best).ok_or_else(horizon)?;
    let side = request.struck.then(|| Side::expected(place, &causes));
    let (value, budget) = conditioned(place, &causes, side);
    let (mut draws, worth) = draws(request, &best, side);
    Ok(check_against_draws(Measured::new(value, budget), &mut draws, worth))
}

/// The inputs of an offset beside the calibration.
#[derive(Clone, Copy)]
struct Inputs {
    mark: ImagePoint,
    mark_height: f64,
    origin: ImagePoint,
    origin_height: f64,
}

impl Inputs {
    fn best(request: &OffsetRequest) -> Self {
        Self {
            mark: request.mark.point,
            mark_height: 0.0,
            origin: request.origin.mark().point,
            origin_height: request.origin.height().0,
        }
    }

    /// Where the mark lies from the origin.
    fn place(&self, state: &State) -> Option<GroundPoint> {
        let mark = state.camera.place_at_height(self.mark, self.mark_height)?;
        let zero = state.camera.place_at_height(self.origin, self.origin_height)?;
        Some(state.ground_from_foot(zero, mark))
    }
}

/// An independent cause of doubt: what one standard deviation of it does to the mark's place, along
/// and across the target line, mm.
struct Cause {
    source: Source,
    moves: [f64; 2],
}

/// One of the inputs: what it is booked under, its standard uncertainty, and what changes it.
type Input = (Source, f64, fn(&mut Inputs, f64));

fn uncertain_inputs(request: &OffsetRequest) -> [Input; 8] {
    let (mark, start) = (request.mark.sigma, request.origin.mark().sigma);
    let steadying = request.steadying.0;
    // Of the two directions of a mark, which no other number shares, the one along the target line
    // comes first: it decides the sign of what is booked.
    [
        (Source::Mark, mark[0].0, |i, d| i.mark.x += d),
        (Source::Mark, mark[1].0, |i, d| i.mark.y += d),
        (Source::Mark, MARK_HEIGHT_SPREAD, |i, d| i.mark_height += d),
        (Source::Ball, start[0].0, |i, d| i.origin.x += d),
        (Source::BallDepth, start[1].0, |i, d| i.origin.y += d),
        (Source::BallHeight, request.origin.height().1, |i, d| i.origin_height += d),
        (Source::Steadying, steadying, |i, d| i.mark.x += d),
        (Source::Steadying, steadying, |i, d| i.mark.y += d),
    ]
}

fn causes(request: &OffsetRequest, best: &Inputs) -> Option<Vec<Cause>> {
    // Pixels or mm: small against curvature, large against rounding.
    const STEP: f64 = 0.1;
    let view = request.view;
    let mut causes = Vec::new();
    for (source, standard, change) in uncertain_inputs(request) {
        let at = |by: f64| {
            let mut moved = *best;
            change(&mut moved, by);
            moved.place(&view.state())
        };
        let (after, before) = (at(STEP)?, at(-STEP)?);
        let slope = standard / (2.0 * STEP);
        let moves = [(after.x - before.x) * slope, (after.y - before.y) * slope];
        causes.push(Cause { source, moves });
    }
    let along = view.sensitivities(|s| best.place(s).map(|p| p.x))?;
    let across = view.sensitivities(|s| best.place(s).map(|p| p.y))?;
    let calibration = along.into_iter().zip(across).enumerate();
    causes
        .extend(calibration.map(|(k, (x, y))| Cause { source: source_of_cause(k), moves: [x, y] }));
    Some(causes)
}

/// How near the ball a mark lies across the target line, mm, standard.
#[derive(Clone, Copy)]
struct Side(f64);

impl Side {
    /// Toe and heel strikes, the path's direction and the middle of a frayed edge. The farther a
    /// mark is seen beyond two standard uncertainties of that and all causes together, the less its
    /// place tells: it was made there for another reason.
    fn expected(place: GroundPoint, causes: &[Cause]) -> Self {
        let turned = place.x * PATH_SPREAD.to_radians().tan();
        let swings = STRIKE_SPREAD.hypot(turned).hypot(CLICKED_MIDDLE);
        let doubt: f64 = causes.iter().map(|c| c.moves[1].powi(2)).sum();
        let total = doubt + swings * swings;
        let beyond = (place.y * place.y / (4.0 * total)).max(1.0);
        Self((total * beyond * beyond - doubt).sqrt())
    }
}

/// The offset and its budget, with what is known of the mark's side.
fn conditioned(
    place: GroundPoint,
    causes: &[Cause],
    side: Option<Side>,
) -> (f64, Vec<Contribution>) {
    let gain = side.map_or(0.0, |Side(side)| {
        let both: f64 = causes.iter().map(|c| c.moves[0] * c.moves[1]).sum();
        let across: f64 = causes.iter().map(|c| c.moves[1].powi(2)).sum();
        both / (across + side * side)
    });
    let mut budget: Vec<Contribution> = Vec::new();
    for Cause { source, moves: [along, across] } in causes {
        let part = along - gain * across;
        // Results that share a cause share its sign.
        match budget.iter_mut().find(|c| c.source == *source) {
            Some(sum) => sum.standard = sum.standard.hypot(part).copysign(sum.standard),
            None => budget.push(Contribution::new(source.clone(), part)),
        }
    }
    budget.extend(side.map(|Side(side)| Contribution::new(Source::Model, gain * side)));
    budget.retain(|c| c.standard != 0.0);
    (place.x - gain * place.y, budget)
}

/// The offset for every drawn camera, each with several errors of marks and heights, weighted by
/// the side on which the mark then lies; and how many independent ones they are worth.
fn draws(request: &OffsetRequest, best: &Inputs, side: Option<Side>) -> (Vec<f64>, f64) {
    const ERRORS_A_CAMERA: usize = 4;
    let view = request.view;
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let mut weighted = Vec::with_capacity(view.draws.len() * ERRORS_A_CAMERA);
    for globals in &view.draws {
        let state = view.state_of(globals);
        for _ in 0..ERRORS_A_CAMERA {
            let mut moved = *best;
            for (_, standard, change) in uncertain_inputs(request) {
                let z: f64 = StandardNormal.sample(&mut rng);
                change(&mut moved, standard * z);
            }
            let Some(place) = moved.place(&state) else { continue };
            let off = side.map_or(0.0, |Side(side)| place.y / side);
            weighted.push((place.x, -off * off / 2.0));
        }
    }
    resample(&weighted, view.draws.len(), LEAST_WORTH, &mut rng)
        .map_or_else(Default::default, |(drawn, worth)| (drawn, worth.min(view.worth)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Direction, Millimetres, PictureSize, Reference, ReferenceKind};
    use crate::geometry::mark::TEE_HEIGHT;
    use crate::geometry::{BALL_DIAMETER, CalibrationRequest, Camera, calibrate};

    const SIZE: PictureSize = PictureSize { width: 1280, height: 720 };

    /// A ball 4 m away, 16 px wide, seen by f = 1500 px.
    fn camera() -> (Camera, f64) {
        let (height, slant) = (1000.0f64, 4000.0f64);
        let camera = Camera {
            focal: 1500.0,
            centre: [639.5, 359.5],
            tilt: (height / slant).asin(),
            roll: 0.0,
            height,
            lens: [0.0; 2],
            long_side: 1280.0,
        };
        (camera, (slant * slant - height * height).sqrt())
    }

    /// The view as one object tells it; the ball's centre lies at `about`.
    fn calibrated(kind: ReferenceKind, along_target: bool, about: ImagePoint) -> GroundView {
        let height = Millimetres(0.0);
        let reference = Reference { kind, height, along_target, frame: None, point_sigma: None };
        calibrate(&CalibrationRequest {
            size: SIZE,
            references: &[reference],
            target_line: None,
            direction: Direction::Right,
            about: Some((about, Millimetres(BALL_DIAMETER / 2.0))),
            lens: None,
        })
        .unwrap()
    }

    fn ball_view() -> (GroundView, Origin, ImageMark) {
        let (camera, away) = camera();
        let radius = BALL_DIAMETER / 2.0;
        let (centre, width) = camera.outline_of_sphere([0.0, away, radius], radius).unwrap();
        let outline = Some((centre, Pixels(width)));
        let view = calibrated(ReferenceKind::Ball { outline }, false, centre);
        let mark = camera.project([100.0, away, 0.0]).unwrap();
        let origin = Origin::Ball { centre: ImageMark::click(centre), on_tee: false };
        (view, origin, ImageMark::click(mark))
    }

    /// A request of the mark of a struck ball, read in one frame.
    fn beside<'a>(
        view: &'a GroundView,
        mark: &'a ImageMark,
        origin: &'a Origin,
    ) -> OffsetRequest<'a> {
        OffsetRequest { view, mark, origin, struck: true, steadying: Pixels(0.0) }
    }

    #[test]
    fn a_ball_is_a_poor_ruler() {
        // 4 m, f = 1500 px, 0.5 px: relative scale √2 s / 16 px = 4.42 %; combined standard
        // uncertainty of a 100 mm offset 4.80 mm (scale 4.42 mm, two clicks 1.89 mm).
        let (view, origin, mark) = ball_view();
        let scale = view.scale_uncertainty_at(origin.mark().point).unwrap();
        // The tape says how wide the ball looks; how far it lies and how high it settles add to that.
        assert!((scale - 0.0442).abs() < 0.005, "{scale}");
        let offset = measure_offset(&beside(&view, &mark, &origin)).unwrap();
        assert!((offset.value - 100.0).abs() < 2.0, "{}", offset.value);
        let u = offset.standard_uncertainty();
        assert!((u - 4.80).abs() < 0.5, "{u}");
        let clicks = |source| {
            offset.budget.iter().find(|c| c.source == source).map_or(0.0, |c| c.standard.abs())
        };
        // One click: 0.5 px at 2.67 mm a pixel.
        assert!((clicks(Source::Ball) - 1.333).abs() < 0.05);
    }

    #[test]
    fn longer_rulers_leave_hardly_more_than_the_clicks() {
        // 4 m, f = 1500 px, 0.5 px: the two ends of a stick of 1219.2 mm tell the scale to 0.15 %,
        // those of an A4 sheet's longer edge to 0.63 %; for an offset of 100 mm that and two clicks
        // leave 1.89 and 1.99 mm. Where the stick lies behind or before the ball, and from which
        // angle it is seen, is told by the sheet alone: the stick's scale carries that as well.
        let (camera, away) = camera();
        let see = |x: f64, y: f64| camera.project([x, away + y, 0.0]).unwrap();
        let stick = ReferenceKind::Line {
            length: Millimetres(1219.2),
            ends: [see(-609.6, 0.0), see(609.6, 0.0)],
        };
        let sheet = ReferenceKind::Sheet {
            size: [Millimetres(297.0), Millimetres(210.0)],
            corners: [[-148.5, -105.0], [148.5, -105.0], [148.5, 105.0], [-148.5, 105.0]]
                .map(|[x, y]| see(x, y)),
        };
        let (_, origin, mark) = ball_view();
        let measured = [stick, sheet].map(|kind| {
            let view = calibrated(kind, true, origin.mark().point);
            let scale = view.scale_uncertainty_at(origin.mark().point).unwrap();
            let u = measure_offset(&beside(&view, &mark, &origin)).unwrap().standard_uncertainty();
            (scale, u)
        });
        let [(stick_scale, stick_u), (sheet_scale, sheet_u)] = measured;
        assert!((sheet_scale - 0.0063).abs() < 0.001, "{sheet_scale}");
        assert!((sheet_u - 1.99).abs() < 0.1, "{sheet_u}");
        assert!((0.0015..0.012).contains(&stick_scale), "{stick_scale}");
        assert!((1.89..2.1).contains(&stick_u), "{stick_u}");
    }

    #[test]
    fn the_balls_parallax_is_corrected() {
        // From 700 mm to the side the centre is seen 21.3 mm · 700 / 1000 beyond its resting point.
        let (camera, away) = camera();
        let view = GroundView { zero: [700.0, away], ..ball_view().0 };
        let state = view.state();
        let at = |z: f64| camera.project([700.0, away, z]).unwrap();
        let radius = BALL_DIAMETER / 2.0;
        let flat = state.camera.place_at_height(at(radius), 0.0).unwrap();
        let right = state.camera.place_at_height(at(radius), radius).unwrap();
        assert!((flat[0] - right[0] - radius * 0.7).abs() < 1.5, "{flat:?} {right:?}");
    }

    #[test]
    fn a_mark_beside_the_ball_tells_the_tees_height() {
        // 600 mm to the side of the camera's axis, from a camera 1 m high: 15 mm of tee move the
        // ball's resting point by 9 mm along the target line, and by 58 mm in depth.
        let (camera, away) = camera();
        let view = ball_view().0;
        let tall = BALL_DIAMETER / 2.0 + TEE_HEIGHT + 15.0;
        let centre = ImageMark::click(camera.project([600.0, away, tall]).unwrap());
        let origin = Origin::Ball { centre, on_tee: true };
        let mark = ImageMark::click(camera.project([650.0, away, 0.0]).unwrap());
        let request = beside(&view, &mark, &origin);
        let told = measure_offset(&request).unwrap();
        let blind = measure_offset(&OffsetRequest { struck: false, ..request }).unwrap();
        assert!((blind.value - 41.0).abs() < 2.0, "{}", blind.value);
        assert!((told.value - 50.0).abs() < 2.0, "{}", told.value);
        assert!(told.standard_uncertainty() < 0.5 * blind.standard_uncertainty());
        // Where the camera is known, a mark half a metre to the side was not made by this swing's
        // club and tells nothing.
        let aside = ImageMark::click(camera.project([650.0, away + 500.0, 0.0]).unwrap());
        let known = GroundView { root: &view.root * 0.1, ..view.clone() };
        let far = OffsetRequest { mark: &aside, view: &known, ..request };
        let (told, blind) = (
            measure_offset(&far).unwrap(),
            measure_offset(&OffsetRequest { struck: false, ..far }).unwrap(),
        );
        let used = 1.0 - told.standard_uncertainty() / blind.standard_uncertainty();
        assert!(used < 0.05, "{used}");
    }

    #[test]
    fn what_two_numbers_share_of_the_ball_moves_both_at_once() {
        // From the side a ball seen a row lower moves a mark's offset, and less so one that takes
        // the mark's side into account: what is left of it in their difference is in the budgets.
        let (camera, away) = camera();
        let view = ball_view().0;
        let centre = camera.project([600.0, away, BALL_DIAMETER / 2.0]).unwrap();
        let mark = ImageMark::click(camera.project([650.0, away, 0.0]).unwrap());
        let both = |centre: ImagePoint| {
            let origin = Origin::Ball { centre: ImageMark::click(centre), on_tee: false };
            let request = beside(&view, &mark, &origin);
            let blind = OffsetRequest { struck: false, ..request };
            [measure_offset(&request).unwrap(), measure_offset(&blind).unwrap()]
        };
        let [told, blind] = both(centre);
        let difference = told.value - blind.value;
        let budget = Measured::made_of(difference, &[(1.0, &told), (-1.0, &blind)]).budget;
        for (source, by) in [(Source::Ball, [0.5, 0.0]), (Source::BallDepth, [0.0, 0.5])] {
            let [told, blind] = both(centre.moved(by[0], by[1]));
            let moved = told.value - blind.value - difference;
            let booked = budget.iter().find(|c| c.source == source).unwrap().standard;
            assert!(
                (moved - booked).abs() < 0.05 + 0.05 * booked.abs(),
                "{source:?} {moved} {booked}"
            );
        }
        let depth = budget.iter().find(|c| c.source == Source::BallDepth).unwrap();
        assert!(depth.standard.abs() > 0.1, "{depth:?}");
    }

    #[test]
    fn the_sky_and_what_is_no_number_are_refused() {
        let (view, origin, _) = ball_view();
        let measure = |x, y| {
            let mark = ImageMark::click(ImagePoint::new(x, y));
            measure_offset(&beside(&view, &mark, &origin))
        };
        assert!(matches!(measure(640.0, -3000.0), Err(GeometryError::AboveHorizon { .. })));
        assert!(matches!(measure(f64::NAN, 300.0), Err(GeometryError::NotFinite { .. })));
    }
}
