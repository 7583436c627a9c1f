//! Opening, migrating, backing up and checking a library.

use std::fs::{self, OpenOptions};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, backup::Backup};

use super::{Result, StoreError, journal};

/// The schema's steps, oldest first; step n leads to version n.
const MIGRATIONS: [&str; 2] = [include_str!("schema_1.sql"), include_str!("schema_2.sql")];

/// The newest version of the library this program knows.
pub const SCHEMA_VERSION: i64 = MIGRATIONS.len() as i64;

/// "SCFF": tells a library from any other SQLite file.
const APPLICATION_ID: i64 = 0x5343_4646;

/// How long to wait for another program to finish its own change.
const BUSY_TIMEOUT: Duration = Duration::from_secs(5);

/// An open library. It belongs to one thread; open another for a second one.
#[derive(Debug)]
pub struct Library {
    pub(super) conn: Connection,
    pub(super) path: PathBuf,
    seen: i64,
    place: Option<Place>,
}

/// What [`Library::check`] found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CheckReport {
    /// What SQLite's integrity check says beyond "ok".
    pub problems: Vec<String>,
    /// Recordings whose file is not where it was.
    pub missing: Vec<(super::RecordingId, PathBuf)>,
}

impl CheckReport {
    /// The library itself is sound; recordings may still be missing.
    pub fn is_sound(&self) -> bool {
        self.problems.is_empty()
    }
}

impl Library {
    /// Where the library lies by the platform's convention; `None` where there is no home.
    pub fn default_path() -> Option<PathBuf> {
        let dirs = directories::ProjectDirs::from("", "", "scuffline")?;
        Some(dirs.data_dir().join("library.scuffline"))
    }

    /// Opens the library at `path`, making it and its folder where there is none yet, and
    /// bringing an older one up to date after a backup beside it.
    ///
    /// # Errors
    /// When the file cannot be opened or written, is no library, is damaged, or was written
    /// by a newer program.
    pub fn open(path: impl AsRef<Path>) -> Result<Self> {
        let path = path.as_ref().to_path_buf();
        prepare_file(&path)?;
        let conn = connect(&path).map_err(|e| StoreError::from(e).at(&path))?;
        let mut library = Self { conn, path, seen: 0, place: None };
        library.start().map_err(|e| e.at(&library.path))?;
        library.place = Place::of(&library.path);
        Ok(library)
    }

    fn start(&mut self) -> Result<()> {
        // FULL: a change is on disk when it is confirmed, also when the power goes.
        self.conn.execute_batch(
            "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;
             PRAGMA trusted_schema = OFF; PRAGMA temp_store = MEMORY;",
        )?;
        self.migrate()?;
        journal::start_capturing(&self.conn)?;
        self.seen = self.data_version()?;
        Ok(())
    }

    /// Where the library lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether another program changed the library since the last call (or the opening).
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn changed_since(&mut self) -> Result<bool> {
        let now = self.data_version().map_err(|e| e.at(&self.path))?;
        Ok(std::mem::replace(&mut self.seen, now) != now)
    }

    fn data_version(&self) -> Result<i64> {
        Ok(self.conn.query_row("PRAGMA data_version", [], |row| row.get(0))?)
    }

    /// Writes a consistent copy of the library to `target`, also while others are writing.
    ///
    /// The copy is made beside the target and takes its name only once complete and on disk.
    ///
    /// # Errors
    /// When the target cannot be written.
    pub fn backup_to(&self, target: &Path) -> Result<()> {
        backup(&self.conn, target).map_err(|e| e.at(target))
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
        let scratch = self.path.with_extension("restoring");
        let restored = copy_private(backup, &scratch).and_then(|()| self.take_over(&scratch));
        remove_with_companions(&scratch);
        restored
    }

    fn take_over(&mut self, scratch: &Path) -> Result<()> {
        // Opening migrates: what is taken over has this program's version.
        let source = Self::open(scratch)?;
        if !source.check()?.is_sound() {
            return Err(StoreError::Damaged(scratch.to_path_buf()));
        }
        self.backup_to(&self.path.with_extension("before-restore.backup"))?;
        let copy = |target: &mut Connection| -> Result<()> {
            Backup::new(&source.conn, target)?.run_to_completion(256, Duration::ZERO, None)?;
            Ok(())
        };
        copy(&mut self.conn).map_err(|e| e.at(&self.path))
    }

