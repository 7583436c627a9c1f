//! Swings, their marks, results and tape checks.

use rusqlite::{OptionalExtension, Row, params};

use super::people::found;
use super::values::{finite, from_json, json, word, word_at};
use super::{BlockId, Edit, Library, MarkId, RecordingId, Result, SessionId, StoreError, SwingId};
use crate::domain::{
    Club, FoundSwing, FrameIndex, GroundAnswer, ImagePoint, Mark, MarkKind, Part, Pixels, PlacedBy,
    PlacedMark, Quantity, Register, Reviewable, Seconds, Setup, SwingKind, SwingMarks, SwingResult,
};

/// Which swings are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Of {
    /// All of a session.
    Session(SessionId),
    /// Those of one recording.
    Recording(RecordingId),
    /// Those of one block.
    Block(BlockId),
}

impl Of {
    fn column(self) -> (&'static str, i64) {
        match self {
            Self::Session(id) => ("swing.session_id", id.0),
            Self::Recording(id) => ("swing.recording_id", id.0),
            Self::Block(id) => ("swing.block_id", id.0),
        }
    }
}

/// A swing to be added.
#[derive(Clone, Debug, PartialEq)]
pub struct NewSwing {
    /// The recording it is on; `None`: it has none (invented or written down by hand).
    pub recording: Option<RecordingId>,
    /// The block it belongs to.
    pub block: Option<BlockId>,
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// The club, where it differs from the block's and the set-up's.
    pub club: Option<Club>,
    /// When the ball was struck.
    pub strike_time: Option<Seconds>,
    /// Who said so.
    pub strike_by: PlacedBy,
    /// Its numbers are invented, and it is shown as such.
    pub invented: bool,
}

impl NewSwing {
    /// A swing of a recording, as the program found it or a person marked it.
    pub fn on(recording: RecordingId, kind: SwingKind, time: Seconds, by: PlacedBy) -> Self {
        Self {
            recording: Some(recording),
            block: None,
            kind,
            club: None,
            strike_time: Some(time),
            strike_by: by,
            invented: false,
        }
    }
}

/// A swing of the library.
#[derive(Clone, Debug, PartialEq)]
pub struct SwingRow {
    /// Its number in the library.
    pub id: SwingId,
    /// Its session.
    pub session: SessionId,
    /// Its recording, where it has one.
    pub recording: Option<RecordingId>,
    /// Its block, where it is in one.
    pub block: Option<BlockId>,
    /// Strike or practice swing.
    pub kind: SwingKind,
    /// Its own club, or else the block's; the set-up's is not looked at here.
    pub club: Option<Club>,
    /// When the ball was struck.
    pub strike_time: Option<Seconds>,
    /// Who said so.
    pub strike_by: PlacedBy,
    /// Why it is left out of the statistics; `None`: it counts.
    pub left_out: Option<String>,
    /// Tags such as fat, thin, toe.
    pub tags: Vec<String>,
    /// Free notes.
    pub notes: String,
    /// What a person looked at and accepted.
    pub confirmed: Vec<Reviewable>,
    /// Its numbers are invented.
    pub invented: bool,
    /// What a person said it left in the ground.
    pub ground: Option<GroundAnswer>,
    /// What the program found.
    pub found: Option<FoundSwing>,
    /// The numbers, from when they were last computed.
    pub result: Option<SwingResult>,
    /// Nothing the result was computed from has changed since.
    pub result_is_current: bool,
}

/// A distance read off a tape beside the program's own.
#[derive(Clone, Debug, PartialEq)]
pub struct TapeCheck {
    /// Which distance from the ball.
    pub quantity: Quantity,
    /// What the tape said, mm ahead of the ball.
    pub tape_mm: f64,
    /// Free notes.
    pub notes: String,
}

