// Package files keeps files under the SHA-256 of their content: in a folder of this computer, or in what implements
// Files elsewhere. It knows no rows, no locks and no clock; package store sees to those.
//
// The key of a file is Key of its sum, in a folder its path and in a bucket the name of the object, so that what one of
// them holds can be carried to the other by any program that copies files.
package files

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"holdfast/archive/disk"
)

// Files keeps contents by their SHA-256. Its methods may be called at the same time, by several processes and machines.
// That a file is not there is an error that wraps fs.ErrNotExist. Every other error leaves open whether what was asked
// for was done: asking again does no harm.
type Files interface {
	// Put keeps the synced file at a path, which has this sum, whole or not at all; what is there already stays or is
	// written anew. The file at the path stays, but for a Folder that moves it.
	Put(ctx context.Context, sum, from string) error
	// Get opens a file for reading from its beginning.
	Get(ctx context.Context, sum string) (io.ReadCloser, error)
	// Size returns how many bytes a file has.
	Size(ctx context.Context, sum string) (int64, error)
	// Delete removes a file; one that is not there is no error.
	Delete(ctx context.Context, sum string) error
	// List calls do for everything that lies there, in no order; a key need not be that of a sum: strangers are told too.
	List(ctx context.Context, do func(key string) error) error
}

// Key returns the key of a file: two digits of its sum, so that no folder grows too long, and the sum. What is no sum
// has a key that nothing lies at.
func Key(sum string) string {
	if !disk.IsSum(sum) {
		return "none/none"
	}
	return sum[:2] + "/" + sum
}

// Folder is the careful local folder: what was put is synced, with the folders that hold its name, before Put returns.
type Folder struct {
	Root string
	// Move moves what is put from where it was, which costs nothing on the same disk, instead of copying it.
	Move bool
}

var _ Files = Folder{}

// Path returns where a file lies, given its SHA-256; a path that cannot exist when the text is none.
func (f Folder) Path(sum string) string { return filepath.Join(f.Root, filepath.FromSlash(Key(sum))) }

// Put copies the file to its place, or moves it there.
func (f Folder) Put(ctx context.Context, sum, from string) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := os.MkdirAll(f.Root, 0o700); err != nil {
		return err
	}
	if f.Move {
		if err := disk.Place(from, f.Path(sum)); err == nil || !disk.IsOtherDisk(err) {
			return err
		}
	}
	if err := os.MkdirAll(filepath.Dir(f.Path(sum)), 0o700); err != nil {
		return err
	}
	_, err := disk.WriteFile(f.Path(sum), func(w io.Writer) (bool, error) {
		in, err := os.Open(from)
		if err != nil {
			return true, err
		}
		defer in.Close()
		_, err = io.Copy(w, disk.NewInput(ctx, in))
		return true, err
	})
	return errors.Join(err, disk.SyncFolder(f.Root))
}

// Get opens the file.
func (f Folder) Get(ctx context.Context, sum string) (io.ReadCloser, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return os.Open(f.Path(sum))
}

// Size asks the file system.
func (f Folder) Size(ctx context.Context, sum string) (int64, error) {
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	info, err := os.Stat(f.Path(sum))
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

// Delete removes the file.
func (f Folder) Delete(ctx context.Context, sum string) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	return disk.IgnoreMissing(os.Remove(f.Path(sum)))
}

// List walks the folder; one that is not there holds nothing.
func (f Folder) List(ctx context.Context, do func(key string) error) error {
	return filepath.WalkDir(f.Root, func(at string, d fs.DirEntry, err error) error {
		switch {
		case errors.Is(err, fs.ErrNotExist): // gone meanwhile, or never there
			return nil
		case err != nil:
			return err
		case ctx.Err() != nil:
			return ctx.Err()
		case d.IsDir(), !f.Move && strings.HasPrefix(d.Name(), "."): // the latter is being copied by another
			return nil
		}
		rel, err := filepath.Rel(f.Root, at)
		if err != nil {
			return err
		}
		return do(path.Clean(filepath.ToSlash(rel)))
	})
}
