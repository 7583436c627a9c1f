//! Keeping the frames near the strikes: which of them, and how they are written.

use std::fs::{File, OpenOptions};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::SystemTime;

use ffmpeg_next::Rational;

use super::VideoError;
use super::encode::{ClipWriter, Purpose};
use super::libav::{CancelSlot, ColourTags, Container};
use super::recording::{Recording, build_index};
use super::warm::{self, Contents, kept_size, paths};
use crate::domain::{FrameIndex, Pictures, Seconds};

/// Bytes on disk that the kept frames of one recording may take.
const MOST_BYTES: u64 = 500_000_000;

/// Bytes on disk that the kept frames of all recordings may take; the longest unused go.
const MOST_BYTES_IN_ALL: u64 = 4_000_000_000;

/// So many frames are written for trial, to see how many bytes one takes.
const TRIAL: usize = 6;

/// Frames within this time of a strike are kept, if they fit.
const REACH: Seconds = Seconds(1.0);

impl Recording {
    /// Keeps the frames within a second of each strike at `place`, at most 500 MB a recording,
    /// so that [`Recording::kept`] has them at once, now and at later openings. Nothing is done
    /// if they are there already.
    ///
    /// `place`: a file name of this content alone, without an ending; others of the same folder
    /// that were not looked at for longest go when they take too much room.
    ///
    /// `go_on` is asked before each frame: it may wait while someone else needs the machine, and
    /// ends the work by returning false.
    ///
    /// # Errors
    /// [`VideoError::CannotWrite`], [`VideoError::Cancelled`] (what was kept before stays).
    pub fn keep_near(
        &mut self,
        strikes: &[Seconds],
        place: &Path,
        go_on: &mut dyn FnMut() -> bool,
    ) -> Result<(), VideoError> {
        build(self, strikes, place, go_on)?;
        self.use_kept(place);
        Ok(())
    }
}

/// Writes the frames within a second of each strike to `place`, fewer if they would not fit.
fn build(
    recording: &mut Recording,
    strikes: &[Seconds],
    place: &Path,
    go_on: &mut dyn FnMut() -> bool,
) -> Result<(), VideoError> {
    let (clip, list) = paths(place);
    let folder = place.parent().unwrap_or(Path::new(""));
    let near = nearest_frames(recording, strikes);
    if near.is_empty() || warm::open(place).is_some_and(|kept| kept.holds(&near)) {
        return Ok(());
    }
    let io = |error: std::io::Error, path: &Path| VideoError::CannotWrite {
        reason: error.to_string(),
        path: path.into(),
    };
    make_private(folder).map_err(|error| io(error, folder))?;
    remove_leftovers(folder);
    // Held until the clip is whole, so that nobody takes it for a leftover.
    let _writing = mark_writing(folder).map_err(|error| io(error, folder))?;
    // Under a name of its own until it is whole: another window may be writing the same.
    let part = clip.with_extension(unused_ending());
    let result = (|| {
        let fitting = those_that_fit(recording, &near, &part, go_on)?;
        let (frames, tags) = write_clip(recording, &fitting, &part, go_on)?;
        let index = index_of(&part)?;
        let contents = Contents { wanted: near, frames, tags, index };
        let text = serde_json::to_vec(&contents).unwrap_or_default();
        // Without its list a clip is of no use: neither is the old one from here on.
        std::fs::rename(&part, &clip).map_err(|error| io(error, &clip))?;
        std::fs::write(&list, text).map_err(|error| io(error, &list))
    })();
    // What is left of it is of no use; if it cannot be removed now, a later start does.
    let _ = std::fs::remove_file(&part);
    make_room(folder, &clip, MOST_BYTES_IN_ALL);
    result
}

/// Ends the names of clips that are not whole yet.
const PART: &str = "part";

fn unused_ending() -> String {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    format!("{}-{count}.{PART}", std::process::id())
}

/// The file that whoever writes into the folder holds a lock on; the lock goes with its process.
fn lock_file(folder: &Path) -> std::io::Result<File> {
    OpenOptions::new().write(true).create(true).truncate(false).open(folder.join("writing"))
}

fn mark_writing(folder: &Path) -> std::io::Result<File> {
    let file = lock_file(folder)?;
    file.lock_shared()?;
    Ok(file)
}

/// Removes what processes that ended in the middle of writing left behind in a folder of kept
/// frames, unless one is writing just now. One that cannot be removed is tried again the next time.
pub fn remove_leftovers(folder: &Path) {
    let Ok(lock) = lock_file(folder) else { return };
    if lock.try_lock().is_err() {
        return;
    }
    for path in std::fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path()) {
        if path.extension().is_some_and(|ending| ending == PART) {
            let _ = std::fs::remove_file(path);
        }
    }
}

/// Makes a folder, and those above it, for its owner's eyes: what lies in it shows people.
///
/// # Errors
/// The folder can't be made.
pub fn make_private(folder: &Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)
}

