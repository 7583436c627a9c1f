-- Schema 7 of the library: whether a set-up carried over fits. Never edited once landed: changes go
-- into the next file.

-- JSON: the warning that the camera stands elsewhere than in the recording that the set-up was made
-- for; NULL: it stands there, or the two were not compared.
ALTER TABLE recording ADD COLUMN view_differs TEXT;
CREATE TRIGGER view_compared AFTER UPDATE OF view_differs ON recording BEGIN
    UPDATE swing SET result_current = 0 WHERE recording_id = new.id;
END;
