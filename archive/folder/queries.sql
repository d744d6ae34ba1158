-- The statements about files. A test prepares each of them against the
-- migrated schema, so that a misspelt column fails the build.

-- name: FileInsert
INSERT INTO files (sha256, size_bytes, added_at) VALUES (?, ?, ?) ON CONFLICT (sha256) DO UPDATE SET added_at = excluded.added_at
-- name: FileSize
SELECT size_bytes FROM files WHERE sha256 = ?
-- name: Files
SELECT sha256, size_bytes FROM files ORDER BY sha256
-- name: FileDeleteUnused
DELETE FROM files WHERE sha256 = ?1
	AND NOT EXISTS (SELECT 1 FROM clips WHERE clips.sha256 = ?1)
	AND NOT EXISTS (SELECT 1 FROM result_files WHERE result_files.sha256 = ?1)
	AND NOT EXISTS (SELECT 1 FROM comparison_files WHERE comparison_files.sha256 = ?1)
-- name: FilesUnused
SELECT sha256, added_at FROM files WHERE sha256 NOT IN (SELECT sha256 FROM clips)
	AND sha256 NOT IN (SELECT sha256 FROM result_files) AND sha256 NOT IN (SELECT sha256 FROM comparison_files)
