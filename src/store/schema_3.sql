-- What the file says of the phone a profile was made with, to offer it when it is seen again.
ALTER TABLE camera_profile ADD COLUMN camera TEXT NOT NULL DEFAULT '';
