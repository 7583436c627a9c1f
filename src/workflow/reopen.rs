//! Opening a recording a second time: its frame index is kept in the library by the content of
//! the file, so that nothing has to be read through again.

use std::path::Path;
use std::time::UNIX_EPOCH;

use crate::store::{FileIdentity, KeptIndex, Library, RecordingId, RecordingRow, identify_file};
use crate::video::{CancelToken, Index, Recording, VideoError, full_hash};

use super::kept_error::KeptError;

/// Opens a recording with the index that the library keeps of its content, or builds the index
/// and keeps it.
///
/// The content is told by size and samples, which is a matter of milliseconds;
/// [`check_kept_index`] reads the rest when there is time.
///
/// # Errors
/// As [`Recording::open_with`]. A library that cannot be read or written only costs time.
pub fn open_kept(
    library: &mut Library,
    path: &Path,
    cancel: CancelToken,
) -> Result<Recording, VideoError> {
    open_keeping(library, path, None, cancel)
}

/// Opens a recording of the library as [`open_kept`] does, if its place still holds the file
/// that was read in; it plays as slowly as it was taken to when it was.
///
/// # Errors
/// [`VideoError::Exchanged`] where another file lies there by now; else as [`open_kept`].
pub fn reopen(
    library: &mut Library,
    row: &RecordingRow,
    cancel: CancelToken,
) -> Result<Recording, VideoError> {
    let recording = open_keeping(library, &row.path, Some(&row.identity), cancel)?;
    Ok(as_slow_as_kept(library, row, recording))
}

/// Like [`reopen`], for whoever may not write: an index that has to be built is not kept.
///
/// # Errors
/// As [`reopen`].
pub fn reopen_known(
    library: &Library,
    row: &RecordingRow,
    cancel: CancelToken,
) -> Result<Recording, VideoError> {
    let (recording, _) = open_as_kept(library, &row.path, Some(&row.identity), cancel)?;
    Ok(as_slow_as_kept(library, row, recording))
}

fn as_slow_as_kept(library: &Library, row: &RecordingRow, mut recording: Recording) -> Recording {
    match library.timeline(row.id) {
        Ok(kept) => kept.into_iter().for_each(|kept| recording.take_as_slowed(kept.slow_factor)),
        Err(_) => tracing::warn!("a frame table could not be read from the library"),
    }
    recording
}

fn open_keeping(
    library: &mut Library,
    path: &Path,
    wanted: Option<&FileIdentity>,
    cancel: CancelToken,
) -> Result<Recording, VideoError> {
    let (recording, unkept) = open_as_kept(library, path, wanted, cancel)?;
    if let Some(content) = unkept {
        let (file_time_ns, packets) = (file_time_ns(path), recording.index().to_bytes());
        let kept = KeptIndex { file_time_ns, full_hash: None, packets };
        if library.save(|edit| edit.keep_index(&content, &kept)).is_err() {
            tracing::warn!("a frame index could not be kept in the library");
        }
    }
    Ok(recording)
}

/// The recording, and the name of its content if its index is not kept.
fn open_as_kept(
    library: &Library,
    path: &Path,
    wanted: Option<&FileIdentity>,
    cancel: CancelToken,
) -> Result<(Recording, Option<String>), VideoError> {
    let Ok(content) = identify_file(path) else {
        // The opening says what is wrong with the file.
        return Recording::open_with(path, None, cancel).map(|recording| (recording, None));
    };
    if wanted.is_some_and(|wanted| *wanted != content) {
        return Err(VideoError::Exchanged { path: path.into() });
    }
    let kept = library.kept_index(&content.quick_hash).unwrap_or_else(|_| {
        tracing::warn!("a frame index could not be read from the library");
        None
    });
    let index = kept.and_then(|kept| Index::from_bytes(&kept.packets));
    let recording = Recording::open_with(path, index.clone(), cancel)?;
    let is_kept = index.as_ref() == Some(recording.index());
    Ok((recording, (!is_kept).then_some(content.quick_hash)))
}

/// Whether the index kept for a file belongs to all of its content; one that does not is dropped.
///
/// The file is read through unless that was done before and its time has not changed since.
/// `recording`: the row that is told the hash of the whole file.
///
/// # Errors
/// The file can't be read, the library not be written, or `cancel` is set.
pub fn check_kept_index(
    library: &mut Library,
    path: &Path,
    recording: Option<RecordingId>,
    cancel: &CancelToken,
) -> Result<bool, KeptError> {
    let content = identify_file(path)?.quick_hash;
    let Some(kept) = library.kept_index(&content)? else { return Ok(true) };
    let file_time_ns = file_time_ns(path);
    if kept.full_hash.is_some() && file_time_ns.is_some() && file_time_ns == kept.file_time_ns {
        return Ok(true);
    }
    let found = full_hash(path, cancel)?;
    let holds = kept.full_hash.as_ref().is_none_or(|before| *before == found);
    library.save(|edit| {
        if let Some(id) = recording {
            edit.set_full_hash(id, &found)?;
        }
        if holds {
            let full_hash = Some(found.clone());
            edit.keep_index(&content, &KeptIndex { file_time_ns, full_hash, ..kept.clone() })
        } else {
            edit.forget_index(&content)
        }
    })?;
    Ok(holds)
}

fn file_time_ns(path: &Path) -> Option<i64> {
    let changed = std::fs::metadata(path).ok()?.modified().ok()?;
    changed.duration_since(UNIX_EPOCH).ok()?.as_nanos().try_into().ok()
}
