//! Steps that can be undone and redone without limit, also after a restart.
//!
//! While a step runs, temporary triggers note each changed row as it was and as it became
//! (cascades included). Undoing puts the old images back and is noted in the same way, so
//! that redoing is undoing the undoing: nothing a cascade took is lost on the way.

use std::collections::BTreeMap;

use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};
use serde::{Deserialize, Serialize};

use super::{Library, Result, SessionId, StoreError};

/// The tables in which a person's changes are noted.
const TABLES: [&str; 10] = [
    "golfer",
    "session",
    "block",
    "camera_profile",
    "calibration",
    "recording",
    "swing",
    "mark",
    "tape_check",
    "aim_window",
];

/// Columns worked out from others: an undo step neither compares nor restores them, except
/// with the whole row.
const DERIVED: [&str; 9] = [
    "result",
    "result_current",
    "start_mm",
    "start_u_mm",
    "end_mm",
    "low_point_mm",
    "low_point_u_mm",
    "attack_deg",
    "contact_order",
];

/// The newest step that stands in any session there is.
const LAST_IN_SESSIONS: &str = "SELECT coalesce(max(id), 0) FROM edit
    WHERE undone = 0 AND session_id IN (SELECT id FROM session)";

/// Whose steps an undo goes through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Scope {
    /// Golfers, sessions and profiles.
    Library,
    /// What happens inside one session.
    Session(SessionId),
}

impl Scope {
    fn session(self) -> Option<SessionId> {
        match self {
            Self::Library => None,
            Self::Session(id) => Some(id),
        }
    }
}

/// A change under way: one transaction. Its methods write; nothing is kept if one fails.
#[derive(Debug)]
pub struct Edit<'a> {
    pub(super) conn: &'a Connection,
}

/// A row image: column to value, reals and blobs as text that gives them back exactly.
type Image = BTreeMap<String, serde_json::Value>;

/// One changed row.
#[derive(Debug, Serialize, Deserialize)]
struct Change {
    table: String,
    id: i64,
    before: Option<Image>,
    after: Option<Image>,
}

impl Library {
    /// Carries out a step that a person can undo; `words` say what it was, as in "divot start
    /// of swing 3". All of it is on disk when this returns, or none of it happened.
    ///
    /// # Errors
    /// Whatever `change` returns, or why it could not be written.
    pub fn edit<T>(
        &mut self,
        scope: Scope,
        words: &str,
        change: impl FnOnce(&Edit<'_>) -> Result<T>,
    ) -> Result<T> {
        self.check_place()?;
        let run = |conn: &mut Connection| {
            let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
            capture(&tx, true)?;
            let value = change(&Edit { conn: &tx })?;
            let changes = take_captured(&tx)?;
            if !changes.is_empty() {
                forget_redo(&tx, scope)?;
                remember(&tx, scope, words, &changes)?;
            }
            tx.commit()?;
            Ok(value)
        };
        let result = run(&mut self.conn);
        self.end_capture();
        result.map_err(|e: StoreError| e.at(&self.path))
    }

    /// Carries out a change that is no step of its own: what the program found or computed.
    /// All of it is on disk when this returns, or none of it happened.
    ///
    /// # Errors
    /// Whatever `change` returns, or why it could not be written.
    pub fn save<T>(&mut self, change: impl FnOnce(&Edit<'_>) -> Result<T>) -> Result<T> {
        self.check_place()?;
        let run = |conn: &mut Connection| {
            let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let value = change(&Edit { conn: &tx })?;
            tx.commit()?;
            Ok(value)
        };
        run(&mut self.conn).map_err(|e: StoreError| e.at(&self.path))
    }

    /// Undoes the newest step of `scope` and returns its words; `None`: nothing to undo.
    ///
    /// # Errors
    /// [`StoreError::ChangedElsewhere`] if the same place was changed by something that is no
    /// later step; the step is then dropped, so that older ones can be reached.
    pub fn undo(&mut self, scope: Scope) -> Result<Option<String>> {
        self.step(scope, false)
    }

    /// Redoes the step undone last and returns its words; `None`: nothing to redo.
    ///
    /// # Errors
    /// As for [`Library::undo`].
    pub fn redo(&mut self, scope: Scope) -> Result<Option<String>> {
        self.step(scope, true)
    }

    /// Whose step is to be taken back next by somebody who looks at `session`, or at none: a
    /// step of the library's own, such as a golfer added or a bundle taken in, comes first
    /// while nothing that was done later in any session stands. So nothing is taken away
    /// together with what came after it.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn next_undo(&self, session: Option<SessionId>) -> Result<Option<Scope>> {
        self.next_of(session, false).map_err(|e| e.at(&self.path))
    }

    /// Whose step is to be done again next by somebody who looks at `session`, or at none.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn next_redo(&self, session: Option<SessionId>) -> Result<Option<Scope>> {
        self.next_of(session, true).map_err(|e| e.at(&self.path))
    }

