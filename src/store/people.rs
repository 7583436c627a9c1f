//! Golfers, their sessions and blocks, their aim windows, and settings.

use rusqlite::{Connection, OptionalExtension, Row, ToSql, params, params_from_iter};

use super::values::{finite, word, word_at};
use super::{BlockId, Edit, GolferId, Library, Result, SessionId, StoreError};
use crate::domain::{Block, Club, Golfer, Quantity, Session};

/// A session with how much is in it.
#[derive(Clone, Debug, PartialEq)]
pub struct SessionRow {
    /// Its number.
    pub id: SessionId,
    /// Whose it is.
    pub golfer: GolferId,
    /// What is known about it.
    pub session: Session,
    /// How many recordings it has.
    pub recordings: usize,
    /// How many swings it has, those left out included.
    pub swings: usize,
}

/// A golfer's own aim window for a club.
#[derive(Clone, Debug, PartialEq)]
pub struct AimWindowRow {
    /// The club.
    pub club: Club,
    /// What it is about.
    pub quantity: Quantity,
    /// From, mm ahead of the ball (negative: behind).
    pub low_mm: f64,
    /// To, mm ahead of the ball.
    pub high_mm: f64,
}

/// A block with how much is in it.
#[derive(Clone, Debug, PartialEq)]
pub struct BlockRow {
    /// Its number.
    pub id: BlockId,
    /// The session it belongs to.
    pub session: SessionId,
    /// What is known about it.
    pub block: Block,
    /// How many swings it has, those left out included.
    pub swings: usize,
}

impl Edit<'_> {
    /// Adds a golfer.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn add_golfer(&self, golfer: &Golfer) -> Result<GolferId> {
        Ok(GolferId(self.insert("golfer", &golfer_columns(golfer)?)?))
    }

    /// The golfer of that name, capitals apart: looked for within the change, so that two
    /// programs do not both add one.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn golfer_called(&self, name: &str) -> Result<Option<GolferId>> {
        let sql = "SELECT id FROM golfer WHERE name = ?1 COLLATE NOCASE ORDER BY id LIMIT 1";
        Ok(self.conn.query_row(sql, [name], |row| row.get(0)).optional()?)
    }

    /// The golfer's session of that day; within the change, as above.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn session_of(
        &self,
        golfer: GolferId,
        date: jiff::civil::Date,
    ) -> Result<Option<SessionId>> {
        let sql = "SELECT id FROM session WHERE golfer_id = ?1 AND date = ?2 ORDER BY id LIMIT 1";
        let found = self.conn.query_row(sql, params![golfer, date.to_string()], |row| row.get(0));
        Ok(found.optional()?)
    }

    /// Changes what is known about a golfer.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such golfer.
    pub fn update_golfer(&self, id: GolferId, golfer: &Golfer) -> Result<()> {
        self.update("golfer", id.0, &golfer_columns(golfer)?)
    }

    /// Removes a golfer with all sessions. As a step it can be undone;
    /// [`Library::erase_golfer`] is for good.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such golfer.
    pub fn remove_golfer(&self, id: GolferId) -> Result<()> {
        found(self.conn.execute("DELETE FROM golfer WHERE id = ?1", [id])?, "golfer")
    }

    /// Adds a session of a golfer.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn add_session(&self, golfer: GolferId, session: &Session) -> Result<SessionId> {
        let mut columns = session_columns(session)?;
        columns.push(("golfer_id", Box::new(golfer)));
        Ok(SessionId(self.insert("session", &columns)?))
    }

    /// Changes what is known about a session.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such session.
    pub fn update_session(&self, id: SessionId, session: &Session) -> Result<()> {
        self.update("session", id.0, &session_columns(session)?)
    }

    /// Adds a block to a session.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn add_block(&self, session: SessionId, block: &Block) -> Result<BlockId> {
        let mut columns = block_columns(block)?;
        columns.push(("session_id", Box::new(session)));
        Ok(BlockId(self.insert("block", &columns)?))
    }

    /// Changes what is known about a block.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such block.
    pub fn update_block(&self, id: BlockId, block: &Block) -> Result<()> {
        self.update("block", id.0, &block_columns(block)?)
    }

    /// Removes a block; its swings stay in the session.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such block.
    pub fn remove_block(&self, id: BlockId) -> Result<()> {
        found(self.conn.execute("DELETE FROM block WHERE id = ?1", [id])?, "block")
    }

    /// Sets a golfer's own aim window for a club, in the place of the usual one.
    ///
    /// # Errors
    /// [`StoreError::BadValue`] unless `low_mm` < `high_mm`, both finite.
    pub fn set_aim_window(&self, golfer: GolferId, window: &AimWindowRow) -> Result<()> {
        let low = finite(window.low_mm, "aim window")?;
        let high = finite(window.high_mm, "aim window")?;
        if low >= high {
            return Err(StoreError::BadValue { what: "aim window" });
        }
        self.conn.execute(
            "INSERT INTO aim_window (golfer_id, club, quantity, low_mm, high_mm)
             VALUES (?1, ?2, ?3, ?4, ?5)
             ON CONFLICT DO UPDATE SET low_mm = excluded.low_mm, high_mm = excluded.high_mm",
            params![golfer, window.club.0, word(&window.quantity)?, low, high],
        )?;
        Ok(())
    }

    /// Goes back to the usual aim window of a club.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn clear_aim_window(&self, golfer: GolferId, club: &Club, of: Quantity) -> Result<()> {
        self.conn.execute(
            "DELETE FROM aim_window WHERE golfer_id = ?1 AND club = ?2 AND quantity = ?3",
            params![golfer, club.0, word(&of)?],
        )?;
        Ok(())
    }

    /// Keeps a setting of the program.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn set_setting(&self, key: &str, value: &str) -> Result<()> {
        self.conn.execute(
            "INSERT INTO setting (key, value) VALUES (?1, ?2)
             ON CONFLICT DO UPDATE SET value = excluded.value",
            [key, value],
        )?;
        Ok(())
    }
}