impl Edit<'_> {
    /// Adds a swing to a session.
    ///
    /// # Errors
    /// [`StoreError::BadValue`] for a time that is not finite.
    pub fn add_swing(&self, session: SessionId, new: &NewSwing) -> Result<SwingId> {
        let time = new.strike_time.map(|t| finite(t.0, "strike time")).transpose()?;
        self.conn
            .prepare_cached(
                "INSERT INTO swing (session_id, recording_id, block_id, kind, club, strike_time_s,
                 strike_by, tags, notes, confirmed, invented)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, '[]', '', '[]', ?8)",
            )?
            .execute(params![
                session,
                new.recording,
                new.block,
                word(&new.kind)?,
                new.club.as_ref().map(|c| &c.0),
                time,
                word(&new.strike_by)?,
                new.invented
            ])?;
        Ok(SwingId(self.conn.last_insert_rowid()))
    }

    /// Puts swings into a block, or with `None` out of any.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if one of them is not there.
    pub fn put_in_block(&self, swings: &[SwingId], block: Option<BlockId>) -> Result<()> {
        for &id in swings {
            self.set(id, "block_id", block)?;
        }
        Ok(())
    }

    /// Leaves a swing out of the statistics for a reason, or with `None` takes it in again.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such swing.
    pub fn leave_out(&self, id: SwingId, reason: Option<&str>) -> Result<()> {
        self.set(id, "left_out", reason)
    }

    /// Says whether it was a strike or a practice swing.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such swing.
    pub fn set_kind(&self, id: SwingId, kind: SwingKind) -> Result<()> {
        self.set(id, "kind", word(&kind)?)
    }

    /// Gives a swing a club of its own, or with `None` the block's.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such swing.
    pub fn set_club(&self, id: SwingId, club: Option<&Club>) -> Result<()> {
        self.set(id, "club", club.map(|c| &c.0))
    }

    /// Sets when the ball was struck.
    ///
    /// # Errors
    /// [`StoreError::BadValue`] for a time that is not finite.
    pub fn set_strike_time(&self, id: SwingId, time: Seconds, by: PlacedBy) -> Result<()> {
        self.set(id, "strike_time_s", finite(time.0, "strike time")?)?;
        self.set(id, "strike_by", word(&by)?)
    }

    /// Sets the tags of a swing.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such swing.
    pub fn set_tags(&self, id: SwingId, tags: &[String]) -> Result<()> {
        self.set(id, "tags", json(&tags.to_vec(), "tags")?)
    }

    /// Sets the notes of a swing.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such swing.
    pub fn set_swing_notes(&self, id: SwingId, notes: &str) -> Result<()> {
        self.set(id, "notes", notes)
    }

    /// Notes what a person looked at and accepted.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such swing.
    pub fn set_confirmed(&self, id: SwingId, confirmed: &[Reviewable]) -> Result<()> {
        self.set(id, "confirmed", json(&confirmed.to_vec(), "confirmations")?)
    }

    /// Keeps what a person says the swing left in the ground; `None`: the program is believed.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such swing.
    pub fn set_ground(&self, id: SwingId, answer: Option<GroundAnswer>) -> Result<()> {
        self.set(id, "ground", answer.map(|answer| word(&answer)).transpose()?)
    }

    /// Where a person saw a mark begin or end there is one, whatever was said before.
    fn take_back_no_mark(&self, id: SwingId) -> Result<()> {
        for answer in GroundAnswer::ALL.into_iter().filter(|answer| !answer.is_mark()) {
            let sql = "UPDATE swing SET ground = NULL WHERE id = ?1 AND ground = ?2";
            self.conn.execute(sql, params![id, word(&answer)?])?;
        }
        Ok(())
    }

    /// Keeps what the program found for a swing.
    ///
    /// # Errors
    /// [`StoreError::BadValue`] for numbers that are not finite.
    pub fn set_found(&self, id: SwingId, swing: &FoundSwing) -> Result<()> {
        self.set(id, "found", json(swing, "finding")?)
    }

    /// Every swing's numbers are out of date: something that all of them stand on has changed.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn measure_all_anew(&self) -> Result<()> {
        self.conn.execute("UPDATE swing SET result_current = 0", [])?;
        Ok(())
    }

    /// Keeps a swing's numbers; they are current until something they stand on changes.
    ///
    /// # Errors
    /// [`StoreError::BadValue`] for numbers that are not finite.
    pub fn set_result(&self, id: SwingId, result: &SwingResult) -> Result<()> {
        let start = result.divot_start_offset.as_ref();
        let low = result.low_point.as_ref().map(|(low, _)| low);
        let rows = self
            .conn
            .prepare_cached(
                "UPDATE swing SET result = ?2, result_current = 1, start_mm = ?3, start_u_mm = ?4,
                 end_mm = ?5, low_point_mm = ?6, low_point_u_mm = ?7, attack_deg = ?8,
                 contact_order = ?9 WHERE id = ?1",
            )?
            .execute(params![
                id,
                json(result, "result")?,
                start.map(|m| m.value),
                start.map(|m| m.standard_uncertainty()),
                result.divot_end_offset.as_ref().map(|m| m.value),
                low.map(|m| m.value),
                low.map(|m| m.standard_uncertainty()),
                result.attack_angle.as_ref().map(|m| m.value),
                result.contact_order.map(|order| word(&order)).transpose()?,
            ])?;
        found(rows, "swing")
    }

    /// Places a mark of a recording (`swing`: `None`) or of one of its swings, in the place of
    /// an earlier one of the same kind. A program's mark never takes the place of a person's:
    /// then nothing happens and `None` comes back.
    ///
    /// # Errors
    /// [`StoreError::BadValue`] for coordinates that are not finite.
    pub fn set_mark(
        &self,
        recording: RecordingId,
        swing: Option<SwingId>,
        placed: &PlacedMark,
    ) -> Result<Option<MarkId>> {
        let point = placed.mark.point;
        let (x, y) = (finite(point.x, "mark")?, finite(point.y, "mark")?);
        let sigma = placed.sigma.map(|s| finite(s.0, "mark's uncertainty")).transpose()?;
        let frame = placed.mark.frame.map(frame_number).transpose()?;
        let register = placed.mark.register;
        let read_in = register.map(|register| frame_number(register.frame)).transpose()?;
        let register = register.map(|r| finite(r.sigma.0, "mark's register")).transpose()?;
        let of_ground = matches!(placed.kind, MarkKind::DivotStart | MarkKind::DivotEnd);
        if let Some(swing) = swing.filter(|_| of_ground && placed.by == PlacedBy::Person) {
            self.take_back_no_mark(swing)?;
        }
        let id = self
            .conn
            .prepare_cached(
                "INSERT INTO mark (recording_id, swing_id, kind, part, x_px, y_px, frame, sigma_px,
                 placed_by, confidence, read_in, register_px)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)
                 ON CONFLICT DO UPDATE SET x_px = excluded.x_px, y_px = excluded.y_px,
                 frame = excluded.frame, sigma_px = excluded.sigma_px,
                 placed_by = excluded.placed_by, confidence = excluded.confidence,
                 read_in = excluded.read_in, register_px = excluded.register_px
                 WHERE excluded.placed_by = 'person' OR mark.placed_by = 'program'
                 RETURNING id",
            )?
            .query_row(
                params![
                    recording,
                    swing,
                    word(&placed.kind)?,
                    part_number(placed.part)?,
                    x,
                    y,
                    frame,
                    sigma,
                    word(&placed.by)?,
                    placed.confidence,
                    read_in,
                    register
                ],
                |row| row.get(0),
            )
            .optional()?;
        Ok(id)
    }

    /// Removes a mark, if it is there.
    ///
    /// # Errors
    /// When the library cannot be written.
    pub fn remove_mark(
        &self,
        recording: RecordingId,
        swing: Option<SwingId>,
        kind: MarkKind,
        part: Part,
    ) -> Result<()> {
        self.conn.execute(
            "DELETE FROM mark WHERE recording_id = ?1 AND swing_id IS ?2 AND kind = ?3
             AND part = ?4",
            params![recording, swing, word(&kind)?, part_number(part)?],
        )?;
        Ok(())
    }

    /// Notes what a tape said about a swing; what it said of the same distance before gives way.
    ///
    /// # Errors
    /// [`StoreError::BadValue`] for a length that is not finite.
    pub fn add_tape_check(&self, swing: SwingId, check: &TapeCheck) -> Result<()> {
        let (kind, length) = (word(&check.quantity)?, finite(check.tape_mm, "tape length")?);
        self.conn.execute(
            "DELETE FROM tape_check WHERE swing_id = ?1 AND kind = ?2",
            params![swing, kind],
        )?;
        self.conn.execute(
            "INSERT INTO tape_check (swing_id, kind, tape_mm, notes) VALUES (?1, ?2, ?3, ?4)",
            params![swing, kind, length, check.notes],
        )?;
        Ok(())
    }

    fn set(&self, id: SwingId, column: &'static str, value: impl rusqlite::ToSql) -> Result<()> {
        let sql = format!("UPDATE swing SET {column} = ?2 WHERE id = ?1");
        found(self.conn.prepare_cached(&sql)?.execute(params![id, value])?, "swing")
    }
}

