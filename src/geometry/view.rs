//! The calibrated view: between picture and ground, and how well that is known.

use nalgebra::{DMatrix, DVector};

use super::adjust::GLOBALS;
use super::camera::{Camera, long_side};
use super::expand::{coverage_factor, interval_of_draws};
use crate::domain::{
    Direction, GroundPoint, ImagePoint, Interval, LengthUnit, MillimetresPerPixel, PictureSize,
    Source, Warning, WorldPoint,
};

/// How a reference object fits into the adjustment.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceFit {
    /// The reference in plain words.
    pub which: String,
    /// Root mean square of what is left between marked and fitted points, pixels.
    pub residual: f64,
    /// It could be otherwise: the marks of a ball or a line alone fit whatever they are.
    pub is_checked: bool,
}

/// A number of the camera's pose and its standard uncertainty.
pub type PoseValue = crate::domain::Known;

/// A number of the camera.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CameraNumber {
    /// Over the ground plane, mm.
    Height,
    /// From the lens to the ground frame's zero, mm.
    Distance,
    /// How far the optical axis points down to the ground, degrees.
    Tilt,
    /// How far it is turned to the right of square to the target line, degrees.
    Yaw,
    /// How far it is turned clockwise about its axis, degrees.
    Roll,
    /// Focal length, pixels.
    Focal,
    /// Along the target line at the ground frame's zero, mm a pixel.
    Scale,
}

impl CameraNumber {
    /// In the order in which they are told.
    pub const ALL: [Self; 7] =
        [Self::Height, Self::Distance, Self::Tilt, Self::Yaw, Self::Roll, Self::Focal, Self::Scale];

    /// Plain words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Height => "height of the camera",
            Self::Distance => "distance of the camera",
            Self::Tilt => "tilt of the camera",
            Self::Yaw => "turn of the camera",
            Self::Roll => "roll of the camera",
            Self::Focal => "focal length",
            Self::Scale => "scale at the ball",
        }
    }

    /// The same where it is plain whose it is.
    pub fn short_words(self) -> &'static str {
        let words = self.words();
        words.strip_suffix(" of the camera").unwrap_or(words)
    }
}

/// What one of the things that tell a number of the camera leaves open about it.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetPart {
    /// What tells it: "marks of the sheet".
    pub told_by: String,
    /// Its standard uncertainty, in the number's unit.
    pub standard: f64,
}

/// A number of the camera with what tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct CameraBudget {
    /// The number and its standard uncertainty.
    pub known: PoseValue,
    /// Its 95 % interval, as the drawn cameras have it (JCGM 101:2008).
    pub interval: Interval,
    /// What each thing that tells it leaves open; their squares add up.
    pub parts: Vec<BudgetPart>,
}

/// Where the camera stands, in numbers for people.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    /// Over the ground plane, mm.
    pub height: PoseValue,
    /// From the lens to the ground frame's zero, mm.
    pub distance: PoseValue,
    /// How far the optical axis points down to the ground, degrees.
    pub tilt: PoseValue,
    /// How far the camera is turned to the right of square to the target line, degrees.
    pub yaw: PoseValue,
    /// How far the camera is turned clockwise about its axis, degrees.
    pub roll: PoseValue,
    /// Focal length, pixels.
    pub focal: PoseValue,
}

/// Beyond so many degrees of standard uncertainty the tilt is little more than what is true of any
/// tripod.
pub(super) const TILT_UNKNOWN: f64 = 2.0;

impl Pose {
    /// "Camera 1.1 m high, 3.4 m away, tilted 12.3° down, turned 1.6° to the right, rolled 0.3°
    /// clockwise, focal length 1494 px."; where something about it costs accuracy or safety, with what to do. In
    /// metres where lengths are metric, else in inches.
    pub fn words(&self, unit: LengthUnit) -> String {
        let mut text = self.place(unit);
        if let Some(advice) = self.advice(unit) {
            text.push(' ');
            text.push_str(&advice);
        }
        text
    }

