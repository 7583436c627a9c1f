//! Frame indexes by the content of the file: kept to save work, never the only copy of anything.

use std::path::PathBuf;

use rusqlite::params;

use super::{Edit, FileIdentity, Library, Result, StoreError};

/// So many indexes are kept, the newest.
const MOST: i64 = 400;

/// The frame index of a file's content.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptIndex {
    /// When the file was last changed, ns since 1970; `None`: the system does not tell.
    pub file_time_ns: Option<i64>,
    /// BLAKE3 over all of the file, once it was read through.
    pub full_hash: Option<String>,
    /// As the `video` room writes it.
    pub packets: Vec<u8>,
}

impl Edit<'_> {
    /// Keeps the index of a content (told by [`FileIdentity::quick_hash`]), in the place of an
    /// earlier one; the oldest of many go.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn keep_index(&self, quick_hash: &str, index: &KeptIndex) -> Result<()> {
        self.forget_index(quick_hash)?;
        self.conn.execute(
            "INSERT INTO frame_index (quick_hash, file_time_ns, full_hash, packets)
             VALUES (?1, ?2, ?3, ?4)",
            params![quick_hash, index.file_time_ns, index.full_hash, index.packets],
        )?;
        let newest = self.conn.last_insert_rowid();
        self.conn.execute("DELETE FROM frame_index WHERE id <= ?1", [newest - MOST])?;
        Ok(())
    }

    /// Drops the index of a content, if there is one.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn forget_index(&self, quick_hash: &str) -> Result<()> {
        self.conn.execute("DELETE FROM frame_index WHERE quick_hash = ?1", [quick_hash])?;
        Ok(())
    }
}

impl Library {
    /// The index that is kept of a content.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn kept_index(&self, quick_hash: &str) -> Result<Option<KeptIndex>> {
        let sql = "SELECT file_time_ns, full_hash, packets FROM frame_index WHERE quick_hash = ?1";
        let found = self.rows(sql, [quick_hash], |row| {
            Ok(KeptIndex {
                file_time_ns: row.get(0)?,
                full_hash: row.get(1)?,
                packets: row.get(2)?,
            })
        })?;
        Ok(found.into_iter().next())
    }

    /// The folder beside the library where frames near strikes are kept for looking at. It may
    /// be missing, and be removed at any time.
    pub fn kept_frames_folder(&self) -> PathBuf {
        self.path.with_extension("frames")
    }

    /// Where the kept frames of a content lie in that folder: a file name without an ending.
    pub fn kept_frames_place(&self, content: &FileIdentity) -> PathBuf {
        self.kept_frames_folder().join(&content.quick_hash)
    }

    pub(super) fn drop_kept_frames(&self) -> Result<()> {
        let folder = self.kept_frames_folder();
        match std::fs::remove_dir_all(&folder) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                Err(StoreError::file(&e, &folder))
            }
            _ => Ok(()),
        }
    }
}
