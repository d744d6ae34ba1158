// Package backup puts a whole archive into one zip file, also while a server runs, and makes an archive of it again.
package backup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"

	"holdfast/archive/check"
	"holdfast/archive/disk"
	"holdfast/archive/folder"
	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/archive/zipped"
	"holdfast/words"
)

// Write writes everything into one zip file at dst, also while a server runs: the
// state of one moment. It is written beside its place and renamed when complete.
//
// Files that are missing or not what was stored do not stop it: the error is then a
// *check.PartialError, which says where the backup is. That is dst, or, so that an earlier
// file is not lost to a backup that is not whole, another name beside it. The error
// wraps disk.ErrCannotWrite when there is no place for it.
func Write(ctx context.Context, in *folder.Folder, dst string) error {
	if err := writeTo(ctx, in, dst); err != nil {
		return words.Doing("doing_backing_up_archive", err)
	}
	return nil
}

func writeTo(ctx context.Context, in *folder.Folder, dst string) (err error) {
	if in.Shared() {
		return words.Because(folder.ErrShared, "backup_shared", nil)
	}
	// A server that starts meanwhile leaves the folder alone: it is locked.
	lock, err := disk.LockedFolder(in.Store.Tmp(), "backup-*")
	if err != nil {
		return err
	}
	copied := lock.Name()
	defer func() {
		_ = os.RemoveAll(copied) // the next server tries again
		_ = lock.Close()         // nothing was written to it
	}()
	files, bad, err := snapshot(ctx, in, copied)
	if err != nil {
		return err
	}
	var damage []string
	place, err := disk.WriteFile(dst, func(w io.Writer) (whole bool, err error) {
		z := zipped.NewWriter(ctx, w)
		if _, _, err := z.File(folder.Database, filepath.Join(copied, folder.Database)); err != nil {
			return false, err
		}
		for _, f := range files {
			why := bad[f.SHA256]
			if why == nil {
				// What is changed goes in as it is: it may be of use to somebody.
				name := path.Join(store.FilesFolder, f.SHA256[:2], f.SHA256)
				sum, unread, err := z.File(name, store.PathIn(copied, f.SHA256))
				switch {
				case err != nil:
					return false, err
				case unread != nil:
					why = store.CannotRead(unread)
				case sum != f.SHA256:
					why = store.Changed
				}
			}
			if why != nil {
				text, err := check.Describe(ctx, in, f.SHA256, why)
				if err != nil {
					return false, err
				}
				damage = append(damage, text)
			}
		}
		return len(damage) == 0, z.Close()
	})
	return check.Partly(err, place, damage)
}

// snapshot copies the database as it is now into a folder, with links to its files:
// what is deleted afterwards stays there. It returns the files, and what is wrong with
// those that are not there.
func snapshot(ctx context.Context, in *folder.Folder, dir string) (files []folder.File, bad map[string]error,
	err error) {
	unlock, err := in.LockFiles(ctx)
	if err != nil {
		return nil, nil, err
	}
	defer unlock()
	// The writing connection has no transaction open while this waits its turn.
	if _, err := in.Write.ExecContext(ctx, "VACUUM INTO ?", filepath.Join(dir, folder.Database)); err != nil {
		return nil, nil, rows.Damaged(err)
	}
	if files, err = folder.Files(ctx, in.Write); err != nil {
		return nil, nil, err
	}
	var sums []string
	for _, f := range files {
		sums = append(sums, f.SHA256)
	}
	bad, err = in.Store.Link(ctx, dir, sums)
	return files, bad, err
}

// ErrNotEmpty: a backup is not restored over what is there.
var ErrNotEmpty = words.Instead(rows.ErrInvalid, "not_empty", nil)

// Options are the choices for restoring a backup.
type Options struct {
	// KeepWhole leaves out the files of the backup that are missing or not what was stored; the error is then a
	// *check.PartialError. Their rows stay, so that the archive still says what there was. A database that is not whole
	// is refused.
	KeepWhole bool
	// Sync gets a folder safely onto the disk; nil: disk.SyncFolder.
	Sync func(folder string) error
}

