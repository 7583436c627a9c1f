//! Everything that is to be said about a recording that never took place.

use nalgebra::Vector3;

use super::{Arc3, Camera, CutMark};
use crate::domain::{Direction, PictureSize, Surface};

/// The smallest ball that the Equipment Rules allow (1.680 in), m.
pub(super) const BALL: f64 = 0.04267;

/// Ticks a second of an invented recording's time base.
pub(super) const TICKS: i32 = 90_000;

/// One invented recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Scenario {
    /// Short, unique.
    pub name: String,
    /// One line for people.
    pub about: String,
    /// Decides everything random that is not written here (texture, noise).
    pub seed: u32,
    /// Of the displayed picture.
    pub size: PictureSize,
    /// Camera and lens.
    pub camera: Camera,
    /// Where the target lies in the picture; left for a left-handed golfer.
    pub heading: Direction,
    /// Nominal frames a second.
    pub rate: f64,
    /// Middle of each exposure in ticks of 1/90000 s; the first is 0.
    pub ticks: Vec<i64>,
    /// Length of an exposure, s.
    pub exposure: f64,
    /// From the first row's exposure to the last row's, s; 0: all at once.
    pub readout: f64,
    /// The ground and the light on it.
    pub ground: GroundLook,
    /// How the golfer looks.
    pub golfer: GolferLook,
    /// Things of known size that lie about.
    pub things: Vec<Thing>,
    /// In order of time.
    pub swings: Vec<Swing>,
    /// What is wrong with the picture.
    pub faults: Faults,
    /// `None`: a recording without sound.
    pub sound: Option<SoundScape>,
}

/// The ground and the light on it. Colours are linear red, green, blue.
#[derive(Clone, Debug, PartialEq)]
pub struct GroundLook {
    /// What the ball lies on.
    pub surface: Surface,
    /// The mat's extent: least s, least y, greatest s, greatest y (m).
    pub mat: Option<[f64; 4]>,
    /// Of the blades above the level on which the ball rests, m; 0 on a mat.
    pub grass_height: f64,
    /// Colour of healthy grass.
    pub grass: [f32; 3],
    /// Share of dry patches, 0..1.
    pub dryness: f32,
    /// Colour of the mat.
    pub mat_colour: [f32; 3],
    /// Toward the sun, golfer's coordinates, length 1.
    pub sun: Vector3<f64>,
    /// How much darker a shadow is: 0 in flat light, 0.6 in hard sun.
    pub shadow: f32,
    /// Depth of the dapple of a tree's shade, 0..1.
    pub dapple: f32,
    /// Marks that were there before.
    pub old_marks: Vec<CutMark>,
    /// Chalk.
    pub lines: Vec<PaintedLine>,
    /// Other balls lying about: s and y, m.
    pub balls: Vec<[f64; 2]>,
}

/// A line of chalk or paint.
#[derive(Clone, Debug, PartialEq)]
pub struct PaintedLine {
    /// s and y of both ends, m.
    pub ends: [[f64; 2]; 2],
    /// Across, m.
    pub width: f64,
    /// 0..1.
    pub opacity: f32,
}

/// How the golfer looks; linear colours.
#[derive(Clone, Debug, PartialEq)]
pub struct GolferLook {
    /// Shoes.
    pub shoes: [f32; 3],
    /// Trousers.
    pub trousers: [f32; 3],
    /// Shirt.
    pub shirt: [f32; 3],
    /// Skin.
    pub skin: [f32; 3],
    /// A white glove on the lead hand.
    pub glove: bool,
    /// Brightness of the club head, 0..1.
    pub head: f32,
}

/// A thing of known size, in golfer's coordinates.
#[derive(Clone, Debug, PartialEq)]
pub enum Thing {
    /// A white rectangle lying flat.
    Sheet {
        /// Going round, m.
        corners: [Vector3<f64>; 4],
        /// First and second edge, m.
        size: [f64; 2],
        /// The first edge lies along the target line to within the turn given.
        turn: f64,
    },
    /// A round stick.
    Stick {
        /// Of its axis, m.
        ends: [Vector3<f64>; 2],
        /// Its radius, m.
        radius: f64,
    },
    /// Two chalk lines across the target line (drawn as [`PaintedLine`]s as well).
    LinePair {
        /// s of each, m.
        at: [f64; 2],
        /// Least and greatest y, m.
        reach: [f64; 2],
        /// Of each line, m.
        width: f64,
    },
}

/// A ball at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BallPlace {
    /// s and y, m.
    pub at: [f64; 2],
    /// Height of its centre, m.
    pub height: f64,
    /// From when it lies still, s.
    pub rest_from: f64,
}

