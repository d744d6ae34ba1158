package folder

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/pressly/goose/v3"

	"holdfast/archive/disk"
	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/words"
)

// Open opens the data folder dir, makes it when there is none, and brings its database to the schema of this program.
// With Options.Serving it first checks the database and removes what a killed server left half done; what nobody knows
// goes to the folder lost.
//
// The error wraps ErrNotArchive, ErrInUse, ErrNewerSchema or rows.ErrDamaged where it is one of these.
func Open(ctx context.Context, dir string, opt Options) (_ *Folder, err error) {
	d := &Folder{Dir: dir, now: opt.Now, schema: opt.Schema}
	if d.now == nil {
		d.now = time.Now
	}
	if d.schema == nil {
		steps := "migrations"
		if opt.Database != "" {
			steps = "migrations_postgres"
		}
		if d.schema, err = fs.Sub(migrations, steps); err != nil {
			return nil, words.Doing("doing_opening_archive", err)
		}
	}
	defer func() {
		if err != nil {
			err = words.Doing("doing_opening_archive", errors.Join(err, d.Close()))
		}
	}()
	there, err := inspect(dir, opt.Database != "")
	if err != nil {
		return nil, err
	}
	if opt.MustExist && !there && opt.Database == "" {
		return nil, noArchive(dir)
	}
	if d.Store, err = store.Open(dir, opt.Files, d.now); err != nil {
		return nil, err
	}
	if opt.Serving {
		f, ok, err := disk.TryLock(filepath.Join(dir, servingLock))
		if err != nil {
			return nil, err
		}
		if !ok {
			return nil, words.Instead(ErrInUse, "in_use_folder", words.Params{"folder": dir})
		}
		d.lock = f
	}
	if opt.Database == "" {
		err = d.openHere(ctx, opt)
	} else {
		err = d.openShared(ctx, opt)
	}
	if err == nil && opt.Serving {
		err = d.clean(ctx)
	}
	if err != nil {
		return nil, err
	}
	return d, nil
}

// openHere opens the database in the data folder, and makes it where there is none.
func (d *Folder) openHere(ctx context.Context, opt Options) error {
	path, err := filepath.Abs(filepath.Join(d.Dir, Database))
	if err != nil {
		return err
	}
	// SQLite makes its log and its shared memory with the permissions of the database, and
	// would make that for others to read.
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err == nil {
		err = f.Close()
	}
	if err != nil {
		return disk.CannotWrite(err)
	}
	if d.Write, err = rows.Open(path, false); err != nil {
		return err
	}
	if err := d.migrate(ctx, opt.MustExist); err != nil {
		return err
	}
	d.Read, err = rows.Open(path, true)
	return err
}

// migrate brings the database to the schema of this program; old says that there must
// be one.
func (d *Folder) migrate(ctx context.Context, old bool) error {
	unlock, err := d.LockFiles(ctx) // two programs may open a new folder at once
	if err != nil {
		return err
	}
	defer unlock()
	dialect := goose.DialectSQLite3
	if d.Shared() {
		dialect = goose.DialectPostgres
	}
	p, err := goose.NewProvider(dialect, d.Write, d.schema)
	if err != nil {
		return rows.Damaged(err)
	}
	version, newest, err := p.GetVersions(ctx)
	if err != nil {
		return rows.Damaged(err)
	}
	if version > newest {
		return words.Instead(ErrNewerSchema, "newer_schema_numbers", words.Params{"has": version, "knows": newest})
	}
	if version == 0 {
		if err := d.checkNew(ctx, old); err != nil {
			return err
		}
	}
	if version > 0 && version < newest && d.lock == nil && !d.Shared() {
		// A server of an older program must not find its tables changed.
		f, ok, err := disk.TryLock(filepath.Join(d.Dir, servingLock))
		if err != nil {
			return err
		}
		if !ok {
			return words.Instead(ErrInUse, "in_use_older", words.Params{"folder": d.Dir})
		}
		defer func() { _ = disk.Release(f) }() // nothing was written to it
	}
	if _, err := p.Up(ctx); err != nil {
		return rows.Damaged(words.Doing("doing_bringing_database_up_date", err))
	}
	return nil
}

// checkNew says whether a database without a version is a new one.
func (d *Folder) checkNew(ctx context.Context, old bool) error {
	if err := d.Store.Walk(ctx, func(string, string) error { return lostDatabase(d.Dir) }); err != nil {
		return err
	}
	query := "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' AND name NOT LIKE 'goose%'"
	if d.Shared() {
		query = "SELECT table_name FROM information_schema.tables WHERE table_schema = current_schema() AND " +
			"table_name NOT LIKE 'goose%'"
	}
	tables, err := rows.Texts(ctx, d.Write, query)
	if err != nil {
		return err
	}
	if len(tables) > 0 && d.Shared() {
		return words.Because(rows.ErrDamaged, "database_of_others", nil)
	}
	if len(tables) > 0 {
		return words.Because(rows.ErrDamaged, "database_foreign", words.Params{"database": filepath.Join(d.Dir, Database)})
	}
	if old {
		return noArchive(d.Dir)
	}
	return nil
}
