//! Recordings, the standing of the camera they share, and camera profiles.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use rusqlite::{OptionalExtension, Row, params};

use super::people::found;
use super::values::{from_json, json};
use super::{
    CalibrationId, CameraProfileId, Edit, Library, RecordingId, Result, SessionId, StoreError,
};
use crate::domain::{FrameEntry, Pts, Setup, TimeBase, Timeline, Warning};

/// What tells one file's content from another's, wherever the file lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileIdentity {
    /// Its size.
    pub size_bytes: u64,
    /// BLAKE3 over the size and samples from beginning, middle and end; found in milliseconds.
    pub quick_hash: String,
}

/// A recording to be added.
#[derive(Clone, Debug, PartialEq)]
pub struct NewRecording {
    /// Where it lies.
    pub path: PathBuf,
    /// What tells it from others.
    pub identity: FileIdentity,
}

/// A recording of the library.
#[derive(Clone, Debug, PartialEq)]
pub struct RecordingRow {
    /// Its number.
    pub id: RecordingId,
    /// The session it belongs to.
    pub session: SessionId,
    /// The standing of the camera, once something was set up.
    pub calibration: Option<CalibrationId>,
    /// Where it lay when last seen.
    pub path: PathBuf,
    /// What tells it from others.
    pub identity: FileIdentity,
    /// BLAKE3 over all of it, where it was computed.
    pub full_hash: Option<String>,
    /// What the `video` room said about it, as JSON.
    pub facts: Option<String>,
    /// That a set-up carried over was made from elsewhere, where that was seen.
    pub view_differs: Option<Warning>,
}

/// A camera (or phone and its lens) that was calibrated once.
#[derive(Clone, Debug, PartialEq)]
pub struct CameraProfile {
    /// As the coach calls it.
    pub name: String,
    /// Maker and model, as its files say; empty: they do not.
    pub camera: String,
    /// The lens as the `geometry` room describes it, as JSON.
    pub lens: String,
    /// Free notes.
    pub notes: String,
}

/// Samples of this many bytes are hashed: enough to cross any container's header.
const SAMPLE: u64 = 64 * 1024;

/// What tells the file at `path` from others: its size and a hash of three samples.
///
/// # Errors
/// When the file cannot be read.
pub fn identify_file(path: &Path) -> Result<FileIdentity> {
    let read = || -> std::io::Result<FileIdentity> {
        let mut file = File::open(path)?;
        let size = file.metadata()?.len();
        let mut hasher = blake3::Hasher::new();
        hasher.update(&size.to_le_bytes());
        for start in [0, (size / 2).saturating_sub(SAMPLE / 2), size.saturating_sub(SAMPLE)] {
            file.seek(SeekFrom::Start(start))?;
            let mut sample = Vec::new();
            file.by_ref().take(SAMPLE).read_to_end(&mut sample)?;
            hasher.update(&sample);
        }
        let quick_hash = hasher.finalize().to_hex().to_string();
        Ok(FileIdentity { size_bytes: size, quick_hash })
    };
    read().map_err(|e| StoreError::file(&e, path))
}

