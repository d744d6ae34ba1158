-- Every statement of the package. A test prepares each of them against the
-- migrated schema, so that a misspelt column fails the build.

-- name: AthleteInsert
INSERT INTO athletes (id, name, height_cm, birth_year, notes, team, consent_on, keep_until, example, created_at, coach) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
-- name: AthleteUpdate
UPDATE athletes SET name = ?, height_cm = ?, birth_year = ?, notes = ?, team = ?, consent_on = ?, keep_until = ? WHERE id = ?
-- name: AthleteByID
SELECT id, name, height_cm, birth_year, notes, team, consent_on, keep_until, example, created_at, coach FROM athletes WHERE id = ?1 AND (?2 = '' OR coach = ?2)
-- name: Athletes
SELECT id, name, height_cm, birth_year, notes, team, consent_on, keep_until, example, created_at, coach FROM athletes WHERE ?1 = '' OR coach = ?1 ORDER BY lower(name), created_at, id
-- name: AthleteGive
UPDATE athletes SET coach = ? WHERE id = ?
-- name: AthleteDelete
DELETE FROM athletes WHERE id = ?

-- name: VisitInsert
INSERT INTO visits (id, athlete_id, date, condition, load_kg, notes) VALUES (?, ?, ?, ?, ?, ?)
-- name: VisitFind
SELECT id, athlete_id, date, condition, load_kg, notes FROM visits WHERE athlete_id = ? AND date = ? AND condition = ? AND load_kg IS NOT DISTINCT FROM ? ORDER BY id LIMIT 1
-- name: VisitByID
SELECT id, athlete_id, date, condition, load_kg, notes FROM visits WHERE id = ?
-- name: VisitsOfAthlete
SELECT id, athlete_id, date, condition, load_kg, notes FROM visits WHERE athlete_id = ? ORDER BY date, id
-- name: VisitUpdate
UPDATE visits SET date = ?, condition = ?, load_kg = ?, notes = ? WHERE id = ?
-- name: VisitDelete
DELETE FROM visits WHERE id = ?
-- name: VisitDeleteEmptied
DELETE FROM visits WHERE id = ? AND notes = '' AND NOT EXISTS (SELECT 1 FROM clips WHERE visit_id = visits.id)

-- name: FilesOfClip
SELECT sha256 FROM clips WHERE id = ?1
UNION SELECT f.sha256 FROM result_files f JOIN results r ON r.id = f.result_id WHERE r.clip_id = ?1
UNION SELECT f.sha256 FROM comparison_files f JOIN comparison_clips c ON c.comparison_id = f.comparison_id WHERE c.clip_id = ?1
-- name: FilesOfResult
SELECT f.sha256 FROM result_files f JOIN results r ON r.id = f.result_id WHERE r.clip_id = ?
-- name: FilesOfComparison
SELECT sha256 FROM comparison_files WHERE comparison_id = ?

