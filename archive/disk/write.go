package disk

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Place gives a synced file its name for good, in a folder that may have to be made in one
// that is there.
func Place(from, to string) error {
	dir := filepath.Dir(to)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	if err := os.Rename(from, to); err != nil {
		return err
	}
	return errors.Join(SyncFolder(dir), SyncFolder(filepath.Dir(dir)))
}

// partName begins the name of what is being written beside its place; a number
// follows.
func partName(place string) string { return "." + filepath.Base(place) + ".part-" }

// LockedPart makes a folder beside its place that is to be renamed to it, and removes what
// was left there by those who were killed.
func LockedPart(place string) (*os.File, error) {
	sweep(place)
	return LockedFolder(filepath.Dir(place), partName(place)+"*")
}

// sweep removes what was being written beside a place by those who were killed. That
// it cannot be removed is no reason not to write anew.
func sweep(place string) {
	dir := filepath.Dir(place)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		number, ok := strings.CutPrefix(e.Name(), partName(place))
		if !ok || number == "" || strings.Trim(number, "0123456789") != "" {
			continue
		}
		path := filepath.Join(dir, e.Name())
		_ = WhenFree(path, e, func() error { return os.RemoveAll(path) })
	}
}

// WriteFile writes a file beside its place dst, syncs it and renames it, and returns where
// it is. fill says whether it is whole: one that is not gets another name beside dst when
// something is there, so that an earlier file is not lost to it. The error wraps
// ErrCannotWrite when it is one of writing.
func WriteFile(dst string, fill func(w io.Writer) (whole bool, err error)) (place string, err error) {
	sweep(dst)
	tmp, err := LockedFile(filepath.Dir(dst), partName(dst)+"*")
	if err != nil {
		return "", err
	}
	defer func() {
		_ = tmp.Close() // it is synced, or given up
		if err != nil {
			_ = os.Remove(tmp.Name())
		}
	}()
	whole, err := fill(Output{W: tmp})
	if err != nil {
		return "", err
	}
	if err := tmp.Sync(); err != nil {
		return "", CannotWrite(err)
	}
	if _, err := os.Lstat(dst); whole || errors.Is(err, fs.ErrNotExist) {
		place = dst
	} else {
		ext := filepath.Ext(dst)
		place = strings.TrimSuffix(dst, ext) + "-incomplete" + ext
	}
	if err := os.Rename(tmp.Name(), place); err != nil {
		return "", CannotWrite(err)
	}
	return place, SyncFolder(filepath.Dir(dst))
}

// SyncTree syncs a folder and those in it by sync, the deepest first: a name must not
// survive a power cut without what it names.
func SyncTree(root string, sync func(folder string) error) error {
	var folders []string
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() {
			folders = append(folders, path)
		}
		return err
	})
	if err != nil {
		return err
	}
	for _, folder := range slices.Backward(folders) { // a folder comes before those in it
		if err := sync(folder); err != nil {
			return err
		}
	}
	return nil
}

// Output tells errors of writing from those of reading: its own wrap ErrCannotWrite.
type Output struct{ W io.Writer }

// Write writes to W.
func (o Output) Write(p []byte) (int, error) {
	n, err := o.W.Write(p)
	return n, CannotWrite(err)
}

// Input keeps the error of reading, so that it can be told from one of writing. It
// stops when its context ends.
type Input struct {
	ctx context.Context
	r   io.Reader
	err error
}

// NewInput returns an Input that reads r.
func NewInput(ctx context.Context, r io.Reader) *Input { return &Input{ctx: ctx, r: r} }

// Err returns the error of reading; nil when there was none, also at the end of what is
// read and when the context has ended.
func (i *Input) Err() error { return i.err }

// Read reads until the context ends.
func (i *Input) Read(p []byte) (int, error) {
	if err := i.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := i.r.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		i.err = err
	}
	return n, err
}

// CopyFile copies a file to a place where none is. It tells errors of reading, unread,
// from all others.
func CopyFile(ctx context.Context, from, to string) (unread, err error) {
	f, err := os.Open(from)
	if err != nil {
		return err, nil
	}
	defer f.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, CannotWrite(err)
	}
	in := NewInput(ctx, f)
	_, err = io.Copy(Output{W: out}, in)
	err = errors.Join(err, out.Close())
	if in.Err() != nil {
		return in.Err(), nil
	}
	return nil, err
}
