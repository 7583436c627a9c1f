-- Schema 1 of the library. Never edited once landed: changes go into the next file.
-- Lengths in the unit their name says; pixel coordinates as in the displayed picture;
-- JSON columns hold domain types; booleans are 0 or 1.

CREATE TABLE golfer (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    name     TEXT NOT NULL,
    handed   TEXT NOT NULL,
    unit     TEXT NOT NULL,
    notes    TEXT NOT NULL,
    child    INTEGER NOT NULL,
    consent  TEXT NOT NULL,
    invented INTEGER NOT NULL
) STRICT;

CREATE TABLE session (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    golfer_id INTEGER NOT NULL REFERENCES golfer (id) ON DELETE CASCADE,
    date      TEXT NOT NULL,
    place     TEXT NOT NULL,
    surface   TEXT NOT NULL,
    lie       TEXT NOT NULL,
    camera    TEXT NOT NULL,
    cue       TEXT NOT NULL,
    notes     TEXT NOT NULL
) STRICT;
CREATE INDEX session_by_golfer ON session (golfer_id, date);

CREATE TABLE block (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    session_id INTEGER NOT NULL REFERENCES session (id) ON DELETE CASCADE,
    title      TEXT NOT NULL,
    phase      TEXT NOT NULL,
    ball       TEXT NOT NULL,
    drill      TEXT,
    club       TEXT,
    cue        TEXT NOT NULL,
    notes      TEXT NOT NULL
) STRICT;
CREATE INDEX block_by_session ON block (session_id);

CREATE TABLE camera_profile (
    id    INTEGER PRIMARY KEY AUTOINCREMENT,
    name  TEXT NOT NULL,
    lens  TEXT NOT NULL,
    notes TEXT NOT NULL
) STRICT;

-- One standing of the camera: recordings that share it share the doubt of its scale.
CREATE TABLE calibration (
    id                INTEGER PRIMARY KEY AUTOINCREMENT,
    session_id        INTEGER NOT NULL REFERENCES session (id) ON DELETE CASCADE,
    setup             TEXT NOT NULL,
    camera_profile_id INTEGER REFERENCES camera_profile (id) ON DELETE SET NULL
) STRICT;
CREATE INDEX calibration_by_session ON calibration (session_id);

CREATE TABLE recording (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    session_id     INTEGER NOT NULL REFERENCES session (id) ON DELETE CASCADE,
    calibration_id INTEGER REFERENCES calibration (id) ON DELETE SET NULL,
    path           TEXT NOT NULL,
    size_bytes     INTEGER NOT NULL,
    quick_hash     TEXT NOT NULL,
    full_hash      TEXT,
    timeline       BLOB,
    facts          TEXT,
    trouble        TEXT
) STRICT;
CREATE INDEX recording_by_session ON recording (session_id);
CREATE INDEX recording_by_hash ON recording (quick_hash);
CREATE INDEX recording_by_calibration ON recording (calibration_id);

CREATE TABLE swing (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    session_id     INTEGER NOT NULL REFERENCES session (id) ON DELETE CASCADE,
    recording_id   INTEGER REFERENCES recording (id) ON DELETE CASCADE,
    block_id       INTEGER REFERENCES block (id) ON DELETE SET NULL,
    kind           TEXT NOT NULL,
    club           TEXT,
    strike_time_s  REAL,
    strike_by      TEXT NOT NULL,
    left_out       TEXT,
    tags           TEXT NOT NULL,
    notes          TEXT NOT NULL,
    confirmed      TEXT NOT NULL,
    invented       INTEGER NOT NULL,
    found          TEXT,
    -- Derived from the columns above, the marks and the set-up; never part of an undo step.
    result         TEXT,
    result_current INTEGER NOT NULL DEFAULT 0,
    start_mm       REAL,
    start_u_mm     REAL,
    end_mm         REAL,
    low_point_mm   REAL,
    low_point_u_mm REAL,
    attack_deg     REAL,
    contact_order  TEXT
) STRICT;
CREATE INDEX swing_by_session ON swing (session_id);
CREATE INDEX swing_by_recording ON swing (recording_id, strike_time_s);
CREATE INDEX swing_by_block ON swing (block_id);
CREATE INDEX swing_to_measure ON swing (recording_id) WHERE result_current = 0;