fn write_clip(
    recording: &mut Recording,
    wanted: &[usize],
    path: &Path,
    go_on: &mut dyn FnMut() -> bool,
) -> Result<(Vec<usize>, ColourTags), VideoError> {
    let size = kept_size(recording.stored_size());
    let mut writer = ClipWriter::create_for(path, size, Rational(1, 1000), Purpose::Frames)?;
    let (mut written, mut tags) = (Vec::new(), None);
    recording.for_each_original(wanted, &mut |frame, picture| {
        if !go_on() {
            return Err(VideoError::Cancelled);
        }
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

fn index_of(clip: &Path) -> Result<Vec<u8>, VideoError> {
    let cancel = CancelSlot::default();
    let mut container = Container::open(clip, &cancel)?;
    let info = container.info();
    Ok(build_index(&mut container, clip, &info, &cancel)?.to_bytes())
}

/// Of the frames, `nearest` first, those that fit into the bytes of a recording, ascending.
fn those_that_fit(
    recording: &mut Recording,
    nearest: &[usize],
    scratch: &Path,
    go_on: &mut dyn FnMut() -> bool,
) -> Result<Vec<usize>, VideoError> {
    let mut trial: Vec<usize> = nearest.iter().copied().take(TRIAL).collect();
    trial.sort_unstable();
    let (written, _) = write_clip(recording, &trial, scratch, go_on)?;
    let bytes = std::fs::metadata(scratch).map_or(0, |file| file.len());
    // A fifth is left for frames with more in them.
    let most = MOST_BYTES / 5 * 4 * written.len().max(1) as u64 / bytes.max(1);
    let mut fitting: Vec<usize> = nearest.iter().copied().take(most as usize).collect();
    fitting.sort_unstable();
    Ok(fitting)
}

/// The frames within reach of a strike, the nearest first.
fn nearest_frames(recording: &Recording, strikes: &[Seconds]) -> Vec<usize> {
    let timeline = recording.timeline();
    let distance = |frame: usize| {
        let time = timeline.time_of(FrameIndex(frame));
        strikes.iter().map(|strike| (time - *strike).abs().0).fold(f64::INFINITY, f64::min)
    };
    let mut near: Vec<(f64, usize)> = (0..timeline.len())
        .map(|frame| (distance(frame), frame))
        .filter(|(distance, _)| *distance <= REACH.0)
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    near.into_iter().map(|(_, frame)| frame).collect()
}

/// Removes the clips of recordings that were not looked at for longest, except `newest`, until
/// all files of the folder, also those not whole yet, take at most `most` bytes.
fn make_room(folder: &Path, newest: &Path, most: u64) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    let mut files: Vec<(SystemTime, u64, PathBuf)> = entries
        .filter_map(|entry| {
            let entry = entry.ok()?;
            let data = entry.metadata().ok()?;
            Some((data.modified().ok()?, data.len(), entry.path()))
        })
        .collect();
    files.sort();
    let mut bytes: u64 = files.iter().map(|(_, bytes, _)| bytes).sum();
    let is_clip = |path: &Path| path.extension().is_some_and(|ending| ending == "mp4");
    let clips = files.iter().filter(|(.., path)| is_clip(path) && path != newest);
    for (_, size, path) in clips {
        if bytes <= most {
            return;
        }
        // One that cannot be removed is tried again the next time.
        let _ = std::fs::remove_file(path.with_extension("json"));
        let _ = std::fs::remove_file(path);
        bytes -= size;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let entries = std::fs::read_dir(folder).unwrap().flatten();
        let mut names: Vec<String> =
            entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    #[test]
    fn leftovers_go_unless_somebody_writes() {
        let folder = tempfile::tempdir().unwrap();
        let put = |name: &str| std::fs::write(folder.path().join(name), [0; 100]).unwrap();
        ["a.mp4", "a.json", "b.17-0.part", "c.part"].into_iter().for_each(put);
        let writing = mark_writing(folder.path()).unwrap();
        let also = mark_writing(folder.path()).expect("two may write at once");
        remove_leftovers(folder.path());
        assert_eq!(names(folder.path()).len(), 5, "somebody writes");
        drop((writing, also));
        remove_leftovers(folder.path());
        assert_eq!(names(folder.path()), ["a.json", "a.mp4", "writing"]);
    }

    #[test]
    fn what_is_not_whole_yet_takes_room_too() {
        let folder = tempfile::tempdir().unwrap();
        let put = |name: &str| std::fs::write(folder.path().join(name), [0; 100]).unwrap();
        put("old.mp4");
        let newest = folder.path().join("new.mp4");
        put("new.mp4");
        make_room(folder.path(), &newest, 250);
        assert_eq!(names(folder.path()), ["new.mp4", "old.mp4"]);
        put("other.17-0.part");
        make_room(folder.path(), &newest, 250);
        assert_eq!(names(folder.path()), ["new.mp4", "other.17-0.part"]);
        assert_ne!(unused_ending(), unused_ending());
    }
}
