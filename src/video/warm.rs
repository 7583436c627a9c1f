//! Frames near the strikes, kept on disk in a form that is quick to show.
//!
//! They are for looking at only: they have been coded once more. Measuring reads originals.

use std::collections::{HashMap, HashSet};
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

use serde::{Deserialize, Serialize};

use super::decode::FrameReader;
use super::index::Index;
use super::libav::{CancelSlot, ColourTags, Container, Use, VideoFrame};
use crate::domain::{FrameIndex, PictureSize};

/// Pixels of a kept frame; larger ones are halved until they fit, since decoding must be quick.
const MOST_PIXELS: usize = 2048 * 1200;

/// Which frames are kept, in their order in the clip.
#[derive(Serialize, Deserialize)]
pub(super) struct Contents {
    /// All frames near the strikes; those that did not fit or are damaged are not in the clip.
    pub wanted: Vec<usize>,
    pub frames: Vec<usize>,
    pub tags: ColourTags,
    /// The clip's own index: reading through some hundred megabytes for it takes too long.
    pub index: Vec<u8>,
}

/// The kept frames of a recording, open for reading.
pub(super) struct WarmFrames {
    reader: FrameReader,
    index: Arc<Index>,
    place: HashMap<usize, usize>,
    wanted: HashSet<usize>,
    tags: ColourTags,
}

impl WarmFrames {
    /// Whether all the `wanted` frames were kept, as far as they could be.
    pub fn holds(&self, wanted: &[usize]) -> bool {
        wanted.iter().all(|frame| self.wanted.contains(frame))
    }

    /// The kept picture of `frame`, if there is one.
    pub fn picture(&mut self, frame: FrameIndex) -> Option<VideoFrame> {
        let place = *self.place.get(&frame.0)?;
        let start = self.index.frames.get(place)?.packet as usize;
        let (_, mut picture) = self.reader.key_picture(start).ok()??;
        picture.tags = self.tags;
        Some(picture)
    }
}

/// The clip and the list of what is in it.
pub(super) fn paths(place: &Path) -> (PathBuf, PathBuf) {
    (place.with_extension("mp4"), place.with_extension("json"))
}

/// Opens what was kept at `place`; `None` if there is nothing or it is unusable.
pub(super) fn open(place: &Path) -> Option<WarmFrames> {
    let (clip, list) = paths(place);
    let contents: Contents = serde_json::from_slice(&std::fs::read(list).ok()?).ok()?;
    let cancel = CancelSlot::default();
    let container = Container::open(&clip, &cancel).ok()?;
    let index = Arc::new(Index::from_bytes(&contents.index)?);
    if contents.frames.len() != index.frames.len() {
        return None;
    }
    let reader = FrameReader::new(container, &clip, index.clone(), cancel, Use::Intra).ok()?;
    let place = contents.frames.iter().enumerate().map(|(place, &frame)| (frame, place)).collect();
    // Looked at today: what was not for longest goes first when room is needed.
    let _ = File::options()
        .append(true)
        .open(&clip)
        .and_then(|file| file.set_modified(SystemTime::now()));
    let wanted = contents.wanted.into_iter().collect();
    Some(WarmFrames { reader, index, place, wanted, tags: contents.tags })
}

/// The size of kept frames of a recording of this size.
pub(super) fn kept_size(size: PictureSize) -> PictureSize {
    let mut kept = size;
    while kept.width * kept.height > MOST_PIXELS {
        kept = PictureSize { width: kept.width.div_ceil(2), height: kept.height.div_ceil(2) };
    }
    kept
}
