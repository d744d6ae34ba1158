package archive

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"

	"holdfast/archive/disk"
	"holdfast/archive/store"

	"github.com/google/uuid"
	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

//go:embed migrations/*.sql
var migrations embed.FS

const (
	databaseName = "holdfast.db"
	servingLock  = "serving.lock"
	deletingName = "deleting-" // a file in tmp while an athlete is being deleted
)

// Options are the choices for an archive.
type Options struct {
	// Now is the clock; nil: time.Now.
	Now func() time.Time
	// Serving takes the folder for the one server that it may have.
	Serving bool
	// MustExist refuses a folder without an archive; else one is made there.
	MustExist bool
}

// Archive is an open data folder. Its methods may be called at the same time.
type Archive struct {
	dir  string
	now  func() time.Time
	lock *os.File // held while serving
	// One connection writes, so that writers wait here and not inside SQLite; the
	// others read.
	write, read *sql.DB
	steps       fs.FS // the schema, by version
	store       *store.Store
}

// Open opens the data folder dir, makes it when there is none, and brings its
// database to the schema of this program. With Options.Serving it first checks the
// database and removes what a killed server left half done; what nobody knows goes to
// the folder lost.
//
// The error wraps ErrNotArchive, ErrInUse, ErrNewerSchema or ErrDamaged where it is one
// of these.
func Open(ctx context.Context, dir string, opt Options) (*Archive, error) {
	steps, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return nil, fmt.Errorf("opening the archive: %w", err)
	}
	return openFolder(ctx, dir, opt, steps)
}

// openFolder is Open with a schema.
func openFolder(ctx context.Context, dir string, opt Options, steps fs.FS) (_ *Archive, err error) {
	a := &Archive{dir: dir, now: opt.Now, steps: steps}
	if a.now == nil {
		a.now = time.Now
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("opening the archive: %w", errors.Join(err, a.Close()))
		}
	}()
	there, err := inspect(dir)
	if err != nil {
		return nil, err
	}
	if opt.MustExist && !there {
		return nil, noArchive(dir)
	}
	if a.store, err = store.Open(dir, a.now); err != nil {
		return nil, err
	}
	if opt.Serving {
		f, ok, err := disk.TryLock(filepath.Join(dir, servingLock))
		if err != nil {
			return nil, err
		}
		if !ok {
			return nil, fmt.Errorf("%w (%s): stop it first, or name another folder with --data", ErrInUse, dir)
		}
		a.lock = f
	}
	path, err := filepath.Abs(filepath.Join(dir, databaseName))
	if err != nil {
		return nil, err
	}
	// SQLite makes its log and its shared memory with the permissions of the database, and
	// would make that for others to read.
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err == nil {
		err = f.Close()
	}
	if err != nil {
		return nil, disk.CannotWrite(err)
	}
	if a.write, err = sql.Open("sqlite", dsn(path, false)); err != nil {
		return nil, err
	}
	a.write.SetMaxOpenConns(1)
	if err := a.migrate(ctx, opt.MustExist); err != nil {
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

// inspect says whether a folder holds an archive. Where none is, the folder must be
// empty, or as a first start leaves it that was killed: a server empties tmp and sorts
// files, which must not be somebody else's.
func inspect(dir string) (there bool, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		if info, statErr := os.Stat(dir); statErr == nil && !info.IsDir() {
			return false, &said{fmt.Sprintf("%s is a file: name a folder with --data", dir), ErrNotArchive}
		}
		return false, disk.IgnoreMissing(err)
	}
	if info, err := os.Stat(filepath.Join(dir, databaseName)); err == nil && info.Mode().IsRegular() && info.Size() > 0 {
		return true, nil
	}
	other, lost := "", false
	for _, e := range entries {
		name := e.Name()
		info, err := os.Stat(filepath.Join(dir, name))
		switch {
		case errors.Is(err, fs.ErrNotExist): // a link to nowhere, or gone since
		case err != nil:
			return false, err
		case strings.HasPrefix(name, "."), slices.Contains([]string{"lost+found", "desktop.ini", "Thumbs.db", "$RECYCLE.BIN",
			"System Volume Information"}, name):
			// Systems put these into folders by themselves.
		case slices.Contains([]string{databaseName, databaseName + "-wal", databaseName + "-shm", databaseName + "-journal",
			servingLock, store.LockFile}, name) && info.Mode().IsRegular():
		case slices.Contains([]string{store.FilesFolder, store.TmpFolder, store.LostFolder}, name) && info.IsDir():
			err := filepath.WalkDir(filepath.Join(dir, name), func(_ string, d fs.DirEntry, err error) error {
				switch {
				case err != nil || d.IsDir():
					return err
				case name == store.FilesFolder && disk.IsSum(d.Name()):
					lost = true
				default:
					other = name
				}
				return fs.SkipAll
			})
			if err != nil {
				return false, err
			}
		default:
			other = name
		}
	}
	switch {
	case lost:
		return false, lostDatabase(dir)
	case other != "":
		return false, &said{fmt.Sprintf("the folder %s holds no archive but other things (%s): name a new or an empty "+
			"folder with --data", dir, other), ErrNotArchive}
	}
	return false, nil
}

func noArchive(dir string) error {
	return &said{fmt.Sprintf("there is no archive in %s: holdfast serve makes one, --data names another", dir),
		ErrNotArchive}
}

// lostDatabase says that an empty database beside files is a lost one. Going on would
// sort out the files, which then no row knows.
func lostDatabase(dir string) error {
	return fmt.Errorf("%w: the database %s is missing or empty, but there are files; bring it back, or restore a backup",
		ErrDamaged, filepath.Join(dir, databaseName))
}

