-- +goose Up
-- How often the program that reads the clip has ended by itself at the job. Attempts
-- counted the ends of the server too, for which no clip is to blame: they start anew.
ALTER TABLE jobs ADD COLUMN ends INTEGER NOT NULL DEFAULT 0;
UPDATE jobs SET attempt = 0 WHERE state IN ('waiting', 'running');

-- +goose Down
ALTER TABLE jobs DROP COLUMN ends;