impl Edit<'_> {
    /// Adds a recording to a session.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn add_recording(&self, session: SessionId, new: &NewRecording) -> Result<RecordingId> {
        self.conn.execute(
            "INSERT INTO recording (session_id, path, size_bytes, quick_hash)
             VALUES (?1, ?2, ?3, ?4)",
            params![
                session,
                path_text(&new.path)?,
                new.identity.size_bytes.cast_signed(),
                new.identity.quick_hash
            ],
        )?;
        Ok(RecordingId(self.conn.last_insert_rowid()))
    }

    /// The session's recording with this content: looked for within the change, so that two
    /// programs do not both add it.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn recording_with(
        &self,
        session: SessionId,
        identity: &FileIdentity,
    ) -> Result<Option<RecordingId>> {
        let sql = "SELECT id FROM recording
             WHERE session_id = ?1 AND quick_hash = ?2 AND size_bytes = ?3 ORDER BY id LIMIT 1";
        let size = identity.size_bytes.cast_signed();
        let found = params![session, identity.quick_hash, size];
        Ok(self.conn.query_row(sql, found, |row| row.get(0)).optional()?)
    }

    /// Removes a recording with its swings from the library; the file stays where it is.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording.
    pub fn remove_recording(&self, id: RecordingId) -> Result<()> {
        found(self.conn.execute("DELETE FROM recording WHERE id = ?1", [id])?, "recording")
    }

    /// Notes where the file of a recording lies now.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording.
    pub fn move_recording(&self, id: RecordingId, path: &Path) -> Result<()> {
        let rows = self.conn.execute(
            "UPDATE recording SET path = ?2 WHERE id = ?1",
            params![id, path_text(path)?],
        )?;
        found(rows, "recording")
    }

    /// Keeps what reading the file brought: its frames and the `video` room's facts as JSON.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording.
    pub fn set_facts(&self, id: RecordingId, timeline: &Timeline, facts: &str) -> Result<()> {
        finite_slow_factor(timeline)?;
        let rows = self.conn.execute(
            "UPDATE recording SET timeline = ?2, facts = ?3 WHERE id = ?1",
            params![id, pack(timeline), facts],
        )?;
        found(rows, "recording")
    }

    /// Keeps that a set-up carried over was made from elsewhere; `None`: it was not, or nobody knows.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording; [`StoreError::BadValue`] for
    /// numbers that are not finite.
    pub fn set_view_differs(&self, id: RecordingId, warning: Option<&Warning>) -> Result<()> {
        let text = warning.map(|warning| json(warning, "view")).transpose()?;
        let rows = self
            .conn
            .execute("UPDATE recording SET view_differs = ?2 WHERE id = ?1", params![id, text])?;
        found(rows, "recording")
    }

    /// Keeps the hash of the whole file.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording.
    pub fn set_full_hash(&self, id: RecordingId, hash: &str) -> Result<()> {
        let rows = self
            .conn
            .execute("UPDATE recording SET full_hash = ?2 WHERE id = ?1", params![id, hash])?;
        found(rows, "recording")
    }

    /// Sets up a recording, and with it all recordings that share its standing of the camera.
    /// The marks of single swings (`setup.swings`) are kept as marks, not here.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording; [`StoreError::BadValue`] for
    /// numbers that are not finite.
    pub fn set_setup(&self, id: RecordingId, setup: &Setup) -> Result<CalibrationId> {
        let shared = Setup { swings: Vec::new(), ..setup.clone() };
        let text = json(&shared, "set-up")?;
        let (session, calibration): (SessionId, Option<CalibrationId>) = self
            .conn
            .query_row(
                "SELECT session_id, calibration_id FROM recording WHERE id = ?1",
                [id],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .optional()?
            .ok_or(StoreError::Missing { what: "recording" })?;
        if let Some(calibration) = calibration {
            self.conn.execute(
                "UPDATE calibration SET setup = ?2 WHERE id = ?1",
                params![calibration, text],
            )?;
            return Ok(calibration);
        }
        self.conn.execute(
            "INSERT INTO calibration (session_id, setup) VALUES (?1, ?2)",
            params![session, text],
        )?;
        let calibration = CalibrationId(self.conn.last_insert_rowid());
        self.share_setup(id, Some(calibration))?;
        Ok(calibration)
    }

    /// Lets a recording share a standing of the camera (the tripod was not moved), or, with
    /// `None`, gives it one of its own when it is set up next.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording.
    pub fn share_setup(&self, id: RecordingId, with: Option<CalibrationId>) -> Result<()> {
        let rows = self
            .conn
            .execute("UPDATE recording SET calibration_id = ?2 WHERE id = ?1", params![id, with])?;
        found(rows, "recording")
    }

    /// Adds a camera profile.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn add_camera_profile(&self, profile: &CameraProfile) -> Result<CameraProfileId> {
        self.conn.execute(
            "INSERT INTO camera_profile (name, camera, lens, notes) VALUES (?1, ?2, ?3, ?4)",
            [&profile.name, &profile.camera, &profile.lens, &profile.notes],
        )?;
        Ok(CameraProfileId(self.conn.last_insert_rowid()))
    }

    /// Removes a camera profile; what was set up with it goes on without.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such profile.
    pub fn remove_camera_profile(&self, id: CameraProfileId) -> Result<()> {
        let rows = self.conn.execute("DELETE FROM camera_profile WHERE id = ?1", [id])?;
        found(rows, "camera profile")
    }

    /// Says with which camera a standing was recorded.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such calibration.
    pub fn use_camera_profile(
        &self,
        calibration: CalibrationId,
        profile: Option<CameraProfileId>,
    ) -> Result<()> {
        let rows = self.conn.execute(
            "UPDATE calibration SET camera_profile_id = ?2 WHERE id = ?1",
            params![calibration, profile],
        )?;
        found(rows, "set-up")
    }
}

