-- What a check asks. A test prepares each statement against the migrated
-- schema, so that a misspelt column fails the build.

-- name: FileUses
SELECT a.name, '', c.name FROM clips c JOIN athletes a ON a.id = c.athlete_id WHERE c.sha256 = ?1
UNION SELECT a.name, f.name, c.name FROM result_files f JOIN results r ON r.id = f.result_id JOIN clips c ON c.id = r.clip_id JOIN athletes a ON a.id = c.athlete_id WHERE f.sha256 = ?1
UNION SELECT a.name, f.name, '' FROM comparison_files f JOIN comparisons x ON x.id = f.comparison_id JOIN athletes a ON a.id = x.athlete_id WHERE f.sha256 = ?1
-- name: CountRows
SELECT (SELECT count(*) FROM athletes) + (SELECT count(*) FROM visits) + (SELECT count(*) FROM clips) + (SELECT count(*) FROM results)
	+ (SELECT count(*) FROM result_files) + (SELECT count(*) FROM corrections) + (SELECT count(*) FROM comparisons)
	+ (SELECT count(*) FROM comparison_clips) + (SELECT count(*) FROM comparison_files) + (SELECT count(*) FROM jobs) + (SELECT count(*) FROM files)
-- name: ClipsAstray
SELECT c.id FROM clips c JOIN visits v ON v.id = c.visit_id WHERE v.athlete_id <> c.athlete_id
-- name: ComparisonsAstray
SELECT DISTINCT c.id FROM comparisons c JOIN comparison_clips cc ON cc.comparison_id = c.id JOIN clips ON clips.id = cc.clip_id WHERE clips.athlete_id <> c.athlete_id
-- name: FileNames
SELECT name FROM result_files UNION SELECT name FROM comparison_files
