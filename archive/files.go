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
)

// Put stores what it reads under the SHA-256 of its content and returns it without a
// name. The same content is stored once. The error wraps ErrTooLarge when there are
// more than maxBytes.
//
// A file that nothing refers to is removed at the next start of a server.
func (a *Archive) Put(ctx context.Context, r io.Reader, maxBytes int64) (File, error) {
	f, err := a.put(ctx, r, maxBytes)
	if err != nil {
		return File{}, fmt.Errorf("storing a file: %w", err)
	}
	return f, nil
}

func (a *Archive) put(ctx context.Context, r io.Reader, maxBytes int64) (_ File, err error) {
	tmp, err := a.tempFile("put-*")
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
	n, err := io.Copy(io.MultiWriter(tmp, sum), io.LimitReader(ctxReader{ctx, r}, limit+1))
	switch {
	case err != nil:
		return File{}, err
	case n > maxBytes:
		return File{}, fmt.Errorf("%w: more than %d bytes", ErrTooLarge, maxBytes)
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
	path := a.FilePath(out.SHA256)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return File{}, err
	}
	if err := os.Rename(tmp.Name(), path); err != nil {
		return File{}, err
	}
	placed = true
	if err := errors.Join(syncDir(filepath.Dir(path)), syncDir(filepath.Join(a.dir, filesName))); err != nil {
		return File{}, err
	}
	_, now := a.stamp()
	err = a.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, q.FileInsert, out.SHA256, out.SizeBytes, now)
		return err
	})
	return out, err
}

// tempFile makes a file in tmp and locks it, so that a server that starts leaves it
// alone.
func (a *Archive) tempFile(pattern string) (*os.File, error) {
	for {
		f, err := os.CreateTemp(filepath.Join(a.dir, tmpName), pattern)
		if err != nil {
			return nil, err
		}
		locked, err := lockOpen(f)
		if err != nil {
			return nil, errors.Join(err, f.Close(), os.Remove(f.Name()))
		}
		if locked {
			ours, err := f.Stat()
			if err != nil {
				return nil, errors.Join(err, f.Close())
			}
			if there, err := os.Stat(f.Name()); err == nil && os.SameFile(ours, there) {
				return f, nil
			}
		}
		_ = f.Close() // it was cleaned away before it was locked
	}
}

// ctxReader stops reading when its context ends.
type ctxReader struct {
	ctx context.Context
	r   io.Reader
}

func (c ctxReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}

func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// isSum says whether a text is a SHA-256 as files are named by.
func isSum(s string) bool {
	if len(s) != 2*sha256.Size {
		return false
	}
	for _, c := range s {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}

// FilePath returns where a stored file lies; a path that cannot exist when the text
// is no SHA-256.
func (a *Archive) FilePath(sum string) string {
	if !isSum(sum) {
		return filepath.Join(a.dir, filesName, "none", "none")
	}
	return filepath.Join(a.dir, filesName, sum[:2], sum)
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
func (a *Archive) discard(ctx context.Context, do func(tx *sql.Tx) (maybe []string, err error)) (files int, bytes int64, err error) {
	unlock, err := a.lockFiles(ctx)
	if err != nil {
		return 0, 0, err
	}
	defer unlock()
	var gone []string
	err = a.change(ctx, func(tx *sql.Tx) error {
		maybe, err := do(tx)
		if err != nil {
			return err
		}
		gone, err = dropUnused(ctx, tx, maybe)
		return err
	})
	if err != nil {
		return 0, 0, err
	}
	var errs []error
	for _, s := range gone {
		path := a.FilePath(s)
		if info, err := os.Stat(path); err == nil {
			bytes += info.Size()
		}
		if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
			continue
		}
		files++
	}
	return files, bytes, errors.Join(errs...)
}
