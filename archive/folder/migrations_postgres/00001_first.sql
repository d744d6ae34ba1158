-- The tables of the archive on PostgreSQL: those that the migrations beside these make on SQLite, column by column.
-- Texts are compared by their bytes, as SQLite does. A newer program adds columns and tables only, so that older ones
-- on other computers go on meanwhile.

-- +goose Up
CREATE TABLE athletes (
	id         TEXT COLLATE "C" PRIMARY KEY,
	name       TEXT COLLATE "C" NOT NULL,
	height_cm  DOUBLE PRECISION,
	birth_year INTEGER,
	notes      TEXT NOT NULL DEFAULT '',
	team       TEXT NOT NULL DEFAULT '',
	consent_on TEXT NOT NULL DEFAULT '',
	keep_until TEXT NOT NULL DEFAULT '',
	example    BOOLEAN NOT NULL DEFAULT FALSE,
	created_at TEXT COLLATE "C" NOT NULL
);

CREATE TABLE visits (
	id         TEXT COLLATE "C" PRIMARY KEY,
	athlete_id TEXT COLLATE "C" NOT NULL REFERENCES athletes(id) ON DELETE CASCADE,
	date       TEXT COLLATE "C" NOT NULL,
	condition  TEXT NOT NULL CHECK (condition IN ('fresh', 'loaded', 'fatigued')),
	load_kg    DOUBLE PRECISION,
	notes      TEXT NOT NULL DEFAULT ''
);
CREATE INDEX visits_of_athlete ON visits(athlete_id, date);

CREATE TABLE files (
	sha256     TEXT COLLATE "C" PRIMARY KEY CHECK (length(sha256) = 64),
	size_bytes BIGINT NOT NULL,
	added_at   TEXT COLLATE "C" NOT NULL
);

CREATE TABLE clips (
	id          TEXT COLLATE "C" PRIMARY KEY,
	visit_id    TEXT COLLATE "C" NOT NULL REFERENCES visits(id) ON DELETE CASCADE,
	athlete_id  TEXT COLLATE "C" NOT NULL REFERENCES athletes(id) ON DELETE CASCADE,
	name        TEXT NOT NULL,
	sha256      TEXT COLLATE "C" NOT NULL REFERENCES files(sha256),
	tempo       TEXT NOT NULL DEFAULT '',
	height_cm   DOUBLE PRECISION,
	capture_fps DOUBLE PRECISION,
	trim_from_s DOUBLE PRECISION,
	trim_to_s   DOUBLE PRECISION,
	added_at    TEXT COLLATE "C" NOT NULL,
	UNIQUE (athlete_id, sha256)
);
CREATE INDEX clips_of_visit ON clips(visit_id);
CREATE INDEX clips_by_file ON clips(sha256);

CREATE TABLE marks (
	clip_id TEXT COLLATE "C" PRIMARY KEY REFERENCES clips(id) ON DELETE CASCADE,
	doc     TEXT NOT NULL
);

CREATE TABLE results (
	id             TEXT COLLATE "C" PRIMARY KEY,
	clip_id        TEXT COLLATE "C" NOT NULL UNIQUE REFERENCES clips(id) ON DELETE CASCADE,
	revision       INTEGER NOT NULL,
	correction_seq INTEGER NOT NULL DEFAULT 0,
	created_at     TEXT NOT NULL
);

CREATE TABLE result_files (
	result_id TEXT COLLATE "C" NOT NULL REFERENCES results(id) ON DELETE CASCADE,
	name      TEXT COLLATE "C" NOT NULL,
	sha256    TEXT COLLATE "C" NOT NULL REFERENCES files(sha256),
	PRIMARY KEY (result_id, name)
);
CREATE INDEX result_files_by_file ON result_files(sha256);

