package zipped

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"holdfast/archive/disk"
	"holdfast/archive/store"
	"holdfast/words"
)

var (
	// ErrNotWhole: the file is no backup, or not as one was written.
	ErrNotWhole error = words.Error("no_whole_backup")
	// ErrChanged: a file in it is not what was put into it. It comes with ErrNotWhole.
	ErrChanged error = words.Error("entry_changed")
)

// notWhole is an ErrNotWhole in other words.
type notWhole struct{ why error }

func (e notWhole) Error() string   { return e.why.Error() }
func (e notWhole) Unwrap() []error { return []error{ErrNotWhole, e.why} }

// wrongEntry says what is wrong with an entry.
func wrongEntry(name string, why error) error {
	return notWhole{words.Instead(why, "entry_wrong", words.Params{"entry": name, "error": why.Error()})}
}

// Reader reads a backup.
type Reader struct {
	src string
	z   *zip.ReadCloser
}

// Open opens the backup src. The error wraps fs.ErrNotExist when it is not there, else
// ErrNotWhole.
func Open(src string) (*Reader, error) {
	z, err := zip.OpenReader(src)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	if err != nil {
		return nil, notWhole{err}
	}
	return &Reader{src: src, z: z}, nil
}

// Close closes the backup.
func (r *Reader) Close() error { return r.z.Close() }

// Unpack unpacks the backup into a folder: its database, an entry of that name, and files
// as they lie in the store. It returns the SHA-256s of the files that are not what was
// stored and were left out; without keepWhole it stops at the first. The error wraps
// ErrNotWhole where the backup is to blame.
func (r *Reader) Unpack(ctx context.Context, dir, database string,
	keepWhole bool) (changed map[string]bool, err error) {
	// Entries may lie over each other, so that a small file would unpack to a large
	// one. Those of a backup do not, and together are smaller than their file.
	info, err := os.Stat(r.src)
	if err != nil {
		return nil, err
	}
	room := uint64(info.Size())
	for _, f := range r.z.File {
		if f.UncompressedSize64 > room {
			return nil, words.Instead(ErrNotWhole, "backup_swells", words.Params{"file": r.src})
		}
		room -= f.UncompressedSize64
	}
	changed = map[string]bool{}
	for _, f := range r.z.File {
		sum, err := unpack(ctx, f, dir, database)
		if errors.Is(err, ErrChanged) && keepWhole {
			changed[sum] = true
			continue
		}
		if err != nil {
			return nil, err
		}
	}
	if _, err := os.Stat(filepath.Join(dir, database)); err != nil {
		return nil, words.Instead(ErrNotWhole, "backup_without_database", words.Params{"file": r.src})
	}
	return changed, nil
}

// unpack writes one entry of a backup. Only the names of a backup are taken, and only
// entries that are not packed: so it can write no more than the file holds. It returns
// the SHA-256 that a file is named by, empty for the database. The error of a file wraps
// ErrChanged when the content is another; then nothing is left of the entry.
func unpack(ctx context.Context, f *zip.File, dir, database string) (sum string, err error) {
	head, sum, _ := strings.Cut(strings.TrimPrefix(f.Name, store.FilesFolder+"/"), "/")
	isFile := disk.IsSum(sum) && head == sum[:2] && f.Name == path.Join(store.FilesFolder, head, sum)
	changed := ErrChanged
	if !isFile {
		sum, changed = "", errors.New(ErrChanged.Error()) // without the database there is nothing whole
	}
	if !isFile && f.Name != database || !f.Mode().IsRegular() {
		return "", words.Instead(ErrNotWhole, "entry_foreign", words.Params{"entry": f.Name})
	}
	if f.Method != zip.Store || f.UncompressedSize64 != f.CompressedSize64 {
		return "", words.Instead(ErrNotWhole, "entry_packed", words.Params{"entry": f.Name})
	}
	entry, err := f.Open()
	if err != nil {
		return "", notWhole{err}
	}
	defer entry.Close()
	to := filepath.Join(dir, filepath.FromSlash(f.Name))
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return "", disk.CannotWrite(err)
	}
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return "", words.Instead(ErrNotWhole, "entry_twice", words.Params{"entry": f.Name})
	}
	if err != nil {
		return "", disk.CannotWrite(err)
	}
	// One byte more than there should be: the checksum of the zip is compared at the
	// end of the entry only.
	in, h := disk.NewInput(ctx, io.LimitReader(entry, int64(f.UncompressedSize64)+1)), sha256.New()
	n, err := io.Copy(io.MultiWriter(disk.Output{W: out}, h), in)
	switch {
	case in.Err() != nil:
		err = wrongEntry(f.Name, fmt.Errorf("%w: %w", changed, in.Err()))
	case err == nil && (uint64(n) != f.UncompressedSize64 || sum != "" && hex.EncodeToString(h.Sum(nil)) != sum):
		err = wrongEntry(f.Name, changed)
	case err == nil:
		err = disk.CannotWrite(out.Sync())
	}
	err = errors.Join(err, disk.CannotWrite(out.Close()))
	if err != nil {
		_ = os.Remove(to) // it lies in a folder that goes as a whole when this fails
	}
	return sum, err
}
