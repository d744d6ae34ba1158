// Package rows reads and writes rows of a SQLite database that several programs share, or of a PostgreSQL database that
// several computers do. Both take the same statements, which keep to what both know; placeholders are those of SQLite.
// One at a time writes, in either: what a transaction has read holds until it commits.
//
// Errors become kinds: ErrDamaged when the file is no database or a damaged one,
// ErrNotFound for a row that is not there or a reference to one, ErrInvalid for a rule that
// was broken; and disk.ErrDiskFull or disk.ErrCannotWrite.
package rows

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"holdfast/archive/disk"
	"holdfast/words"
)

// The errors that callers branch on.
var (
	// ErrNotFound: there is no such row or file.
	ErrNotFound error = words.Error("not_found")
	// ErrDamaged: the database or a file is not what was written.
	ErrDamaged error = words.Error("damaged")
	// ErrInvalid: what was to be stored is not allowed.
	ErrInvalid error = words.Error("invalid")
)

// Open opens the database at a path, for one connection that writes or for several that
// read. Writers wait here for each other and not inside SQLite.
func Open(path string, reads bool) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn(path, reads))
	if err != nil {
		return nil, err
	}
	if reads {
		db.SetMaxOpenConns(4)
	} else {
		db.SetMaxOpenConns(1)
	}
	return db, nil
}

// dsn names the database and how each connection is set up. The time-out comes
// first: the other settings may have to wait for it.
func dsn(path string, reads bool) string {
	pragmas := []string{
		"busy_timeout(15000)", "journal_mode(WAL)", "foreign_keys(1)",
		"synchronous(FULL)", // what was acknowledged survives a power cut
		"secure_delete(1)",  // deleted names are overwritten
		"trusted_schema(0)", // a backup may come from anywhere
	}
	if reads {
		pragmas = append(pragmas, "query_only(1)")
	}
	q := url.Values{"_pragma": pragmas}
	if !reads {
		q.Set("_txlock", "immediate")
	}
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath(), RawQuery: q.Encode()}
	return u.String()
}

// Damaged adds the kind ErrDamaged, disk.ErrDiskFull or disk.ErrCannotWrite to an error of SQLite that says so.
func Damaged(err error) error {
	var e *sqlite.Error
	if errors.As(err, &e) {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			return fmt.Errorf("%w: %w", ErrDamaged, err)
		case sqlite3.SQLITE_FULL:
			return fmt.Errorf("%w: %w", disk.ErrDiskFull, err)
		case sqlite3.SQLITE_READONLY:
			return disk.CannotWrite(err)
		}
	}
	return becausePostgres(err)
}

// Change runs do in one transaction of the connection that writes.
func Change(ctx context.Context, write *sql.DB, do func(tx *sql.Tx) error) error {
	tx, err := begin(ctx, write)
	if err != nil {
		return Damaged(err)
	}
	defer func() { _ = tx.Rollback() }() // does nothing after a commit
	if err := do(tx); err != nil {
		return Damaged(constraint(err))
	}
	return Damaged(tx.Commit())
}

// View runs do on one state of the database: what it reads belongs together even
// when others write meanwhile.
func View(ctx context.Context, read *sql.DB, do func(db Querier) error) error {
	var opt *sql.TxOptions
	if Shared(read) {
		opt = &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}
	}
	tx, err := read.BeginTx(ctx, opt)
	if err != nil {
		return Damaged(err)
	}
	defer func() { _ = tx.Rollback() }()
	return NotFound(do(tx))
}

// constraint turns a broken reference into one of the kind ErrNotFound and a broken rule
// into one of the kind ErrInvalid.
func constraint(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return err // Damaged knows those of PostgreSQL
	}
	switch e.Code() {
	case sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY:
		return fmt.Errorf("%w: %w", ErrNotFound, err)
	case sqlite3.SQLITE_CONSTRAINT_CHECK, sqlite3.SQLITE_CONSTRAINT_UNIQUE, sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY,
		sqlite3.SQLITE_CONSTRAINT_DATATYPE:
		return fmt.Errorf("%w: %w", ErrInvalid, err)
	}
	return err
}

// NotFound turns the error of a query without a row into one of the kind ErrNotFound.
func NotFound(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return ErrNotFound
	}
	return Damaged(err)
}

// Do runs one statement that writes, which needs no other to be true.
func Do(ctx context.Context, write Querier, query string, args ...any) error {
	_, err := write.ExecContext(ctx, query, args...)
	return Damaged(constraint(err))
}

// InsertAll runs an insert of one row, VALUES (?, ?), for all of these rows, some at a time.
func InsertAll(ctx context.Context, write Querier, query string, all [][]any) error {
	const most = 100
	for some := range slices.Chunk(all, most) {
		one := "(?" + strings.Repeat(", ?", len(some[0])-1) + ")"
		text := strings.Replace(query, one, one+strings.Repeat(", "+one, len(some)-1), 1)
		if err := Do(ctx, write, text, slices.Concat(some...)...); err != nil {
			return err
		}
	}
	return nil
}