impl Library {
    /// The swings meant, in the order they were played: by recording, then by time.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn swings(&self, of: Of) -> Result<Vec<SwingRow>> {
        let (column, id) = of.column();
        let sql = format!(
            "{SWING_SQL} WHERE {column} = ?1 ORDER BY recording_id, strike_time_s, swing.id"
        );
        self.rows(&sql, [id], swing_from)
    }

    /// One swing.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such swing.
    pub fn swing(&self, id: SwingId) -> Result<SwingRow> {
        self.one(&format!("{SWING_SQL} WHERE swing.id = ?1"), [id], "swing", swing_from)
    }

    /// The swings of a recording whose numbers are missing or out of date.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn swings_to_measure(&self, recording: RecordingId) -> Result<Vec<SwingId>> {
        let sql = "SELECT id FROM swing WHERE recording_id = ?1 AND result_current = 0
             ORDER BY strike_time_s, id";
        self.rows(sql, [recording], |row| Ok(row.get(0)?))
    }

    /// The marks of a recording (`swing`: `None`) or of one of its swings.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn marks(&self, recording: RecordingId, swing: Option<SwingId>) -> Result<Vec<PlacedMark>> {
        let sql = "SELECT * FROM mark WHERE recording_id = ?1 AND swing_id IS ?2
             ORDER BY kind, part";
        self.rows(sql, params![recording, swing], mark_from)
    }

    /// Everything a person said about a recording: what was set up, and the marks a person
    /// made, one entry for each swing in the order of [`Library::swings`].
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is no such recording.
    pub fn setup(&self, recording: RecordingId) -> Result<Setup> {
        let mut setup = self.shared_setup(recording)?;
        let by_person = |mark: &PlacedMark| mark.by == PlacedBy::Person;
        for mark in self.marks(recording, None)?.into_iter().filter(by_person) {
            if mark.kind == MarkKind::Origin {
                setup.origin = Some(mark.mark);
            }
        }
        for swing in self.swings(Of::Recording(recording))? {
            let marks = self.marks(recording, Some(swing.id))?;
            let person = swing.strike_by == PlacedBy::Person;
            let mut given = SwingMarks {
                strike_time: swing.strike_time.filter(|_| person),
                ground: swing.ground,
                ..SwingMarks::default()
            };
            for mark in marks.iter().filter(|m| by_person(m)) {
                given.put(mark.kind, mark.part, Some(mark.mark));
            }
            setup.swings.push(given);
        }
        Ok(setup)
    }

    /// What tapes said about a swing.
    ///
    /// # Errors
    /// When the library cannot be read.
    pub fn tape_checks(&self, swing: SwingId) -> Result<Vec<TapeCheck>> {
        self.rows("SELECT * FROM tape_check WHERE swing_id = ?1 ORDER BY id", [swing], |row| {
            Ok(TapeCheck {
                quantity: word_at(row, "kind", "tape check")?,
                tape_mm: row.get("tape_mm")?,
                notes: row.get("notes")?,
            })
        })
    }
}

