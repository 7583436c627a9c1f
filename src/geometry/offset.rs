//! How far ahead of the ball something lies.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::adjust::{BALL_DIAMETER, CLICK_SIGMA};
use super::error::GeometryError;
use super::expand::check_against_draws;
use super::view::{GroundView, State, source_of_cause};
use crate::domain::{Contribution, ImagePoint, Measured, Pixels, Source};

/// Height of a mark's edge about the ground plane, mm, standard: bare soil lies some millimetres
/// under the level the ball rests on, the grass beside it some above (common practice, no source).
pub(super) const MARK_HEIGHT_SPREAD: f64 = 2.0;
/// How far a ball settles into grass, mm, standard (common practice, no source).
pub(super) const SETTLING: f64 = 2.0;
/// A tee's height, mm: 20 to 50 for drivers and irons; the Equipment Rules only bound its length
/// by 101.6 mm.
pub(super) const TEE_HEIGHT: f64 = 35.0;
pub(super) const TEE_SPREAD: f64 = 15.0;
const SEED: u64 = 9_297;

/// A point of the steadied picture with its standard uncertainty in x and y, pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ImageMark {
    /// Where.
    pub point: ImagePoint,
    /// Standard uncertainty in the picture's x and y.
    pub sigma: [Pixels; 2],
}

impl ImageMark {
    /// A mark that a person placed with the loupe.
    pub fn click(point: ImagePoint) -> Self {
        Self::found(point, CLICK_SIGMA)
    }

    /// A mark with the same standard uncertainty both ways, pixels.
    pub fn found(point: ImagePoint, sigma: f64) -> Self {
        Self { point, sigma: [Pixels(sigma); 2] }
    }
}

/// What offsets are counted from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Origin {
    /// A ball's centre as seen; zero is the ground straight below it.
    Ball {
        /// The centre of its outline.
        centre: ImageMark,
        /// It stands on a tee, the height of which nobody knows.
        on_tee: bool,
    },
    /// Where a tee goes into the ground, straight below the ball it holds.
    Tee(ImageMark),
    /// A point on the ground that stands in for the ball.
    Ground(ImageMark),
}

impl Origin {
    /// The mark it was placed by.
    pub fn mark(&self) -> ImageMark {
        match self {
            Self::Ball { centre, .. } => *centre,
            Self::Tee(mark) | Self::Ground(mark) => *mark,
        }
    }

    /// Height of the marked point over the ground and its standard uncertainty, mm.
    pub fn height(&self) -> (f64, f64) {
        match self {
            Self::Ball { on_tee: false, .. } => (BALL_DIAMETER / 2.0, SETTLING),
            Self::Ball { on_tee: true, .. } => (BALL_DIAMETER / 2.0 + TEE_HEIGHT, TEE_SPREAD),
            // Grass hides the very place; a ball's settling is of the same size.
            Self::Tee(_) => (0.0, SETTLING),
            Self::Ground(_) => (0.0, 0.0),
        }
    }
}

/// The inputs of an offset beside the calibration; the seven that have a spread come first.
#[derive(Clone, Copy)]
struct Inputs {
    mark: [f64; 2],
    mark_height: f64,
    origin: [f64; 2],
    origin_height: f64,
}

fn offset(state: &State, inputs: &Inputs) -> Option<f64> {
    let place = |[x, y]: [f64; 2], z| state.camera.place_at_height(ImagePoint::new(x, y), z);
    let mark = place(inputs.mark, inputs.mark_height)?;
    let zero = place(inputs.origin, inputs.origin_height)?;
    Some(state.ground_from_foot(zero, mark).x)
}

/// How far ahead (+) of the origin along the target line a ground mark lies, in mm, with its
/// budget: mark, ball, ball height, steadying, calibration by independent causes, lens, target
/// line.
///
/// `steadying`: standard uncertainty of the register between the frames in which mark and origin
/// were read, pixels in each coordinate; zero if they were read in the same frame.
///
/// The mark is taken at the level of the ground, give or take 2 mm (booked under the mark).
///
/// # Errors
/// A point that is not a number, or lies at or above the horizon.
///
/// Method: JCGM 100:2008, 5.1, with numerical sensitivities; checked against the propagation of
/// distributions (JCGM 101:2008), the interval of which is carried where the two disagree.
pub fn measure_offset(
    view: &GroundView,
    mark: &ImageMark,
    origin: &Origin,
    steadying: Pixels,
) -> Result<Measured, GeometryError> {
    let start = origin.mark();
    for (which, point) in [("mark", mark.point), ("ball", start.point)] {
        if !point.is_finite() {
            return Err(GeometryError::NotFinite { which: which.into() });
        }
    }
    let (height, height_spread) = origin.height();
    let inputs = Inputs {
        mark: mark.point.into(),
        mark_height: 0.0,
        origin: start.point.into(),
        origin_height: height,
    };
    let horizon = || GeometryError::AboveHorizon { which: "mark or the ball".into() };
    let value = offset(&view.state(), &inputs).ok_or_else(horizon)?;
    let spreads = Spreads {
        mark: mark.sigma.map(|s| s.0),
        origin: start.sigma.map(|s| s.0),
        origin_height: height_spread,
        steadying: steadying.0,
    };
    let mut budget = spreads.budget(&view.state(), &inputs).ok_or_else(horizon)?;
    let causes = view.sensitivities(|s| offset(s, &inputs)).ok_or_else(horizon)?;
    budget.extend(
        causes.into_iter().enumerate().map(|(k, part)| Contribution::new(source_of_cause(k), part)),
    );
    budget.retain(|c| c.standard != 0.0);
    let mut draws = spreads.draws(view, &inputs);
    Ok(check_against_draws(Measured::new(value, budget), &mut draws, view.worth))
}