impl Library {
    /// The recordings of a session in the order they were added.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn recordings(&self, session: SessionId) -> Result<Vec<RecordingRow>> {
        let sql = format!("{RECORDING_SQL} WHERE session_id = ?1 ORDER BY id");
        self.rows(&sql, [session], recording_from)
    }

    /// One recording.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording.
    pub fn recording(&self, id: RecordingId) -> Result<RecordingRow> {
        self.one(&format!("{RECORDING_SQL} WHERE id = ?1"), [id], "recording", recording_from)
    }

    /// Recordings with this content, wherever they lie; the same file may be in two sessions.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn recordings_with(&self, identity: &FileIdentity) -> Result<Vec<RecordingRow>> {
        let sql = format!("{RECORDING_SQL} WHERE quick_hash = ?1 AND size_bytes = ?2 ORDER BY id");
        let size = identity.size_bytes.cast_signed();
        self.rows(&sql, params![identity.quick_hash, size], recording_from)
    }

    /// The frames of a recording, once it was read.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording.
    pub fn timeline(&self, id: RecordingId) -> Result<Option<Timeline>> {
        self.one("SELECT timeline FROM recording WHERE id = ?1", [id], "recording", |row| {
            let packed: Option<Vec<u8>> = row.get(0)?;
            packed.map(|bytes| unpack(&bytes)).transpose()
        })
    }

    /// What was set up for a recording, without the marks of its swings; empty at first.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording.
    pub fn shared_setup(&self, id: RecordingId) -> Result<Setup> {
        let sql = "SELECT setup FROM recording LEFT JOIN calibration
             ON calibration.id = calibration_id WHERE recording.id = ?1";
        self.one(sql, [id], "recording", |row| {
            let text: Option<String> = row.get(0)?;
            Ok(text.map(|t| from_json(&t, "set-up")).transpose()?.unwrap_or_default())
        })
    }

    /// The camera profile a recording was made with, where one was said.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn camera_profile_of(&self, id: RecordingId) -> Result<Option<CameraProfile>> {
        let sql = "SELECT camera_profile.* FROM recording
             JOIN calibration ON calibration.id = calibration_id
             JOIN camera_profile ON camera_profile.id = camera_profile_id
             WHERE recording.id = ?1";
        Ok(self.rows(sql, [id], profile_from)?.pop())
    }

    /// All camera profiles by name.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn camera_profiles(&self) -> Result<Vec<(CameraProfileId, CameraProfile)>> {
        self.rows("SELECT * FROM camera_profile ORDER BY name, id", [], |row| {
            Ok((row.get("id")?, profile_from(row)?))
        })
    }

    /// Looks in `folder` and below for the files of recordings that are not where they were,
    /// told by their content.
    ///
    /// Links are not followed, and what cannot be read is passed over.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn look_for_moved(&self, folder: &Path) -> Result<Vec<(RecordingId, PathBuf)>> {
        let mut missing = self.all_recordings()?;
        missing.retain(|row| !row.path.exists());
        let mut moved = Vec::new();
        let mut folders = vec![folder.to_path_buf()];
        while let Some(folder) = folders.pop().filter(|_| !missing.is_empty()) {
            let Ok(entries) = std::fs::read_dir(&folder) else { continue };
            for entry in entries.flatten() {
                match entry.metadata() {
                    Ok(data) if data.is_dir() => folders.push(entry.path()),
                    Ok(data) if data.is_file() => {
                        moved.extend(take_matching(&mut missing, &entry.path(), data.len()));
                    }
                    _ => {}
                }
            }
        }
        Ok(moved)
    }

    /// As [`Library::look_for_moved`], and notes where they lie now.
    ///
    /// # Errors
    /// When the library cannot be read or written.
    pub fn find_moved(&mut self, folder: &Path) -> Result<Vec<(RecordingId, PathBuf)>> {
        let moved = self.look_for_moved(folder)?;
        self.save(|edit| moved.iter().try_for_each(|(id, path)| edit.move_recording(*id, path)))?;
        Ok(moved)
    }

    pub(super) fn all_recordings(&self) -> Result<Vec<RecordingRow>> {
        self.rows(&format!("{RECORDING_SQL} ORDER BY id"), [], recording_from)
    }
}

