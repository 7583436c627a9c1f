-- Schema 2 of the library: frame indexes. Never edited once landed: changes go into the next file.

-- What the `video` room knows of a file's packets, so that opening it again is quick. It can be
-- built again at any time; the oldest rows are dropped.
CREATE TABLE frame_index (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    -- BLAKE3 over size, first and last MiB.
    quick_hash   TEXT NOT NULL UNIQUE,
    -- When the file was last changed, nanoseconds since 1970, where the system tells.
    file_time_ns INTEGER,
    -- BLAKE3 over all of the file, once it was read through.
    full_hash    TEXT,
    packets      BLOB NOT NULL
) STRICT;
