package disk

import (
	"errors"
	"io/fs"
	"os"
)

// TryLock takes a lock file for this process, and makes it when there is none; ok is false
// when another has it. The lock ends with Release, also when the process is killed.
func TryLock(path string) (f *os.File, ok bool, err error) {
	if f, err = os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600); err != nil {
		return nil, false, err
	}
	if ok, err = lockOpen(f); !ok {
		return nil, false, errors.Join(err, f.Close())
	}
	return f, true, nil
}

// Release gives a lock up and closes its file. Closing alone would leave the lock to a
// child that was just being started and still shares the file.
func Release(f *os.File) error {
	return errors.Join(unlockOpen(f), f.Close())
}

// LockedFile makes a file in a folder, its name by the pattern of os.CreateTemp, and locks
// it until it is closed, so that whoever cleans up there leaves it alone. The error wraps
// ErrCannotWrite when it cannot be made.
func LockedFile(dir, pattern string) (*os.File, error) {
	return locked(func() (*os.File, error) { return os.CreateTemp(dir, pattern) })
}

// LockedFolder is LockedFile for a folder.
func LockedFolder(dir, pattern string) (*os.File, error) {
	return locked(func() (*os.File, error) {
		for {
			path, err := os.MkdirTemp(dir, pattern)
			if err != nil {
				return nil, err
			}
			if f, err := os.Open(path); !errors.Is(err, fs.ErrNotExist) { // else it was cleaned away already
				return f, err
			}
		}
	})
}

func locked(create func() (*os.File, error)) (*os.File, error) {
	for {
		f, err := create()
		if err != nil {
			return nil, CannotWrite(err)
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

// WhenFree calls do for an entry of a folder, which lies at path, unless somebody has
// locked it because he is at work there.
func WhenFree(path string, e fs.DirEntry, do func() error) error {
	if e.IsDir() || e.Type().IsRegular() {
		f, err := os.Open(path)
		if err != nil {
			return IgnoreMissing(err)
		}
		defer f.Close()
		if free, err := lockOpen(f); err != nil || !free {
			return err
		}
	}
	return do()
}
