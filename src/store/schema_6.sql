-- Schema 6 of the library: how well the frame in which a person's mark was read lies on the steadied
-- picture. Never edited once landed: changes go into the next file.

-- Of a mark that was brought into the steadied picture: the frame it was read in and the standard
-- uncertainty in each coordinate that this adds; NULL: it was not moved, or nobody kept it.
ALTER TABLE mark ADD COLUMN read_in INTEGER;
ALTER TABLE mark ADD COLUMN register_px REAL;
