package archive

import (
	"cmp"
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"holdfast/archive/backup"
	"holdfast/archive/check"
	"holdfast/archive/disk"
	"holdfast/archive/folder"
	"holdfast/archive/move"
	"holdfast/archive/rows"
	"holdfast/words"
)

// Options are the choices for an archive.
type Options = folder.Options

// Archive is an open data folder. Its methods may be called at the same time.
type Archive struct {
	folder *folder.Folder
	worker string        // names this program to others that take jobs
	lease  time.Duration // of a job that it takes
}

// Open opens the data folder dir, makes it when there is none, and brings its database to the schema of this program.
// With Options.Serving it first checks the database and removes what a killed server left half done; what nobody knows
// goes to the folder lost.
//
// The error wraps ErrNotArchive, ErrInUse, ErrNewerSchema or ErrDamaged where it is one of these.
func Open(ctx context.Context, dir string, opt Options) (*Archive, error) {
	f, err := folder.Open(ctx, dir, opt)
	if err != nil {
		return nil, err
	}
	worker, err := rows.NewID()
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return &Archive{folder: f, worker: worker, lease: cmp.Or(opt.Lease, Lease)}, nil
}

// Close closes the database and gives up the folder.
func (a *Archive) Close() error { return a.folder.Close() }

// Dir returns the data folder.
func (a *Archive) Dir() string { return a.folder.Dir }

// FilesAway says whether the files are kept elsewhere than in the data folder, by whatever server was named.
func (a *Archive) FilesAway() bool { return a.folder.Store.Away() }

// OpenToOthers says whether other users of this computer may look into the data folder,
// as into one that was there before the archive. A new one is its owner's alone.
func (a *Archive) OpenToOthers() (bool, error) { return a.folder.OpenToOthers() }

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
	return a.folder.Put(ctx, r, maxBytes, checks...)
}

// PutAll stores the files at these paths as Put does, together, which takes a fraction of the time.
func (a *Archive) PutAll(ctx context.Context, paths []string, maxBytes int64) ([]File, error) {
	return a.folder.PutAll(ctx, paths, maxBytes)
}

// Forget removes a file that was just put and will not be named after all. It leaves
// the file when something refers to it, or when another has put the same and may name
// it.
func (a *Archive) Forget(ctx context.Context, f File) error { return a.folder.Forget(ctx, f) }

// Fetch sees to it that stored files can be read at their paths, for an hour at least: those that are kept elsewhere
// are copied from there. They are named by SHA-256 or by what FilePath says; other names ask for nothing.
func (a *Archive) Fetch(ctx context.Context, names ...string) error {
	for _, name := range names {
		sum := filepath.Base(name)
		if !disk.IsSum(sum) {
			continue
		}
		if err := a.folder.Store.Fetch(ctx, sum); err != nil {
			return words.Doing("doing_opening_stored_file", err)
		}
	}
	return nil
}

// FilePath returns where a stored file lies that was fetched; a path that cannot exist when the text
// is no SHA-256.
func (a *Archive) FilePath(sum string) string { return a.folder.Store.Path(sum) }

// OpenFile opens a stored file for reading. The error wraps ErrNotFound when there is
// none.
func (a *Archive) OpenFile(ctx context.Context, sum string) (*os.File, error) {
	return a.folder.OpenFile(ctx, sum)
}

// Check compares every file with its hash, every row with its file and every file
// with its row, and asks SQLite to check the database: see check.Folder.
func (a *Archive) Check(ctx context.Context) (check.Report, error) {
	return check.Folder(ctx, a.folder)
}

// Backup writes everything into one zip file at dst, also while a server runs: see backup.Write.
func (a *Archive) Backup(ctx context.Context, dst string) error {
	return backup.Write(ctx, a.folder, dst)
}

// CopyTo copies everything to another archive, which must have no athletes: see move.Copy.
func (a *Archive) CopyTo(ctx context.Context, to *Archive, progress func(done, total int)) (files, n int, err error) {
	return move.Copy(ctx, a.folder, to.folder, progress)
}

// The longest names and notes, in bytes.
const (
	maxName  = 400
	maxNotes = 40_000
	maxDoc   = 8 << 20
)

// fieldName is what people call something that is stored.
func fieldName(what string) string { return words.Say("stored_field."+what, nil) }

// checkText refuses text that is too long, is not UTF-8, or holds control characters;
// lines says that line ends and tabs are allowed.
func checkText(what, s string, most int, lines bool) error {
	if len(s) > most {
		return words.Because(ErrInvalid, "why_long", words.Params{"what": fieldName(what), "bytes": most})
	}
	for _, r := range strings.ToValidUTF8(s, "\x00") {
		if unicode.IsControl(r) && !(lines && (r == '\n' || r == '\t' || r == '\r')) {
			return words.Because(ErrInvalid, "why_control", words.Params{"what": fieldName(what)})
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
	return words.Because(ErrInvalid, "why_number", words.Params{"what": fieldName(what), "value": *x})
}
