package disk

import (
	"errors"
	"io/fs"
	"os"

	"golang.org/x/sys/windows"
)

// lockRegion is far behind the end of every file: what is locked there can be read.
func lockRegion() *windows.Overlapped { return &windows.Overlapped{OffsetHigh: 1 << 30} }

// lockOpen takes the lock of an open file; false when another has it. Folders have no
// locks on this system: they count as free.
func lockOpen(f *os.File) (bool, error) {
	if info, err := f.Stat(); err != nil || info.IsDir() {
		return err == nil, err
	}
	err := windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0,
		1, 0, lockRegion())
	switch {
	case err == nil:
		return true, nil
	case errors.Is(err, windows.ERROR_LOCK_VIOLATION), errors.Is(err, windows.ERROR_IO_PENDING):
		return false, nil
	}
	return false, err
}

// unlockOpen gives the lock of an open file up.
func unlockOpen(f *os.File) error {
	if info, err := f.Stat(); err != nil || info.IsDir() {
		return err
	}
	return windows.UnlockFileEx(windows.Handle(f.Fd()), 0, 1, 0, lockRegion())
}

// SyncFolder does nothing: this system keeps names in its journal and syncs no folder.
func SyncFolder(string) error { return nil }

// OpenToOthers says no: on this system a mode does not tell, and a user's folders are the
// user's alone.
func OpenToOthers(fs.FileMode) bool { return false }

// IsOtherDisk says whether a file could not be renamed because its new name lies on another disk.
func IsOtherDisk(err error) bool { return errors.Is(err, windows.ERROR_NOT_SAME_DEVICE) }