const SWING_SQL: &str = "SELECT swing.*, block.club AS block_club FROM swing
    LEFT JOIN block ON block.id = block_id";

fn swing_from(row: &Row<'_>) -> Result<SwingRow> {
    let own: Option<String> = row.get("club")?;
    let block: Option<String> = row.get("block_club")?;
    // Findings and numbers can be had again from the recording: what cannot be read any more
    // is taken as not there yet.
    let again = |text: Option<String>| text.filter(|t| !t.is_empty());
    let result = again(row.get("result")?).and_then(|t| from_json(&t, "result").ok());
    Ok(SwingRow {
        id: row.get("id")?,
        session: row.get("session_id")?,
        recording: row.get("recording_id")?,
        block: row.get("block_id")?,
        kind: word_at(row, "kind", "swing")?,
        club: own.or(block).map(Club),
        strike_time: row.get::<_, Option<f64>>("strike_time_s")?.map(Seconds),
        strike_by: word_at(row, "strike_by", "swing")?,
        left_out: row.get("left_out")?,
        tags: from_json(&row.get::<_, String>("tags")?, "tags")?,
        notes: row.get("notes")?,
        confirmed: from_json(&row.get::<_, String>("confirmed")?, "confirmations")?,
        invented: row.get("invented")?,
        ground: ground_of(row)?,
        found: again(row.get("found")?).and_then(|t| from_json(&t, "finding").ok()),
        result_is_current: result.is_some() && row.get("result_current")?,
        result,
    })
}

