// Package disk gets bytes onto a disk so that a kill or a power cut at any moment leaves
// them whole or not there at all.
//
// What is new is written under a name of its own, synced, and renamed to its place; then
// the folder is synced too, which holds the name. While it is written it is locked, and a
// lock ends with its process: what is not locked was left by one that was killed, and
// whoever comes next may remove it.
//
// Errors of writing wrap ErrCannotWrite, so that a full disk is told from a file that
// cannot be read.
package disk

import (
	"errors"
	"fmt"
	"io/fs"

	"holdfast/words"
)

// ErrCannotWrite: no permission, a full disk, a folder in the file's place.
var ErrCannotWrite error = words.Error("cannot_write")

// ErrDiskFull is the case of ErrCannotWrite in which there is no room left.
var ErrDiskFull = words.Instead(ErrCannotWrite, "disk_full", nil)

// CannotWrite returns err as one that wraps ErrCannotWrite; nil for nil.
func CannotWrite(err error) error {
	if err == nil || errors.Is(err, ErrCannotWrite) {
		return err
	}
	return fmt.Errorf("%w: %w", ErrCannotWrite, err)
}

// IgnoreMissing returns nil for an error that says that a file is not there, else err: for
// removing what another may have removed.
func IgnoreMissing(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
