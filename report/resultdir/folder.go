package resultdir

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"holdfast/vision/media"
	"holdfast/words"
)

// The reasons for which a result cannot be put into its folder.
var (
	// ErrCannotWrite: no permission, a full disk, a file in the folder's place.
	ErrCannotWrite = errors.New("the results cannot be written")
	// ErrBusy: another run is writing into the same folder.
	ErrBusy error = words.Error("busy")
	// ErrNotOurs: the folder holds something else than results.
	ErrNotOurs error = words.Error("not_ours")
)

// The files that mark a folder as a result.
const (
	AnalysisFile   = "analysis.json"
	SeriesFile     = "series.csv"
	KeypointsFile  = "keypoints.json"
	ComparisonFile = "comparison.json"
)

// Folder is a result being built beside the place where it will stand.
type Folder struct {
	Target string // where it will stand
	temp   string // where it is being built
	old    string // where the fallback exchange parks an earlier result
	lock   *os.File
	ended  bool
	ours   func(name string) bool // the files a result of this kind consists of
	// Create makes a file; tests put a full disk here.
	Create func(path string) (io.WriteCloser, error)
}

// Open begins a result that will stand at target: a path that does not
// exist yet, an empty folder, or an earlier result. ours names the files that
// the new result replaces; everything else in an earlier result is kept.
func Open(target string, ours func(name string) bool) (*Folder, error) {
	target, err := filepath.Abs(target)
	if err != nil {
		return nil, fmt.Errorf("opening the folder %s: %w: %w", target, ErrCannotWrite, err)
	}
	if resolved, err := filepath.EvalSymlinks(target); err == nil {
		target = resolved // a link to a folder stays a link
	}
	parent, base := filepath.Split(target)
	if base == "" {
		return nil, fmt.Errorf("opening the folder %s: %w: it has no name", target, ErrCannotWrite)
	}
	if err := os.MkdirAll(parent, 0o755); err != nil {
		return nil, fmt.Errorf("opening the folder %s: %w: %w", target, ErrCannotWrite, err)
	}
	f := &Folder{
		Target: target,
		old:    filepath.Join(parent, "."+base+".holdfast-old"),
		ours:   ours,
		Create: func(path string) (io.WriteCloser, error) { return os.Create(path) },
	}
	if f.lock, err = lockFile(filepath.Join(parent, "."+base+".holdfast-lock")); err != nil {
		return nil, fmt.Errorf("opening the folder %s: %w", target, err)
	}
	err = f.recover(parent, base)
	if err == nil {
		err = f.inspect()
	}
	if err == nil {
		if f.temp, err = os.MkdirTemp(parent, "."+base+".holdfast-new-"); err != nil {
			err = fmt.Errorf("%w: %w", ErrCannotWrite, err)
		}
	}
	if err != nil {
		f.unlock()
		return nil, fmt.Errorf("opening the folder %s: %w", target, err)
	}
	return f, nil
}

// lockFile takes a file's lock without waiting. The lock of a process that died
// is free.
func lockFile(path string) (*os.File, error) {
	for range 100 {
		l, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o644)
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrCannotWrite, err)
		}
		if err := syscall.Flock(int(l.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
			_ = l.Close()
			if errors.Is(err, syscall.EWOULDBLOCK) {
				return nil, ErrBusy
			}
			return nil, fmt.Errorf("%w: locking it: %w", ErrCannotWrite, err)
		}
		// The run before may have removed the file between opening and locking;
		// then the lock is on a file that nobody else will find.
		mine, err1 := l.Stat()
		there, err2 := os.Stat(path)
		if err1 == nil && err2 == nil && os.SameFile(mine, there) {
			return l, nil
		}
		_ = l.Close()
	}
	return nil, ErrBusy
}

func (f *Folder) unlock() {
	_ = os.Remove(f.lock.Name())
	_ = f.lock.Close()
}

// recover puts right what a run that died left behind. The lock is held, so
// nobody else is at work here.
func (f *Folder) recover(parent, base string) error {
	if _, err := os.Lstat(f.old); err == nil {
		if _, err := os.Lstat(f.Target); errors.Is(err, fs.ErrNotExist) {
			if err := os.Rename(f.old, f.Target); err != nil {
				return fmt.Errorf("%w: putting the earlier result back: %w", ErrCannotWrite, err)
			}
		} else if err := os.RemoveAll(f.old); err != nil {
			return fmt.Errorf("%w: %w", ErrCannotWrite, err)
		}
	}
	entries, err := os.ReadDir(parent)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrCannotWrite, err)
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), "."+base+".holdfast-new-") {
			if err := os.RemoveAll(filepath.Join(parent, e.Name())); err != nil {
				return fmt.Errorf("%w: %w", ErrCannotWrite, err)
			}
		}
	}
	return nil
}

