//! Backing up, restoring, checking and mending a library.

use std::fs::{self, OpenOptions};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, backup::Backup};

use super::library::{connect, prepare_file};
use super::people::count;
use super::{Library, RecordingId, Result, StoreError, identify_file};

/// What [`Library::check`] found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CheckReport {
    /// What SQLite's integrity check says beyond "ok".
    pub problems: Vec<String>,
    /// Recordings whose file is not where it was, or cannot be read there.
    pub missing: Vec<(RecordingId, PathBuf)>,
    /// Recordings in whose place lies a file of other content.
    pub changed: Vec<(RecordingId, PathBuf)>,
}

impl CheckReport {
    /// The library itself is sound; recordings may still be missing.
    pub fn is_sound(&self) -> bool {
        self.problems.is_empty()
    }

    /// Only indexes are wrong, which are made anew from the rows without loss.
    pub fn is_mendable(&self) -> bool {
        let of_index = |line: &String| line.contains(" index ");
        !self.problems.is_empty() && self.problems.iter().all(of_index)
    }
}

/// How much is in a library.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Contents {
    /// Golfers.
    pub golfers: usize,
    /// Sessions.
    pub sessions: usize,
    /// Recordings.
    pub recordings: usize,
    /// Swings.
    pub swings: usize,
    /// The day of the latest session.
    pub latest: Option<jiff::civil::Date>,
}

impl Library {
    /// How much is in it.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn contents(&self) -> Result<Contents> {
        let sql = "SELECT (SELECT count(*) FROM golfer), (SELECT count(*) FROM session),
             (SELECT count(*) FROM recording), (SELECT count(*) FROM swing),
             (SELECT max(date) FROM session)";
        self.one(sql, [], "list of contents", |row| {
            let latest: Option<String> = row.get(4)?;
            Ok(Contents {
                golfers: count(row.get(0)?),
                sessions: count(row.get(1)?),
                recordings: count(row.get(2)?),
                swings: count(row.get(3)?),
                latest: latest.and_then(|day| day.parse().ok()),
            })
        })
    }

    /// Writes a consistent copy of the library to `target`, also while others are writing.
    ///
    /// The copy is made beside the target, checked, and takes its name only once it is complete
    /// and on disk.
    ///
    /// # Errors
    /// When the target cannot be written, or the library is damaged.
    pub fn backup_to(&self, target: &Path) -> Result<()> {
        let copied = copy_beside(&self.conn, target).map_err(|e| e.at(target))?;
        if !copied.problems.is_empty() {
            remove_with_companions(&copied.file);
            return Err(StoreError::Damaged(self.path.clone()));
        }
        copied.take_name(target)
    }

    /// Puts the contents of a backup in the place of the library's own, of which a copy named
    /// `….before-restore.backup` is made beside it first. The backup file is left as it is,
    /// also when it is of an older version.
    ///
    /// # Errors
    /// When the backup is no sound library or is newer than this program (nothing is changed
    /// then), or the library cannot be written.
    pub fn restore_from(&mut self, backup: &Path) -> Result<()> {
        self.check_place()?;
        let restoring = Restoring::prepare(backup, &self.path)?;
        self.take_over(restoring.source()?).map(|_| ())
    }

    /// Returns where what was there is kept aside.
    fn take_over(&mut self, source: &Library) -> Result<PathBuf> {
        let aside = unused(&self.path, "before-restore.backup");
        self.backup_to(&aside)?;
        self.fill_from(source)?;
        Ok(aside)
    }

    fn fill_from(&mut self, source: &Library) -> Result<()> {
        let copy = |target: &mut Connection| -> Result<()> {
            Backup::new(&source.conn, target)?.run_to_completion(256, Duration::ZERO, None)?;
            Ok(())
        };
        copy(&mut self.conn).map_err(|e| e.at(&self.path))
    }

    /// Looks for damage in the file and for recordings that are no longer where they were, or
    /// whose file was exchanged.
    ///
    /// # Errors
    /// When the file cannot be read at all.
    pub fn check(&self) -> Result<CheckReport> {
        let problems = integrity_problems(&self.conn).map_err(|e| e.at(&self.path))?;
        let mut report = CheckReport { problems, ..CheckReport::default() };
        for row in self.all_recordings()? {
            match identify_file(&row.path) {
                Ok(identity) if identity == row.identity => {}
                Ok(_) => report.changed.push((row.id, row.path)),
                Err(_) => report.missing.push((row.id, row.path)),
            }
        }
        Ok(report)
    }

    /// Makes the indexes anew from the rows, after a copy of the file as it is was put beside
    /// it; returns where. This is the one kind of damage that can be mended without guessing.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn mend_indexes(&mut self) -> Result<PathBuf> {
        self.check_place()?;
        let aside = unused(&self.path, "before-mending.backup");
        copy_beside(&self.conn, &aside).map_err(|e| e.at(&aside))?.take_name(&aside)?;
        self.conn.execute_batch("REINDEX").map_err(|e| StoreError::from(e).at(&self.path))?;
        Ok(aside)
    }
}