// Querier is a database or a transaction in it.
type Querier interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// List reads all rows of a query.
func List[T any](ctx context.Context, db Querier, scan func(Scanner) (T, error), query string,
	args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, Damaged(err)
	}
	defer rows.Close()
	out := []T{}
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, Damaged(rows.Err())
}

// Scanner is a row to be read.
type Scanner interface{ Scan(dest ...any) error }

// Texts reads all rows of a query for one column of text.
func Texts(ctx context.Context, db Querier, query string, args ...any) ([]string, error) {
	return List(ctx, db, func(s Scanner) (t string, err error) { return t, s.Scan(&t) }, query, args...)
}

// One runs a statement that must change a row; else the error is of the kind ErrNotFound.
func One(ctx context.Context, db Querier, query string, args ...any) error {
	r, err := db.ExecContext(ctx, query, args...)
	if err != nil {
		return err
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return errors.Join(err, ErrNotFound)
	}
	return nil
}

// NewID returns an id that sorts by the time it was made.
func NewID() (string, error) {
	id, err := uuid.NewV7()
	if err != nil {
		return "", words.Doing("doing_making_id", err)
	}
	return id.String(), nil
}

// TimeText is how times are stored: UTC, of one length, so that they sort as text.
const TimeText = "2006-01-02T15:04:05.000000000Z"

// Time reads a time that may be NULL.
type Time struct{ To *time.Time }

// Scan reads a column; the error is of the kind ErrDamaged.
func (s Time) Scan(v any) error {
	text, ok := v.(string)
	if !ok {
		if t, is := v.(time.Time); is {
			*s.To = t.UTC()
			return nil
		}
		if v == nil {
			return nil
		}
		return words.Because(ErrDamaged, "stored_time", words.Params{"type": fmt.Sprintf("%T", v)})
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	*s.To = t.UTC()
	return nil
}

// Unsound lists what is wrong with the file of a database, at most so many things. PostgreSQL looks after its own.
func Unsound(ctx context.Context, db *sql.DB, most int) ([]string, error) {
	if Shared(db) {
		return nil, nil
	}
	lines, err := Texts(ctx, db, fmt.Sprintf("PRAGMA integrity_check(%d)", most))
	return slices.DeleteFunc(lines, func(line string) bool { return line == "ok" }), err
}

// BrokenReferences lists the rows that refer to rows that are not there. PostgreSQL does not let them.
func BrokenReferences(ctx context.Context, db *sql.DB) ([]string, error) {
	if Shared(db) {
		return nil, nil
	}
	return List(ctx, db, func(s Scanner) (string, error) {
		var table, parent string
		var row, key any
		err := s.Scan(&table, &row, &parent, &key)
		return words.Say("error.row_broken", words.Params{"table": table, "parent": parent}), err
	}, "PRAGMA foreign_key_check")
}

// ErrStillRead: others read the old state.
var ErrStillRead = error(words.Error("still_read"))

// Pack rewrites the database without what was deleted, and empties its log. PostgreSQL does so in its own time.
func Pack(ctx context.Context, write *sql.DB) error {
	if Shared(write) {
		return nil
	}
	if _, err := write.ExecContext(ctx, "VACUUM"); err != nil {
		return Damaged(err)
	}
	// SQLite waits for readers by itself, but not for another who empties the log.
	const tries, pause, most = 50, 20 * time.Millisecond, 15 * time.Second
	end := time.Now().Add(most)
	for range tries {
		var busy, frames, done int
		if err := write.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &frames, &done); err != nil {
			return Damaged(err)
		}
		if busy == 0 {
			return nil
		}
		if time.Now().After(end) {
			break
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause):
		}
	}
	return ErrStillRead
}

// MustFill fills a struct of texts, to which out points, with the statements of an
// embedded file, each under "-- name: " and the name of its field. A name without a
// statement, or the other way round, is a mistake of the programmer that every test shows.
func MustFill(out any, text string) {
	v := reflect.ValueOf(out).Elem()
	for _, part := range strings.Split(text, "-- name: ")[1:] {
		name, body, _ := strings.Cut(part, "\n")
		f := v.FieldByName(strings.TrimSpace(name))
		if !f.IsValid() || f.String() != "" {
			panic(fmt.Sprintf("archive: the statement %q is not wanted or there twice", name))
		}
		f.SetString(strings.TrimSpace(body))
	}
	for i := range v.NumField() {
		if v.Field(i).String() == "" {
			panic(fmt.Sprintf("archive: the statement %s is missing", v.Type().Field(i).Name))
		}
	}
}
