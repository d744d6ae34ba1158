package archive

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"github.com/google/uuid"
	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

//go:embed migrations/*.sql
var migrations embed.FS

const (
	databaseName = "holdfast.db"
	filesName    = "files"
	tmpName      = "tmp"
	servingLock  = "serving.lock"
	filesLock    = "files.lock"
	deletingName = "deleting-" // a file in tmp while an athlete is being deleted
)

// Options are the choices for an archive.
type Options struct {
	// Now is the clock; nil: time.Now.
	Now func() time.Time
	// Serving takes the folder for the one server that it may have.
	Serving bool
}

// Archive is an open data folder. Its methods may be called at the same time.
type Archive struct {
	dir  string
	now  func() time.Time
	lock *os.File // held while serving
	// One connection writes, so that writers wait here and not inside SQLite; the
	// others read.
	write, read *sql.DB
}

// Open opens the data folder dir, makes it when there is none, and brings its
// database to the schema of this program. With Options.Serving it first removes what
// a killed server left half done.
//
// The error wraps ErrInUse, ErrNewerSchema or ErrDamaged where it is one of these.
func Open(ctx context.Context, dir string, opt Options) (*Archive, error) {
	return openFolder(ctx, dir, opt, false)
}

// openFolder is Open; old says that the folder must have been an archive before.
func openFolder(ctx context.Context, dir string, opt Options, old bool) (_ *Archive, err error) {
	a := &Archive{dir: dir, now: opt.Now}
	if a.now == nil {
		a.now = time.Now
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("opening the archive: %w", errors.Join(err, a.Close()))
		}
	}()
	for _, sub := range []string{"", filesName, tmpName} {
		if err := os.MkdirAll(filepath.Join(dir, sub), 0o700); err != nil {
			return nil, err
		}
	}
	if opt.Serving {
		f, ok, err := tryLock(filepath.Join(dir, servingLock))
		if err != nil {
			return nil, err
		}
		if !ok {
			return nil, ErrInUse
		}
		a.lock = f
	}
	path, err := filepath.Abs(filepath.Join(dir, databaseName))
	if err != nil {
		return nil, err
	}
	if a.write, err = sql.Open("sqlite", dsn(path, false)); err != nil {
		return nil, err
	}
	a.write.SetMaxOpenConns(1)
	if err := a.migrate(ctx, old); err != nil {
		return nil, err
	}
	if a.read, err = sql.Open("sqlite", dsn(path, true)); err != nil {
		return nil, err
	}
	a.read.SetMaxOpenConns(4)
	if opt.Serving {
		if err := a.clean(ctx); err != nil {
			return nil, err
		}
	}
	return a, nil
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

func (a *Archive) migrate(ctx context.Context, old bool) error {
	unlock, err := a.lockFiles(ctx) // two programs may open a new folder at once
	if err != nil {
		return err
	}
	defer unlock()
	steps, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, a.write, steps)
	if err != nil {
		return damaged(err)
	}
	version, newest, err := p.GetVersions(ctx)
	if err != nil {
		return damaged(err)
	}
	if version > newest {
		return fmt.Errorf("%w (schema %d, this program knows %d)", ErrNewerSchema, version, newest)
	}
	switch {
	case version == 0 && old:
		return fmt.Errorf("%w: %s was not written by this program", ErrDamaged, databaseName)
	case version == 0:
		// An empty database beside files is a lost one. Going on would remove the
		// files, which then no row knows.
		err := a.walkFiles(func(path, _ string) error {
			return fmt.Errorf("%w: the database %s is missing or empty, but there are files; bring it back, or restore a backup", ErrDamaged, filepath.Join(a.dir, databaseName))
		})
		if err != nil {
			return err
		}
	}
	if _, err := p.Up(ctx); err != nil {
		return damaged(fmt.Errorf("bringing the database up to date: %w", err))
	}
	return nil
}

// damaged adds ErrDamaged to an error of SQLite that says so.
func damaged(err error) error {
	var e *sqlite.Error
	if errors.As(err, &e) {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			return fmt.Errorf("%w: %w", ErrDamaged, err)
		}
	}
	return err
}

// Close closes the database and gives up the folder.
func (a *Archive) Close() error {
	var errs []error
	for _, db := range []*sql.DB{a.read, a.write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if a.lock != nil {
		errs = append(errs, release(a.lock))
		a.lock = nil
	}
	return errors.Join(errs...)
}

// Dir returns the data folder.
func (a *Archive) Dir() string { return a.dir }

// clean removes what was being written when an earlier server was killed: files in
// tmp, files that no row knows, and rows of files that nothing uses.
func (a *Archive) clean(ctx context.Context) error {
	unlock, err := a.lockFiles(ctx)
	if err != nil {
		return err
	}
	defer unlock()
	if err := a.cleanTmp(ctx); err != nil {
		return err
	}
	err = a.change(ctx, func(tx *sql.Tx) error {
		unused, err := texts(ctx, tx, q.FilesUnused)
		if err != nil {
			return err
		}
		_, err = dropUnused(ctx, tx, unused)
		return err
	})
	if err != nil {
		return err
	}
	known := map[string]bool{}
	rows, err := a.write.QueryContext(ctx, q.Files)
	if err != nil {
		return damaged(err)
	}
	defer rows.Close()
	for rows.Next() {
		var sum string
		var size int64
		if err := rows.Scan(&sum, &size); err != nil {
			return err
		}
		known[sum] = true
	}
	if err := rows.Err(); err != nil {
		return damaged(err)
	}
	return a.walkFiles(func(path, sum string) error {
		if known[sum] && path == a.FilePath(sum) {
			return nil
		}
		return os.Remove(path)
	})
}

// cleanTmp empties tmp, but for what another program holds locked because it writes
// there now. It ends a deletion that was killed before the database was packed.
func (a *Archive) cleanTmp(ctx context.Context) error {
	dir := filepath.Join(a.dir, tmpName)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	remove := func(e fs.DirEntry) error {
		path := filepath.Join(dir, e.Name())
		if e.IsDir() || e.Type().IsRegular() {
			f, err := os.Open(path)
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			if err != nil {
				return err
			}
			defer f.Close()
			if free, err := lockOpen(f); err != nil || !free {
				return err
			}
		}
		if strings.HasPrefix(e.Name(), deletingName) {
			switch err := a.pack(ctx); {
			case errors.Is(err, errStillRead):
				return nil // the mark stays for the next start
			case err != nil:
				return err
			}
		}
		return os.RemoveAll(path)
	}
	for _, e := range entries {
		if err := remove(e); err != nil {
			return err
		}
	}
	return nil
}

// walkFiles calls do for every file of the store.
func (a *Archive) walkFiles(do func(path, name string) error) error {
	return filepath.WalkDir(filepath.Join(a.dir, filesName), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		return do(path, d.Name())
	})
}

