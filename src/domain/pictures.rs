//! Decoded pictures and sound, and the door through which the core is handed them.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::{FrameIndex, Seconds, Timeline};

/// The size of the displayed picture, in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PictureSize {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
}

/// A picture's luma as displayed, row by row without padding: 0 black, 255 white.
#[derive(Clone, PartialEq, Eq)]
pub struct GrayFrame {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// `width * height` values.
    pub data: Vec<u8>,
}

/// A picture's colours as displayed: red, green, blue, alpha (255), row by row without padding.
#[derive(Clone, PartialEq, Eq)]
pub struct ColourFrame {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// `4 * width * height` values.
    pub data: Vec<u8>,
}

impl GrayFrame {
    /// The value at column `x`, row `y`.
    pub fn at(&self, x: usize, y: usize) -> u8 {
        self.data[y * self.width + x]
    }
}

impl ColourFrame {
    /// Red, green, blue at column `x`, row `y`.
    pub fn rgb(&self, x: usize, y: usize) -> [u8; 3] {
        let i = 4 * (y * self.width + x);
        [self.data[i], self.data[i + 1], self.data[i + 2]]
    }
}

impl std::fmt::Debug for GrayFrame {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "GrayFrame({} x {})", self.width, self.height)
    }
}

impl std::fmt::Debug for ColourFrame {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "ColourFrame({} x {})", self.width, self.height)
    }
}

/// Why a picture could not be handed over.
#[derive(Clone, Debug, thiserror::Error, PartialEq, Eq)]
pub enum PictureError {
    /// The person, or a newer request, stopped the work; it is passed on in silence.
    #[error("stopped")]
    Cancelled,
    /// The reader could not give the picture; its sentence.
    #[error("{0}")]
    Unreadable(String),
}

/// Pictures of one recording by frame number. `video` implements it for files, `demo`
/// for invented scenes, so that `vision` needs neither.
pub trait Pictures {
    /// When each frame is shown.
    fn timeline(&self) -> &Timeline;

    /// The size of the displayed picture.
    fn size(&self) -> PictureSize;

    /// The luma of one frame as displayed.
    fn gray(&mut self, frame: FrameIndex) -> Result<Arc<GrayFrame>, PictureError>;

    /// The colours of one frame as displayed.
    fn colour(&mut self, frame: FrameIndex) -> Result<Arc<ColourFrame>, PictureError>;

    /// Calls `each` with the luma of every frame of `from..to` in order; stops early when it
    /// returns false. Cheaper than as many calls of [`Pictures::gray`].
    fn for_each_gray(
        &mut self,
        from: FrameIndex,
        to: FrameIndex,
        each: &mut dyn FnMut(FrameIndex, &GrayFrame) -> bool,
    ) -> Result<(), PictureError> {
        for i in from.0..to.0 {
            if !each(FrameIndex(i), &*self.gray(FrameIndex(i))?) {
                break;
            }
        }
        Ok(())
    }
}

/// A recording's sound, mixed to one channel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sound {
    /// Samples a second.
    pub rate: u32,
    /// When the first sample sounds, on the video's playback clock (first frame = 0).
    pub start: Seconds,
    /// Between -1 and 1.
    pub samples: Vec<f32>,
}
