//! A swing as it is found and as it is measured.

use serde::{Deserialize, Serialize};

use super::{FrameIndex, ImagePoint, Measured, Pixels, Quantity, Seconds, Warning};

/// What kind of swing it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum SwingKind {
    /// A ball was struck.
    #[serde(rename = "strike")]
    Strike,
    /// Nothing was struck.
    #[serde(rename = "practice swing")]
    Practice,
}

/// What the swing left in the ground.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum GroundMark {
    /// Turf was cut out.
    Divot,
    /// A brush on a mat or on turf: nothing removed.
    Scuff,
    /// A chalk line was wiped.
    Smear,
    /// Looked, and there is nothing.
    None,
}

/// Which came first in time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ContactOrder {
    /// The ball, then the ground.
    #[serde(rename = "ball first")]
    BallFirst,
    /// The ground, then the ball.
    #[serde(rename = "turf first")]
    TurfFirst,
    /// The difference is smaller than its expanded uncertainty.
    #[serde(rename = "too close to call")]
    TooClose,
    /// The ground was not touched.
    #[serde(rename = "no ground contact")]
    NoGroundContact,
}

/// What a low point was read from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum LowPointMethod {
    /// The club head's path.
    #[serde(rename = "arc")]
    Arc,
    /// The mark in the ground.
    #[serde(rename = "mark")]
    Mark,
    /// Both, weighted by their uncertainties.
    #[serde(rename = "arc and mark")]
    ArcAndMark,
}

/// What a person may be asked to look at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reviewable {
    /// Whether it is a swing at all, and of which kind.
    Swing,
    /// The instant of the strike.
    Strike,
    /// The ball.
    Ball,
    /// Where the mark begins.
    DivotStart,
    /// Where the mark ends.
    DivotEnd,
    /// The low point.
    LowPoint,
    /// The attack angle.
    AttackAngle,
    /// Which came first.
    ContactOrder,
}

/// Something the program found by itself.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Found<T> {
    /// What was found.
    pub value: T,
    /// Standard uncertainty, in pixels along the target line for points, in seconds for times.
    pub sigma: f64,
    /// The chance that the truth lies within the stated uncertainty's 95 % interval's reach:
    /// of those called 0.9 sure nine in ten are right.
    pub confidence: f64,
}

/// A ball's outline in the picture.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BallOutline {
    /// The centre of the outline.
    pub centre: ImagePoint,
    /// Its width in the picture's x direction.
    pub diameter: Pixels,
    /// Standard uncertainty of the diameter.
    pub diameter_sigma: Pixels,
}

/// The middle line of a mark in the ground.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct MarkLine {
    /// Two points of it, near the mark's ends, the one that was reached first first.
    pub ends: [ImagePoint; 2],
    /// Standard uncertainty of each of them across the line.
    pub across: Pixels,
}

/// The mid point of the club head's leading edge in one frame, in the steadied picture.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClubHeadSighting {
    /// The frame.
    pub frame: FrameIndex,
    /// The middle of the exposure at the sighting's own row, on the playback clock.
    pub time: Seconds,
    /// Where.
    pub point: ImagePoint,
    /// Standard uncertainty along and across the head's way through the picture.
    pub sigma: [Pixels; 2],
}

/// A swing as `vision` proposes it. Points lie in the steadied picture (first frame unshifted).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FoundSwing {
    /// Strike or practice swing, and how sure it is a swing of that kind.
    pub kind: Found<SwingKind>,
    /// First touch of the ball, or the head passing the origin.
    pub strike_time: Found<Seconds>,
    /// The last frame before it.
    pub strike_frame: FrameIndex,
    /// The way the club went through the strike: +1 to the right of the picture, -1 to the left.
    pub heading: Option<f64>,
    /// The ball at rest before the strike (for a practice swing: a ball still lying there).
    pub ball: Option<Found<BallOutline>>,
    /// What the swing left; `None`: could not look.
    pub ground_mark: Option<Found<GroundMark>>,
    /// Where the mark begins along the target line.
    pub divot_start: Option<Found<ImagePoint>>,
    /// Where it ends.
    pub divot_end: Option<Found<ImagePoint>>,
    /// The mark's middle line, where it could be followed: the way the club went over the ground.
    #[serde(default)]
    pub mark_line: Option<MarkLine>,
    /// Club-head positions around the strike, in order of time.
    pub club_head: Vec<ClubHeadSighting>,
    /// The clear frames compared: before and after.
    pub compared: Option<(FrameIndex, FrameIndex)>,
    /// Residual of steadying the two on each other, standard uncertainty.
    pub steadying_sigma: Pixels,
    /// What was odd on the way.
    pub warnings: Vec<Warning>,
}

impl FoundSwing {
    /// Notes that the picture is torn along a row, once.
    pub fn note_tear(&mut self, row: f64, pixels: f64) {
        if self.ball.is_some() && self.tear().is_none() {
            self.warnings.push(Warning::PictureTorn { row, pixels });
        }
    }