// change runs do in one transaction.
func (a *Archive) change(ctx context.Context, do func(tx *sql.Tx) error) error {
	tx, err := a.write.BeginTx(ctx, nil)
	if err != nil {
		return damaged(err)
	}
	defer func() { _ = tx.Rollback() }() // does nothing after a commit
	if err := do(tx); err != nil {
		return damaged(constraint(err))
	}
	return damaged(tx.Commit())
}

// view runs do on one state of the database: what it reads belongs together even
// when others write meanwhile.
func (a *Archive) view(ctx context.Context, do func(db querier) error) error {
	tx, err := a.read.BeginTx(ctx, nil)
	if err != nil {
		return damaged(err)
	}
	defer func() { _ = tx.Rollback() }()
	return notFound(do(tx))
}

// constraint turns a broken reference into ErrNotFound and a broken rule into
// ErrInvalid.
func constraint(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.Code() {
	case sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY:
		return fmt.Errorf("%w: %w", ErrNotFound, err)
	case sqlite3.SQLITE_CONSTRAINT_CHECK, sqlite3.SQLITE_CONSTRAINT_UNIQUE, sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY, sqlite3.SQLITE_CONSTRAINT_DATATYPE:
		return fmt.Errorf("%w: %w", ErrInvalid, err)
	}
	return err
}

func notFound(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return ErrNotFound
	}
	return damaged(err)
}

// querier is a database or a transaction in it.
type querier interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// list reads all rows of a query.
func list[T any](ctx context.Context, db querier, scan func(scanner) (T, error), query string, args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, damaged(err)
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
	return out, damaged(rows.Err())
}

type scanner interface{ Scan(dest ...any) error }

func texts(ctx context.Context, db querier, query string, args ...any) ([]string, error) {
	return list(ctx, db, func(s scanner) (t string, err error) { return t, s.Scan(&t) }, query, args...)
}

// one runs a statement that must change a row.
func one(ctx context.Context, db querier, query string, args ...any) error {
	r, err := db.ExecContext(ctx, query, args...)
	if err != nil {
		return err
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return errors.Join(err, ErrNotFound)
	}
	return nil
}

// newID returns an id that sorts by the time it was made.
func newID() (string, error) {
	id, err := uuid.NewV7()
	if err != nil {
		return "", fmt.Errorf("making an id: %w", err)
	}
	return id.String(), nil
}

// timeText is how times are stored: UTC, of one length, so that they sort as text.
const timeText = "2006-01-02T15:04:05.000000000Z"

func (a *Archive) stamp() (time.Time, string) {
	t := a.now().UTC()
	return t, t.Format(timeText)
}

// stored reads a time that may be NULL.
type stored struct{ to *time.Time }

func (s stored) Scan(v any) error {
	text, ok := v.(string)
	if !ok {
		if t, is := v.(time.Time); is {
			*s.to = t.UTC()
			return nil
		}
		if v == nil {
			return nil
		}
		return fmt.Errorf("%w: a time is %T", ErrDamaged, v)
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	*s.to = t.UTC()
	return nil
}

// The longest names and notes, in bytes.
const (
	maxName  = 400
	maxNotes = 40_000
	maxDoc   = 8 << 20
)

// checkText refuses text that is too long, is not UTF-8, or holds control characters;
// lines says that line ends and tabs are allowed.
func checkText(what, s string, most int, lines bool) error {
	if len(s) > most {
		return fmt.Errorf("%w: the %s is longer than %d bytes", ErrInvalid, what, most)
	}
	for _, r := range strings.ToValidUTF8(s, "\x00") {
		if unicode.IsControl(r) && !(lines && (r == '\n' || r == '\t' || r == '\r')) {
			return fmt.Errorf("%w: the %s holds a control character", ErrInvalid, what)
		}
	}
	return nil
}

// checkNumber refuses a measure that is no number or is negative; zero says that 0 is
// allowed.
func checkNumber(what string, x *float64, zero bool) error {
	if x == nil || *x > 0 && !math.IsInf(*x, 1) || *x == 0 && zero {
		return nil
	}
	return fmt.Errorf("%w: the %s is %g", ErrInvalid, what, *x)
}
