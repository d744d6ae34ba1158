// Package folder is the data folder of an archive: recognised, opened, brought to the schema of this program, and its
// files kept in step with the rows that name them.
//
// A file is written to tmp, synced, renamed to its name, and only then named by a
// row. So a kill at any moment leaves a file that no row knows, and never a row
// without its file. Deleting goes the other way: rows first, then files. Both write
// down in tmp which files they are about to touch, so that the next server removes
// what a kill left. Any other file that no row knows may be one that the database has
// lost, as when an older one was put back: the server moves it to lost, from where it
// returns with a database that knows it. Before that it has SQLite check the database.
package folder

import (
	"database/sql"
	"embed"
	"errors"
	"io/fs"
	"os"
	"time"

	"holdfast/archive/disk"
	"holdfast/archive/files"
	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/words"
)

//go:embed migrations/*.sql migrations_postgres/*.sql
var migrations embed.FS

// Database is the name of the file with the rows.
const Database = "holdfast.db"

const servingLock = "serving.lock"

// The errors that callers branch on, beside those of rows and disk.
var (
	// ErrNotArchive: the folder holds no archive; when it holds something else, none is
	// made there.
	ErrNotArchive error = words.Error("not_archive")
	// ErrInUse: another server has the folder.
	ErrInUse error = words.Error("in_use")
	// ErrNewerSchema: the folder was written by a newer program.
	ErrNewerSchema error = words.Error("newer_schema")
	// ErrTooLarge: a file is larger than allowed.
	ErrTooLarge error = words.Error("too_large")
)

// Options are the choices for a data folder.
type Options struct {
	// Now is the clock; nil: time.Now.
	Now func() time.Time
	// Serving takes the folder for the one server that it may have.
	Serving bool
	// MustExist refuses a folder without an archive; else one is made there.
	MustExist bool
	// Database is the address of a PostgreSQL database with the rows; empty: they are in the data folder.
	Database string
	// Lease is how long a job of a shared database is held that nothing is heard of; 0: archive.Lease.
	Lease time.Duration
	// Files are where the files are kept; nil: in the data folder.
	Files files.Files
	// Schema are the steps of the schema, a file each; nil: those of this program.
	Schema fs.FS
}

// Folder is an open data folder. Its methods may be called at the same time.
type Folder struct {
	Dir string
	// One connection writes, so that writers wait here and not inside SQLite; the
	// others read.
	Write, Read *sql.DB
	Store       *store.Store

	locks   *sql.DB      // of a shared database: connections that hold locks, and those of Soon
	unserve func() error // of a shared database: gives up the one server's lock

	now    func() time.Time
	schema fs.FS
	lock   *os.File // held while serving
}

// Close closes the database and gives up the folder.
func (d *Folder) Close() error {
	var errs []error
	if d.unserve != nil {
		errs = append(errs, d.unserve())
		d.unserve = nil
	}
	for _, db := range []*sql.DB{d.Read, d.Write, d.locks} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if d.lock != nil {
		errs = append(errs, disk.Release(d.lock))
		d.lock = nil
	}
	return errors.Join(errs...)
}

// OpenToOthers says whether other users of this computer may look into the data folder,
// as into one that was there before the archive. A new one is its owner's alone.
func (d *Folder) OpenToOthers() (bool, error) {
	info, err := os.Stat(d.Dir)
	if err != nil {
		return false, words.Doing("doing_looking_data_folder", err)
	}
	return disk.OpenToOthers(info.Mode()), nil
}

// Stamp returns what time it is, and how that is stored.
func (d *Folder) Stamp() (time.Time, string) {
	t := d.now().UTC()
	return t, t.Format(rows.TimeText)
}
