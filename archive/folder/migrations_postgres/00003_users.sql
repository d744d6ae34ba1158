-- +goose Up
-- Users, whose an athlete is, sessions and acts, as on SQLite; and the programs that work on jobs, with their last sign
-- of life by the clock of the database.
CREATE TABLE users (
	id         TEXT COLLATE "C" PRIMARY KEY,
	name       TEXT NOT NULL,
	role       TEXT NOT NULL CHECK (role IN ('coach', 'admin')),
	password   TEXT NOT NULL,
	created_at TEXT COLLATE "C" NOT NULL
);
CREATE UNIQUE INDEX users_by_name ON users(lower(name));
CREATE TABLE sessions (
	hash    TEXT COLLATE "C" PRIMARY KEY,
	user_id TEXT COLLATE "C" NOT NULL REFERENCES users(id) ON DELETE CASCADE,
	ends_at TEXT COLLATE "C" NOT NULL
);
CREATE INDEX sessions_of_user ON sessions(user_id);
CREATE TABLE acts (
	id      TEXT COLLATE "C" PRIMARY KEY,
	at      TEXT COLLATE "C" NOT NULL,
	who     TEXT NOT NULL,
	what    TEXT NOT NULL,
	kind    TEXT NOT NULL,
	thing   TEXT COLLATE "C" NOT NULL,
	athlete TEXT COLLATE "C" NOT NULL
);
CREATE INDEX acts_by_time ON acts(at);
ALTER TABLE athletes ADD COLUMN coach TEXT COLLATE "C" NOT NULL DEFAULT '';
CREATE INDEX athletes_of_coach ON athletes(coach);
CREATE TABLE workers (
	id         TEXT COLLATE "C" PRIMARY KEY,
	computer   TEXT NOT NULL,
	version    TEXT NOT NULL,
	started_at TIMESTAMPTZ NOT NULL,
	seen_at    TIMESTAMPTZ NOT NULL
);

-- +goose Down
DROP TABLE workers;
ALTER TABLE athletes DROP COLUMN coach;
DROP TABLE acts;
DROP TABLE sessions;
DROP TABLE users;