    fn next_of(&self, session: Option<SessionId>, undone: bool) -> Result<Option<Scope>> {
        let number =
            |scope| Ok::<_, StoreError>(next_step(&self.conn, scope, undone)?.map(|s| s.id));
        let scope = session.map(Scope::Session);
        let Some(own) = number(Scope::Library)? else { return Ok(scope) };
        let later: i64 = self.conn.query_row(LAST_IN_SESSIONS, [], |row| row.get(0))?;
        let here = scope.map(number).transpose()?.flatten();
        // What was taken back last has the lowest number of all that is taken back.
        let comes_first = !undone || here.is_none_or(|here| own < here);
        Ok(if own > later && comes_first { Some(Scope::Library) } else { scope })
    }

    /// The words of the step that [`Library::undo`] would undo.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn undo_words(&self, scope: Scope) -> Result<Option<String>> {
        Ok(next_step(&self.conn, scope, false).map_err(|e| e.at(&self.path))?.map(|s| s.words))
    }

    /// The words of the step that [`Library::redo`] would redo.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn redo_words(&self, scope: Scope) -> Result<Option<String>> {
        Ok(next_step(&self.conn, scope, true).map_err(|e| e.at(&self.path))?.map(|s| s.words))
    }

    fn step(&mut self, scope: Scope, undone: bool) -> Result<Option<String>> {
        self.check_place()?;
        let run = |conn: &mut Connection| {
            let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let Some(step) = next_step(&tx, scope, undone)? else { return Ok(None) };
            let reverted = revert_step(&tx, &step, undone);
            // Whether everything referred to is there is checked at the commit.
            let done = match reverted {
                Ok(()) => tx.commit().map_err(Stop::from),
                Err(stop) => {
                    drop(tx);
                    Err(stop)
                }
            };
            match done {
                Ok(()) => {}
                Err(Stop::Conflict) => {
                    conn.execute("DELETE FROM edit WHERE id = ?1", [step.id])?;
                    return Err(StoreError::ChangedElsewhere { words: step.words });
                }
                Err(Stop::Error(error)) => return Err(error),
            }
            Ok(Some(step.words))
        };
        let result = run(&mut self.conn);
        self.end_capture();
        result.map_err(|e: StoreError| e.at(&self.path))
    }

    /// A rolled back transaction has rolled the switch back as well; after a commit it is on.
    fn end_capture(&self) {
        if let Err(error) = capture(&self.conn, false) {
            tracing::error!("noting changes could not be ended: {error}");
        }
    }
}

struct Step {
    id: i64,
    words: String,
    changes: String,
}

fn next_step(conn: &Connection, scope: Scope, undone: bool) -> Result<Option<Step>> {
    // The newest of the steps that stand; the oldest of those undone, since it was undone last.
    let order = if undone { "ASC" } else { "DESC" };
    let sql = format!(
        "SELECT id, words, changes FROM edit WHERE session_id IS ?1 AND undone = ?2
         ORDER BY id {order} LIMIT 1"
    );
    let row = conn.prepare_cached(&sql)?.query_row(params![scope.session(), undone], |row| {
        Ok(Step { id: row.get(0)?, words: row.get(1)?, changes: row.get(2)? })
    });
    Ok(row.optional()?)
}

fn remember(conn: &Connection, scope: Scope, words: &str, changes: &[Change]) -> Result<()> {
    conn.prepare_cached("INSERT INTO edit (session_id, words, changes) VALUES (?1, ?2, ?3)")?
        .execute(params![scope.session(), words, changes_json(changes)?])?;
    Ok(())
}

fn forget_redo(conn: &Connection, scope: Scope) -> Result<()> {
    conn.prepare_cached("DELETE FROM edit WHERE session_id IS ?1 AND undone = 1")?
        .execute(params![scope.session()])?;
    Ok(())
}

fn changes_json(changes: &[Change]) -> Result<String> {
    serde_json::to_string(changes).map_err(|_| StoreError::BadValue { what: "change" })
}

enum Stop {
    Conflict,
    Error(StoreError),
}

