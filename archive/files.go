package archive

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"holdfast/archive/disk"
)

// Put stores what it reads under the SHA-256 of its content and returns it without a
// name. The same content is stored once. The error wraps ErrTooLarge when there are
// more than maxBytes. A check looks at the whole file before it is kept; what it returns
// is the error, wrapped.
//
// A file that nothing comes to refer to is removed by Forget, by the next deletion of
// an athlete, visit or clip a quarter of an hour later, or at the next start of a
// server.
func (a *Archive) Put(ctx context.Context, r io.Reader, maxBytes int64,
	checks ...func(io.ReaderAt, int64) error) (File, error) {
	f, err := a.put(ctx, r, maxBytes, checks)
	if err != nil {
		return File{}, fmt.Errorf("storing a file: %w", err)
	}
	return f, nil
}

func (a *Archive) put(ctx context.Context, r io.Reader, maxBytes int64,
	checks []func(io.ReaderAt, int64) error) (_ File, err error) {
	tmp, err := disk.LockedFile(filepath.Join(a.dir, tmpName), "put-*")
	if err != nil {
		return File{}, err
	}
	// It stays open, and so locked, until it has its name.
	placed := false
	defer func() {
		_ = tmp.Close()
		if !placed {
			os.Remove(tmp.Name())
		}
	}()
	sum := sha256.New()
	limit := max(0, min(maxBytes, math.MaxInt64-1)) // one byte more shows that there is more
	n, err := io.Copy(io.MultiWriter(tmp, sum), io.LimitReader(disk.NewInput(ctx, r), limit+1))
	switch {
	case err != nil:
		return File{}, err
	case n > maxBytes:
		return File{}, fmt.Errorf("%w: more than %d bytes", ErrTooLarge, maxBytes)
	}
	for _, check := range checks {
		if err := check(tmp, n); err != nil {
			return File{}, err
		}
	}
	if err := tmp.Sync(); err != nil {
		return File{}, err
	}
	out := File{SHA256: hex.EncodeToString(sum.Sum(nil)), SizeBytes: n}
	unlock, err := a.lockFiles(ctx)
	if err != nil {
		return File{}, err
	}
	defer unlock()
	end, err := a.begin([]string{out.SHA256}, false)
	if err != nil {
		return File{}, err
	}
	if err := disk.Place(tmp.Name(), a.FilePath(out.SHA256)); err != nil {
		return File{}, err
	}
	placed = true
	_, now := a.stamp()
	err = a.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, q.FileInsert, out.SHA256, out.SizeBytes, now)
		return err
	})
	if err == nil { // else the file may have no row: the list tells the next server
		end()
		a.puts.add(out.SHA256, a.now())
	}
	return out, err
}

// FilePath returns where a stored file lies; a path that cannot exist when the text
// is no SHA-256.
func (a *Archive) FilePath(sum string) string {
	return storedIn(a.dir, sum)
}

func storedIn(dir, sum string) string {
	if !disk.IsSum(sum) {
		return filepath.Join(dir, filesName, "none", "none")
	}
	return filepath.Join(dir, filesName, sum[:2], sum)
}

// scanStored reads a row of a file, which has no name.
func scanStored(s scanner) (f File, err error) {
	return f, s.Scan(&f.SHA256, &f.SizeBytes)
}

// OpenFile opens a stored file for reading. The error wraps ErrNotFound when there is
// none.
func (a *Archive) OpenFile(ctx context.Context, sum string) (*os.File, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	f, err := os.Open(a.FilePath(sum))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("opening a stored file: %w", ErrNotFound)
	}
	if err != nil {
		return nil, fmt.Errorf("opening a stored file: %w", err)
	}
	return f, nil
}

// dropUnused deletes the rows of those files that nothing refers to any more, and
// returns their names.
func dropUnused(ctx context.Context, tx *sql.Tx, sums []string) ([]string, error) {
	var gone []string
	for _, s := range sums {
		r, err := tx.ExecContext(ctx, q.FileDeleteUnused, s)
		if err != nil {
			return nil, err
		}
		if n, err := r.RowsAffected(); err != nil {
			return nil, err
		} else if n > 0 {
			gone = append(gone, s)
		}
	}
	return gone, nil
}

// discard changes rows in one transaction and then removes the files that nothing
// refers to any more. do returns the files that may be among them.
func (a *Archive) discard(ctx context.Context, do func(tx *sql.Tx) (maybe []string,
	err error)) (files int, bytes int64, err error) {
	unlock, err := a.lockFiles(ctx)
	if err != nil {
		return 0, 0, err
	}
	defer unlock()
	return a.discardLocked(ctx, do)
}

// discardLocked is discard for one who has the lock of the files.
func (a *Archive) discardLocked(ctx context.Context, do func(tx *sql.Tx) (maybe []string,
	err error)) (files int, bytes int64, err error) {
	var gone []string
	end := func() {}
	err = a.change(ctx, func(tx *sql.Tx) error {
		maybe, err := do(tx)
		if err != nil {
			return err
		}
		// What another has put and is about to name stays, also when it is the same file.
		now := a.now()
		maybe = slices.DeleteFunc(maybe, func(sum string) bool { return a.puts.awaited(sum, now) })
		if gone, err = dropUnused(ctx, tx, maybe); err == nil && len(gone) > 0 {
			end, err = a.begin(gone, true)
		}
		return err
	})
	if err != nil {
		return 0, 0, err // whether it was committed or not: a list that is left does no harm
	}
	a.puts.gone(gone)
	var errs []error
	for _, s := range gone {
		path := a.FilePath(s)
		if info, err := os.Stat(path); err == nil {
			bytes += info.Size()
		}
		if err := errors.Join(disk.IgnoreMissing(os.Remove(path)), a.forgetLost(s)); err != nil {
			errs = append(errs, err)
			continue
		}
		files++
	}
	if len(errs) == 0 { // else the next server tries again
		end()
	}
	return files, bytes, errors.Join(errs...)
}

// lockFiles waits for the turn to put files in place or remove them: between the
// moment a file gets its name and the commit of its row, nobody may clean up.
func (a *Archive) lockFiles(ctx context.Context) (unlock func(), err error) {
	const wait = 5 * time.Millisecond
	for {
		f, ok, err := disk.TryLock(filepath.Join(a.dir, filesLock))
		if err != nil {
			return nil, fmt.Errorf("locking the files: %w", err)
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