-- A mark of a swing, or, where swing_id is NULL, of the whole recording.
CREATE TABLE mark (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    recording_id INTEGER NOT NULL REFERENCES recording (id) ON DELETE CASCADE,
    swing_id     INTEGER REFERENCES swing (id) ON DELETE CASCADE,
    kind         TEXT NOT NULL,
    part         INTEGER NOT NULL,
    x_px         REAL NOT NULL,
    y_px         REAL NOT NULL,
    frame        INTEGER,
    sigma_px     REAL,
    placed_by    TEXT NOT NULL,
    confidence   REAL
) STRICT;
-- SQLite takes NULLs as distinct in UNIQUE, so the recording's own marks count as swing 0.
CREATE UNIQUE INDEX mark_once ON mark (recording_id, ifnull(swing_id, 0), kind, part);
CREATE INDEX mark_by_swing ON mark (swing_id);

-- What a tape said, beside what the program says.
CREATE TABLE tape_check (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    swing_id INTEGER NOT NULL REFERENCES swing (id) ON DELETE CASCADE,
    kind     TEXT NOT NULL,
    tape_mm  REAL NOT NULL,
    notes    TEXT NOT NULL
) STRICT;
CREATE INDEX tape_check_by_swing ON tape_check (swing_id);

CREATE TABLE aim_window (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    golfer_id INTEGER NOT NULL REFERENCES golfer (id) ON DELETE CASCADE,
    club      TEXT NOT NULL,
    quantity  TEXT NOT NULL,
    low_mm    REAL NOT NULL,
    high_mm   REAL NOT NULL
) STRICT;
CREATE UNIQUE INDEX aim_window_once ON aim_window (golfer_id, club, quantity);

CREATE TABLE setting (
    key   TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Steps that can be undone (undone = 0) or redone (undone = 1). `changes` holds the row
-- images of the last time the step was done or undone; reverting them does the opposite.
CREATE TABLE edit (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    session_id INTEGER,
    words      TEXT NOT NULL,
    changes    TEXT NOT NULL,
    undone     INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX edit_by_scope ON edit (session_id, undone, id);

-- A result is current only until something it was computed from changes.
CREATE TRIGGER mark_added AFTER INSERT ON mark BEGIN
    UPDATE swing SET result_current = 0 WHERE id = new.swing_id
        OR (new.swing_id IS NULL AND recording_id = new.recording_id);
END;
CREATE TRIGGER mark_moved AFTER UPDATE ON mark BEGIN
    UPDATE swing SET result_current = 0 WHERE id = new.swing_id
        OR (new.swing_id IS NULL AND recording_id = new.recording_id);
END;
CREATE TRIGGER mark_removed AFTER DELETE ON mark BEGIN
    UPDATE swing SET result_current = 0 WHERE id = old.swing_id
        OR (old.swing_id IS NULL AND recording_id = old.recording_id);
END;
CREATE TRIGGER setup_changed AFTER UPDATE ON calibration BEGIN
    UPDATE swing SET result_current = 0 WHERE recording_id IN
        (SELECT id FROM recording WHERE calibration_id = new.id);
END;
CREATE TRIGGER setup_exchanged AFTER UPDATE OF calibration_id ON recording BEGIN
    UPDATE swing SET result_current = 0 WHERE recording_id = new.id;
END;
CREATE TRIGGER lens_changed AFTER UPDATE ON camera_profile BEGIN
    UPDATE swing SET result_current = 0 WHERE recording_id IN
        (SELECT recording.id FROM recording JOIN calibration ON calibration.id = calibration_id
         WHERE camera_profile_id = new.id);
END;
CREATE TRIGGER swing_changed AFTER UPDATE OF kind, club, block_id, strike_time_s, strike_by, found
    ON swing BEGIN
    UPDATE swing SET result_current = 0 WHERE id = new.id;
END;
