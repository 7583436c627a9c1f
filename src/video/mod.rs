//! Recordings on disk: the only room that sees FFmpeg.
//!
//! [`Recording`] is the door: it opens a file, knows every displayed frame in presentation
//! order with its own integer time stamp, and hands out exactly the frame asked for.
//!
//! The trap this room exists for: a time stamp is a poor name for a frame. It may be missing,
//! doubled, hidden by an edit list, or belong to a picture that cannot be decoded from the key
//! frame before it. So each packet is given its ordinal in the file as its name, the decoder
//! carries that name through its reordering, and a frame is identified by it alone.

mod cache;
mod cancel;
mod decode;
mod encode;
mod facts;
mod hash;
mod index;
mod keep;
mod libav;
mod orient;
mod picture;
mod recording;
mod sketch;
mod sound;
mod tone;
mod warm;

pub use cancel::CancelToken;
pub use encode::{ClipWriter, writes_h264};
pub use facts::Facts;
pub use hash::full_hash;
pub use index::Index;
pub use keep::{make_private, remove_leftovers};
pub use libav::{give_back_large_pictures, give_back_memory};
pub use recording::Recording;
pub use sketch::{Sketcher, SketcherSource};
pub use sound::Envelope;

use std::path::{Path, PathBuf};

use crate::domain::PictureError;

/// Why a recording could not be read. Each is one sentence: what happened, what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum VideoError {
    /// Nothing lies at that path.
    #[error("There is no file here; check the name: {path}")]
    Missing {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// The operating system refused.
    #[error("The file cannot be read ({reason}); check its permissions or copy it again: {path}")]
    Unreadable {
        /// What the system said.
        reason: String,
        /// The file.
        path: PathBuf,
    },
    /// A file of no bytes.
    #[error("The file is empty; copy it again from the phone: {path}")]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// Another file lies where a recording of the library was.
    #[error(
        "Another file lies where this recording was, and nothing is measured on it; put the recording back, or add the file as a new one: {path}"
    )]
    Exchanged {
        /// The place.
        path: PathBuf,
    },
    /// No container that holds video.
    #[error(
        "The file is not a video, or is cut short or still being written; choose a finished recording: {path}"
    )]
    NotVideo {
        /// The file.
        path: PathBuf,
    },
    /// A container without pictures.
    #[error("The file has no video in it; choose a file recorded by a camera: {path}")]
    NoVideoStream {
        /// The file.
        path: PathBuf,
    },
    /// The FFmpeg in use lacks the codec.
    #[error(
        "The video is coded as {codec}, which the installed FFmpeg cannot decode; convert it to H.264: {path}"
    )]
    NoDecoder {
        /// FFmpeg's name of the codec.
        codec: String,
        /// The file.
        path: PathBuf,
    },
    /// Dimensions that no camera writes.
    #[error(
        "The picture claims to be {width} x {height} pixels, more than can be handled; the file is probably damaged: {path}"
    )]
    TooLarge {
        /// Columns.
        width: i64,
        /// Rows.
        height: i64,
        /// The file.
        path: PathBuf,
    },
    /// Not one picture could be decoded.
    #[error("No picture in the file can be decoded; copy it again from the phone: {path}")]
    NoFrames {
        /// The file.
        path: PathBuf,
    },
    /// A frame beyond the end.
    #[error("There is no frame {asked}; the recording has {count} frames, counted from 0")]
    NoSuchFrame {
        /// The frame asked for.
        asked: usize,
        /// How many there are.
        count: usize,
    },
    /// A frame whose data is damaged.
    #[error("Frame {frame} is damaged and cannot be shown; choose a neighbouring one")]
    DamagedFrame {
        /// Its number.
        frame: usize,
    },
    /// A clip could not be written.
    #[error(
        "The clip cannot be written ({reason}); choose another folder or free some space: {path}"
    )]
    CannotWrite {
        /// What went wrong.
        reason: String,
        /// The file.
        path: PathBuf,
    },
    /// The work was stopped; passed on in silence.
    #[error("stopped")]
    Cancelled,
    /// FFmpeg failed in a way that has no sentence of its own.
    #[error("The recording could not be read further ({reason}); copy it again from the phone")]
    Library {
        /// FFmpeg's words.
        reason: String,
    },
}

impl VideoError {
    /// Names the file in an error of a decoder, which does not know it.
    fn at(self, file: &Path) -> Self {
        match self {
            Self::NoDecoder { codec, .. } => Self::NoDecoder { codec, path: file.into() },
            Self::NoFrames { .. } => Self::NoFrames { path: file.into() },
            other => other,
        }
    }
}

impl From<VideoError> for PictureError {
    fn from(error: VideoError) -> Self {
        match error {
            VideoError::Cancelled => Self::Cancelled,
            other => Self::Unreadable(other.to_string()),
        }
    }
}
