//! Opening and migrating a library.

use std::fs::{self, OpenOptions};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rusqlite::{Connection, OpenFlags};

use super::people::setting_in;
use super::{Result, StoreError, journal};

/// The schema's steps, oldest first; step n leads to version n.
const MIGRATIONS: [&str; 7] = [
    include_str!("schema_1.sql"),
    include_str!("schema_2.sql"),
    include_str!("schema_3.sql"),
    include_str!("schema_4.sql"),
    include_str!("schema_5.sql"),
    include_str!("schema_6.sql"),
    include_str!("schema_7.sql"),
];

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

impl Library {
    /// Where the library lies by the platform's convention; `None` where there is no home.
    pub fn default_path() -> Option<PathBuf> {
        let dirs = directories::ProjectDirs::from("", "", "scuffline")?;
        Some(dirs.data_dir().join("library.scuffline"))
    }

    /// Opens the library at `path`, making it and its folder where there is none yet, and
    /// bringing an older one up to date after a backup beside it.
    ///
    /// ```
    /// use scuffline::domain::Golfer;
    /// use scuffline::store::{Library, Scope};
    ///
    /// # let folder = tempfile::tempdir().expect("a folder");
    /// # let path = folder.path().join("lessons.scuffline");
    /// let mut library = Library::open(&path)?;
    /// let golfer = Golfer { name: "Kim".into(), ..Golfer::default() };
    /// library.edit(Scope::Library, "a new golfer", |edit| edit.add_golfer(&golfer))?;
    /// assert_eq!(library.golfers()?.len(), 1);
    /// assert_eq!(library.undo(Scope::Library)?.as_deref(), Some("a new golfer"));
    /// assert!(library.golfers()?.is_empty());
    /// # Ok::<(), scuffline::store::StoreError>(())
    /// ```
    ///
    /// # Errors
    /// When the file cannot be opened or written, is no library, is damaged, or was written
    /// by a newer program.
    pub fn open(path: impl AsRef<Path>) -> Result<Self> {
        let path = path.as_ref();
        let begun = Instant::now();
        // While another program makes the same library, SQLite refuses without waiting.
        loop {
            match Self::open_at_once(path) {
                Err(StoreError::Busy(_)) if begun.elapsed() < BUSY_TIMEOUT => {
                    std::thread::sleep(Duration::from_millis(20));
                }
                outcome => return outcome,
            }
        }
    }

    /// A setting of the library at `path`, which is only looked at: no file is made, nothing is
    /// written or brought up to date. `None`: never set, or no library that can be read.
    pub fn glance_at_setting(path: &Path, key: &str) -> Option<String> {
        // Without a log beside it SQLite would make one, unless it is told that nobody writes.
        let log = PathBuf::from(format!("{}-wal", path.to_str()?));
        let nobody_writes = if log.exists() { "" } else { "?immutable=1" };
        let name = path.to_str()?.replace('%', "%25").replace('?', "%3f").replace('#', "%23");
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
            | OpenFlags::SQLITE_OPEN_URI
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let uri = format!("file:{name}{nobody_writes}");
        let conn = Connection::open_with_flags(uri, flags).ok()?;
        setting_in(&conn, key).ok()?
    }

    fn open_at_once(path: &Path) -> Result<Self> {
        prepare_file(path)?;
        let conn = connect(path).map_err(|e| StoreError::from(e).at(path))?;
        let mut library = Self { conn, path: path.to_path_buf(), seen: 0, place: None };
        library.start().map_err(|e| e.at(path))?;
        library.place = Place::of(path);
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

    /// From now on whatever reads or writes ends early with an error once `stop` says so.
    ///
    /// # Errors
    /// When the library cannot be used.
    pub fn read_until(&mut self, stop: impl FnMut() -> bool + Send + 'static) -> Result<()> {
        // Asked so often that a stop is heard within a millisecond or so.
        Ok(self.conn.progress_handler(100, Some(stop))?)
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
        if found < 0 {
            return Err(StoreError::Damaged(self.path.clone()));
        }
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
            tx.execute_batch(step).map_err(|e| does_not_fit(e, &self.path))?;
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

/// A step that the tables don't allow: the version in the file is not that of its tables.
fn does_not_fit(error: rusqlite::Error, path: &Path) -> StoreError {
    let is_statement = matches!(error, rusqlite::Error::SqlInputError { .. })
        || error.sqlite_error_code() == Some(rusqlite::ErrorCode::Unknown);
    match is_statement {
        true => StoreError::Damaged(path.to_path_buf()),
        false => error.into(),
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

pub(super) fn connect(path: &Path) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags)?;
    conn.busy_timeout(BUSY_TIMEOUT)?;
    Ok(conn)
}

/// The library names people: the file is for its owner's eyes (SQLite gives the files beside
/// it the same rights).
pub(super) fn prepare_file(path: &Path) -> Result<()> {
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

fn user_version(conn: &Connection) -> Result<i64> {
    Ok(conn.query_row("PRAGMA user_version", [], |row| row.get(0))?)
}

fn has_tables(conn: &Connection) -> Result<bool> {
    Ok(conn.query_row("SELECT EXISTS (SELECT 1 FROM sqlite_schema)", [], |row| row.get(0))?)
}
