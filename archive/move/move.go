// Package move copies a whole archive from one place to another: from a data folder to a database and a store that
// several computers use, and back.
package move

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strings"

	"holdfast/archive/check"
	"holdfast/archive/folder"
	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/words"
)

// ErrNotEmpty: an archive is not moved over what is there.
var ErrNotEmpty = words.Instead(rows.ErrInvalid, "move_not_empty", nil)

// table is one of the tables and its columns, which both kinds of database have.
type table struct{ name, columns string }

// tables are all tables with something of the archive, each after those it refers to.
var tables = []table{
	{"files", "sha256, size_bytes, added_at"},
	{"athletes", "id, name, height_cm, birth_year, notes, team, consent_on, keep_until, example, created_at, coach"},
	{"visits", "id, athlete_id, date, condition, load_kg, notes"},
	{"clips", "id, visit_id, athlete_id, name, sha256, tempo, height_cm, capture_fps, trim_from_s, trim_to_s, movement, " +
		"setting, added_at"},
	{"joins", "side_id, front_id"},
	{"marks", "clip_id, doc"},
	{"results", "id, clip_id, revision, correction_seq, created_at"},
	{"result_files", "result_id, name, sha256"},
	{"corrections", "id, clip_id, seq, doc, what, created_at, undone"},
	{"comparisons", "id, athlete_id, created_at"},
	{"comparison_clips", "comparison_id, position, clip_id"},
	{"comparison_files", "comparison_id, name, sha256"},
	{"users", "id, name, role, password, created_at"},
	{"sessions", "hash, user_id, ends_at"},
	{"acts", "id, at, who, what, kind, thing, athlete"},
	{"jobs", "id, clip_id, comparison_id, kind, state, options, stage, done, total, error, hint, attempt, created_at, " +
		"started_at, ended_at, ends, batch, tries"}, // one that was put off is tried where it comes to
}

// truths are the columns that are true or false, for which SQLite has 1 and 0.
var truths = map[string]bool{"example": true, "undone": true, "batch": true}

// Copy copies everything of one moment to an archive without athletes, files first, and compares each file with its
// hash where it has come to. Nobody may be at work on the other archive. What was copied when it breaks off does no
// harm: the next try goes on from there. progress hears how many files are there.
func Copy(ctx context.Context, from, to *folder.Folder, progress func(done, total int)) (files, n int, err error) {
	if files, n, err = copyAll(ctx, from, to, progress); err != nil {
		return files, n, words.Doing("doing_moving_archive", err)
	}
	return files, n, nil
}

func copyAll(ctx context.Context, from, to *folder.Folder, progress func(done, total int)) (files, n int, err error) {
	var there int
	if err := to.Read.QueryRowContext(ctx, "SELECT count(*) FROM athletes").Scan(&there); err != nil {
		return 0, 0, rows.Damaged(err)
	}
	if there > 0 {
		return 0, 0, ErrNotEmpty
	}
	unlock, err := from.KeepFiles(ctx)
	if err != nil {
		return 0, 0, err
	}
	defer unlock()
	err = rows.View(ctx, from.Read, func(db rows.Querier) error {
		all, err := folder.Files(ctx, db)
		if err != nil {
			return err
		}
		for i, f := range all {
			if err := copyFile(ctx, from, to, f); err != nil {
				return err
			}
			progress(i+1, len(all))
		}
		files = len(all)
		return rows.Change(ctx, to.Write, func(tx *sql.Tx) error {
			for _, t := range tables {
				m, err := copyRows(ctx, db, tx, t, to.Shared())
				if err != nil {
					return err
				}
				n += m
			}
			return nil
		})
	})
	return files, n, err
}

// copyFile copies one file, unless it is there.
func copyFile(ctx context.Context, from, to *folder.Folder, f folder.File) error {
	if why, err := to.Store.Spoilt(ctx, f.SHA256, f.SizeBytes); why == nil {
		return err
	}
	r, err := from.OpenFile(ctx, f.SHA256)
	if errors.Is(err, rows.ErrNotFound) {
		err = rows.ErrDamaged
	}
	if err != nil {
		return fmt.Errorf("%s: %w", f.SHA256, err)
	}
	defer r.Close()
	put, err := to.Put(ctx, r, math.MaxInt64)
	if err != nil {
		return err
	}
	to.Named(nil, put) // its row comes with all others
	why, err := to.Store.Spoilt(ctx, f.SHA256, f.SizeBytes)
	switch {
	case err != nil || why == nil:
		return err
	case errors.Is(why, store.Changed), errors.Is(why, store.Missing):
		return words.Because(rows.ErrDamaged, "moved_wrong", words.Params{"wrong": check.Wrong(f.SHA256, why)})
	}
	return why
}

// copyRows copies the rows of a table and returns how many.
func copyRows(ctx context.Context, from, to rows.Querier, t table, shared bool) (n int, err error) {
	columns := strings.Split(t.columns, ", ")
	insert := fmt.Sprintf("INSERT INTO %s (%s) VALUES (?%s)", t.name, t.columns, strings.Repeat(", ?", len(columns)-1))
	if t.name == "files" {
		insert += " ON CONFLICT (sha256) DO UPDATE SET added_at = excluded.added_at"
	}
	all, err := from.QueryContext(ctx, fmt.Sprintf("SELECT %s FROM %s ORDER BY 1, 2", t.columns, t.name))
	if err != nil {
		return 0, err
	}
	defer all.Close()
	values, places := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		places[i] = &values[i]
	}
	for all.Next() {
		if err := all.Scan(places...); err != nil {
			return n, err
		}
		for i, v := range values {
			if one, ok := v.(int64); ok && shared && truths[columns[i]] {
				values[i] = one != 0
			}
		}
		if _, err := to.ExecContext(ctx, insert, values...); err != nil {
			return n, err
		}
		n++
	}
	return n, all.Err()
}