-- name: ClipInsert
INSERT INTO clips (id, visit_id, athlete_id, name, sha256, tempo, height_cm, capture_fps, trim_from_s, trim_to_s, movement, setting, added_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
-- name: ClipByID
SELECT c.id, c.visit_id, c.athlete_id, c.name, c.sha256, f.size_bytes, c.tempo, c.height_cm, c.capture_fps, c.trim_from_s, c.trim_to_s, c.movement, c.setting, c.added_at, coalesce((SELECT front_id FROM joins WHERE side_id = c.id), (SELECT side_id FROM joins WHERE front_id = c.id), '') FROM clips c JOIN files f ON f.sha256 = c.sha256 WHERE c.id = ?
-- name: ClipByFile
SELECT c.id, c.visit_id, c.athlete_id, c.name, c.sha256, f.size_bytes, c.tempo, c.height_cm, c.capture_fps, c.trim_from_s, c.trim_to_s, c.movement, c.setting, c.added_at, coalesce((SELECT front_id FROM joins WHERE side_id = c.id), (SELECT side_id FROM joins WHERE front_id = c.id), '') FROM clips c JOIN files f ON f.sha256 = c.sha256 WHERE c.athlete_id = ? AND c.sha256 = ?
-- name: ClipsOfAthlete
SELECT c.id, c.visit_id, c.athlete_id, c.name, c.sha256, f.size_bytes, c.tempo, c.height_cm, c.capture_fps, c.trim_from_s, c.trim_to_s, c.movement, c.setting, c.added_at, coalesce((SELECT front_id FROM joins WHERE side_id = c.id), (SELECT side_id FROM joins WHERE front_id = c.id), '') FROM clips c JOIN files f ON f.sha256 = c.sha256 JOIN visits v ON v.id = c.visit_id WHERE c.athlete_id = ? ORDER BY v.date, c.added_at, c.id
-- name: ClipIDsOfVisit
SELECT id FROM clips WHERE visit_id = ?
-- name: ClipUpdate
UPDATE clips SET visit_id = ?, athlete_id = ?, name = ?, tempo = ?, height_cm = ?, capture_fps = ?, trim_from_s = ?, trim_to_s = ?, movement = ?, setting = ? WHERE id = ?
-- name: ClipDelete
DELETE FROM clips WHERE id = ?
-- name: ClipSetVisit
UPDATE clips SET visit_id = ? WHERE id = ?
-- name: JoinInsert
INSERT INTO joins (side_id, front_id) VALUES (?, ?)
-- name: JoinDelete
DELETE FROM joins WHERE ?1 IN (side_id, front_id)

-- name: ResultInsert
INSERT INTO results (id, clip_id, revision, correction_seq, created_at) VALUES (?, ?, ?, ?, ?)
-- name: ResultOfClip
SELECT id, clip_id, revision, correction_seq, created_at FROM results WHERE clip_id = ?
-- name: ResultDeleteOfClip
DELETE FROM results WHERE clip_id = ?
-- name: ResultFileInsert
INSERT INTO result_files (result_id, name, sha256) VALUES (?, ?, ?) ON CONFLICT (result_id, name) DO UPDATE SET sha256 = excluded.sha256
-- name: ResultFileOld
SELECT sha256 FROM result_files WHERE result_id = ? AND name = ?
-- name: ResultFiles
SELECT r.name, r.sha256, f.size_bytes FROM result_files r JOIN files f ON f.sha256 = r.sha256 WHERE r.result_id = ? ORDER BY r.name

-- name: CorrectionInsert
INSERT INTO corrections (id, clip_id, seq, doc, what, created_at) VALUES (?, ?, ?, ?, ?, ?)
-- name: CorrectionsOfClip
SELECT id, clip_id, seq, doc, what, created_at, undone FROM corrections WHERE clip_id = ? ORDER BY seq
-- name: CorrectionsDropUndone
DELETE FROM corrections WHERE clip_id = ? AND undone
-- name: CorrectionLastSeq
SELECT coalesce(max(seq), 0) FROM corrections WHERE clip_id = ?
-- name: CorrectionSetUndone
UPDATE corrections SET undone = ? WHERE id = ?

-- name: MarksOfClip
SELECT doc FROM marks WHERE clip_id = ?
-- name: MarksSet
INSERT INTO marks (clip_id, doc) VALUES (?, ?) ON CONFLICT (clip_id) DO UPDATE SET doc = excluded.doc
-- name: MarksDelete
DELETE FROM marks WHERE clip_id = ?

-- name: ComparisonInsert
INSERT INTO comparisons (id, athlete_id, created_at) VALUES (?, ?, ?)
-- name: ComparisonClipInsert
INSERT INTO comparison_clips (comparison_id, position, clip_id) VALUES (?, ?, ?)
-- name: ComparisonFileInsert
INSERT INTO comparison_files (comparison_id, name, sha256) VALUES (?, ?, ?) ON CONFLICT (comparison_id, name) DO UPDATE SET sha256 = excluded.sha256
-- name: ComparisonFileOld
SELECT sha256 FROM comparison_files WHERE comparison_id = ? AND name = ?
-- name: ComparisonFilesDelete
DELETE FROM comparison_files WHERE comparison_id = ?
-- name: ComparisonByID
SELECT id, athlete_id, created_at FROM comparisons WHERE id = ?
-- name: ComparisonsOfAthlete
SELECT id, athlete_id, created_at FROM comparisons WHERE athlete_id = ? ORDER BY created_at DESC, id DESC
-- name: ComparisonsOfClip
SELECT DISTINCT comparison_id FROM comparison_clips WHERE clip_id = ?
-- name: ComparisonClips
SELECT clip_id FROM comparison_clips WHERE comparison_id = ? ORDER BY position
-- name: ComparisonFiles
SELECT c.name, c.sha256, f.size_bytes FROM comparison_files c JOIN files f ON f.sha256 = c.sha256 WHERE c.comparison_id = ? ORDER BY c.name
-- name: ComparisonDelete
DELETE FROM comparisons WHERE id = ?

-- name: JobInsert
INSERT INTO jobs (id, clip_id, comparison_id, kind, state, options, created_at) VALUES (?, nullif(?, ''), nullif(?, ''), ?, 'waiting', ?, ?)
-- name: JobByID
SELECT id, coalesce(clip_id, ''), coalesce(comparison_id, ''), kind, state, options, stage, done, total, error, hint, attempt, ends, created_at, started_at, ended_at FROM jobs WHERE id = ?
-- name: JobNext
SELECT id, coalesce(clip_id, ''), coalesce(comparison_id, ''), kind, state, options, stage, done, total, error, hint, attempt, ends, created_at, started_at, ended_at FROM jobs WHERE state = 'waiting'
	AND kind IN ('measure', 'report', 'analyze', 'render') AND (not_before IS NULL OR not_before <= ?)
	ORDER BY batch, CASE kind WHEN 'measure' THEN 0 WHEN 'report' THEN 1 WHEN 'analyze' THEN 2 ELSE 3 END, created_at, id LIMIT 1
-- name: JobStart
UPDATE jobs SET state = 'running', attempt = attempt + 1, started_at = ?, ended_at = NULL, stage = '', done = 0, total = 0, error = '', hint = '' WHERE id = ?
-- name: JobProgress
UPDATE jobs SET stage = ?, done = ?, total = ? WHERE id = ? AND state = 'running'
-- name: JobFinish
UPDATE jobs SET state = ?, error = ?, hint = ?, ended_at = ? WHERE id = ?
-- name: JobCancel
UPDATE jobs SET state = 'cancelled', ended_at = ? WHERE id = ? AND state = 'waiting'
-- name: JobsRecent
SELECT id, coalesce(clip_id, ''), coalesce(comparison_id, ''), kind, state, options, stage, done, total, error, hint, attempt, ends, created_at, started_at, ended_at FROM jobs
	WHERE ?2 = '' OR EXISTS (SELECT 1 FROM clips c JOIN athletes a ON a.id = c.athlete_id WHERE c.id = jobs.clip_id AND a.coach = ?2)
		OR EXISTS (SELECT 1 FROM comparisons c JOIN athletes a ON a.id = c.athlete_id WHERE c.id = jobs.comparison_id AND a.coach = ?2)
	ORDER BY state NOT IN ('running', 'waiting'), created_at DESC, id DESC LIMIT ?1
-- name: JobsUnfinished
SELECT id, coalesce(clip_id, ''), coalesce(comparison_id, ''), kind, state, options, stage, done, total, error, hint, attempt, ends, created_at, started_at, ended_at FROM jobs WHERE state IN ('running', 'waiting') ORDER BY created_at, id
-- name: JobReturn
UPDATE jobs SET state = 'waiting', attempt = attempt - 1, stage = '', done = 0, total = 0, started_at = NULL WHERE id = ? AND state = 'running'
-- name: JobSetBack
UPDATE jobs SET state = 'waiting', ends = ends + 1, stage = '', done = 0, total = 0, started_at = NULL WHERE id = ? AND state = 'running'
-- name: JobPutOff
UPDATE jobs SET state = 'waiting', tries = tries + 1, error = ?, stage = '', done = 0, total = 0, started_at = NULL, not_before = ? WHERE id = ? AND state = 'running'
-- name: JobTries
SELECT tries FROM jobs WHERE id = ?
-- name: JobBatch
UPDATE jobs SET batch = TRUE WHERE id = ? AND state = 'waiting'
-- name: JobsRequeue
UPDATE jobs SET state = 'waiting', attempt = CASE WHEN attempt > 0 THEN attempt - 1 ELSE 0 END, stage = '', done = 0, total = 0, started_at = NULL WHERE state = 'running'

-- name: JobCounts
SELECT state, kind, CASE WHEN batch THEN 1 ELSE 0 END, count(*), min(created_at) FROM jobs WHERE state IN ('waiting', 'running', 'failed') GROUP BY 1, 2, 3 ORDER BY 1, 3, 2
-- name: JobsFailed
SELECT id, coalesce(clip_id, ''), coalesce(comparison_id, ''), kind, state, options, stage, done, total, error, hint, attempt, ends, created_at, started_at, ended_at FROM jobs
	WHERE state = 'failed' AND NOT EXISTS (SELECT 1 FROM jobs n WHERE n.clip_id = jobs.clip_id AND n.kind = jobs.kind AND n.id > jobs.id)
		AND NOT EXISTS (SELECT 1 FROM jobs n WHERE n.comparison_id = jobs.comparison_id AND n.kind = jobs.kind AND n.id > jobs.id)
	ORDER BY ended_at DESC, id DESC LIMIT ?
-- name: FileCounts
SELECT count(*), CAST(coalesce(sum(size_bytes), 0) AS BIGINT) FROM files
-- name: CountResults
SELECT count(*) FROM results r JOIN clips c ON c.id = r.clip_id WHERE c.athlete_id = ?