struct Spreads {
    mark: [f64; 2],
    origin: [f64; 2],
    origin_height: f64,
    steadying: f64,
}

impl Spreads {
    /// The contributions of everything but the calibration.
    fn budget(&self, state: &State, inputs: &Inputs) -> Option<Vec<Contribution>> {
        let slope = |step: f64, change: &dyn Fn(&mut Inputs, f64)| {
            let at = |sign: f64| {
                let mut moved = *inputs;
                change(&mut moved, sign * step);
                offset(state, &moved)
            };
            Some((at(1.0)? - at(-1.0)?) / (2.0 * step))
        };
        let mark = [slope(0.1, &|i, d| i.mark[0] += d)?, slope(0.1, &|i, d| i.mark[1] += d)?];
        let origin = [slope(0.1, &|i, d| i.origin[0] += d)?, slope(0.1, &|i, d| i.origin[1] += d)?];
        let mark_height = slope(0.5, &|i, d| i.mark_height += d)? * MARK_HEIGHT_SPREAD;
        let clicked = (mark[0] * self.mark[0]).hypot(mark[1] * self.mark[1]);
        Some(vec![
            Contribution::new(Source::Mark, clicked.hypot(mark_height)),
            // Of the two directions the one along the target line decides the sign; results that
            // share a ball share it.
            Contribution::new(
                Source::Ball,
                (origin[0] * self.origin[0]).hypot(origin[1] * self.origin[1]).copysign(origin[0]),
            ),
            Contribution::new(
                Source::BallHeight,
                slope(0.5, &|i, d| i.origin_height += d)? * self.origin_height,
            ),
            Contribution::new(
                Source::Steadying,
                mark[0].hypot(mark[1]).copysign(mark[0]) * self.steadying,
            ),
        ])
    }

    /// The offset for every drawn camera, each with its own errors of marks and heights.
    fn draws(&self, view: &GroundView, inputs: &Inputs) -> Vec<f64> {
        let mut rng = ChaCha8Rng::seed_from_u64(SEED);
        let mut normal = |spread: f64| -> f64 {
            let z: f64 = StandardNormal.sample(&mut rng);
            z * spread
        };
        view.draws
            .iter()
            .filter_map(|globals| {
                let shift = [normal(self.steadying), normal(self.steadying)];
                let moved = Inputs {
                    mark: [
                        inputs.mark[0] + normal(self.mark[0]) + shift[0],
                        inputs.mark[1] + normal(self.mark[1]) + shift[1],
                    ],
                    mark_height: inputs.mark_height + normal(MARK_HEIGHT_SPREAD),
                    origin: [
                        inputs.origin[0] + normal(self.origin[0]),
                        inputs.origin[1] + normal(self.origin[1]),
                    ],
                    origin_height: inputs.origin_height + normal(self.origin_height),
                };
                offset(&view.state_of(globals), &moved)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Direction, Millimetres, PictureSize, Reference, ReferenceKind};
    use crate::geometry::{CalibrationRequest, Camera, calibrate};

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

    fn ball_view() -> (GroundView, Origin, ImageMark) {
        let (camera, away) = camera();
        let radius = BALL_DIAMETER / 2.0;
        let (centre, width) = camera.outline_of_sphere([0.0, away, radius], radius).unwrap();
        let reference = Reference {
            kind: ReferenceKind::Ball { outline: Some((centre, Pixels(width))) },
            height: Millimetres(0.0),
            along_target: false,
            frame: None,
            point_sigma: None,
        };
        let view = calibrate(&CalibrationRequest {
            size: SIZE,
            references: &[reference],
            target_line: None,
            direction: Direction::Right,
            about: Some(centre),
            lens: None,
        })
        .unwrap();
        let mark = camera.project([100.0, away, 0.0]).unwrap();
        let origin = Origin::Ball { centre: ImageMark::click(centre), on_tee: false };
        (view, origin, ImageMark::click(mark))
    }

    #[test]
    fn a_ball_is_a_poor_ruler() {
        // 4 m, f = 1500 px, 0.5 px: relative scale √2 s / 16 px = 4.42 %; combined standard
        // uncertainty of a 100 mm offset 4.80 mm (scale 4.42 mm, two clicks 1.89 mm).
        let (view, origin, mark) = ball_view();
        let scale = view.scale_uncertainty_at(origin.mark().point).unwrap();
        assert!((scale - 0.0442).abs() < 0.003, "{scale}");
        let offset = measure_offset(&view, &mark, &origin, Pixels(0.0)).unwrap();
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
    fn the_sky_and_what_is_no_number_are_refused() {
        let (view, origin, _) = ball_view();
        let measure = |x, y| {
            measure_offset(&view, &ImageMark::click(ImagePoint::new(x, y)), &origin, Pixels(0.0))
        };
        assert!(matches!(measure(640.0, -3000.0), Err(GeometryError::AboveHorizon { .. })));
        assert!(matches!(measure(f64::NAN, 300.0), Err(GeometryError::NotFinite { .. })));
    }
}
