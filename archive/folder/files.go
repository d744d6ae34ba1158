package folder

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"slices"
	"sync"
	"time"

	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/words"
)

//go:embed queries.sql
var queriesText string

// q holds the statements of queries.sql by their names.
var q = func() (all queries) {
	rows.MustFill(&all, queriesText)
	return all
}()

type queries struct {
	FileInsert, FileSize, Files, FileDeleteUnused, FilesUnused string
}

// File is a stored file under a name of its own.
type File struct {
	Name      string `json:"name"`
	SHA256    string `json:"sha256"`
	SizeBytes int64  `json:"size_bytes"`
}

// Put stores what it reads under the SHA-256 of its content and returns it without a
// name. The same content is stored once. The error wraps ErrTooLarge when there are
// more than maxBytes. A check looks at the whole file before it is kept; what it returns
// is the error, wrapped.
//
// A file that nothing comes to refer to is removed by Forget, by the next deletion of
// an athlete, visit or clip a quarter of an hour later, or at the next start of a
// server.
func (d *Folder) Put(ctx context.Context, r io.Reader, maxBytes int64,
	checks ...func(io.ReaderAt, int64) error) (File, error) {
	f, err := d.put(ctx, r, maxBytes, checks)
	if err != nil {
		return File{}, words.Doing("doing_storing_file", err)
	}
	return f, nil
}

func (d *Folder) put(ctx context.Context, r io.Reader, maxBytes int64,
	checks []func(io.ReaderAt, int64) error) (File, error) {
	in, err := d.receive(ctx, r, maxBytes, checks)
	if err != nil {
		return File{}, err
	}
	defer in.Close()
	files, err := d.place(ctx, []*store.Received{in})
	if err != nil {
		return File{}, err
	}
	return files[0], nil
}

// receive has the store take a file of at most so many bytes.
func (d *Folder) receive(ctx context.Context, r io.Reader, maxBytes int64,
	checks []func(io.ReaderAt, int64) error) (*store.Received, error) {
	limit := max(0, min(maxBytes, math.MaxInt64-1)) // one byte more shows that there is more
	fits := func(_ io.ReaderAt, bytes int64) error {
		if bytes > maxBytes {
			return words.Because(ErrTooLarge, "why_bytes", words.Params{"bytes": maxBytes})
		}
		return nil
	}
	return d.Store.Receive(ctx, io.LimitReader(r, limit+1), slices.Insert(slices.Clone(checks), 0, fits)...)
}

// PutAll stores the files at these paths as Put does, but together: database and disk are asked once for all, and what
// takes its time is done side by side. Where files are kept elsewhere no copies of these stay here.
func (d *Folder) PutAll(ctx context.Context, paths []string, maxBytes int64) (files []File, err error) {
	all := make([]*store.Received, len(paths))
	defer func() {
		for _, in := range all {
			if in != nil {
				in.Close()
			}
		}
	}()
	err = together(len(paths), func(i int) error {
		f, err := os.Open(paths[i])
		if err != nil {
			return err
		}
		defer f.Close()
		if all[i], err = d.receive(ctx, f, maxBytes, nil); err == nil {
			all[i].Leaves = true
		}
		return err
	})
	if err == nil && len(all) > 0 {
		files, err = d.place(ctx, all)
	}
	if err != nil {
		return nil, words.Doing("doing_storing_file", err)
	}
	return files, nil
}

