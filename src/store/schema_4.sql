-- Schema 4 of the library: club heads. Never edited once landed: changes go into the next file.

-- Marks of the kind 'club_head' are new: one a frame, whose number `part` holds. The table is as
-- it was; a program that does not know the kind is kept from reading it.