/// A backup that was looked at and found sound, ready to be put in the place of a library.
pub struct Restoring {
    /// A copy, brought up to date; the backup itself is left as it is. `None` only on the way
    /// out, when the file must be closed before it is removed.
    source: Option<Library>,
    scratch: PathBuf,
    target: PathBuf,
}

impl Restoring {
    /// Looks at `backup`, to be put in the place of the library at `target`.
    ///
    /// # Errors
    /// When it is no sound library or newer than this program, or there is no room beside the
    /// library.
    pub fn prepare(backup: &Path, target: &Path) -> Result<Self> {
        let scratch = target.with_extension(format!("restoring-{}", std::process::id()));
        let mut restoring = Self { source: None, scratch, target: target.to_path_buf() };
        copy_private(backup, &restoring.scratch)?;
        let of_backup = |error| match error {
            // It is the backup that people know, not its copy.
            StoreError::NotALibrary(_) => StoreError::NotALibrary(backup.to_path_buf()),
            StoreError::Damaged(_) => StoreError::Damaged(backup.to_path_buf()),
            StoreError::Newer { found, known, .. } => {
                StoreError::Newer { found, known, path: backup.to_path_buf() }
            }
            other => other,
        };
        let source = Library::open(&restoring.scratch).map_err(of_backup)?;
        if !integrity_problems(&source.conn).map_err(of_backup)?.is_empty() {
            return Err(StoreError::Damaged(backup.to_path_buf()));
        }
        restoring.source = Some(source);
        Ok(restoring)
    }

    fn source(&self) -> Result<&Library> {
        self.source.as_ref().ok_or(StoreError::Missing { what: "backup" })
    }

    /// How much is in the backup.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn contents(&self) -> Result<Contents> {
        self.source()?.contents()
    }

    /// Puts it in the place of the library and returns where what was there is kept aside;
    /// `None`: nothing was there. A library too damaged to be opened is kept aside as it is.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn finish(self) -> Result<Option<PathBuf>> {
        let source = self.source()?;
        if !self.target.exists() {
            Library::open(&self.target)?.fill_from(source)?;
            return Ok(None);
        }
        let outcome = Library::open(&self.target).and_then(|mut there| there.take_over(source));
        match outcome {
            Err(StoreError::Damaged(_) | StoreError::NotALibrary(_)) => {
                let aside = unused(&self.target, "damaged");
                move_with_companions(&self.target, &aside)?;
                Library::open(&self.target)?.fill_from(source)?;
                Ok(Some(aside))
            }
            other => other.map(Some),
        }
    }
}

impl Drop for Restoring {
    fn drop(&mut self) {
        self.source = None;
        remove_with_companions(&self.scratch);
    }
}

