-- +goose Up
-- Of an athlete: a group of them, when they agreed to be kept, and until when. Of a clip: the part that is measured, in
-- seconds of the file, and what a coach marked on its frames.
ALTER TABLE athletes ADD COLUMN team TEXT NOT NULL DEFAULT '';
ALTER TABLE athletes ADD COLUMN consent_on TEXT NOT NULL DEFAULT '';
ALTER TABLE athletes ADD COLUMN keep_until TEXT NOT NULL DEFAULT '';
ALTER TABLE clips ADD COLUMN trim_from_s REAL;
ALTER TABLE clips ADD COLUMN trim_to_s REAL;
CREATE TABLE marks (
	clip_id TEXT PRIMARY KEY REFERENCES clips(id) ON DELETE CASCADE,
	doc     TEXT NOT NULL
) STRICT;

-- +goose Down
DROP TABLE marks;
ALTER TABLE clips DROP COLUMN trim_to_s;
ALTER TABLE clips DROP COLUMN trim_from_s;
ALTER TABLE athletes DROP COLUMN keep_until;
ALTER TABLE athletes DROP COLUMN consent_on;
ALTER TABLE athletes DROP COLUMN team;
