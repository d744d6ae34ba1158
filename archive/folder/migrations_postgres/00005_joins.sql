-- +goose Up
-- Two clips of one set, filmed from the side and from the front. A clip is in one pair at most.
CREATE TABLE joins (
	side_id  TEXT PRIMARY KEY REFERENCES clips(id) ON DELETE CASCADE,
	front_id TEXT NOT NULL UNIQUE REFERENCES clips(id) ON DELETE CASCADE
);

-- +goose Down
DROP TABLE joins;
