-- The statements about files under way, where several computers use the database: a list for each who puts or removes
-- some.
-- name: Underway
SELECT DISTINCT sha256 FROM underway WHERE since < ?
-- name: UnderwayOf
SELECT list FROM underway WHERE sha256 = ?
-- name: UnderwayInsert
INSERT INTO underway (list, sha256, since) SELECT ?, unnest(string_to_array(?, ',')), ?
-- name: UnderwayEnd
DELETE FROM underway WHERE list = ?
-- name: UnderwayDrop
DELETE FROM underway WHERE sha256 = ? AND since < ?