    /// Looks for damage in the file and for recordings that are no longer where they were.
    ///
    /// # Errors
    /// When the file cannot be read at all.
    pub fn check(&self) -> Result<CheckReport> {
        let problems = integrity_problems(&self.conn).map_err(|e| e.at(&self.path))?;
        let missing = self.all_recording_paths()?.into_iter().filter(|(_, p)| !p.exists());
        Ok(CheckReport { problems, missing: missing.collect() })
    }

    /// A file that was moved or unmounted still takes what is written to it, and loses it.
    pub(super) fn check_place(&self) -> Result<()> {
        if Place::of(&self.path) == self.place {
            Ok(())
        } else {
            Err(StoreError::Gone(self.path.clone()))
        }
    }

    fn migrate(&mut self) -> Result<()> {
        let found = user_version(&self.conn)?;
        if found > SCHEMA_VERSION {
            let path = self.path.clone();
            return Err(StoreError::Newer { found, known: SCHEMA_VERSION, path });
        }
        if found == SCHEMA_VERSION {
            return self.check_is_ours();
        }
        if found > 0 {
            self.check_is_ours()?;
            self.backup_to(&self.path.with_extension(format!("v{found}.backup")))?;
        }
        // Another program may be migrating the same file: the lock is taken first, and the
        // version is read again under it.
        let tx = self.conn.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
        let found = user_version(&tx)?;
        if found == 0 && has_tables(&tx)? {
            return Err(StoreError::NotALibrary(self.path.clone()));
        }
        for step in MIGRATIONS.iter().skip(usize::try_from(found).unwrap_or(0)) {
            tx.execute_batch(step)?;
        }
        tx.pragma_update(None, "user_version", SCHEMA_VERSION)?;
        tx.pragma_update(None, "application_id", APPLICATION_ID)?;
        tx.commit()?;
        Ok(())
    }

    fn check_is_ours(&self) -> Result<()> {
        let id: i64 = self.conn.query_row("PRAGMA application_id", [], |row| row.get(0))?;
        if id == APPLICATION_ID { Ok(()) } else { Err(StoreError::NotALibrary(self.path.clone())) }
    }
}

/// Which file a path leads to: device and number where the system has them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Place(u64, u64);

impl Place {
    fn of(path: &Path) -> Option<Self> {
        let metadata = fs::metadata(path).ok()?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::MetadataExt;
            Some(Self(metadata.dev(), metadata.ino()))
        }
        #[cfg(not(unix))]
        {
            drop(metadata);
            Some(Self(0, 0))
        }
    }
}

fn connect(path: &Path) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags)?;
    conn.busy_timeout(BUSY_TIMEOUT)?;
    Ok(conn)
}

/// The library names people: the file is for its owner's eyes (SQLite gives the files beside
/// it the same rights).
fn prepare_file(path: &Path) -> Result<()> {
    if path.exists() {
        return Ok(());
    }
    let failed = |_| StoreError::CannotOpen(path.to_path_buf());
    if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
        fs::create_dir_all(folder).map_err(failed)?;
    }
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map_err(failed)?;
    Ok(())
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

/// Removes a scratch library with the files SQLite keeps beside it, whichever are there.
fn remove_with_companions(path: &Path) {
    for ending in ["", "-wal", "-shm", "-journal"] {
        let mut name = path.as_os_str().to_owned();
        name.push(ending);
        match fs::remove_file(&name) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                tracing::warn!("a scratch file could not be removed: {e}");
            }
            _ => {}
        }
    }
}

fn user_version(conn: &Connection) -> Result<i64> {
    Ok(conn.query_row("PRAGMA user_version", [], |row| row.get(0))?)
}

fn has_tables(conn: &Connection) -> Result<bool> {
    Ok(conn.query_row("SELECT EXISTS (SELECT 1 FROM sqlite_schema)", [], |row| row.get(0))?)
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

fn backup(conn: &Connection, target: &Path) -> Result<()> {
    let mut partial = target.as_os_str().to_owned();
    partial.push(".partial");
    let partial = PathBuf::from(partial);
    match fs::remove_file(&partial) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
            return Err(StoreError::file(&e, &partial));
        }
        _ => {}
    }
    prepare_file(&partial)?;
    let mut copy = connect(&partial)?;
    Backup::new(conn, &mut copy)?.run_to_completion(256, Duration::ZERO, None)?;
    // The copy inherits the WAL mode; as a single file it must need no companion.
    copy.execute_batch("PRAGMA journal_mode = DELETE")?;
    drop(copy);
    let complete = || -> std::io::Result<()> {
        fs::File::open(&partial)?.sync_all()?;
        fs::rename(&partial, target)
    };
    complete().map_err(|e| StoreError::file(&e, target))
}
