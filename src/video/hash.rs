//! Content hashes: the same recording is known again under another name.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use super::{CancelToken, VideoError};

const MIB: u64 = 1024 * 1024;

/// A hash of the file's length and its first and last MiB, in hexadecimal: quick for any length.
///
/// # Errors
/// [`VideoError::Missing`] or [`VideoError::Unreadable`].
pub fn quick_hash(path: &Path) -> Result<String, VideoError> {
    let mut file = open(path)?;
    let read = |error| unreadable(path, error);
    let length = file.metadata().map_err(read)?.len();
    let mut hasher = blake3::Hasher::new();
    hasher.update(&length.to_le_bytes());
    let head = length.min(MIB);
    let tail = (length - head).min(MIB);
    hash_next(&mut file, head, &mut hasher).map_err(read)?;
    file.seek(SeekFrom::Start(length - tail)).map_err(read)?;
    hash_next(&mut file, tail, &mut hasher).map_err(read)?;
    Ok(hasher.finalize().to_hex().to_string())
}

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
        hash_next(&mut file, 8 * MIB, &mut hasher).map_err(|error| unreadable(path, error))?;
        if hasher.count() == before {
            return Ok(hasher.finalize().to_hex().to_string());
        }
    }
}

fn hash_next(file: &mut File, length: u64, hasher: &mut blake3::Hasher) -> std::io::Result<()> {
    hasher.update_reader(file.take(length)).map(|_| ())
}

/// The file, opened for reading; its errors in this room's words.
pub(super) fn open(path: &Path) -> Result<File, VideoError> {
    File::open(path).map_err(|error| unreadable(path, error))
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
    fn quick_hash_sees_length_head_and_tail() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        let mut content = vec![7u8; 3 * MIB as usize];
        let hash = |content: &[u8]| {
            std::fs::write(&path, content).unwrap();
            (quick_hash(&path).unwrap(), full_hash(&path, &CancelToken::new()).unwrap())
        };
        let original = hash(&content);
        content[MIB as usize + 10] = 8;
        let middle = hash(&content);
        assert_eq!(original.0, middle.0, "the middle is not looked at");
        assert_ne!(original.1, middle.1);
        *content.last_mut().unwrap() = 9;
        assert_ne!(hash(&content).0, middle.0);
        assert_ne!(hash(&[]).0, hash(&[0]).0);
    }

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