    /// Height and angles are told where they are more than what is true of any tripod.
    fn place(&self, unit: LengthUnit) -> String {
        if self.tilt.standard > TILT_UNKNOWN {
            let away = far(self.distance.value, unit);
            return format!(
                "Camera some {away} away; how it stands is not told by what is marked."
            );
        }
        let side = if self.yaw.value < 0.0 { "left" } else { "right" };
        // Without a marked target line it is little more than what is true of any camera.
        let doubt = match 2.0 * self.yaw.standard {
            small if small < 1.5 => String::new(),
            wide => format!(" ± {wide:.0}°"),
        };
        let end = if self.tilt.value < 0.0 { "up" } else { "down" };
        let way = if self.roll.value < 0.0 { "anticlockwise" } else { "clockwise" };
        format!(
            "Camera {} high, {} away, tilted {:.1}° {end}, turned {:.1}°{doubt} to the {side}, rolled {:.1}° {way}, focal length {:.0} px.",
            far(self.height.value, unit),
            far(self.distance.value, unit),
            self.tilt.value.abs(),
            self.yaw.value.abs(),
            self.roll.value.abs(),
            self.focal.value,
        )
    }

    /// What to change next time, the most important thing only; told where even the far end of
    /// the 95 % interval asks for it.
    fn advice(&self, unit: LengthUnit) -> Option<String> {
        let apart = unit.away();
        let high = if unit == LengthUnit::Inch { "40 in" } else { "1 m" };
        let below = |p: PoseValue, limit: f64| p.value + 2.0 * p.standard < limit;
        let above = |p: PoseValue, limit: f64| p.value - 2.0 * p.standard > limit;
        let level = PoseValue { value: self.roll.value.abs(), ..self.roll };
        match () {
            // Club and arms reach some 2 m (common practice, no source).
            () if below(self.distance, 2500.0) => {
                Some(format!("Put it {apart} away: the club must not reach it."))
            }
            // Beyond, a ball is narrower than 14 px in 1280 and clicks weigh twice as much.
            () if above(self.distance, 6000.0) => {
                Some(format!("Put it nearer, {apart}, for a smaller ±."))
            }
            // Lower than that a row of the picture holds ten times as much depth as width.
            () if self.height.value < 0.1 * self.distance.value
                && above(self.distance, 10.0 * self.height.value) =>
            {
                Some(format!("Raise it to about {high}: from so low the ground is seen edge on."))
            }
            () if above(level, 3.0) => Some("Turn it level on the tripod for a smaller ±.".into()),
            () => None,
        }
    }
}

/// A length of metres.
fn far(mm: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Inch => format!("{:.0} in", unit.from_mm(mm)),
        _ => format!("{:.1} m", mm / 1000.0),
    }
}

/// A calibrated view of the ground.
///
/// Its ground frame has x along the target line, y away from the camera, z up, and its zero at
/// the point set by [`GroundView::with_zero`] (at first below the point it was calibrated about).
#[derive(Clone, Debug)]
pub struct GroundView {
    pub(super) globals: [f64; GLOBALS],
    /// Lower triangular square root of the covariance: column k is one standard deviation of the
    /// k-th independent cause.
    pub(super) root: DMatrix<f64>,
    /// What tells it, in words, each with its part of the covariance in units of `root`.
    pub(super) told_by: Vec<(String, DMatrix<f64>)>,
    /// Equally likely cameras drawn from the joint distribution; few if it was not drawn.
    pub(super) draws: Vec<[f64; GLOBALS]>,
    /// How many independent draws they are worth.
    pub(super) worth: f64,
    pub(super) size: PictureSize,
    pub(super) direction: Direction,
    /// The ground frame's zero in the foot frame, mm.
    pub(super) zero: [f64; 2],
    /// How each reference fits.
    pub references: Vec<ReferenceFit>,
    /// What was odd.
    pub warnings: Vec<Warning>,
}

/// One possible state of the calibration: the camera and the target line's direction.
#[derive(Clone, Copy, Debug)]
pub(super) struct State {
    pub(super) camera: Camera,
    /// Along the target line, + toward the target, in the foot frame.
    pub(super) ahead: [f64; 2],
    /// Away from the camera, square to `ahead`.
    pub(super) away: [f64; 2],
}

