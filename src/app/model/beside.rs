//! The other of two swings that are looked at side by side.

use std::path::PathBuf;
use std::sync::Arc;

use super::swing::Swing;
use crate::domain::{ColourFrame, FrameIndex, PictureSize, Timeline};
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
    /// The other's picture is waited for.
    pub fn is_opening(&self) -> bool {
        self.other().is_some() && self.shown.is_none() && self.trouble.is_none()
    }

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