impl Edit<'_> {
    /// Adds a row and returns its number. Names of tables and columns are this room's own.
    fn insert(&self, table: &str, columns: &Columns) -> Result<i64> {
        let names: Vec<&str> = columns.iter().map(|(name, _)| *name).collect();
        let places = vec!["?"; columns.len()].join(", ");
        let sql = format!("INSERT INTO {table} ({}) VALUES ({places})", names.join(", "));
        let values = params_from_iter(columns.iter().map(|(_, value)| value));
        self.conn.prepare_cached(&sql)?.execute(values)?;
        Ok(self.conn.last_insert_rowid())
    }

    /// Changes the row of that number.
    fn update(&self, table: &'static str, id: i64, columns: &Columns) -> Result<()> {
        let names: Vec<String> = columns.iter().map(|(name, _)| format!("{name} = ?")).collect();
        let sql = format!("UPDATE {table} SET {} WHERE id = ?", names.join(", "));
        let number: Box<dyn ToSql> = Box::new(id);
        let values = columns.iter().map(|(_, value)| value).chain([&number]);
        found(self.conn.prepare_cached(&sql)?.execute(params_from_iter(values))?, table)
    }
}

/// Columns of a row with their values, the same whether it is new or changed.
type Columns = Vec<(&'static str, Box<dyn ToSql>)>;

fn golfer_columns(golfer: &Golfer) -> Result<Columns> {
    Ok(vec![
        ("name", Box::new(golfer.name.clone())),
        ("handed", Box::new(word(&golfer.handed)?)),
        // A column of schema 1; the unit is chosen for all golfers together now.
        ("unit", Box::new("mm")),
        ("notes", Box::new(golfer.notes.clone())),
        ("child", Box::new(golfer.child)),
        ("consent", Box::new(golfer.consent.clone())),
        ("invented", Box::new(golfer.invented)),
    ])
}

fn session_columns(session: &Session) -> Result<Columns> {
    Ok(vec![
        ("date", Box::new(session.date.to_string())),
        ("place", Box::new(session.place.clone())),
        ("surface", Box::new(word(&session.surface)?)),
        ("lie", Box::new(word(&session.lie)?)),
        ("camera", Box::new(session.camera.clone())),
        ("cue", Box::new(session.cue.clone())),
        ("notes", Box::new(session.notes.clone())),
    ])
}

fn block_columns(block: &Block) -> Result<Columns> {
    Ok(vec![
        ("title", Box::new(block.title.clone())),
        ("phase", Box::new(word(&block.phase)?)),
        ("ball", Box::new(word(&block.ball)?)),
        ("drill", Box::new(block.drill.clone())),
        ("club", Box::new(block.club.as_ref().map(|club| club.0.clone()))),
        ("cue", Box::new(block.cue.clone())),
        ("notes", Box::new(block.notes.clone())),
    ])
}

impl Library {
    /// All golfers by name.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn golfers(&self) -> Result<Vec<(GolferId, Golfer)>> {
        self.rows("SELECT * FROM golfer ORDER BY name COLLATE NOCASE, id", [], |row| {
            Ok((row.get("id")?, golfer_from(row)?))
        })
    }

    /// One golfer.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such golfer.
    pub fn golfer(&self, id: GolferId) -> Result<Golfer> {
        self.one("SELECT * FROM golfer WHERE id = ?1", [id], "golfer", golfer_from)
    }

    /// A golfer's sessions, the newest first.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn sessions(&self, golfer: GolferId) -> Result<Vec<SessionRow>> {
        let sql = format!("{SESSION_SQL} WHERE golfer_id = ?1 ORDER BY date DESC, id DESC");
        self.rows(&sql, [golfer], session_from)
    }

    /// One session.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such session.
    pub fn session(&self, id: SessionId) -> Result<SessionRow> {
        self.one(&format!("{SESSION_SQL} WHERE id = ?1"), [id], "session", session_from)
    }

    /// The blocks of a session in the order they were made.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn blocks(&self, session: SessionId) -> Result<Vec<(BlockId, Block)>> {
        self.rows("SELECT * FROM block WHERE session_id = ?1 ORDER BY id", [session], |row| {
            Ok((row.get("id")?, block_from(row)?))
        })
    }

    /// One block.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such block.
    pub fn block(&self, id: BlockId) -> Result<BlockRow> {
        let sql = "SELECT block.*,
             (SELECT count(*) FROM swing WHERE block_id = block.id) AS swings
             FROM block WHERE id = ?1";
        self.one(sql, [id], "block", block_row_from)
    }

    /// All blocks of a golfer in the order they were made.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn golfer_blocks(&self, golfer: GolferId) -> Result<Vec<BlockRow>> {
        let sql = "SELECT block.*,
             (SELECT count(*) FROM swing WHERE block_id = block.id) AS swings
             FROM block JOIN session ON session.id = session_id
             WHERE golfer_id = ?1 ORDER BY block.id";
        self.rows(sql, [golfer], block_row_from)
    }

    /// All runs of a drill by a golfer with the session each belongs to, oldest first.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn drill_runs(&self, golfer: GolferId, drill: &str) -> Result<Vec<(SessionId, BlockId)>> {
        self.rows(
            "SELECT session_id, block.id FROM block JOIN session ON session.id = session_id
             WHERE golfer_id = ?1 AND drill = ?2 ORDER BY date, block.id",
            params![golfer, drill],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
    }

    /// A golfer's own aim windows.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn aim_windows(&self, golfer: GolferId) -> Result<Vec<AimWindowRow>> {
        let sql = "SELECT * FROM aim_window WHERE golfer_id = ?1 ORDER BY club, quantity";
        self.rows(sql, [golfer], |row| {
            Ok(AimWindowRow {
                club: Club(row.get("club")?),
                quantity: word_at(row, "quantity", "aim window")?,
                low_mm: row.get("low_mm")?,
                high_mm: row.get("high_mm")?,
            })
        })
    }

    /// A setting of the program, if it was ever set.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn setting(&self, key: &str) -> Result<Option<String>> {
        setting_in(&self.conn, key).map_err(|e| StoreError::from(e).at(&self.path))
    }

    /// Removes a golfer with all sessions, swings and marks for good: undo steps that could
    /// bring something back are dropped, and the file is rewritten without the free space in
    /// which old text survives. Frames kept for looking at go as well (of everyone: they are made
    /// again when needed). Backups made earlier are left alone.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such golfer; or when the library cannot be
    /// rewritten, which asks for free space of its own size, or kept frames not be removed.
    pub fn erase_golfer(&mut self, id: GolferId) -> Result<()> {
        let sql = "SELECT path FROM recording JOIN session ON session.id = session_id
             WHERE golfer_id = ?1";
        let paths: Vec<String> = self.rows(sql, [id], |row| Ok(row.get(0)?))?;
        self.save(|edit| {
            forget_in_settings(edit, &paths)?;
            // The library's own steps may hold this golfer's row; they are few.
            edit.conn.execute(
                "DELETE FROM edit WHERE session_id IS NULL OR session_id IN
                 (SELECT id FROM session WHERE golfer_id = ?1)
                 OR session_id NOT IN (SELECT id FROM session)",
                [id],
            )?;
            edit.conn.execute("DELETE FROM frame_index", [])?;
            edit.remove_golfer(id)
        })?;
        self.drop_kept_frames()?;
        let rewrite = "VACUUM; PRAGMA wal_checkpoint(TRUNCATE);";
        self.conn.execute_batch(rewrite).map_err(|e| StoreError::from(e).at(&self.path))
    }

    /// All rows of a query, converted.
    pub(super) fn rows<T>(
        &self,
        sql: &str,
        parameters: impl rusqlite::Params,
        convert: impl Fn(&Row<'_>) -> Result<T>,
    ) -> Result<Vec<T>> {
        let read = || {
            let mut statement = self.conn.prepare_cached(sql)?;
            let mut rows = statement.query(parameters)?;
            let mut list = Vec::new();
            while let Some(row) = rows.next()? {
                list.push(convert(row)?);
            }
            Ok(list)
        };
        read().map_err(|e: StoreError| e.at(&self.path))
    }

    /// The one row of a query, converted.
    pub(super) fn one<T>(
        &self,
        sql: &str,
        parameters: impl rusqlite::Params,
        what: &'static str,
        convert: impl Fn(&Row<'_>) -> Result<T>,
    ) -> Result<T> {
        self.rows(sql, parameters, convert)?.pop().ok_or(StoreError::Missing { what })
    }
}

/// Takes these texts (files that were opened, for instance) out of the program's settings.
fn forget_in_settings(edit: &Edit<'_>, texts: &[String]) -> Result<()> {
    let mut statement = edit.conn.prepare("SELECT key, value FROM setting")?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let settings: Vec<(String, String)> = rows.collect::<rusqlite::Result<_>>()?;
    for (key, value) in settings {
        let Ok(before) = serde_json::from_str::<serde_json::Value>(&value) else { continue };
        let mut after = before.clone();
        take_out(&mut after, texts);
        if after != before {
            edit.set_setting(&key, &after.to_string())?;
        }
    }
    Ok(())
}

/// Removes the entries of lists, at any depth, that are one of `texts`.
fn take_out(value: &mut serde_json::Value, texts: &[String]) {
    match value {
        serde_json::Value::Array(list) => {
            list.retain(|one| !one.as_str().is_some_and(|s| texts.iter().any(|text| text == s)));
            list.iter_mut().for_each(|one| take_out(one, texts));
        }
        serde_json::Value::Object(fields) => {
            fields.values_mut().for_each(|one| take_out(one, texts));
        }
        _ => {}
    }
}

/// A change that must have met a row.
pub(super) fn found(rows: usize, what: &'static str) -> Result<()> {
    if rows > 0 { Ok(()) } else { Err(StoreError::Missing { what }) }
}

const SESSION_SQL: &str = "SELECT *,
    (SELECT count(*) FROM recording WHERE session_id = session.id) AS recordings,
    (SELECT count(*) FROM swing WHERE session_id = session.id) AS swings FROM session";

fn golfer_from(row: &Row<'_>) -> Result<Golfer> {
    Ok(Golfer {
        name: row.get("name")?,
        handed: word_at(row, "handed", "golfer")?,
        notes: row.get("notes")?,
        child: row.get("child")?,
        consent: row.get("consent")?,
        invented: row.get("invented")?,
    })
}

fn session_from(row: &Row<'_>) -> Result<SessionRow> {
    let date: String = row.get("date")?;
    let unreadable =
        |e: jiff::Error| StoreError::Unreadable { what: "session", detail: e.to_string() };
    let session = Session {
        date: date.parse().map_err(unreadable)?,
        place: row.get("place")?,
        surface: word_at(row, "surface", "session")?,
        lie: word_at(row, "lie", "session")?,
        camera: row.get("camera")?,
        cue: row.get("cue")?,
        notes: row.get("notes")?,
    };
    Ok(SessionRow {
        id: row.get("id")?,
        golfer: row.get("golfer_id")?,
        session,
        recordings: count(row.get("recordings")?),
        swings: count(row.get("swings")?),
    })
}

fn block_from(row: &Row<'_>) -> Result<Block> {
    Ok(Block {
        title: row.get("title")?,
        phase: word_at(row, "phase", "block")?,
        ball: word_at(row, "ball", "block")?,
        drill: row.get("drill")?,
        club: row.get::<_, Option<String>>("club")?.map(Club),
        cue: row.get("cue")?,
        notes: row.get("notes")?,
    })
}

fn block_row_from(row: &Row<'_>) -> Result<BlockRow> {
    Ok(BlockRow {
        id: row.get("id")?,
        session: row.get("session_id")?,
        block: block_from(row)?,
        swings: count(row.get("swings")?),
    })
}

pub(super) fn count(value: i64) -> usize {
    usize::try_from(value).unwrap_or(0)
}

pub(super) fn setting_in(conn: &Connection, key: &str) -> rusqlite::Result<Option<String>> {
    let sql = "SELECT value FROM setting WHERE key = ?1";
    conn.query_row(sql, [key], |row| row.get(0)).optional()
}
