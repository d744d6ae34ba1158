// Package store keeps files named after their content in a data folder:
//
//	files/ab/abcd…   what is kept, by SHA-256
//	copies/ab/abcd…  instead of it, copies of what is kept elsewhere
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
//
// Files may be kept elsewhere, by whatever implements files.Files. What is being written lies in tmp all the same, and
// what is read is fetched to copies first, where everything that wants a path finds it. Nothing that lies elsewhere is
// moved to lost: it may be another archive's.
package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sync"
	"time"

	"holdfast/archive/disk"
	"holdfast/archive/files"
	"holdfast/words"
)

// The names in a data folder that are the store's.
const (
	FilesFolder  = "files"
	CopiesFolder = "copies"
	TmpFolder    = "tmp"
	LostFolder   = "lost"
	LockFile     = "files.lock"
)

// underwayName begins the name of a list in tmp of files about to get or lose their row.
const underwayName = "underway-"

// LostDays is how long a file lies in lost before it is removed: time to see that the
// database is the wrong one.
const LostDays = 30

// Store is the files of a data folder. Its methods may be called at the same time, by
// several processes too.
type Store struct {
	dir  string
	now  func() time.Time
	kept files.Files  // all that is kept
	here files.Folder // what can be read by its path: the same, or copies of it
	away bool         // kept is elsewhere

	mu      sync.Mutex
	puts    map[string]puttings
	trimmed time.Time // when copies were last looked through
}

// Open returns the store in the data folder dir and makes its folders where they are not
// there; now is its clock. The files are kept elsewhere where that is not nil. The error wraps disk.ErrCannotWrite.
func Open(dir string, elsewhere files.Files, now func() time.Time) (*Store, error) {
	s := &Store{dir: dir, now: now, puts: map[string]puttings{},
		here: files.Folder{Root: filepath.Join(dir, FilesFolder), Move: true}}
	if s.kept = s.here; elsewhere != nil {
		s.kept, s.here, s.away = elsewhere, files.Folder{Root: filepath.Join(dir, CopiesFolder)}, true
	}
	for _, sub := range []string{dir, s.here.Root, s.Tmp()} {
		if err := os.MkdirAll(sub, 0o700); err != nil {
			return nil, disk.CannotWrite(err)
		}
	}
	if s.away {
		return s, s.trim()
	}
	return s, nil
}

// Away says that files are kept elsewhere.
func (s *Store) Away() bool { return s.away }

// Tmp returns the folder of what is being written.
func (s *Store) Tmp() string { return filepath.Join(s.dir, TmpFolder) }

// Path returns where a file lies once Fetch has brought it, given its SHA-256; a path that cannot exist when the
// text is none.
func (s *Store) Path(sum string) string { return s.here.Path(sum) }

// PathIn is where a file lies in a folder that is laid out as a data folder with its files.
func PathIn(dir, sum string) string {
	return files.Folder{Root: filepath.Join(dir, FilesFolder)}.Path(sum)
}

// Walk calls do for every file of the store, with its key and its name, which need not
// be a SHA-256: strangers are told too. A file is in its place when its key is files.Key of its name.
func (s *Store) Walk(ctx context.Context, do func(key, name string) error) error {
	return s.kept.List(ctx, func(key string) error { return do(key, path.Base(key)) })
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
	// Leaves says that no copy is to stay here of what is kept elsewhere.
	Leaves bool

	store  *Store
	file   *os.File // open, and so locked, until it has its name
	placed bool
}

// Receive writes what it reads into tmp, and syncs it where it is to be kept here. A check looks at the whole file;
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
	if err == nil && !s.away {
		err = tmp.Sync()
	}
	if err != nil {
		in.Close()
		return nil, err
	}
	in.Sum = hex.EncodeToString(sum.Sum(nil))
	return in, nil
}

// Send brings the file to where files are kept when that is elsewhere, which may take long: no lock is needed.
func (in *Received) Send(ctx context.Context) error {
	if !in.store.away {
		return nil
	}
	return in.store.kept.Put(ctx, in.Sum, in.file.Name())
}

// Place gives the file its name in the store. The lock must be held. What was sent is sent again if another has removed
// it since.
func (in *Received) Place(ctx context.Context) error {
	s := in.store
	if s.away {
		n, err := s.kept.Size(ctx, in.Sum)
		if there := err == nil && n == in.Bytes; !there {
			if disk.IgnoreMissing(err) != nil {
				return err
			}
			if err := in.Send(ctx); err != nil {
				return err
			}
		}
		if in.Leaves {
			return nil // and Close removes it
		}
		s.keepCopy(in.file, in.Sum)
	} else if err := s.kept.Put(ctx, in.Sum, in.file.Name()); err != nil {
		return err
	}
	in.placed = true
	return nil
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
func (s *Store) Remove(ctx context.Context, sums []string) (n int, bytes int64, err error) {
	s.gone(sums)
	var errs []error
	for _, sum := range sums {
		size, err := s.kept.Size(ctx, sum)
		if err = errors.Join(disk.IgnoreMissing(err), s.kept.Delete(ctx, sum), s.forgetHere(sum)); err != nil {
			errs = append(errs, err)
			continue
		}
		bytes += size
		n++
	}
	return n, bytes, errors.Join(errs...)
}

// forgetHere removes what lies of a file beside the store: copies of it, and what is in lost.
func (s *Store) forgetHere(sum string) error {
	if s.away {
		return disk.IgnoreMissing(os.Remove(s.here.Path(sum)))
	}
	return s.forgetLost(sum)
}

// Link puts files into a folder that is laid out as the data folder is, as links where that can be, and returns, by
// their sum, what is wrong with those that it cannot put there. The lock must be held.
func (s *Store) Link(ctx context.Context, dir string, sums []string) (bad map[string]error, err error) {
	bad = map[string]error{}
	for _, sum := range sums {
		if err := s.Fetch(ctx, sum); err != nil {
			if ctx.Err() != nil || errors.Is(err, disk.ErrCannotWrite) {
				return nil, err
			}
			bad[sum] = wrongWith(err)
			continue
		}
		from, to := s.Path(sum), PathIn(dir, sum)
		if info, err := os.Stat(from); err != nil {
			bad[sum] = wrongWith(err)
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

// wrongWith says what an error of reading a file says of it.
func wrongWith(err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return Missing
	case errors.Is(err, Changed):
		return Changed
	}
	return CannotRead(err)
}

// Spoilt says what is wrong with a file of the store that should have so many bytes; nil: nothing. The error is that of
// the context.
func (s *Store) Spoilt(ctx context.Context, sum string, bytes int64) (why, err error) {
	if !s.away {
		return Spoilt(ctx, s.Path(sum), sum, bytes)
	}
	is, n, err := s.sumAway(ctx, sum)
	return judged(ctx, is == sum && n == bytes, err)
}

// Spoilt says what is wrong with a file at a path that should have this SHA-256 and so
// many bytes; nil: nothing. The error is that of the context.
func Spoilt(ctx context.Context, path, sum string, bytes int64) (why, err error) {
	is, size, err := disk.Sum(ctx, path)
	return judged(ctx, is == sum && size == bytes, err)
}

// judged says what is wrong with a file that was read, as it should be or not, or could not be.
func judged(ctx context.Context, asStored bool, err error) (why, ended error) {
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case err != nil:
		return wrongWith(err), nil
	case !asStored:
		return Changed, nil
	}
	return nil, nil
}
