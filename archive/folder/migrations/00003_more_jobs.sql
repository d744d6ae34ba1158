-- +goose Up
-- A clip can be measured again by a job, and a report of a comparison made by one.
CREATE TABLE jobs_of_all_kinds (
	id            TEXT PRIMARY KEY,
	clip_id       TEXT REFERENCES clips(id) ON DELETE CASCADE,
	comparison_id TEXT REFERENCES comparisons(id) ON DELETE CASCADE,
	kind          TEXT NOT NULL CHECK (kind IN ('measure', 'report', 'analyze', 'render')),
	state         TEXT NOT NULL CHECK (state IN ('waiting', 'running', 'done', 'failed', 'cancelled')),
	options       TEXT NOT NULL DEFAULT '',
	stage         TEXT NOT NULL DEFAULT '',
	done          INTEGER NOT NULL DEFAULT 0,
	total         INTEGER NOT NULL DEFAULT 0,
	error         TEXT NOT NULL DEFAULT '',
	hint          TEXT NOT NULL DEFAULT '',
	attempt       INTEGER NOT NULL DEFAULT 0,
	created_at    TEXT NOT NULL,
	started_at    TEXT,
	ended_at      TEXT,
	ends          INTEGER NOT NULL DEFAULT 0,
	CHECK ((clip_id IS NULL) <> (comparison_id IS NULL)),
	CHECK ((kind = 'report') = (clip_id IS NULL))
) STRICT;
INSERT INTO jobs_of_all_kinds (id, clip_id, kind, state, options, stage, done, total, error, hint, attempt, created_at, started_at, ended_at, ends)
	SELECT id, clip_id, kind, state, options, stage, done, total, error, hint, attempt, created_at, started_at, ended_at, ends FROM jobs;
DROP TABLE jobs;
ALTER TABLE jobs_of_all_kinds RENAME TO jobs;
CREATE INDEX jobs_by_state ON jobs(state, kind, id);
CREATE INDEX jobs_of_clip ON jobs(clip_id);
CREATE INDEX jobs_of_comparison ON jobs(comparison_id);

-- +goose Down
DELETE FROM jobs WHERE kind NOT IN ('analyze', 'render');
CREATE TABLE jobs_of_clips (
	id         TEXT PRIMARY KEY,
	clip_id    TEXT NOT NULL REFERENCES clips(id) ON DELETE CASCADE,
	kind       TEXT NOT NULL CHECK (kind IN ('analyze', 'render')),
	state      TEXT NOT NULL CHECK (state IN ('waiting', 'running', 'done', 'failed', 'cancelled')),
	options    TEXT NOT NULL DEFAULT '',
	stage      TEXT NOT NULL DEFAULT '',
	done       INTEGER NOT NULL DEFAULT 0,
	total      INTEGER NOT NULL DEFAULT 0,
	error      TEXT NOT NULL DEFAULT '',
	hint       TEXT NOT NULL DEFAULT '',
	attempt    INTEGER NOT NULL DEFAULT 0,
	created_at TEXT NOT NULL,
	started_at TEXT,
	ended_at   TEXT,
	ends       INTEGER NOT NULL DEFAULT 0
) STRICT;
INSERT INTO jobs_of_clips SELECT id, clip_id, kind, state, options, stage, done, total, error, hint, attempt, created_at, started_at, ended_at, ends FROM jobs;
DROP TABLE jobs;
ALTER TABLE jobs_of_clips RENAME TO jobs;
CREATE INDEX jobs_by_state ON jobs(state, kind, id);
CREATE INDEX jobs_of_clip ON jobs(clip_id);
