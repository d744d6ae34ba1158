-- +goose Up
-- Who may come in where the page asks for names; whose an athlete is, nobody's being the admins' alone; the sessions by
-- the hash of what the browser holds; and what users did. An act names its things by their ids, so that a name that was
-- deleted is deleted there too.
CREATE TABLE users (
	id         TEXT PRIMARY KEY,
	name       TEXT NOT NULL,
	role       TEXT NOT NULL CHECK (role IN ('coach', 'admin')),
	password   TEXT NOT NULL,
	created_at TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX users_by_name ON users(lower(name));
CREATE TABLE sessions (
	hash    TEXT PRIMARY KEY,
	user_id TEXT NOT NULL REFERENCES users(id) ON DELETE CASCADE,
	ends_at TEXT NOT NULL
) STRICT;
CREATE INDEX sessions_of_user ON sessions(user_id);
CREATE TABLE acts (
	id      TEXT PRIMARY KEY,
	at      TEXT NOT NULL,
	who     TEXT NOT NULL,
	what    TEXT NOT NULL,
	kind    TEXT NOT NULL,
	thing   TEXT NOT NULL,
	athlete TEXT NOT NULL
) STRICT;
CREATE INDEX acts_by_time ON acts(at);
ALTER TABLE athletes ADD COLUMN coach TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE athletes DROP COLUMN coach;
DROP TABLE acts;
DROP TABLE sessions;
DROP TABLE users;