fn ground_of(row: &Row<'_>) -> Result<Option<GroundAnswer>> {
    match row.get::<_, Option<String>>("ground")? {
        Some(_) => word_at(row, "ground", "swing").map(Some),
        None => Ok(None),
    }
}

fn mark_from(row: &Row<'_>) -> Result<PlacedMark> {
    let unreadable =
        |_| StoreError::Unreadable { what: "mark", detail: "a frame number below zero".into() };
    let frame_at = |column: &str| -> Result<Option<FrameIndex>> {
        let number: Option<i64> = row.get(column)?;
        Ok(number.map(usize::try_from).transpose().map_err(unreadable)?.map(FrameIndex))
    };
    let sigma = row.get::<_, Option<f64>>("register_px")?.map(Pixels);
    let register = frame_at("read_in")?.zip(sigma).map(|(frame, sigma)| Register { frame, sigma });
    let point = ImagePoint::new(row.get("x_px")?, row.get("y_px")?);
    let part = usize::try_from(row.get::<_, i64>("part")?).map_err(unreadable)?;
    Ok(PlacedMark {
        kind: word_at(row, "kind", "mark")?,
        part: Part(part),
        mark: Mark { point, frame: frame_at("frame")?, register },
        sigma: row.get::<_, Option<f64>>("sigma_px")?.map(Pixels),
        by: word_at(row, "placed_by", "mark")?,
        confidence: row.get("confidence")?,
    })
}

fn part_number(part: Part) -> Result<i64> {
    i64::try_from(part.0).map_err(|_| StoreError::BadValue { what: "number of a mark" })
}

fn frame_number(frame: FrameIndex) -> Result<i64> {
    i64::try_from(frame.0).map_err(|_| StoreError::BadValue { what: "frame number" })
}
