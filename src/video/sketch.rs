//! Quick and small pictures: for dragging through a recording and for the film strip.

use std::path::PathBuf;
use std::sync::Arc;

use super::decode::FrameReader;
use super::index::Index;
use super::libav::{CancelSlot, Container, StreamInfo, Use};
use super::picture::Converter;
use super::{CancelToken, VideoError};
use crate::domain::{ColourFrame, FrameIndex, PictureSize};

/// Reads key frames, each by itself, and small exact pictures. It has its own file handle, so
/// that it can work on a thread of its own beside the recording.
pub struct Sketcher {
    reader: FrameReader,
    /// For frames that are no key frames; opened when the first is asked for.
    exact: Option<FrameReader>,
    source: SketcherSource,
    index: Arc<Index>,
    converter: Converter,
    cancel: CancelSlot,
}

impl Sketcher {
    fn open(source: &SketcherSource) -> Result<Self, VideoError> {
        let cancel = CancelSlot::default();
        let SketcherSource { path, index, info } = source;
        let container = Container::open(path, &cancel)?;
        let reader =
            FrameReader::new(container, path, index.clone(), cancel.clone(), Use::KeyFrames)?;
        let converter = Converter::new(info);
        Ok(Self {
            reader,
            exact: None,
            source: source.clone(),
            index: index.clone(),
            converter,
            cancel,
        })
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
                return Ok((shown, self.converter.colour_in(&picture, size, Vec::new())?));
            }
        }
        Err(VideoError::DamagedFrame { frame: frame.0 })
    }

    /// A small picture of `frame`, or of the key frame before it if that lies `within` so many
    /// frames. Ascending frames of a neighbourhood are decoded in one go.
    ///
    /// # Errors
    /// As [`Sketcher::near`].
    pub fn small(
        &mut self,
        frame: FrameIndex,
        within: usize,
        height: usize,
    ) -> Result<ColourFrame, VideoError> {
        let shown = |n: usize| self.index.packets[n].frame;
        let key = (frame.0 < self.index.frames.len())
            .then(|| self.index.starts_for(frame).find_map(shown))
            .flatten();
        match key {
            Some(key) if frame.0.saturating_sub(key as usize) <= within => {
                self.near(frame, height).map(|(_, picture)| picture)
            }
            _ => self.exact(frame, height),
        }
    }

    fn exact(&mut self, frame: FrameIndex, height: usize) -> Result<ColourFrame, VideoError> {
        let count = self.index.frames.len();
        if frame.0 >= count {
            return Err(VideoError::NoSuchFrame { asked: frame.0, count });
        }
        let reader = match &mut self.exact {
            Some(open) => open,
            none => {
                let path = &self.source.path;
                let container = Container::open(path, &self.cancel)?;
                let (index, cancel) = (self.index.clone(), self.cancel.clone());
                none.insert(FrameReader::new(container, path, index, cancel, Use::Aside)?)
            }
        };
        let picture = reader.frame(frame, frame, &mut |_, _| {})?;
        self.converter.colour_in(&picture, self.size_for(height), Vec::new())
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
        Sketcher::open(self)
    }
}
