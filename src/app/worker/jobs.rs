//! What the threads ask of each other.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::Sender;

use super::reading::Reading;
use crate::domain::{FrameIndex, Seconds, Setup};
use crate::store::{RecordingId, RecordingRow, SessionId, SwingId};
use crate::video::{CancelToken, Index, SketcherSource};

/// What the picture thread is asked.
#[derive(Clone, Debug)]
pub enum PictureJob {
    /// Open a recording for looking at.
    Open {
        /// Which, and what its file was when it was read in.
        row: RecordingRow,
        /// When something was struck in it.
        strikes: Vec<Seconds>,
        /// To tell late answers.
        generation: u64,
        /// Stops it when another is asked for.
        cancel: CancelToken,
    },
    /// Bring the ground before and after a swing together.
    BeforeAfter {
        /// Whose.
        swing: SwingId,
        /// Which request this is.
        request: u64,
        /// A clear frame before it.
        before: FrameIndex,
        /// A clear frame after it.
        after: FrameIndex,
        /// To tell late answers.
        generation: u64,
        /// Set when it is waited for no longer.
        cancel: CancelToken,
    },
    /// Read one frame.
    Frame {
        /// Which.
        frame: FrameIndex,
        /// To tell late answers.
        generation: u64,
        /// Set when another is asked for.
        cancel: CancelToken,
    },
    /// Frames near the strikes are kept from now on.
    Kept {
        /// Of which opening.
        generation: u64,
        /// Where.
        place: PathBuf,
    },
    /// The index belonged to another content: open the file anew.
    Stale {
        /// Which opening.
        generation: u64,
    },
}

/// What the thread of the small pictures is asked.
pub enum FilmJob {
    /// Another recording is open.
    Open {
        /// How to read it.
        source: SketcherSource,
        /// To tell late answers.
        generation: u64,
    },
    /// Make these small pictures instead of those that are still to be made.
    Pictures {
        /// Of which frames.
        frames: Vec<FrameIndex>,
        /// How many frames away a picture may be taken.
        within: usize,
        /// Of which recording.
        generation: u64,
        /// Set when others are asked for.
        cancel: CancelToken,
    },
}

/// A recording that was opened, to be kept ready.
pub struct KeeperJob {
    /// Which.
    pub recording: RecordingId,
    /// Its file.
    pub path: PathBuf,
    /// Its frames.
    pub index: Arc<Index>,
    /// When something was struck in it.
    pub strikes: Vec<Seconds>,
    /// To tell late answers.
    pub generation: u64,
    /// Set when another is opened.
    pub cancel: CancelToken,
}

/// A file to read.
#[derive(Clone, Debug)]
pub struct ReadJob {
    /// The file.
    pub path: PathBuf,
    /// Where its swings go; `None`: the session of the day.
    pub session: Option<SessionId>,
    /// What is known of it; `None`: what the session's last recording was set up with.
    pub setup: Option<Setup>,
    /// Stops it.
    pub cancel: CancelToken,
}

/// The library's end of the reader.
pub struct ToReader {
    /// The reader's.
    pub jobs: Sender<ReadJob>,
    /// Stops its files.
    pub reading: Reading,
}