impl State {
    pub(super) fn new(globals: &[f64], long_side: f64, direction: Direction) -> Self {
        let (sin, cos) = globals[GLOBALS - 1].sin_cos();
        let sign = direction.sign();
        Self {
            camera: Camera::from_array(globals, long_side),
            ahead: [sign * cos, sign * sin],
            away: [-sin, cos],
        }
    }

    pub(super) fn foot_from_world(&self, zero: [f64; 2], p: [f64; 3]) -> [f64; 3] {
        [
            zero[0] + self.ahead[0] * p[0] + self.away[0] * p[1],
            zero[1] + self.ahead[1] * p[0] + self.away[1] * p[1],
            p[2],
        ]
    }

    pub(super) fn ground_from_foot(&self, zero: [f64; 2], p: [f64; 2]) -> GroundPoint {
        let d = [p[0] - zero[0], p[1] - zero[1]];
        GroundPoint::new(
            self.ahead[0] * d[0] + self.ahead[1] * d[1],
            self.away[0] * d[0] + self.away[1] * d[1],
        )
    }
}

/// Which source the k-th independent cause of the calibration's doubt is booked under. The lens
/// and the target line are what is left of them once the causes before are taken out.
pub(super) fn source_of_cause(k: usize) -> Source {
    match k {
        6 => Source::Lens,
        // A cause of its own: two under one name would be taken for one.
        7 => Source::Calibration(6),
        8 => Source::TargetLine,
        k => Source::Calibration(k),
    }
}

impl GroundView {
    pub(super) fn state_of(&self, globals: &[f64]) -> State {
        State::new(globals, long_side(self.size), self.direction)
    }

    pub(super) fn state(&self) -> State {
        self.state_of(&self.globals)
    }

    /// The derivative of `quantity` for one standard deviation of each independent cause of the
    /// calibration's doubt; `None` where it is undefined.
    pub(super) fn sensitivities(
        &self,
        quantity: impl Fn(&State) -> Option<f64>,
    ) -> Option<Vec<f64>> {
        // A tenth of a standard deviation: small against curvature, large against rounding.
        const PART: f64 = 0.1;
        (0..GLOBALS)
            .map(|k| {
                let at = |sign: f64| {
                    let moved: [f64; GLOBALS] =
                        std::array::from_fn(|i| self.globals[i] + sign * PART * self.root[(i, k)]);
                    quantity(&self.state_of(&moved))
                };
                Some((at(1.0)? - at(-1.0)?) / (2.0 * PART))
            })
            .collect()
    }

    /// The camera at the most probable calibration.
    pub fn camera(&self) -> Camera {
        self.state().camera
    }

    /// Which way the target lies.
    pub fn direction(&self) -> Direction {
        self.direction
    }

    /// The size of the picture it was calibrated for.
    pub fn size(&self) -> PictureSize {
        self.size
    }

    /// The same view with the ground frame's zero below a point of the picture that is `height`
    /// mm above the ground (0 for a ground point, the ball's radius for its centre). `None` at or
    /// above the horizon.
    pub fn with_zero(&self, point: ImagePoint, height: f64) -> Option<Self> {
        let zero = self.state().camera.place_at_height(point, height)?;
        Some(Self { zero, ..self.clone() })
    }

    /// The ground point seen at `point`; `None` at or above the horizon.
    pub fn ground_from_image(&self, point: ImagePoint) -> Option<GroundPoint> {
        self.ground_below(point, 0.0)
    }

    /// The ground point straight below what is seen at `point` and is `height` mm above the
    /// ground; `None` at or above the horizon.
    pub fn ground_below(&self, point: ImagePoint, height: f64) -> Option<GroundPoint> {
        let state = self.state();
        let place = state.camera.place_at_height(point, height)?;
        Some(state.ground_from_foot(self.zero, place))
    }

    /// Where a ground point appears; `None` behind the camera.
    pub fn image_from_ground(&self, point: GroundPoint) -> Option<ImagePoint> {
        self.image_from_world(WorldPoint { x: point.x, y: point.y, z: 0.0 })
    }

    /// Where a point of the world appears; `None` behind the camera.
    pub fn image_from_world(&self, point: WorldPoint) -> Option<ImagePoint> {
        let state = self.state();
        let foot = state.foot_from_world(self.zero, [point.x, point.y, point.z]);
        state.camera.project(foot)
    }

