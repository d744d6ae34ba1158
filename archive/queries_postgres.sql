-- The statements about jobs that several computers take, each by a lease. Their times are those of the database.

-- name: JobsGiveUp
UPDATE jobs SET state = 'failed', error = ?, hint = ?, ended_at = ?, worker = ''
	WHERE state = 'running' AND (lease_until IS NULL OR lease_until < now()) AND lapses >= ?
-- name: JobClaim
UPDATE jobs SET state = 'running', worker = ?1, lease_until = now() + make_interval(secs => ?2), started_at = ?3,
	attempt = attempt + CASE state WHEN 'running' THEN 0 ELSE 1 END, lapses = lapses + CASE state WHEN 'running' THEN 1 ELSE 0 END,
	ended_at = NULL, stage = '', done = 0, total = 0, error = '', hint = ''
	WHERE id = (SELECT id FROM jobs WHERE kind IN ('measure', 'report', 'analyze', 'render') AND
		(state = 'waiting' AND (not_before IS NULL OR not_before <= now())
		OR state = 'running' AND (lease_until IS NULL OR lease_until < now()))
		ORDER BY batch, CASE kind WHEN 'measure' THEN 0 WHEN 'report' THEN 1 WHEN 'analyze' THEN 2 ELSE 3 END, created_at, id
		LIMIT 1 FOR UPDATE SKIP LOCKED)
	RETURNING id
-- name: WorkerSeen
INSERT INTO workers (id, computer, version, started_at, seen_at) VALUES (?, ?, ?, now(), now()) ON CONFLICT (id) DO UPDATE SET seen_at = now()
-- name: WorkersGone
DELETE FROM workers WHERE id = ? OR seen_at < now() - interval '1 day'
-- name: Workers
SELECT w.computer, w.version, w.started_at, w.seen_at, CAST(extract(epoch FROM now() - w.seen_at) AS DOUBLE PRECISION),
	coalesce((SELECT j.kind FROM jobs j WHERE j.worker = w.id AND j.state = 'running' LIMIT 1), '') FROM workers w ORDER BY w.computer, w.started_at, w.id
-- name: JobRenew
UPDATE jobs SET lease_until = now() + make_interval(secs => ?) WHERE id = ? AND worker = ? AND state = 'running'
-- name: JobProgress
UPDATE jobs SET stage = ?, done = ?, total = ? WHERE id = ? AND worker = ? AND state = 'running'
-- name: JobFinish
UPDATE jobs SET state = ?, error = ?, hint = ?, ended_at = ?, worker = '', lease_until = NULL WHERE id = ? AND worker = ? AND state = 'running'
-- name: JobStop
UPDATE jobs SET state = 'cancelled', ended_at = ?, worker = '', lease_until = NULL WHERE id = ? AND state = 'running'
-- name: JobReturn
UPDATE jobs SET state = 'waiting', attempt = attempt - 1, stage = '', done = 0, total = 0, started_at = NULL, worker = '', lease_until = NULL
	WHERE id = ? AND worker = ? AND state = 'running'
-- name: JobSetBack
UPDATE jobs SET state = 'waiting', ends = ends + 1, stage = '', done = 0, total = 0, started_at = NULL, worker = '', lease_until = NULL
	WHERE id = ? AND worker = ? AND state = 'running'
-- name: JobPutOff
UPDATE jobs SET state = 'waiting', tries = tries + 1, error = ?, stage = '', done = 0, total = 0, started_at = NULL, worker = '',
	lease_until = NULL, not_before = now() + make_interval(secs => ?) WHERE id = ? AND worker = ? AND state = 'running'
