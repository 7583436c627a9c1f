-- Schema 5 of the library: what a person says of the ground. Never edited once landed: changes go
-- into the next file.

-- What a person said the swing left in the ground; NULL: nobody was asked.
ALTER TABLE swing ADD COLUMN ground TEXT;
DROP TRIGGER swing_changed;
CREATE TRIGGER swing_changed
    AFTER UPDATE OF kind, club, block_id, strike_time_s, strike_by, found, ground ON swing BEGIN
    UPDATE swing SET result_current = 0 WHERE id = new.id;
END;
