//go:build !windows

package disk

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
)

// lockOpen takes the lock of an open file or folder; false when another has it.
func lockOpen(f *os.File) (bool, error) {
	for {
		switch err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); {
		case err == nil:
			return true, nil
		case errors.Is(err, syscall.EWOULDBLOCK):
			return false, nil
		case !errors.Is(err, syscall.EINTR):
			return false, err
		}
	}
}

// unlockOpen gives the lock of an open file up.
func unlockOpen(f *os.File) error { return syscall.Flock(int(f.Fd()), syscall.LOCK_UN) }

// SyncFolder makes the names in a folder survive a power cut.
func SyncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// OpenToOthers says whether a mode lets others in than the owner.
func OpenToOthers(mode fs.FileMode) bool { return mode.Perm()&0o077 != 0 }

// IsOtherDisk says whether a file could not be renamed because its new name lies on another disk.
func IsOtherDisk(err error) bool { return errors.Is(err, syscall.EXDEV) }