// inspect refuses a target that is neither new, nor empty, nor a result.
func (f *Folder) inspect() error {
	info, err := os.Stat(f.Target)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return fmt.Errorf("%w: %w", ErrCannotWrite, err)
	case !info.IsDir():
		return fmt.Errorf("%w: there is a file of that name, choose another folder", ErrCannotWrite)
	}
	entries, err := os.ReadDir(f.Target)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrCannotWrite, err)
	}
	if len(entries) > 0 && !slices.ContainsFunc(entries, func(e fs.DirEntry) bool {
		return e.Name() == AnalysisFile || e.Name() == ComparisonFile
	}) {
		return fmt.Errorf("%w: choose an empty or a new folder", ErrNotOurs)
	}
	return nil
}

// Path returns where a file of the result is being built.
func (f *Folder) Path(name string) string { return filepath.Join(f.temp, filepath.FromSlash(name)) }

// Mkdir makes a folder within the result.
func (f *Folder) Mkdir(name string) error {
	if err := os.MkdirAll(f.Path(name), 0o755); err != nil {
		return f.CannotWrite(name, err)
	}
	return nil
}

// Write makes a file of the result; fill writes its content.
func (f *Folder) Write(name string, fill func(io.Writer) error) error {
	w, err := f.Create(f.Path(name))
	if err != nil {
		return f.CannotWrite(name, err)
	}
	err = fill(w)
	if s, ok := w.(interface{ Sync() error }); ok && err == nil {
		// A full disk or a pulled stick shows here at the latest, before the
		// earlier result is given up.
		if syncErr := s.Sync(); syncErr != nil && !errors.Is(syncErr, syscall.EINVAL) {
			err = syncErr
		}
	}
	if closeErr := w.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return f.CannotWrite(name, err)
	}
	return nil
}

// Bytes makes a file of the result.
func (f *Folder) Bytes(name string, content []byte) error {
	return f.Write(name, func(w io.Writer) error {
		_, err := w.Write(content)
		return err
	})
}

func (f *Folder) CannotWrite(name string, err error) error {
	if errors.Is(err, ErrCannotWrite) {
		return err
	}
	return fmt.Errorf("writing %s: %w: %w", filepath.Join(f.Target, name), ErrCannotWrite, err)
}

// Commit puts the result in its place in one step and ends the folder.
func (f *Folder) Commit() error {
	f.ended = true
	defer f.unlock()
	err := f.keepForeign(f.Target, f.temp)
	if err == nil {
		err = os.Chmod(f.temp, 0o755)
	}
	if err == nil {
		err = f.putInPlace()
	}
	if err != nil {
		return errors.Join(f.CannotWrite("", err), os.RemoveAll(f.temp))
	}
	return nil
}

// putInPlace exchanges the new folder with what stands in its place.
func (f *Folder) putInPlace() error {
	if _, err := os.Lstat(f.Target); errors.Is(err, fs.ErrNotExist) {
		return os.Rename(f.temp, f.Target)
	}
	if err := exchange(f.temp, f.Target); err == nil {
		_ = os.RemoveAll(f.temp) // the earlier result; what stays is removed by the next run
		return nil
	}
	// No exchange in one step on this file system: park the earlier result. A run
	// that dies in between is put right by recover.
	if err := os.Rename(f.Target, f.old); err != nil {
		return err
	}
	if err := os.Rename(f.temp, f.Target); err != nil {
		return errors.Join(err, os.Rename(f.old, f.Target))
	}
	_ = os.RemoveAll(f.old)
	return nil
}

// Abort gives the result up. After commit it does nothing.
func (f *Folder) Abort() {
	if f.ended {
		return
	}
	f.ended = true
	_ = os.RemoveAll(f.temp)
	f.unlock()
}

// keepForeign links what an earlier result holds beside its own files, the
// coach's notes for instance, into the new one.
func (f *Folder) keepForeign(from, to string) error {
	entries, err := os.ReadDir(from)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, e := range entries {
		if f.ours(e.Name()) {
			continue
		}
		if _, err := os.Lstat(filepath.Join(to, e.Name())); err == nil {
			continue
		}
		if err := Keep(filepath.Join(from, e.Name()), filepath.Join(to, e.Name())); err != nil {
			return fmt.Errorf("keeping %s: %w", e.Name(), err)
		}
	}
	return nil
}

// Keep makes a second name for a file, or for all files of a folder.
func Keep(from, to string) error {
	return filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		dst := filepath.Join(to, rel)
		switch {
		case d.IsDir():
			return os.MkdirAll(dst, 0o755)
		case d.Type()&fs.ModeSymlink != 0:
			where, err := os.Readlink(path)
			if err != nil {
				return err
			}
			return os.Symlink(where, dst)
		}
		if os.Link(path, dst) == nil {
			return nil
		}
		src, err := os.Open(path) // a file system without links
		if err != nil {
			return err
		}
		defer src.Close()
		w, err := os.Create(dst)
		if err != nil {
			return err
		}
		if _, err := io.Copy(w, src); err != nil {
			return errors.Join(err, w.Close())
		}
		return w.Close()
	})
}

// VideoError marks a video that could not be written as a failure to write,
// unless something is not installed or the work was stopped.
func (f *Folder) VideoError(name string, err error) error {
	if errors.Is(err, media.ErrNotInstalled) || errors.Is(err, context.Canceled) ||
		errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return f.CannotWrite(name, err)
}
