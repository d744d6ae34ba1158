-- +goose Up
-- Of a clip: the movement that a coach says it shows, and how the set was done beside tempo and load, as JSON.
ALTER TABLE clips ADD COLUMN movement TEXT NOT NULL DEFAULT '';
ALTER TABLE clips ADD COLUMN setting TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE clips DROP COLUMN setting;
ALTER TABLE clips DROP COLUMN movement;
