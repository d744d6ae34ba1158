-- +goose Up
-- Several computers take jobs: each holds one by a lease that it renews, by the clock of the database. lapses counts
-- leases that ran out, tries attempts that failed for a reason that may pass; batch: whoever waits goes first.
ALTER TABLE jobs ADD COLUMN worker TEXT NOT NULL DEFAULT '';
ALTER TABLE jobs ADD COLUMN lease_until TIMESTAMPTZ;
ALTER TABLE jobs ADD COLUMN not_before TIMESTAMPTZ;
ALTER TABLE jobs ADD COLUMN lapses INTEGER NOT NULL DEFAULT 0;
ALTER TABLE jobs ADD COLUMN tries INTEGER NOT NULL DEFAULT 0;
ALTER TABLE jobs ADD COLUMN batch BOOLEAN NOT NULL DEFAULT FALSE;
CREATE INDEX jobs_to_take ON jobs(batch, created_at) WHERE state IN ('waiting', 'running');

-- +goose Down
DROP INDEX jobs_to_take;
ALTER TABLE jobs DROP COLUMN batch;
ALTER TABLE jobs DROP COLUMN tries;
ALTER TABLE jobs DROP COLUMN lapses;
ALTER TABLE jobs DROP COLUMN not_before;
ALTER TABLE jobs DROP COLUMN lease_until;
ALTER TABLE jobs DROP COLUMN worker;
