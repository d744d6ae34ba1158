// Package store keeps files named after their content in a data folder:
//
//	files/ab/abcd…   what is kept, by SHA-256
//	tmp/             what is being written; lists of files that get or lose their row
//	lost/            files that no row knew, for LostDays days
//	files.lock       held for a moment while files are put in place or removed
//
// It knows no rows: whoever keeps them says which files they name. A file is received into
// tmp, and placed under the lock between Begin, which writes down that it is about to get
// its row, and the commit of the row. Deleting goes the other way. So what Underway finds
// after a kill is nobody's, while any other file without a row may be one that the rows
// have lost, as when an older database was put back: it goes to lost, and comes back with
// rows that know it.
package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"holdfast/archive/disk"
	"holdfast/words"
)

// The names in a data folder that are the store's.
const (
	FilesFolder = "files"
	TmpFolder   = "tmp"
	LostFolder  = "lost"
	LockFile    = "files.lock"
)

// underwayName begins the name of a list in tmp of files about to get or lose their row.
const underwayName = "underway-"

// LostDays is how long a file lies in lost before it is removed: time to see that the
// database is the wrong one.
const LostDays = 30

// Store is the files of a data folder. Its methods may be called at the same time, by
// several processes too.
type Store struct {
	dir string
	now func() time.Time

	mu   sync.Mutex
	puts map[string]puttings
}

// Open returns the store in the data folder dir and makes its folders where they are not
// there; now is its clock. The error wraps disk.ErrCannotWrite.
func Open(dir string, now func() time.Time) (*Store, error) {
	for _, sub := range []string{"", FilesFolder, TmpFolder} {
		if err := os.MkdirAll(filepath.Join(dir, sub), 0o700); err != nil {
			return nil, disk.CannotWrite(err)
		}
	}
	return &Store{dir: dir, now: now, puts: map[string]puttings{}}, nil
}

// Tmp returns the folder of what is being written.
func (s *Store) Tmp() string { return filepath.Join(s.dir, TmpFolder) }

// Path returns where a file lies, given its SHA-256; a path that cannot exist when the
// text is none.
func (s *Store) Path(sum string) string { return PathIn(s.dir, sum) }

// PathIn is Path in a folder that is laid out as the data folder is.
func PathIn(dir, sum string) string {
	if !disk.IsSum(sum) {
		return filepath.Join(dir, FilesFolder, "none", "none")
	}
	return filepath.Join(dir, FilesFolder, sum[:2], sum)
}

// Walk calls do for every file of the store, with its path and its name, which need not
// be a SHA-256: strangers are told too.
func (s *Store) Walk(do func(path, name string) error) error {
	return filepath.WalkDir(filepath.Join(s.dir, FilesFolder), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		return do(path, d.Name())
	})
}

// Lock waits for the turn to put files in place or remove them: between the moment a
// file gets its name and the commit of its row, nobody may clean up. The error is that of
// the context, or that there can be no lock.
func (s *Store) Lock(ctx context.Context) (unlock func(), err error) {
	const wait = 5 * time.Millisecond
	for {
		f, ok, err := disk.TryLock(filepath.Join(s.dir, LockFile))
		if err != nil {
			return nil, words.Doing("doing_locking_files", err)
		}
		if ok {
			return func() { _ = disk.Release(f) }, nil
		}
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(wait):
		}
	}
}

// Received is a file that has come whole and lies in tmp.
type Received struct {
	Sum   string // SHA-256 of its content
	Bytes int64

	store  *Store
	file   *os.File // open, and so locked, until it has its name
	placed bool
}

// Receive writes what it reads into tmp and syncs it. A check looks at the whole file;
// what it returns is the error. The file is the caller's to close.
func (s *Store) Receive(ctx context.Context, r io.Reader, checks ...func(io.ReaderAt, int64) error) (*Received, error) {
	tmp, err := disk.LockedFile(s.Tmp(), "put-*")
	if err != nil {
		return nil, err
	}
	in := &Received{store: s, file: tmp}
	sum := sha256.New()
	in.Bytes, err = io.Copy(io.MultiWriter(tmp, sum), disk.NewInput(ctx, r))
	for _, check := range checks {
		if err == nil {
			err = check(tmp, in.Bytes)
		}
	}
	if err == nil {
		err = tmp.Sync()
	}
	if err != nil {
		in.Close()
		return nil, err
	}
	in.Sum = hex.EncodeToString(sum.Sum(nil))
	return in, nil
}

// Place gives the file its name in the store. The lock must be held.
func (in *Received) Place() error {
	err := disk.Place(in.file.Name(), in.store.Path(in.Sum))
	in.placed = err == nil
	return err
}

// Close gives the file up, unless it was placed.
func (in *Received) Close() {
	_ = in.file.Close() // it is synced, or given up
	if !in.placed {
		_ = os.Remove(in.file.Name()) // what stays is removed by the next server
	}
}

// Remove removes files and their copies in lost, and returns how many went and how many
// bytes they had. The lock must be held. An error does not keep the others from going.
func (s *Store) Remove(sums []string) (files int, bytes int64, err error) {
	s.gone(sums)
	var errs []error
	for _, sum := range sums {
		path := s.Path(sum)
		if info, err := os.Stat(path); err == nil {
			bytes += info.Size()
		}
		if err := errors.Join(disk.IgnoreMissing(os.Remove(path)), s.forgetLost(sum)); err != nil {
			errs = append(errs, err)
			continue
		}
		files++
	}
	return files, bytes, errors.Join(errs...)
}

// Link links files into a folder that is laid out as the data folder is, and returns, by
// their sum, what is wrong with those it cannot link. The lock must be held.
func (s *Store) Link(ctx context.Context, dir string, sums []string) (bad map[string]error, err error) {
	bad = map[string]error{}
	for _, sum := range sums {
		from, to := s.Path(sum), PathIn(dir, sum)
		if info, err := os.Stat(from); errors.Is(err, fs.ErrNotExist) {
			bad[sum] = Missing
			continue
		} else if err != nil {
			bad[sum] = CannotRead(err)
			continue
		} else if !info.Mode().IsRegular() {
			bad[sum] = errNoFile
			continue
		}
		if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
			return nil, disk.CannotWrite(err)
		}
		if err := os.Link(from, to); err == nil || errors.Is(err, fs.ErrExist) {
			continue
		}
		unread, err := disk.CopyFile(ctx, from, to) // a disk without links
		if err != nil {
			return nil, err
		}
		if unread != nil {
			bad[sum] = CannotRead(unread)
		}
	}
	return bad, nil
}

// What is wrong with a file, as the end of a sentence about it.
const (
	Missing   = words.Error("stored_missing")
	Changed   = words.Error("stored_changed")
	errNoFile = words.Error("stored_no_file")
)

// CannotRead says so of a file, with the reason.
func CannotRead(err error) error {
	return words.Instead(err, "stored_unread", words.Params{"error": err.Error()})
}

// Spoilt says what is wrong with a file at a path that should have this SHA-256 and so
// many bytes; nil: nothing. The error is that of the context.
func Spoilt(ctx context.Context, path, sum string, bytes int64) (why, err error) {
	is, size, err := disk.Sum(ctx, path)
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case errors.Is(err, fs.ErrNotExist):
		return Missing, nil
	case err != nil:
		return CannotRead(err), nil
	case is != sum || size != bytes:
		return Changed, nil
	}
	return nil, nil
}