impl From<rusqlite::Error> for Stop {
    fn from(error: rusqlite::Error) -> Self {
        // A row that came back while its place was taken, or whose owner is gone.
        match error.sqlite_error_code() {
            Some(rusqlite::ErrorCode::ConstraintViolation) => Self::Conflict,
            _ => Self::Error(error.into()),
        }
    }
}

impl From<StoreError> for Stop {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Sql(error) => error.into(),
            other => Self::Error(other),
        }
    }
}

fn revert_step(tx: &Transaction<'_>, step: &Step, undone: bool) -> std::result::Result<(), Stop> {
    let changes: Vec<Change> = super::values::from_json(&step.changes, "undo step")?;
    // Rows come back in any order.
    tx.execute_batch("PRAGMA defer_foreign_keys = ON")?;
    capture(tx, true)?;
    for change in changes.iter().rev() {
        revert(tx, change)?;
    }
    let noted = changes_json(&take_captured(tx)?)?;
    tx.execute(
        "UPDATE edit SET undone = ?2, changes = ?3 WHERE id = ?1",
        params![step.id, !undone, noted],
    )?;
    Ok(())
}

fn revert(tx: &Transaction<'_>, change: &Change) -> std::result::Result<(), Stop> {
    let table = known_table(&change.table)?;
    let columns = Columns::of(tx, table)?;
    match (&change.before, &change.after) {
        (None, _) => {
            tx.execute(&format!("DELETE FROM {table} WHERE id = ?1"), [change.id])?;
        }
        (Some(before), None) => insert_image(tx, table, &columns, before)?,
        (Some(before), Some(after)) => {
            put_back(tx, table, &columns, change.id, before, after)?;
        }
    }
    Ok(())
}

fn known_table(name: &str) -> Result<&'static str> {
    TABLES.into_iter().find(|table| *table == name).ok_or_else(|| StoreError::Unreadable {
        what: "undo step",
        detail: format!("table {name}"),
    })
}

fn insert_image(
    tx: &Transaction<'_>,
    table: &str,
    columns: &Columns,
    image: &Image,
) -> std::result::Result<(), Stop> {
    let mut names = Vec::new();
    let mut values = Vec::new();
    for (name, value) in image {
        names.push(columns.checked(name)?);
        values.push(columns.value(name, value)?);
    }
    let marks = vec!["?"; names.len()].join(", ");
    let sql = format!("INSERT INTO {table} ({}) VALUES ({marks})", names.join(", "));
    tx.execute(&sql, rusqlite::params_from_iter(values))?;
    Ok(())
}

/// Puts back the columns the step changed, provided they are still as the step left them.
fn put_back(
    tx: &Transaction<'_>,
    table: &str,
    columns: &Columns,
    id: i64,
    before: &Image,
    after: &Image,
) -> std::result::Result<(), Stop> {
    let mut set = Vec::new();
    let mut still = Vec::new();
    let mut values = Vec::new();
    for (name, old) in before {
        let new = after.get(name);
        if DERIVED.contains(&name.as_str()) || new == Some(old) {
            continue;
        }
        let name = columns.checked(name)?;
        values.push(columns.value(name, old)?);
        set.push(format!("{name} = ?{}", values.len()));
        values.push(columns.value(name, new.unwrap_or(&serde_json::Value::Null))?);
        still.push(format!(" AND {name} IS ?{}", values.len()));
    }
    if set.is_empty() {
        return Ok(());
    }
    values.push(Value::Integer(id));
    let (set, still, last) = (set.join(", "), still.concat(), values.len());
    let sql = format!("UPDATE {table} SET {set} WHERE id = ?{last}{still}");
    match tx.execute(&sql, rusqlite::params_from_iter(values))? {
        1 => Ok(()),
        _ => Err(Stop::Conflict),
    }
}

/// The columns of a table with their declared types.
struct Columns(BTreeMap<String, String>);

impl Columns {
    fn of(conn: &Connection, table: &str) -> rusqlite::Result<Self> {
        let mut statement = conn.prepare_cached("SELECT name, type FROM pragma_table_info(?1)")?;
        let rows = statement.query_map([table], |row| Ok((row.get(0)?, row.get(1)?)))?;
        rows.collect::<rusqlite::Result<_>>().map(Self)
    }