// Restore makes the data folder dir out of a backup. The folder must not be there, or
// be empty. Everything is unpacked beside it and checked first. The error wraps
// rows.ErrDamaged when the file is no backup or not whole, and ErrNotEmpty, a case of
// rows.ErrInvalid, when the folder holds something.
func Restore(ctx context.Context, src, dir string, opt Options) error {
	if opt.Sync == nil {
		opt.Sync = disk.SyncFolder
	}
	if err := opt.restore(ctx, src, filepath.Clean(dir)); err != nil {
		return words.Doing("doing_restoring_archive", err)
	}
	return nil
}

func (opt Options) restore(ctx context.Context, src, dir string) error {
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return words.Instead(ErrNotEmpty, "not_empty_folder", words.Params{"folder": dir})
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return disk.CannotWrite(err)
	}
	z, err := zipped.Open(src)
	if errors.Is(err, fs.ErrNotExist) {
		return words.Instead(rows.ErrNotFound, "backup_missing", words.Params{"file": src})
	}
	if err != nil {
		return words.Instead(rows.ErrDamaged, "no_backup", words.Params{"file": src, "error": err.Error()})
	}
	defer z.Close()
	if err := os.MkdirAll(filepath.Dir(dir), 0o700); err != nil {
		return disk.CannotWrite(err)
	}
	lock, err := disk.LockedPart(dir)
	if err != nil {
		return err
	}
	part := lock.Name()
	defer func() {
		_ = os.RemoveAll(part) // after the renaming nothing has this name
		_ = lock.Close()       // nothing was written to it
	}()
	changed, err := z.Unpack(ctx, part, folder.Database, opt.KeepWhole)
	if errors.Is(err, zipped.ErrNotWhole) {
		return keepWholeHint(fmt.Errorf("%w: %w", rows.ErrDamaged, err), errors.Is(err, zipped.ErrChanged))
	}
	if err != nil {
		return err
	}
	damage, err := opt.checkPart(ctx, part, changed)
	if err != nil {
		return err
	}
	if err := disk.SyncTree(part, opt.Sync); err != nil {
		return disk.CannotWrite(err)
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return disk.CannotWrite(err)
	}
	if err := os.Rename(part, dir); err != nil {
		return disk.CannotWrite(err)
	}
	if err := opt.Sync(filepath.Dir(dir)); err != nil {
		return disk.CannotWrite(err)
	}
	return check.Partly(nil, dir, damage)
}

// keepWholeHint says how to get the rest when only files are not whole.
func keepWholeHint(err error, files bool) error {
	if !files {
		return err
	}
	return words.Because(err, "keep_whole", nil)
}

// checkPart checks what was unpacked and returns which files are not whole, given
// those that were left out because they were changed.
func (opt Options) checkPart(ctx context.Context, part string, changed map[string]bool) (damage []string, err error) {
	a, err := folder.Open(ctx, part, folder.Options{MustExist: true})
	if err != nil {
		if errors.Is(err, folder.ErrNotArchive) {
			return nil, words.Because(rows.ErrDamaged, "database_empty", nil)
		}
		return nil, err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	report, err := check.Folder(ctx, a)
	if err != nil {
		if ctx.Err() == nil {
			err = fmt.Errorf("%w: %w", rows.ErrDamaged, err)
		}
		return nil, err
	}
	files := len(report.Problems) == len(report.BadFiles)
	if len(report.Problems) > 0 && !(files && opt.KeepWhole) {
		err := words.Because(rows.ErrDamaged, "backup_not_whole", words.Params{"wrong": report.Problems[0]})
		return nil, keepWholeHint(err, files)
	}
	for sum := range changed {
		if report.BadFiles[sum] == nil { // no row missed it
			damage = append(damage, check.Wrong(sum, store.Changed))
		}
	}
	for sum, why := range report.BadFiles {
		path := a.Store.Path(sum)
		if why != store.Missing && disk.IsSum(sum) {
			if err := os.RemoveAll(path); err != nil {
				return nil, disk.CannotWrite(err)
			}
		}
		if changed[sum] {
			why = store.Changed
		}
		text, err := check.Describe(ctx, a, sum, why)
		if err != nil {
			return nil, err
		}
		damage = append(damage, text)
	}
	slices.Sort(damage)
	return damage, nil
}