/// One swing.
#[derive(Clone, Debug, PartialEq)]
pub struct Swing {
    /// Trade name.
    pub club: String,
    /// Loft of the face at the strike, radians.
    pub loft: f64,
    /// The way of the leading edge.
    pub arc: Arc3,
    /// A ball that lies there, struck or not.
    pub ball: Option<BallPlace>,
    /// Whether that ball is struck.
    pub struck: bool,
    /// s of the ball, or of the point that stands in for it, m.
    pub origin: f64,
    /// First touch of the ball, or the edge passing the origin, s.
    pub strike_time: f64,
    /// What it leaves in the ground.
    pub mark: Option<CutMark>,
    /// Bits of turf that lie ahead afterwards.
    pub crumbs: usize,
    /// Whether a piece of turf flies off.
    pub turf_flies: bool,
    /// s of the trail and the lead foot, m.
    pub feet: [f64; 2],
    /// How it runs in time.
    pub timing: SwingTiming,
}

/// How a swing runs in time, s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SwingTiming {
    /// The backswing.
    pub back: f64,
    /// From the top to the rigid part around the low point.
    pub down: f64,
    /// From there to the finish.
    pub follow: f64,
    /// For how long the finish is held before the next ball.
    pub hold: f64,
    /// To and fro at address: how often.
    pub waggles: u32,
}

/// What is wrong with the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Faults {
    /// Standard deviation of the noise in grey levels of 255, at dark and at white.
    pub noise: [f32; 2],
    /// Step of the block transform's coefficients in grey levels; 0: uncompressed.
    pub quantiser: f32,
    /// Relative change of exposure, as amplitude and period (s).
    pub exposure_drift: Option<(f32, f64)>,
    /// Largest shift of the picture (pixels) by drift and by tremor.
    pub shake: [f64; 2],
    /// A shadow that moves over the ground.
    pub moving_shadow: Option<MovingShadow>,
}

/// The edge of a large shadow: s of the edge at time 0, speed (m/s), softness (m), depth 0..1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MovingShadow {
    /// s of the edge at time 0, m.
    pub edge: f64,
    /// m/s.
    pub speed: f64,
    /// Width of the edge, m.
    pub softness: f64,
    /// How much darker, 0..1.
    pub depth: f32,
}

/// What there is to hear.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundScape {
    /// By how much the track runs late (s): recorders leave it uncorrected.
    pub lag: f64,
    /// Level of the hiss, of 1.
    pub hiss: f32,
    /// Strikes of neighbours: when (s) and how loud.
    pub neighbours: Vec<(f64, f32)>,
}

impl Scenario {
    /// +1 where the target is to the right of the picture.
    pub(super) fn sign(&self) -> f64 {
        self.heading.sign()
    }

    /// A point given in golfer's coordinates, in the camera's world.
    pub(super) fn world(&self, p: Vector3<f64>) -> Vector3<f64> {
        Vector3::new(self.sign() * p.x, p.y, p.z)
    }

    /// When the middle of a frame is exposed, s.
    pub(super) fn time(&self, frame: usize) -> f64 {
        self.ticks[frame] as f64 / f64::from(TICKS)
    }

    /// The picture's shift in a frame against frame 0, pixels.
    pub fn shift(&self, frame: usize) -> [f64; 2] {
        let [drift, tremor] = self.faults.shake;
        if drift == 0.0 && tremor == 0.0 {
            return [0.0; 2];
        }
        let at = |t: f64, axis: u32| {
            let slow = super::noise::value(0.45 * t + 0.3, 7.5, self.seed ^ axis);
            let quick = super::noise::value(9.0 * t, 3.5, self.seed ^ axis ^ 0x77);
            drift * f64::from(slow) + tremor * f64::from(quick)
        };
        let t = self.time(frame);
        [at(t, 1) - at(0.0, 1), at(t, 2) - at(0.0, 2)]
    }
}

impl Swing {
    /// When the edge passes the low point, s.
    pub fn low_time(&self) -> f64 {
        self.strike_time - self.strike_angle() / self.arc.turn_rate
    }

    /// The arc angle at the strike.
    pub fn strike_angle(&self) -> f64 {
        let touch = self
            .ball
            .filter(|_| self.struck)
            .and_then(|ball| self.arc.touch(ball.at[0], ball.height, BALL / 2.0, self.loft));
        touch.unwrap_or_else(|| self.arc.angle_at(self.origin))
    }

    /// When the edge is at arc angle `phi`, s.
    pub fn time_at(&self, phi: f64) -> f64 {
        self.low_time() + phi / self.arc.turn_rate
    }
}
