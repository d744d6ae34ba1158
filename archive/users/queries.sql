-- Every statement of the package. A test prepares each of them against the migrated schema.

-- name: UserInsert
INSERT INTO users (id, name, role, password, created_at) VALUES (?, ?, ?, ?, ?)
-- name: Users
SELECT id, name, role, password, created_at FROM users ORDER BY lower(name), id
-- name: UserByName
SELECT id, name, role, password, created_at FROM users WHERE lower(name) = lower(?)
-- name: UserRole
UPDATE users SET role = ? WHERE id = ?
-- name: UserPassword
UPDATE users SET password = ? WHERE id = ?
-- name: UserDelete
DELETE FROM users WHERE id = ?
-- name: OtherAdmins
SELECT count(*) FROM users WHERE role = 'admin' AND id <> ?
-- name: AthletesLeft
UPDATE athletes SET coach = '' WHERE coach = ?
-- name: SessionInsert
INSERT INTO sessions (hash, user_id, ends_at) VALUES (?, ?, ?)
-- name: SessionUser
SELECT u.id, u.name, u.role, u.password, u.created_at FROM sessions s JOIN users u ON u.id = s.user_id WHERE s.hash = ? AND s.ends_at > ?
-- name: SessionEnd
DELETE FROM sessions WHERE hash = ?
-- name: SessionsOver
DELETE FROM sessions WHERE ends_at <= ?
-- name: SessionsOfUser
DELETE FROM sessions WHERE user_id = ?
-- name: ActInsert
INSERT INTO acts (id, at, who, what, kind, thing, athlete) VALUES (?, ?, ?, ?, ?, ?, ?)
-- name: Acts
SELECT at, who, what, kind, thing, athlete FROM acts WHERE at >= ? ORDER BY at DESC, id DESC LIMIT ?