    /// By how much one part of the picture is displaced against the other, pixels.
    fn tear(&self) -> Option<f64> {
        self.warnings.iter().find_map(|w| match w {
            Warning::PictureTorn { pixels, .. } => Some(*pixels),
            _ => None,
        })
    }

    /// The ball's centre and how sure it is to a pixel: as it is seen, but for a torn picture, where
    /// it may lie beside that by as much, since nobody knows on which side the picture is right.
    pub fn placed_ball(&self) -> Option<Found<ImagePoint>> {
        let Found { value, sigma, confidence } = self.ball?;
        let [aside, most] = self.tear().map_or([0.0, 1.0], |pixels| [pixels, 0.5]);
        let (sigma, confidence) = (sigma.hypot(aside), confidence.min(most));
        Some(Found { value: value.centre, sigma, confidence })
    }
}

/// A measured swing: what `scuffline measure` prints and the window shows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SwingResult {
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// First touch of the ball (practice swing: the head passing its origin); `None`: unknown.
    pub strike_time: Option<Seconds>,
    /// The last frame before it.
    pub strike_frame: Option<FrameIndex>,
    /// The ball's centre at rest.
    pub ball: Option<ImagePoint>,
    /// Where the mark begins.
    pub divot_start: Option<ImagePoint>,
    /// Where it ends.
    pub divot_end: Option<ImagePoint>,
    /// What the swing left; `None`: could not look.
    pub ground_mark: Option<GroundMark>,
    /// Divot start minus ball, mm.
    pub divot_start_offset: Option<Measured>,
    /// Divot end minus ball, mm.
    pub divot_end_offset: Option<Measured>,
    /// Low point minus ball, mm.
    pub low_point: Option<(Measured, LowPointMethod)>,
    /// Slope of the leading edge's path at the ball, degrees, down negative.
    pub attack_angle: Option<Measured>,
    /// The leading edge's height over the ground where it passes the ball, mm.
    pub height_at_ball: Option<Measured>,
    /// The radius of the club head's path near the ground, mm; absent in results from before it
    /// was kept.
    #[serde(default)]
    pub arc_radius: Option<Measured>,
    /// How steeply the plane of that path stands on the ground, degrees; likewise.
    #[serde(default)]
    pub arc_plane: Option<Measured>,
    /// Where the club head's path first reaches the ground, minus the ball, mm; `None` where it
    /// clears it or no path was fitted. Grass and a ball in the way are not in it.
    #[serde(default)]
    pub predicted_contact: Option<Measured>,
    /// The ball minus the inner edge of the lead heel along the target line, mm; positive: the
    /// ball lies ahead of it. Only where the heel is marked.
    #[serde(default)]
    pub ball_position: Option<Measured>,
    /// The same from the inner edge of the trail heel.
    #[serde(default)]
    pub from_trail_heel: Option<Measured>,
    /// The reach line of a drill minus the ball, mm. Only where it is marked.
    #[serde(default)]
    pub reach_line: Option<Measured>,
    /// Which came first.
    pub contact_order: Option<ContactOrder>,
    /// What to look at.
    pub needs_review: Vec<Reviewable>,
    /// What was odd on the way.
    pub warnings: Vec<Warning>,
}

impl SwingKind {
    /// The other kind.
    pub fn other(self) -> Self {
        match self {
            Self::Strike => Self::Practice,
            Self::Practice => Self::Strike,
        }
    }
}

impl SwingResult {
    /// Those of its offsets from the ball that could be told.
    pub fn told_offsets(&self) -> impl Iterator<Item = Reviewable> + use<> {
        let told = [
            (Reviewable::DivotStart, self.divot_start_offset.is_some()),
            (Reviewable::DivotEnd, self.divot_end_offset.is_some()),
            (Reviewable::LowPoint, self.low_point.is_some()),
        ];
        told.into_iter().filter(|(_, is_told)| *is_told).map(|(what, _)| what)
    }

    /// One of its numbers with its budget.
    pub fn measured(&self, quantity: Quantity) -> Option<&Measured> {
        match quantity {
            Quantity::DivotStart => self.divot_start_offset.as_ref(),
            Quantity::DivotEnd => self.divot_end_offset.as_ref(),
            Quantity::LowPoint => self.low_point.as_ref().map(|(m, _)| m),
            Quantity::AttackAngle => self.attack_angle.as_ref(),
        }
    }

    /// A swing of which nothing could be told.
    pub fn without_numbers(kind: SwingKind) -> Self {
        Self {
            kind,
            strike_time: None,
            strike_frame: None,
            ball: None,
            divot_start: None,
            divot_end: None,
            ground_mark: None,
            divot_start_offset: None,
            divot_end_offset: None,
            low_point: None,
            attack_angle: None,
            height_at_ball: None,
            arc_radius: None,
            arc_plane: None,
            predicted_contact: None,
            ball_position: None,
            from_trail_heel: None,
            reach_line: None,
            contact_order: None,
            needs_review: Vec::new(),
            warnings: Vec::new(),
        }
    }
}