const RECORDING_SQL: &str = "SELECT id, session_id, calibration_id, path, size_bytes, quick_hash,
    full_hash, facts, view_differs FROM recording";

/// Those of `missing` whose content the file at `path` has; they are taken out of the list.
fn take_matching(
    missing: &mut Vec<RecordingRow>,
    path: &Path,
    size: u64,
) -> Vec<(RecordingId, PathBuf)> {
    // Reading is left to files of the right size.
    if path.to_str().is_none() || !missing.iter().any(|row| row.identity.size_bytes == size) {
        return Vec::new();
    }
    let Ok(identity) = identify_file(path) else { return Vec::new() };
    let found = missing.extract_if(.., |row| row.identity == identity);
    found.map(|row| (row.id, path.to_path_buf())).collect()
}

fn recording_from(row: &Row<'_>) -> Result<RecordingRow> {
    let identity = FileIdentity {
        size_bytes: row.get::<_, i64>("size_bytes")?.cast_unsigned(),
        quick_hash: row.get("quick_hash")?,
    };
    let view_differs: Option<String> = row.get("view_differs")?;
    Ok(RecordingRow {
        id: row.get("id")?,
        session: row.get("session_id")?,
        calibration: row.get("calibration_id")?,
        path: PathBuf::from(row.get::<_, String>("path")?),
        identity,
        full_hash: row.get("full_hash")?,
        facts: row.get("facts")?,
        view_differs: view_differs.map(|text| from_json(&text, "view")).transpose()?,
    })
}

fn profile_from(row: &Row<'_>) -> Result<CameraProfile> {
    Ok(CameraProfile {
        name: row.get("name")?,
        camera: row.get("camera")?,
        lens: row.get("lens")?,
        notes: row.get("notes")?,
    })
}

/// A path that is no text could not be found again on another system.
fn path_text(path: &Path) -> Result<&str> {
    path.to_str().ok_or(StoreError::BadValue { what: "path" })
}

fn finite_slow_factor(timeline: &Timeline) -> Result<()> {
    let factor = timeline.slow_factor;
    if factor.is_finite() && factor > 0.0 {
        Ok(())
    } else {
        Err(StoreError::BadValue { what: "slow-motion factor" })
    }
}