    /// The local scale along the target line on the ground seen at `point`.
    pub fn scale_at(&self, point: ImagePoint) -> Option<MillimetresPerPixel> {
        scale(&self.state(), point).map(MillimetresPerPixel)
    }

    /// The relative standard uncertainty of [`GroundView::scale_at`].
    pub fn scale_uncertainty_at(&self, point: ImagePoint) -> Option<f64> {
        let parts = self.sensitivities(|s| scale(s, point).map(f64::ln))?;
        Some(parts.iter().map(|p| p * p).sum::<f64>().sqrt())
    }

    /// Straightens a point of the picture: its place without the lens's distortion.
    pub fn undistort(&self, point: ImagePoint) -> Option<ImagePoint> {
        self.camera().undistort(point)
    }

    /// Where the lens puts a point of the straightened picture; inverse to
    /// [`GroundView::undistort`] within 1e-9 px.
    pub fn distort(&self, point: ImagePoint) -> Option<ImagePoint> {
        self.camera().distort(point)
    }

    /// Where the camera stands.
    pub fn pose(&self) -> Pose {
        let known = |number| {
            let unknown = PoseValue { value: f64::NAN, standard: f64::NAN };
            self.known(number).map_or(unknown, |(known, _)| known)
        };
        Pose {
            height: known(CameraNumber::Height),
            distance: known(CameraNumber::Distance),
            tilt: known(CameraNumber::Tilt),
            yaw: known(CameraNumber::Yaw),
            roll: known(CameraNumber::Roll),
            focal: known(CameraNumber::Focal),
        }
    }

    /// A number of the camera as one state of the calibration has it.
    fn number(&self, s: &State, number: CameraNumber) -> Option<f64> {
        Some(match number {
            CameraNumber::Height => s.camera.height,
            CameraNumber::Distance => {
                // The zero moves with the camera: it is the ground seen at one point of the picture.
                let seen = self.seen_zero();
                let [x, y] =
                    seen.and_then(|p| s.camera.place_at_height(p, 0.0)).unwrap_or(self.zero);
                (x * x + y * y + s.camera.height.powi(2)).sqrt()
            }
            CameraNumber::Tilt => s.camera.tilt.to_degrees(),
            CameraNumber::Yaw => -s.away[0].atan2(s.away[1]).to_degrees(),
            CameraNumber::Roll => s.camera.roll.to_degrees(),
            CameraNumber::Focal => s.camera.focal,
            CameraNumber::Scale => scale(s, self.seen_zero()?)?,
        })
    }

    /// Where the ground frame's zero is seen.
    fn seen_zero(&self) -> Option<ImagePoint> {
        self.state().camera.project([self.zero[0], self.zero[1], 0.0])
    }

    /// A number of the camera with what one standard deviation of each independent cause does to it.
    fn known(&self, number: CameraNumber) -> Option<(PoseValue, DVector<f64>)> {
        let value = self.number(&self.state(), number)?;
        let moved = DVector::from_vec(self.sensitivities(|s| self.number(s, number))?);
        Some((PoseValue { value, standard: moved.norm() }, moved))
    }

    /// A number of the camera and what each thing that tells it leaves open about it; the squares
    /// of the parts add up to its variance. `None` where it is undefined.
    ///
    /// Method: the adjustment's covariance residual by residual (JCGM 102:2011, 6.3, from memory),
    /// brought to the size of what is known once the joint distribution is drawn, which differs from
    /// it where little is known.
    pub fn camera_budget(&self, number: CameraNumber) -> Option<CameraBudget> {
        let (known, moved) = self.known(number)?;
        let shares: Vec<f64> =
            self.told_by.iter().map(|(_, part)| (part * &moved).dot(&moved).max(0.0)).collect();
        let total: f64 = shares.iter().sum();
        let parts = self.told_by.iter().zip(shares).map(|((told_by, _), share)| BudgetPart {
            told_by: told_by.clone(),
            standard: if total > 0.0 { (share / total).sqrt() * known.standard } else { 0.0 },
        });
        let state = |globals: &[f64; GLOBALS]| self.number(&self.state_of(globals), number);
        let mut drawn: Vec<f64> = self.draws.iter().filter_map(state).collect();
        let interval = interval_of_draws(&mut drawn, self.worth).map(|(interval, _)| interval);
        let half = coverage_factor(None) * known.standard;
        let linear = Interval { low: known.value - half, high: known.value + half };
        Some(CameraBudget { known, interval: interval.unwrap_or(linear), parts: parts.collect() })
    }
}

