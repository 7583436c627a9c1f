//! Quick pictures of key frames: for dragging through a recording and for the film strip.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::decode::{FrameReader, Use};
use super::index::Index;
use super::libav::{CancelSlot, Container, StreamInfo};
use super::picture::Converter;
use super::{CancelToken, VideoError};
use crate::domain::{ColourFrame, FrameIndex, PictureSize};

/// Reads key frames only, each by itself. It has its own file handle, so that it can work on a
/// thread of its own beside the recording.
pub struct Sketcher {
    reader: FrameReader,
    index: Arc<Index>,
    converter: Converter,
    cancel: CancelSlot,
}

impl Sketcher {
    pub(super) fn open(
        path: &Path,
        index: &Arc<Index>,
        info: &StreamInfo,
    ) -> Result<Self, VideoError> {
        let cancel = CancelSlot::default();
        let container = Container::open(path, &cancel)?;
        let reader =
            FrameReader::new(container, path, index.clone(), cancel.clone(), Use::KeyFrames)?;
        Ok(Self { reader, index: index.clone(), converter: Converter::new(info), cancel })
    }

    /// Exchanges the flag that stops the work at hand.
    pub fn set_cancel(&mut self, token: CancelToken) {
        self.cancel.set(token);
    }

    /// The key frame from which `frame` is decoded, which is the frame itself or one shortly
    /// before it, with its number; `height` rows high (never more than the picture has).
    ///
    /// # Errors
    /// [`VideoError::DamagedFrame`] if no key frame can be decoded, [`VideoError::Cancelled`].
    pub fn near(
        &mut self,
        frame: FrameIndex,
        height: usize,
    ) -> Result<(FrameIndex, ColourFrame), VideoError> {
        let count = self.index.frames.len();
        if frame.0 >= count {
            return Err(VideoError::NoSuchFrame { asked: frame.0, count });
        }
        let index = self.index.clone();
        for start in index.starts_for(frame).take(3) {
            if let Some((shown, picture)) = self.reader.key_picture(start)? {
                let size = self.size_for(height);
                return Ok((shown, self.converter.colour_in(&picture, size)?));
            }
        }
        Err(VideoError::DamagedFrame { frame: frame.0 })
    }

    /// The size of a picture of `height` rows.
    pub fn size_for(&self, height: usize) -> PictureSize {
        let full = self.converter.size();
        let height = height.clamp(1, full.height);
        PictureSize { width: (full.width * height).div_ceil(full.height).max(1), height }
    }
}

/// Where and how to open another reader of the same recording, on any thread.
#[derive(Clone)]
pub struct SketcherSource {
    pub(super) path: PathBuf,
    pub(super) index: Arc<Index>,
    pub(super) info: StreamInfo,
}

impl SketcherSource {
    /// Opens the reader.
    ///
    /// # Errors
    /// As [`super::Recording::open`].
    pub fn open(&self) -> Result<Sketcher, VideoError> {
        Sketcher::open(&self.path, &self.index, &self.info)
    }
}