// migrate brings the database to the schema of this program; old says that there must
// be one.
func (a *Archive) migrate(ctx context.Context, old bool) error {
	unlock, err := a.store.Lock(ctx) // two programs may open a new folder at once
	if err != nil {
		return err
	}
	defer unlock()
	p, err := goose.NewProvider(goose.DialectSQLite3, a.write, a.steps)
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
	if version == 0 {
		if err := a.checkNew(ctx, old); err != nil {
			return err
		}
	}
	if version > 0 && version < newest && a.lock == nil {
		// A server of an older program must not find its tables changed.
		f, ok, err := disk.TryLock(filepath.Join(a.dir, servingLock))
		if err != nil {
			return err
		}
		if !ok {
			return fmt.Errorf("%w (%s), and its database is older than this program: stop holdfast serve first", ErrInUse, a.dir)
		}
		defer func() { _ = disk.Release(f) }() // nothing was written to it
	}
	if _, err := p.Up(ctx); err != nil {
		return damaged(fmt.Errorf("bringing the database up to date: %w", err))
	}
	return nil
}

// checkNew says whether a database without a version is a new one.
func (a *Archive) checkNew(ctx context.Context, old bool) error {
	if err := a.store.Walk(func(string, string) error { return lostDatabase(a.dir) }); err != nil {
		return err
	}
	tables, err := texts(ctx, a.write,
		"SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' AND name NOT LIKE 'goose%'")
	if err != nil {
		return err
	}
	if len(tables) > 0 {
		return fmt.Errorf("%w: %s was not written by this program", ErrDamaged, filepath.Join(a.dir, databaseName))
	}
	if old {
		return noArchive(a.dir)
	}
	return nil
}

// damaged adds ErrDamaged, disk.ErrDiskFull or disk.ErrCannotWrite to an error of SQLite that says so.
func damaged(err error) error {
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
		errs = append(errs, disk.Release(a.lock))
		a.lock = nil
	}
	return errors.Join(errs...)
}

// Dir returns the data folder.
func (a *Archive) Dir() string { return a.dir }

// OpenToOthers says whether other users of this computer may look into the data folder,
// as into one that was there before the archive. A new one is its owner's alone.
func (a *Archive) OpenToOthers() (bool, error) {
	info, err := os.Stat(a.dir)
	if err != nil {
		return false, fmt.Errorf("looking at the data folder: %w", err)
	}
	return disk.OpenToOthers(info.Mode()), nil
}

// clean removes what was being written or removed when an earlier server was killed:
// rows of files that nothing uses, with the files, and what is in tmp. A file that no
// row knows, and that this program was not putting or removing, may be one that the
// database has lost: it goes to lost.
func (a *Archive) clean(ctx context.Context) error {
	unlock, err := a.store.Lock(ctx)
	if err != nil {
		return err
	}
	defer unlock()
	if err := a.sound(ctx); err != nil {
		return err
	}
	underway, err := a.store.Underway()
	if err != nil {
		return err
	}
	_, _, err = a.discardLocked(ctx, func(tx *sql.Tx) ([]string, error) {
		unused, err := list(ctx, tx, scanUnused, q.FilesUnused)
		return sumsOf(unused), err
	})
	if err != nil {
		return err
	}
	rows, err := list(ctx, a.write, scanStored, q.Files)
	if err != nil {
		return err
	}
	missing := map[string]bool{}
	for _, f := range rows {
		missing[f.SHA256] = true
	}
	known := maps.Clone(missing)
	err = a.store.Walk(func(path, sum string) error {
		switch {
		case known[sum] && path == a.FilePath(sum):
			delete(missing, sum)
			return nil
		case !known[sum] && underway[sum]:
			return os.Remove(path)
		}
		return a.store.Lose(path)
	})
	if err == nil {
		err = a.store.SortLost(ctx, missing)
	}
	if err != nil {
		return err
	}
	return a.cleanTmp(ctx)
}

// sound checks the database before anything is removed on its word: a damaged index
// hides rows.
func (a *Archive) sound(ctx context.Context) error {
	bad := func(what string) error {
		return fmt.Errorf("%w: %s: %s; nothing was removed: restore a backup, or take out what is whole with holdfast "+
			"archive export", ErrDamaged, databaseName, what)
	}
	lines, err := texts(ctx, a.write, "PRAGMA integrity_check(1)")
	if errors.Is(err, ErrDamaged) {
		return bad(err.Error())
	}
	if err != nil {
		return err
	}
	for _, line := range lines {
		if line != "ok" {
			return bad(line)
		}
	}
	astray, err := brokenReferences(ctx, a.write)
	if err == nil && len(astray) > 0 {
		return bad(astray[0])
	}
	return err
}

// cleanTmp empties tmp, but for what another program holds locked because it writes
// there now. It ends a deletion that was killed before the database was packed.
func (a *Archive) cleanTmp(ctx context.Context) error {
	dir := a.store.Tmp()
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		err := disk.WhenFree(path, e, func() error {
			if strings.HasPrefix(e.Name(), deletingName) {
				switch err := a.pack(ctx); {
				case errors.Is(err, errStillRead):
					return nil // the mark stays for the next start
				case err != nil:
					return err
				}
			}
			return os.RemoveAll(path)
		})
		if err != nil {
			return err
		}
	}
	return nil
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
	case sqlite3.SQLITE_CONSTRAINT_CHECK, sqlite3.SQLITE_CONSTRAINT_UNIQUE, sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY,
		sqlite3.SQLITE_CONSTRAINT_DATATYPE:
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
func list[T any](ctx context.Context, db querier, scan func(scanner) (T, error), query string,
	args ...any) ([]T, error) {
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
