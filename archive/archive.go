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
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"

	"holdfast/archive/disk"
	"holdfast/archive/rows"
	"holdfast/archive/store"

	"github.com/pressly/goose/v3"
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
	if a.write, err = rows.Open(path, false); err != nil {
		return nil, err
	}
	if err := a.migrate(ctx, opt.MustExist); err != nil {
		return nil, err
	}
	if a.read, err = rows.Open(path, true); err != nil {
		return nil, err
	}
	if opt.Serving {
		if err := a.clean(ctx); err != nil {
			return nil, err
		}
	}
	return a, nil
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
		return rows.Damaged(err)
	}
	version, newest, err := p.GetVersions(ctx)
	if err != nil {
		return rows.Damaged(err)
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
		return rows.Damaged(fmt.Errorf("bringing the database up to date: %w", err))
	}
	return nil
}

// checkNew says whether a database without a version is a new one.
func (a *Archive) checkNew(ctx context.Context, old bool) error {
	if err := a.store.Walk(func(string, string) error { return lostDatabase(a.dir) }); err != nil {
		return err
	}
	tables, err := rows.Texts(ctx, a.write,
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
		unused, err := rows.List(ctx, tx, scanUnused, q.FilesUnused)
		return sumsOf(unused), err
	})
	if err != nil {
		return err
	}
	stored, err := rows.List(ctx, a.write, scanStored, q.Files)
	if err != nil {
		return err
	}
	missing := map[string]bool{}
	for _, f := range stored {
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
	lines, err := rows.Texts(ctx, a.write, "PRAGMA integrity_check(1)")
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
	astray, err := rows.BrokenReferences(ctx, a.write)
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
				switch err := rows.Pack(ctx, a.write); {
				case errors.Is(err, rows.ErrStillRead):
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

func (a *Archive) stamp() (time.Time, string) {
	t := a.now().UTC()
	return t, t.Format(rows.TimeText)
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
