-- +goose Up
CREATE TABLE athletes (
	id         TEXT PRIMARY KEY,
	name       TEXT NOT NULL,
	height_cm  REAL,
	birth_year INTEGER,
	notes      TEXT NOT NULL DEFAULT '',
	example    INTEGER NOT NULL DEFAULT 0,
	created_at TEXT NOT NULL
) STRICT;

CREATE TABLE visits (
	id         TEXT PRIMARY KEY,
	athlete_id TEXT NOT NULL REFERENCES athletes(id) ON DELETE CASCADE,
	date       TEXT NOT NULL,
	condition  TEXT NOT NULL CHECK (condition IN ('fresh', 'loaded', 'fatigued')),
	load_kg    REAL,
	notes      TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX visits_of_athlete ON visits(athlete_id, date);

CREATE TABLE files (
	sha256     TEXT PRIMARY KEY CHECK (length(sha256) = 64),
	size_bytes INTEGER NOT NULL,
	added_at   TEXT NOT NULL
) STRICT;

CREATE TABLE clips (
	id          TEXT PRIMARY KEY,
	visit_id    TEXT NOT NULL REFERENCES visits(id) ON DELETE CASCADE,
	athlete_id  TEXT NOT NULL REFERENCES athletes(id) ON DELETE CASCADE,
	name        TEXT NOT NULL,
	sha256      TEXT NOT NULL REFERENCES files(sha256),
	tempo       TEXT NOT NULL DEFAULT '',
	height_cm   REAL,
	capture_fps REAL,
	added_at    TEXT NOT NULL,
	UNIQUE (athlete_id, sha256)
) STRICT;
CREATE INDEX clips_of_visit ON clips(visit_id);
CREATE INDEX clips_by_file ON clips(sha256);

CREATE TABLE results (
	id             TEXT PRIMARY KEY,
	clip_id        TEXT NOT NULL UNIQUE REFERENCES clips(id) ON DELETE CASCADE,
	revision       INTEGER NOT NULL,
	correction_seq INTEGER NOT NULL DEFAULT 0,
	created_at     TEXT NOT NULL
) STRICT;

CREATE TABLE result_files (
	result_id TEXT NOT NULL REFERENCES results(id) ON DELETE CASCADE,
	name      TEXT NOT NULL,
	sha256    TEXT NOT NULL REFERENCES files(sha256),
	PRIMARY KEY (result_id, name)
) STRICT;
CREATE INDEX result_files_by_file ON result_files(sha256);

CREATE TABLE corrections (
	id         TEXT PRIMARY KEY,
	clip_id    TEXT NOT NULL REFERENCES clips(id) ON DELETE CASCADE,
	seq        INTEGER NOT NULL,
	doc        TEXT NOT NULL,
	what       TEXT NOT NULL,
	created_at TEXT NOT NULL,
	undone     INTEGER NOT NULL DEFAULT 0,
	UNIQUE (clip_id, seq)
) STRICT;

CREATE TABLE comparisons (
	id         TEXT PRIMARY KEY,
	athlete_id TEXT NOT NULL REFERENCES athletes(id) ON DELETE CASCADE,
	created_at TEXT NOT NULL
) STRICT;
CREATE INDEX comparisons_of_athlete ON comparisons(athlete_id);

CREATE TABLE comparison_clips (
	comparison_id TEXT NOT NULL REFERENCES comparisons(id) ON DELETE CASCADE,
	position      INTEGER NOT NULL,
	clip_id       TEXT NOT NULL REFERENCES clips(id),
	PRIMARY KEY (comparison_id, position)
) STRICT;
CREATE INDEX comparison_clips_by_clip ON comparison_clips(clip_id);

CREATE TABLE comparison_files (
	comparison_id TEXT NOT NULL REFERENCES comparisons(id) ON DELETE CASCADE,
	name          TEXT NOT NULL,
	sha256        TEXT NOT NULL REFERENCES files(sha256),
	PRIMARY KEY (comparison_id, name)
) STRICT;
CREATE INDEX comparison_files_by_file ON comparison_files(sha256);

CREATE TABLE jobs (
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
	ended_at   TEXT
) STRICT;
CREATE INDEX jobs_by_state ON jobs(state, kind, id);
CREATE INDEX jobs_of_clip ON jobs(clip_id);

-- +goose Down
DROP TABLE jobs;
DROP TABLE comparison_files;
DROP TABLE comparison_clips;
DROP TABLE comparisons;
DROP TABLE corrections;
DROP TABLE result_files;
DROP TABLE results;
DROP TABLE clips;
DROP TABLE files;
DROP TABLE visits;
DROP TABLE athletes;