    fn checked<'n>(&self, name: &'n str) -> Result<&'n str> {
        if self.0.contains_key(name) {
            Ok(name)
        } else {
            Err(StoreError::Unreadable { what: "undo step", detail: format!("column {name}") })
        }
    }

    fn value(&self, name: &str, stored: &serde_json::Value) -> Result<Value> {
        use serde_json::Value as Json;
        let broken = || StoreError::Unreadable { what: "undo step", detail: name.to_string() };
        let declared = self.0.get(name).map_or("", String::as_str);
        Ok(match (stored, declared) {
            (Json::Null, _) => Value::Null,
            (Json::Number(n), _) => Value::Integer(n.as_i64().ok_or_else(broken)?),
            (Json::String(text), "REAL") => Value::Real(text.parse().map_err(|_| broken())?),
            (Json::String(text), "BLOB") => Value::Blob(from_hex(text).ok_or_else(broken)?),
            (Json::String(text), _) => Value::Text(text.clone()),
            _ => return Err(broken()),
        })
    }

    /// SQL that makes a row's image: `row` is `old` or `new`.
    fn image_sql(&self, row: &str) -> String {
        let parts: Vec<String> = self
            .0
            .iter()
            .map(|(name, declared)| match declared.as_str() {
                // 17 significant digits give a double back exactly.
                "REAL" => format!(
                    "'{name}', iif({row}.{name} IS NULL, NULL, printf('%!.17g', {row}.{name}))"
                ),
                "BLOB" => {
                    format!("'{name}', iif({row}.{name} IS NULL, NULL, hex({row}.{name}))")
                }
                _ => format!("'{name}', {row}.{name}"),
            })
            .collect();
        format!("json_object({})", parts.join(", "))
    }
}

fn from_hex(text: &str) -> Option<Vec<u8>> {
    let digits = text.as_bytes();
    let pair = |p: &[u8]| {
        let high = char::from(p[0]).to_digit(16)?;
        let low = char::from(*p.get(1)?).to_digit(16)?;
        u8::try_from(high * 16 + low).ok()
    };
    digits.chunks(2).map(pair).collect()
}

/// Sets up this connection's triggers. They are temporary: other programs on the same file
/// neither see nor need them.
pub(super) fn start_capturing(conn: &Connection) -> Result<()> {
    conn.execute_batch(
        "CREATE TEMP TABLE capturing (on_now INTEGER NOT NULL);
         INSERT INTO capturing VALUES (0);
         CREATE TEMP TABLE captured (
             seq INTEGER PRIMARY KEY, \"table\" TEXT, id INTEGER, before TEXT, after TEXT);",
    )?;
    for table in TABLES {
        let columns = Columns::of(conn, table)?;
        let (old, new) = (columns.image_sql("old"), columns.image_sql("new"));
        let cases = [
            ("insert", "new.id", "NULL", new.as_str()),
            ("update", "old.id", old.as_str(), new.as_str()),
            ("delete", "old.id", old.as_str(), "NULL"),
        ];
        for (event, id, before, after) in cases {
            conn.execute_batch(&format!(
                "CREATE TEMP TRIGGER capture_{table}_{event} AFTER {event} ON main.{table}
                 WHEN (SELECT on_now FROM capturing) BEGIN
                     INSERT INTO captured (\"table\", id, before, after)
                     VALUES ('{table}', {id}, {before}, {after});
                 END;"
            ))?;
        }
    }
    Ok(())
}

fn capture(conn: &Connection, on: bool) -> Result<()> {
    conn.prepare_cached("UPDATE capturing SET on_now = ?1")?.execute([on])?;
    conn.prepare_cached("DELETE FROM captured")?.execute([])?;
    Ok(())
}

fn take_captured(conn: &Connection) -> Result<Vec<Change>> {
    let mut statement =
        conn.prepare_cached("SELECT \"table\", id, before, after FROM captured ORDER BY seq")?;
    let rows =
        statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?;
    let mut changes = Vec::new();
    for row in rows {
        let (table, id, before, after): (String, i64, Option<String>, Option<String>) = row?;
        let image = |text: Option<String>| -> Result<Option<Image>> {
            text.map(|t| super::values::from_json(&t, "changed row")).transpose()
        };
        let change = Change { table, id, before: image(before)?, after: image(after)? };
        if !only_derived(&change) {
            changes.push(change);
        }
    }
    Ok(changes)
}

fn only_derived(change: &Change) -> bool {
    let (Some(before), Some(after)) = (&change.before, &change.after) else { return false };
    before.iter().all(|(name, old)| {
        DERIVED.contains(&name.as_str()) || after.get(name).is_some_and(|new| new == old)
    })
}