// place puts files that have come into the store and makes rows of them.
func (d *Folder) place(ctx context.Context, all []*store.Received) (files []File, err error) {
	unlock, err := d.KeepFiles(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { unlock() }()
	var sums []string
	for _, in := range all {
		files = append(files, File{SHA256: in.Sum, SizeBytes: in.Bytes})
		sums = append(sums, in.Sum)
	}
	slices.Sort(sums)
	end, err := d.begin(ctx, d.Write, slices.Compact(sums), false)
	if err != nil {
		return nil, err
	}
	if d.Store.Away() { // sending may take long: others go on
		unlock()
		unlock = func() {}
		if err := together(len(all), func(i int) error { return all[i].Send(ctx) }); err != nil {
			return nil, err
		}
		again, err := d.KeepFiles(ctx)
		if err != nil {
			return nil, err
		}
		unlock = again
	}
	if err := together(len(all), func(i int) error { return all[i].Place(ctx) }); err != nil {
		return nil, err
	}
	_, now := d.Stamp()
	var inserts [][]any
	for _, f := range files {
		if row := []any{f.SHA256, f.SizeBytes, now}; !slices.ContainsFunc(inserts, func(other []any) bool {
			return other[0] == row[0]
		}) {
			inserts = append(inserts, row)
		}
	}
	err = rows.InsertAll(ctx, d.Soon(), q.FileInsert, inserts)
	if err == nil { // else the files may have no rows: the list tells the next server
		end()
		for _, f := range files {
			d.Store.Await(f.SHA256)
		}
	}
	return files, err
}

// atOnce is how many files are received, sent or placed side by side.
const atOnce = 8

// together does something for each of so many, some at once, and returns what went wrong first.
func together(n int, do func(i int) error) error {
	if n == 1 {
		return do(0)
	}
	errs := make([]error, n)
	turns := make(chan struct{}, atOnce)
	var all sync.WaitGroup
	for i := range n {
		turns <- struct{}{}
		all.Go(func() {
			errs[i] = do(i)
			<-turns
		})
	}
	all.Wait()
	return errors.Join(errs...)
}

// scanStored reads a row of a file, which has no name.
func scanStored(s rows.Scanner) (f File, err error) {
	return f, s.Scan(&f.SHA256, &f.SizeBytes)
}

// Files lists the files that have a row, without their names.
func Files(ctx context.Context, db rows.Querier) ([]File, error) {
	return rows.List(ctx, db, scanStored, q.Files)
}

// FileSize returns the size of a file that has a row, in bytes.
func FileSize(ctx context.Context, db rows.Querier, sum string) (bytes int64, err error) {
	err = db.QueryRowContext(ctx, q.FileSize, sum).Scan(&bytes)
	return bytes, rows.NotFound(err)
}

// Unused returns the sums of the files that nothing refers to.
func Unused(ctx context.Context, db rows.Querier) (sums []string, err error) {
	all, err := rows.List(ctx, db, scanUnused, q.FilesUnused)
	for _, u := range all {
		sums = append(sums, u.sum)
	}
	return sums, err
}

// OpenFile opens a stored file for reading. The error wraps rows.ErrNotFound when there is
// none.
func (d *Folder) OpenFile(ctx context.Context, sum string) (*os.File, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var f *os.File
	err := d.Store.Fetch(ctx, sum)
	if err == nil {
		f, err = os.Open(d.Store.Path(sum))
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil, words.Doing("doing_opening_stored_file", rows.ErrNotFound)
	}
	if err != nil {
		return nil, words.Doing("doing_opening_stored_file", err)
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

// Discard changes rows in one transaction and then removes the files that nothing
// refers to any more. do returns the files that may be among them.
func (d *Folder) Discard(ctx context.Context, do func(tx *sql.Tx) (maybe []string,
	err error)) (files int, bytes int64, err error) {
	unlock, alive, err := d.lockFiles(ctx, true)
	if err != nil {
		return 0, 0, err
	}
	defer unlock()
	return d.discardLocked(ctx, alive, do)
}

// discardLocked is Discard for one who has the lock of the files, as long as it is alive.
func (d *Folder) discardLocked(ctx context.Context, alive func() error, do func(tx *sql.Tx) (maybe []string,
	err error)) (files int, bytes int64, err error) {
	var gone []string
	end := func() {}
	err = rows.Change(ctx, d.Write, func(tx *sql.Tx) error {
		maybe, err := do(tx)
		if err != nil {
			return err
		}
		// What another has put and is about to name stays, also when it is the same file.
		now := d.now()
		maybe = slices.DeleteFunc(maybe, func(sum string) bool { return d.Store.Awaited(sum, now) })
		if gone, err = dropUnused(ctx, tx, maybe); err == nil && len(gone) > 0 {
			end, err = d.begin(ctx, tx, gone, true)
		}
		return err
	})
	if err != nil {
		return 0, 0, err // whether it was committed or not: a list that is left does no harm
	}
	if len(gone) > 0 {
		err = alive()
	}
	if err == nil {
		files, bytes, err = d.Store.Remove(ctx, gone)
	}
	if err == nil { // else the next server tries again
		end()
	}
	return files, bytes, err
}

// Named ends the wait of files that were put and got their name, or did not because of err.
func (d *Folder) Named(err error, files ...File) {
	for _, f := range files {
		d.Store.Named(f.SHA256, err)
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

// Abandoned returns the files that no row refers to and that nobody is about to name.
// They may be of anyone, also of an athlete who is being deleted.
func (d *Folder) Abandoned(ctx context.Context, tx *sql.Tx) ([]string, error) {
	all, err := rows.List(ctx, tx, scanUnused, q.FilesUnused)
	if err != nil {
		return nil, err
	}
	now, _ := d.Stamp()
	var out []string
	for _, u := range all {
		if d.Store.Failed(u.sum) || now.Sub(u.put) > store.NameWithin {
			out = append(out, u.sum)
		}
	}
	return out, nil
}

// Forget removes a file that was just put and will not be named after all. It leaves
// the file when something refers to it, or when another has put the same and may name
// it.
func (d *Folder) Forget(ctx context.Context, f File) error {
	if d.Store.GiveUp(f.SHA256) {
		return nil
	}
	_, _, err := d.Discard(ctx, func(*sql.Tx) ([]string, error) { return []string{f.SHA256}, nil })
	if err != nil {
		return words.Doing("doing_removing_file", err)
	}
	return nil
}
