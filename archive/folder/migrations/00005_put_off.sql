-- +goose Up
-- tries counts attempts that failed for a reason that may pass, and not_before is when the next one is due; batch: jobs
-- that nobody waits for go after all others.
ALTER TABLE jobs ADD COLUMN batch INTEGER NOT NULL DEFAULT 0;
ALTER TABLE jobs ADD COLUMN tries INTEGER NOT NULL DEFAULT 0;
ALTER TABLE jobs ADD COLUMN not_before TEXT;

-- +goose Down
ALTER TABLE jobs DROP COLUMN not_before;
ALTER TABLE jobs DROP COLUMN tries;
ALTER TABLE jobs DROP COLUMN batch;
