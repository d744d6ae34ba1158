package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"slices"
	"time"

	"holdfast/archive/rows"
	"holdfast/archive/store"
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
	limit := max(0, min(maxBytes, math.MaxInt64-1)) // one byte more shows that there is more
	fits := func(_ io.ReaderAt, bytes int64) error {
		if bytes > maxBytes {
			return fmt.Errorf("%w: more than %d bytes", ErrTooLarge, maxBytes)
		}
		return nil
	}
	in, err := a.store.Receive(ctx, io.LimitReader(r, limit+1), slices.Insert(checks, 0, fits)...)
	if err != nil {
		return File{}, err
	}
	defer in.Close()
	unlock, err := a.store.Lock(ctx)
	if err != nil {
		return File{}, err
	}
	defer unlock()
	end, err := a.store.Begin([]string{in.Sum}, false)
	if err != nil {
		return File{}, err
	}
	if err := in.Place(); err != nil {
		return File{}, err
	}
	_, now := a.stamp()
	err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, q.FileInsert, in.Sum, in.Bytes, now)
		return err
	})
	if err == nil { // else the file may have no row: the list tells the next server
		end()
		a.store.Await(in.Sum)
	}
	return File{SHA256: in.Sum, SizeBytes: in.Bytes}, err
}

// FilePath returns where a stored file lies; a path that cannot exist when the text
// is no SHA-256.
func (a *Archive) FilePath(sum string) string {
	return a.store.Path(sum)
}

// scanStored reads a row of a file, which has no name.
func scanStored(s rows.Scanner) (f File, err error) {
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
	unlock, err := a.store.Lock(ctx)
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
	err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
		maybe, err := do(tx)
		if err != nil {
			return err
		}
		// What another has put and is about to name stays, also when it is the same file.
		now := a.now()
		maybe = slices.DeleteFunc(maybe, func(sum string) bool { return a.store.Awaited(sum, now) })
		if gone, err = dropUnused(ctx, tx, maybe); err == nil && len(gone) > 0 {
			end, err = a.store.Begin(gone, true)
		}
		return err
	})
	if err != nil {
		return 0, 0, err // whether it was committed or not: a list that is left does no harm
	}
	files, bytes, err = a.store.Remove(gone)
	if err == nil { // else the next server tries again
		end()
	}
	return files, bytes, err
}

// named ends the wait of files that were put and got their name, or did not because of err.
func (a *Archive) named(err error, files ...File) {
	for _, f := range files {
		a.store.Named(f.SHA256, err)
	}
}

// unused is a file that no row refers to.
type unused struct {
	sum string
	put time.Time
}

// scanUnused reads such a file; a time that is none counts as long ago.
func scanUnused(s rows.Scanner) (u unused, err error) {
	var put string
	err = s.Scan(&u.sum, &put)
	if t, timeErr := time.Parse(time.RFC3339Nano, put); timeErr == nil {
		u.put = t
	}
	return u, err
}

func sumsOf(all []unused) []string {
	out := make([]string, 0, len(all))
	for _, u := range all {
		out = append(out, u.sum)
	}
	return out
}

// abandoned returns the files that no row refers to and that nobody is about to name.
// They may be of anyone, also of an athlete who is being deleted.
func (a *Archive) abandoned(ctx context.Context, tx *sql.Tx) ([]string, error) {
	all, err := rows.List(ctx, tx, scanUnused, q.FilesUnused)
	if err != nil {
		return nil, err
	}
	now, _ := a.stamp()
	var out []string
	for _, u := range all {
		if a.store.Failed(u.sum) || now.Sub(u.put) > store.NameWithin {
			out = append(out, u.sum)
		}
	}
	return out, nil
}

// Forget removes a file that was just put and will not be named after all. It leaves
// the file when something refers to it, or when another has put the same and may name
// it.
func (a *Archive) Forget(ctx context.Context, f File) error {
	if a.store.GiveUp(f.SHA256) {
		return nil
	}
	_, _, err := a.discard(ctx, func(*sql.Tx) ([]string, error) { return []string{f.SHA256}, nil })
	if err != nil {
		return fmt.Errorf("removing a file: %w", err)
	}
	return nil
}
