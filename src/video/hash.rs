//! The hash of a whole file.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use super::{CancelToken, VideoError};

const MIB: u64 = 1024 * 1024;

/// A hash of the whole content, in hexadecimal; reads the whole file.
///
/// # Errors
/// [`VideoError::Missing`], [`VideoError::Unreadable`] or [`VideoError::Cancelled`].
pub fn full_hash(path: &Path, cancel: &CancelToken) -> Result<String, VideoError> {
    let mut hasher = blake3::Hasher::new();
    let mut file = open(path)?;
    loop {
        if cancel.is_cancelled() {
            return Err(VideoError::Cancelled);
        }
        let before = hasher.count();
        hasher
            .update_reader(file.by_ref().take(8 * MIB))
            .map_err(|error| unreadable(path, error))?;
        if hasher.count() == before {
            return Ok(hasher.finalize().to_hex().to_string());
        }
    }
}

/// The file, opened for reading; its errors in this room's words.
pub(super) fn open(path: &Path) -> Result<File, VideoError> {
    File::open(path).map_err(|error| unreadable(path, error))
}

/// Reads a file's first and last MiB: whether the disk gives them.
pub(super) fn read_ends(path: &Path) -> Result<(), VideoError> {
    let mut file = open(path)?;
    let mut read = || -> std::io::Result<()> {
        let size = file.metadata()?.len();
        for start in [0, size.saturating_sub(MIB)] {
            file.seek(SeekFrom::Start(start))?;
            std::io::copy(&mut file.by_ref().take(MIB), &mut std::io::sink())?;
        }
        Ok(())
    };
    read().map_err(|error| unreadable(path, error))
}

fn unreadable(path: &Path, error: std::io::Error) -> VideoError {
    if error.kind() == std::io::ErrorKind::NotFound {
        return VideoError::Missing { path: path.into() };
    }
    VideoError::Unreadable { reason: error.to_string(), path: path.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn full_hash_is_blake3() {
        // Test vector of the BLAKE3 specification: the hash of no bytes.
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("empty");
        std::fs::write(&path, []).unwrap();
        assert_eq!(
            full_hash(&path, &CancelToken::new()).unwrap(),
            "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262"
        );
    }
}