/// The frames as bytes: time base, slow factor, then for each frame the step from the frame
/// before in ticks, doubled with its sign (zigzag) and a bit that says "key", seven bits to a
/// byte. An hour at 240 fps takes about 2 MB; as JSON it would be 25.
fn pack(timeline: &Timeline) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(20 + 3 * timeline.len());
    bytes.extend(timeline.time_base.numerator.to_le_bytes());
    bytes.extend(timeline.time_base.denominator.to_le_bytes());
    bytes.extend(timeline.slow_factor.to_le_bytes());
    let mut last = 0_i64;
    for frame in &timeline.frames {
        // In 128 bits, since ticks from a damaged file may lie 2^64 apart.
        let step = i128::from(frame.pts.0) - i128::from(last);
        let zigzag = (step.unsigned_abs() << 1) | u128::from(step < 0);
        push_varint(&mut bytes, (zigzag << 1) | u128::from(frame.key));
        last = frame.pts.0;
    }
    bytes
}

fn push_varint(bytes: &mut Vec<u8>, mut value: u128) {
    while value >= 0x80 {
        bytes.push((value & 0x7f) as u8 | 0x80);
        value >>= 7;
    }
    bytes.push(value as u8);
}

fn unpack(bytes: &[u8]) -> Result<Timeline> {
    parse_timeline(bytes).ok_or(StoreError::Unreadable {
        what: "frame table",
        detail: "cut short or out of range".into(),
    })
}

fn parse_timeline(bytes: &[u8]) -> Option<Timeline> {
    let (numerator, rest) = bytes.split_first_chunk()?;
    let (denominator, rest) = rest.split_first_chunk()?;
    let (slow_factor, mut rest) = rest.split_first_chunk()?;
    let time_base = TimeBase {
        numerator: i32::from_le_bytes(*numerator),
        denominator: i32::from_le_bytes(*denominator),
    };
    let mut frames = Vec::new();
    let mut last = 0_i64;
    while !rest.is_empty() {
        let word = take_varint(&mut rest)?;
        let size = i128::try_from(word >> 2).ok()?;
        let step = if word & 2 == 0 { size } else { -size };
        last = i64::try_from(i128::from(last) + step).ok()?;
        frames.push(FrameEntry { pts: Pts(last), key: word & 1 == 1 });
    }
    let slow_factor = f64::from_le_bytes(*slow_factor);
    (time_base.denominator != 0).then_some(Timeline { time_base, frames, slow_factor })
}

fn take_varint(bytes: &mut &[u8]) -> Option<u128> {
    let mut value = 0_u128;
    // 66 bits at most (64 for the step, sign, key): ten bytes.
    for shift in (0..70).step_by(7) {
        let (&byte, rest) = bytes.split_first()?;
        *bytes = rest;
        value |= u128::from(byte & 0x7f) << shift;
        if byte & 0x80 == 0 {
            return Some(value);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn timeline(pts: &[i64]) -> Timeline {
        let frame = |(i, &p): (usize, &i64)| FrameEntry { pts: Pts(p), key: i % 3 == 0 };
        Timeline {
            time_base: TimeBase { numerator: 1, denominator: 90_000 },
            frames: pts.iter().enumerate().map(frame).collect(),
            slow_factor: 8.0,
        }
    }

    #[test]
    fn frame_tables_come_back_whole() {
        for pts in [&[][..], &[0], &[-3003, 0, 375, 750, 1126], &[i64::MIN, i64::MAX, 0, i64::MIN]]
        {
            let original = timeline(pts);
            assert_eq!(unpack(&pack(&original)).expect("own bytes"), original);
        }
    }

    #[test]
    fn a_steady_240_fps_table_takes_two_bytes_a_frame() {
        let pts: Vec<i64> = (0..1000).map(|i| i * 375).collect();
        assert!(pack(&timeline(&pts)).len() <= 16 + 2 * 1000);
    }

    #[test]
    fn damaged_frame_tables_are_errors() {
        let bytes = pack(&timeline(&[0, 375, 1_000_000]));
        for cut in [0, 7, 15, bytes.len() - 1] {
            assert!(unpack(&bytes[..cut]).is_err(), "cut at {cut}");
        }
        assert!(unpack(&[0xff; 64]).is_err());
    }
}