/// `path` with `ending` in the place of its own, numbered if there is such a file already.
fn unused(path: &Path, ending: &str) -> PathBuf {
    let first = path.with_extension(ending);
    let (word, tail) = ending.split_once('.').unwrap_or((ending, ""));
    let dot = if tail.is_empty() { "" } else { "." };
    let numbered = (2..).map(|n| path.with_extension(format!("{word}-{n}{dot}{tail}")));
    std::iter::once(first).chain(numbered).find(|p| !p.exists()).unwrap_or_default()
}

/// A copy for its owner's eyes.
fn copy_private(from: &Path, to: &Path) -> Result<()> {
    remove_with_companions(to);
    let mut source = fs::File::open(from).map_err(|e| StoreError::file(&e, from))?;
    prepare_file(to)?;
    let mut copy = || -> std::io::Result<()> {
        let mut target = OpenOptions::new().write(true).open(to)?;
        std::io::copy(&mut source, &mut target)?;
        target.sync_all()
    };
    copy().map_err(|e| StoreError::file(&e, to))
}

/// A library's file and those SQLite keeps beside it.
fn with_companions(path: &Path) -> [PathBuf; 4] {
    ["", "-wal", "-shm", "-journal"].map(|ending| {
        let mut name = path.as_os_str().to_owned();
        name.push(ending);
        PathBuf::from(name)
    })
}

/// Removes a scratch library, whichever of its files are there.
fn remove_with_companions(path: &Path) {
    for file in with_companions(path) {
        match fs::remove_file(&file) {
            Err(e) if e.kind() != ErrorKind::NotFound => {
                tracing::warn!("a scratch file could not be removed: {e}");
            }
            _ => {}
        }
    }
}

fn move_with_companions(from: &Path, to: &Path) -> Result<()> {
    for (from, to) in with_companions(from).iter().zip(with_companions(to)) {
        match fs::rename(from, &to) {
            Err(e) if e.kind() != ErrorKind::NotFound => return Err(StoreError::file(&e, from)),
            _ => {}
        }
    }
    Ok(())
}

fn integrity_problems(conn: &Connection) -> Result<Vec<String>> {
    let mut lines = Vec::new();
    let mut integrity = conn.prepare("PRAGMA integrity_check")?;
    for line in integrity.query_map([], |row| row.get::<_, String>(0))? {
        lines.push(line?);
    }
    lines.retain(|line| line != "ok");
    let mut orphans = conn.prepare("SELECT \"table\", rowid FROM pragma_foreign_key_check")?;
    let rows = orphans
        .query_map([], |row| Ok((row.get::<_, String>(0)?, row.get::<_, Option<i64>>(1)?)))?;
    for row in rows {
        let (table, id) = row?;
        lines.push(format!("{table} {} refers to something missing", id.unwrap_or_default()));
    }
    Ok(lines)
}

/// A copy that does not have its name yet.
struct Copied {
    file: PathBuf,
    problems: Vec<String>,
}

impl Copied {
    fn take_name(self, target: &Path) -> Result<()> {
        let complete = || -> std::io::Result<()> {
            fs::File::open(&self.file)?.sync_all()?;
            fs::rename(&self.file, target)
        };
        complete().map_err(|e| StoreError::file(&e, target))
    }
}

/// Copies a library beside `target` and checks the copy.
fn copy_beside(conn: &Connection, target: &Path) -> Result<Copied> {
    let mut partial = target.as_os_str().to_owned();
    partial.push(".partial");
    let partial = PathBuf::from(partial);
    match fs::remove_file(&partial) {
        Err(e) if e.kind() != ErrorKind::NotFound => return Err(StoreError::file(&e, &partial)),
        _ => {}
    }
    let copied = fill_copy(conn, &partial);
    if copied.is_err() {
        remove_with_companions(&partial);
    }
    Ok(Copied { problems: copied?, file: partial })
}

