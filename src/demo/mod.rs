//! Invented scenes with exact truth.
//!
//! A [`Scenario`] says everything about a recording that never took place: camera, light,
//! ground, golfer, swings, faults of the picture. A [`Scene`] draws it, frame by frame and
//! in memory, and a [`Truth`] says what a measurement of it should find. Same scenario, same
//! pictures. Never reads what `vision` found; it knows only the truth, so it can judge.
//!
//! Lengths are metres here, since a scene is built rather than measured. "Golfer's
//! coordinates" are s along the target line (+ toward the target), y away from the camera,
//! z up, zero at the first ball's resting point.

mod arc;
mod camera;
mod canvas;
mod condition;
mod frame;
mod ground;
mod mark;
mod motion;
mod noise;
mod scenario;
mod scene;
mod sound;
mod truth;

pub use arc::Arc3;
pub use camera::Camera;
pub use condition::Condition;
pub use mark::{CutMark, MarkKind};
pub use scenario::{
    BallPlace, Faults, GolferLook, GroundLook, MovingShadow, PaintedLine, Scenario, SoundScape,
    Swing, SwingTiming, Thing,
};
pub use scene::Scene;
pub use truth::{SwingTruth, Truth};