CREATE TABLE corrections (
	id         TEXT COLLATE "C" PRIMARY KEY,
	clip_id    TEXT COLLATE "C" NOT NULL REFERENCES clips(id) ON DELETE CASCADE,
	seq        INTEGER NOT NULL,
	doc        TEXT NOT NULL,
	what       TEXT NOT NULL,
	created_at TEXT NOT NULL,
	undone     BOOLEAN NOT NULL DEFAULT FALSE,
	UNIQUE (clip_id, seq)
);

CREATE TABLE comparisons (
	id         TEXT COLLATE "C" PRIMARY KEY,
	athlete_id TEXT COLLATE "C" NOT NULL REFERENCES athletes(id) ON DELETE CASCADE,
	created_at TEXT COLLATE "C" NOT NULL
);
CREATE INDEX comparisons_of_athlete ON comparisons(athlete_id);

CREATE TABLE comparison_clips (
	comparison_id TEXT COLLATE "C" NOT NULL REFERENCES comparisons(id) ON DELETE CASCADE,
	position      INTEGER NOT NULL,
	clip_id       TEXT COLLATE "C" NOT NULL REFERENCES clips(id),
	PRIMARY KEY (comparison_id, position)
);
CREATE INDEX comparison_clips_by_clip ON comparison_clips(clip_id);

CREATE TABLE comparison_files (
	comparison_id TEXT COLLATE "C" NOT NULL REFERENCES comparisons(id) ON DELETE CASCADE,
	name          TEXT COLLATE "C" NOT NULL,
	sha256        TEXT COLLATE "C" NOT NULL REFERENCES files(sha256),
	PRIMARY KEY (comparison_id, name)
);
CREATE INDEX comparison_files_by_file ON comparison_files(sha256);

CREATE TABLE jobs (
	id            TEXT COLLATE "C" PRIMARY KEY,
	clip_id       TEXT COLLATE "C" REFERENCES clips(id) ON DELETE CASCADE,
	comparison_id TEXT COLLATE "C" REFERENCES comparisons(id) ON DELETE CASCADE,
	kind          TEXT NOT NULL CHECK (kind IN ('measure', 'report', 'analyze', 'render')),
	state         TEXT NOT NULL CHECK (state IN ('waiting', 'running', 'done', 'failed', 'cancelled')),
	options       TEXT NOT NULL DEFAULT '',
	stage         TEXT NOT NULL DEFAULT '',
	done          INTEGER NOT NULL DEFAULT 0,
	total         INTEGER NOT NULL DEFAULT 0,
	error         TEXT NOT NULL DEFAULT '',
	hint          TEXT NOT NULL DEFAULT '',
	attempt       INTEGER NOT NULL DEFAULT 0,
	created_at    TEXT COLLATE "C" NOT NULL,
	started_at    TEXT,
	ended_at      TEXT,
	ends          INTEGER NOT NULL DEFAULT 0,
	CHECK ((clip_id IS NULL) <> (comparison_id IS NULL)),
	CHECK ((kind = 'report') = (clip_id IS NULL))
);
CREATE INDEX jobs_by_state ON jobs(state, kind, id);
CREATE INDEX jobs_of_clip ON jobs(clip_id);
CREATE INDEX jobs_of_comparison ON jobs(comparison_id);

-- Files that are about to get or lose their row, a list for each who does it: what in a data folder lies in tmp.
CREATE TABLE underway (
	list   TEXT NOT NULL,
	sha256 TEXT COLLATE "C" NOT NULL,
	since  TEXT COLLATE "C" NOT NULL,
	PRIMARY KEY (list, sha256)
);
CREATE INDEX underway_by_file ON underway(sha256);

-- +goose Down
DROP TABLE underway;
DROP TABLE jobs;
DROP TABLE comparison_files;
DROP TABLE comparison_clips;
DROP TABLE comparisons;
DROP TABLE corrections;
DROP TABLE result_files;
DROP TABLE results;
DROP TABLE marks;
DROP TABLE clips;
DROP TABLE files;
DROP TABLE visits;
DROP TABLE athletes;