fn fill_copy(conn: &Connection, file: &Path) -> Result<Vec<String>> {
    prepare_file(file)?;
    let mut copy = connect(file)?;
    Backup::new(conn, &mut copy)?.run_to_completion(256, Duration::ZERO, None)?;
    // The copy inherits the WAL mode; as a single file it must need no companion.
    copy.execute_batch("PRAGMA journal_mode = DELETE")?;
    integrity_problems(&copy)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Golfer;

    fn add_golfer(library: &mut Library) {
        library.save(|edit| edit.add_golfer(&Golfer::default())).unwrap();
    }

    #[test]
    fn an_index_out_of_step_with_its_rows_is_mended() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("library.scuffline");
        let mut library = Library::open(&path).unwrap();
        add_golfer(&mut library);
        // The index is hidden while a row is added: what a half-written page leaves behind.
        let session =
            "INSERT INTO session (golfer_id, date, place, surface, lie, camera, cue, notes)
             VALUES (1, '2026-05-14', '', 'turf', 'level', '', '', '')";
        library
            .conn
            .execute_batch(
                "PRAGMA writable_schema = ON; CREATE TEMP TABLE kept AS SELECT * FROM
                 main.sqlite_schema WHERE name = 'session_by_golfer';
                 DELETE FROM main.sqlite_schema WHERE name = 'session_by_golfer';
                 PRAGMA writable_schema = RESET;",
            )
            .unwrap();
        library.conn.execute_batch(session).unwrap();
        library
            .conn
            .execute_batch(
                "PRAGMA writable_schema = ON;
                 INSERT INTO main.sqlite_schema SELECT * FROM kept;
                 PRAGMA writable_schema = RESET;",
            )
            .unwrap();
        let report = library.check().unwrap();
        assert!(report.is_mendable(), "{report:?}");
        assert!(library.backup_to(&folder.path().join("damaged.backup")).is_err());
        let aside = library.mend_indexes().unwrap();
        assert!(aside.exists() && library.check().unwrap().is_sound());
        assert_eq!(library.contents().unwrap().sessions, 1);
    }

    #[test]
    fn a_backup_takes_the_place_of_a_library_beyond_reading() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("library.scuffline");
        let backup = folder.path().join("good.backup");
        let mut library = Library::open(&path).unwrap();
        add_golfer(&mut library);
        library.backup_to(&backup).unwrap();
        drop(library);
        fs::write(&path, vec![0x5a; 40_000]).unwrap();
        assert!(Library::open(&path).is_err());

        let restoring = Restoring::prepare(&backup, &path).unwrap();
        assert_eq!(restoring.contents().unwrap().golfers, 1);
        let aside = restoring.finish().unwrap().unwrap();
        assert_eq!(fs::read(aside).unwrap(), vec![0x5a; 40_000]);
        assert_eq!(Library::open(&path).unwrap().contents().unwrap().golfers, 1);

        // Each restoring keeps what it replaces under a name of its own.
        let first = Restoring::prepare(&backup, &path).unwrap().finish().unwrap().unwrap();
        let second = Restoring::prepare(&backup, &path).unwrap().finish().unwrap().unwrap();
        assert_ne!(first, second);
        let left = fs::read_dir(folder.path()).unwrap().flatten();
        assert!(!left.into_iter().any(|e| e.path().to_string_lossy().contains("restoring")));
    }

    #[test]
    fn a_recording_exchanged_for_another_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let mut library = Library::open(folder.path().join("library.scuffline")).unwrap();
        let clip = folder.path().join("clip.mp4");
        fs::write(&clip, b"first").unwrap();
        let new = crate::store::NewRecording {
            path: clip.clone(),
            identity: identify_file(&clip).unwrap(),
        };
        let id = library
            .save(|edit| {
                let golfer = edit.add_golfer(&Golfer::default())?;
                let session = crate::domain::Session::on(jiff::civil::date(2026, 5, 14));
                let session = edit.add_session(golfer, &session)?;
                edit.add_recording(session, &new)
            })
            .unwrap();
        assert_eq!(library.check().unwrap(), CheckReport::default());
        fs::write(&clip, b"other").unwrap();
        assert_eq!(library.check().unwrap().changed, [(id, clip.clone())]);
        fs::remove_file(&clip).unwrap();
        assert_eq!(library.check().unwrap().missing, [(id, clip)]);
    }
}
