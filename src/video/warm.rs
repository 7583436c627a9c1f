//! Frames near the strikes, kept on disk in a form that is quick to show.
//!
//! They are for looking at only: they have been coded once more. Measuring reads originals.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use ffmpeg_next::Rational;
use serde::{Deserialize, Serialize};

use super::decode::{FrameReader, Use};
use super::encode::{ClipWriter, Purpose};
use super::index::Index;
use super::libav::{CancelSlot, ColourTags, Container, VideoFrame};
use super::recording::{Recording, build_index};
use super::{VideoError, hash};
use crate::domain::{FrameIndex, PictureSize, Pictures, Seconds};

/// Bytes on disk that the kept frames of one recording may take.
const MOST_BYTES: u64 = 500_000_000;

/// Bytes a pixel that a kept frame takes at most, as measured on detailed footage (0.04 is usual).
const BYTES_A_PIXEL: f64 = 0.12;

/// Frames within this time of a strike are kept, if they fit.
const REACH: Seconds = Seconds(1.0);

/// Which frames are kept, in their order in the clip.
#[derive(Serialize, Deserialize)]
struct Contents {
    quick_hash: String,
    frames: Vec<usize>,
    tags: ColourTags,
}

/// The kept frames of a recording, open for reading.
pub(super) struct WarmFrames {
    reader: FrameReader,
    index: Arc<Index>,
    place: HashMap<usize, usize>,
    tags: ColourTags,
}

impl WarmFrames {
    /// The kept picture of `frame`, if there is one.
    pub fn picture(&mut self, frame: FrameIndex) -> Option<VideoFrame> {
        let place = *self.place.get(&frame.0)?;
        let start = self.index.frames.get(place)?.packet as usize;
        let (_, mut picture) = self.reader.key_picture(start).ok()??;
        picture.tags = self.tags;
        Some(picture)
    }
}

fn paths(folder: &Path, quick_hash: &str) -> (PathBuf, PathBuf) {
    (folder.join(format!("{quick_hash}.mp4")), folder.join(format!("{quick_hash}.json")))
}

/// Opens what was kept of `recording` in `folder`; `None` if there is nothing or it is unusable.
pub(super) fn open(recording: &Recording, folder: &Path) -> Option<WarmFrames> {
    let quick_hash = hash::quick_hash(recording.path()).ok()?;
    let (clip, list) = paths(folder, &quick_hash);
    let contents: Contents = serde_json::from_slice(&std::fs::read(list).ok()?).ok()?;
    let cancel = CancelSlot::default();
    let mut container = Container::open(&clip, &cancel).ok()?;
    let info = container.info();
    let index = Arc::new(build_index(&mut container, &clip, &info, &cancel).ok()?);
    if contents.quick_hash != quick_hash || contents.frames.len() != index.frames.len() {
        return None;
    }
    let reader = FrameReader::new(container, &clip, index.clone(), cancel, Use::Intra).ok()?;
    let place = contents.frames.iter().enumerate().map(|(place, &frame)| (frame, place)).collect();
    Some(WarmFrames { reader, index, place, tags: contents.tags })
}

/// Writes the frames within a second of each strike to `folder`, fewer if they would not fit.
pub(super) fn build(
    recording: &mut Recording,
    strikes: &[Seconds],
    folder: &Path,
) -> Result<(), VideoError> {
    let quick_hash = hash::quick_hash(recording.path())?;
    let (clip, list) = paths(folder, &quick_hash);
    let wanted = wanted_frames(recording, strikes);
    if wanted.is_empty() {
        return Ok(());
    }
    let io = |error: std::io::Error, path: &Path| VideoError::CannotWrite {
        reason: error.to_string(),
        path: path.into(),
    };
    std::fs::create_dir_all(folder).map_err(|error| io(error, folder))?;
    // Under another name until it is whole.
    let part = clip.with_extension("part");
    let result = write_clip(recording, &wanted, &part).and_then(|(frames, tags)| {
        let contents = Contents { quick_hash, frames, tags };
        let text = serde_json::to_vec(&contents).unwrap_or_default();
        std::fs::write(&list, text).map_err(|error| io(error, &list))?;
        std::fs::rename(&part, &clip).map_err(|error| io(error, &clip))
    });
    if result.is_err() {
        // What is left of it is of no use; if it cannot be removed, the next try overwrites it.
        let _ = std::fs::remove_file(&part);
    }
    result
}

fn write_clip(
    recording: &mut Recording,
    wanted: &[usize],
    path: &Path,
) -> Result<(Vec<usize>, ColourTags), VideoError> {
    let size = recording.stored_size();
    let mut writer = ClipWriter::create_for(path, size, Rational(1, 1000), Purpose::Frames)?;
    let (mut written, mut tags) = (Vec::new(), None);
    recording.for_each_original(wanted, &mut |frame, picture| {
        tags.get_or_insert(picture.tags);
        writer.write_decoded(picture, written.len() as i64)?;
        written.push(frame.0);
        // Looked at now and then; the estimate below keeps it from ever mattering.
        let full = written.len() % 64 == 0
            && std::fs::metadata(path).is_ok_and(|file| file.len() > MOST_BYTES * 9 / 10);
        Ok(!full)
    })?;
    writer.finish()?;
    Ok((written, tags.unwrap_or_default()))
}

/// The frames to keep, ascending: those nearest to the strikes, as many as fit.
fn wanted_frames(recording: &Recording, strikes: &[Seconds]) -> Vec<usize> {
    let timeline = recording.timeline();
    let PictureSize { width, height } = recording.stored_size();
    let most = (MOST_BYTES as f64 / (BYTES_A_PIXEL * (width * height) as f64)) as usize;
    let distance = |frame: usize| {
        let time = timeline.time_of(FrameIndex(frame));
        strikes.iter().map(|strike| (time - *strike).abs().0).fold(f64::INFINITY, f64::min)
    };
    let mut near: Vec<(f64, usize)> = (0..timeline.len())
        .map(|frame| (distance(frame), frame))
        .filter(|(distance, _)| *distance <= REACH.0)
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    near.truncate(most);
    let mut frames: Vec<usize> = near.into_iter().map(|(_, frame)| frame).collect();
    frames.sort_unstable();
    frames
}