/// Millimetres a pixel along the target line at a point of the picture.
pub(super) fn scale(state: &State, point: ImagePoint) -> Option<f64> {
    let zero = state.camera.place_at_height(point, 0.0)?;
    // 20 mm to either side: far above rounding, far below the scale's change.
    let at = |x: f64| state.camera.project(state.foot_from_world(zero, [x, 0.0, 0.0]));
    let (a, b) = (at(-20.0)?, at(20.0)?);
    Some(40.0 / a.distance(b))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pose() -> Pose {
        let known = |value: f64, standard: f64| PoseValue { value, standard };
        Pose {
            height: known(1100.0, 20.0),
            distance: known(3400.0, 60.0),
            tilt: known(12.34, 0.5),
            yaw: known(1.6, 0.4),
            roll: known(-0.3, 0.3),
            focal: known(1494.0, 30.0),
        }
    }

    #[test]
    fn the_camera_is_told_in_words() {
        assert_eq!(
            pose().words(LengthUnit::Mm),
            "Camera 1.1 m high, 3.4 m away, tilted 12.3° down, turned 1.6° to the right, rolled 0.3° anticlockwise, focal length 1494 px."
        );
        let left = Pose { yaw: PoseValue { value: -1.6, standard: 0.4 }, ..pose() };
        assert!(left.words(LengthUnit::Cm).contains("turned 1.6° to the left"));
        let assumed = Pose { yaw: PoseValue { value: 0.3, standard: 2.8 }, ..pose() };
        assert!(assumed.words(LengthUnit::Mm).contains("turned 0.3° ± 6° to the right"));
        let up = Pose { tilt: PoseValue { value: -2.0, standard: 0.4 }, ..pose() };
        assert!(up.words(LengthUnit::Cm).contains("tilted 2.0° up"));
        // 1100 / 25.4 and 3400 / 25.4.
        assert!(pose().words(LengthUnit::Inch).starts_with("Camera 43 in high, 134 in away,"));
    }

    #[test]
    fn a_ball_alone_does_not_tell_how_the_camera_stands() {
        let unknown = Pose { tilt: PoseValue { value: 12.34, standard: 4.0 }, ..pose() };
        let words = unknown.words(LengthUnit::Mm);
        assert_eq!(words, "Camera some 3.4 m away; how it stands is not told by what is marked.");
    }

    #[test]
    fn advice_is_given_where_even_the_far_end_of_the_interval_asks_for_it() {
        let at = |value: f64, standard: f64| PoseValue { value, standard };
        let near = |standard| Pose { distance: at(2300.0, standard), ..pose() };
        assert_eq!(
            near(50.0).advice(LengthUnit::Mm).as_deref(),
            Some("Put it 3 to 4 m away: the club must not reach it.")
        );
        assert_eq!(near(150.0).advice(LengthUnit::Mm), None);
        assert_eq!(
            near(50.0).advice(LengthUnit::Inch).as_deref(),
            Some("Put it 120 to 160 in away: the club must not reach it.")
        );
        let far = Pose { distance: at(6500.0, 200.0), ..pose() };
        let words = far.words(LengthUnit::Mm);
        assert!(words.ends_with("Put it nearer, 3 to 4 m, for a smaller ±."), "{words}");
        let low = Pose { height: at(250.0, 20.0), ..pose() };
        assert!(low.words(LengthUnit::Mm).contains("Raise it to about 1 m"));
        assert!(low.words(LengthUnit::Inch).contains("Raise it to about 40 in"));
        for roll in [4.0, -4.0] {
            let rolled = Pose { roll: at(roll, 0.4), ..pose() };
            assert!(
                rolled
                    .words(LengthUnit::Mm)
                    .ends_with("Turn it level on the tripod for a smaller ±.")
            );
        }
        assert_eq!(Pose { roll: at(4.0, 0.6), ..pose() }.advice(LengthUnit::Mm), None);
    }
}
