//! Two swings side by side: which frame of the other belongs to the frame shown.

use std::path::PathBuf;
use std::sync::Arc;

use super::model::{Model, Swing};
use crate::domain::{ColourFrame, FrameIndex, ImagePoint, PictureSize, Seconds, Timeline};
use crate::store::{RecordingId, SessionId, SwingId};

/// The other swing and how the two are laid beside each other.
#[derive(Clone, Debug)]
pub struct Beside {
    /// The session the other swing is chosen from, and its swings.
    pub choice: Option<(SessionId, Vec<Swing>)>,
    /// The files of that session.
    pub files: Vec<(RecordingId, PathBuf)>,
    /// The other swing.
    pub swing: Option<SwingId>,
    /// When each frame of its recording is shown, and their size; `None` until it is open.
    pub recording: Option<(Arc<Timeline>, PictureSize)>,
    /// The frame at hand.
    pub shown: Option<(FrameIndex, Arc<ColourFrame>)>,
    /// Frames by which the other is ahead of being lined up at the strike.
    pub shift: i64,
    /// One over the other instead of one beside the other.
    pub over: bool,
    /// How much of the other is seen when it lies over, 0 to 1.
    pub fade: f32,
    /// Its file cannot be read; the sentence.
    pub trouble: Option<String>,
    /// Counts openings, so that late answers are dropped.
    pub generation: u64,
}

impl Default for Beside {
    fn default() -> Self {
        Self {
            choice: None,
            files: Vec::new(),
            swing: None,
            recording: None,
            shown: None,
            shift: 0,
            over: false,
            fade: 0.5,
            trouble: None,
            generation: 0,
        }
    }
}

impl Beside {
    /// The other swing.
    pub fn other(&self) -> Option<&Swing> {
        let (_, swings) = self.choice.as_ref()?;
        swings.iter().find(|swing| Some(swing.id) == self.swing)
    }

    /// The number of the other swing in its session, from 1.
    pub fn number(&self) -> Option<usize> {
        let (_, swings) = self.choice.as_ref()?;
        swings.iter().position(|swing| Some(swing.id) == self.swing).map(|i| i + 1)
    }
}

/// The last frame before contact: measured, else found.
pub fn strike_frame(swing: &Swing) -> Option<FrameIndex> {
    let measured = swing.result.as_ref().and_then(|result| result.strike_frame);
    measured.or(swing.found.as_ref().map(|found| found.strike_frame))
}

/// The ball's place in the picture.
pub fn ball_point(swing: &Swing) -> Option<ImagePoint> {
    let found = || Some(swing.found.as_ref()?.ball?.value.centre);
    swing.result.as_ref().and_then(|result| result.ball).or_else(found)
}

/// The frame of the other recording that is shown beside `frame`; `None` until both are open.
///
/// Frames pair by the time that has passed since the two strikes in the world, which is less
/// than on the playback clock of a slow-motion file; the nearest frame is taken.
pub fn other_frame(model: &Model, frame: FrameIndex) -> Option<FrameIndex> {
    let here = model.open.as_ref()?.timeline.as_ref()?;
    let (there, _) = model.beside.recording.as_ref()?;
    let strike = |swing: Option<&Swing>| swing.and_then(strike_frame).unwrap_or(FrameIndex(0));
    let (mine, others) = (strike(model.current_swing()), strike(model.beside.other()));
    // A file that was exchanged for a shorter one may lack a frame.
    let time_in = |timeline: &Timeline, frame: FrameIndex| {
        let last = timeline.len().checked_sub(1)?;
        Some(timeline.time_of(FrameIndex(frame.0.min(last))).0)
    };
    let passed = (time_in(here, frame)? - time_in(here, mine)?) / here.slow_factor;
    let time = time_in(there, others)? + passed * there.slow_factor;
    let last = there.len().checked_sub(1)? as i64;
    let shifted = there.nearest_frame(Seconds(time)).0 as i64 + model.beside.shift;
    Some(FrameIndex(shifted.clamp(0, last) as usize))
}
