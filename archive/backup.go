package archive

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

	"holdfast/archive/disk"
	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/archive/zipped"
)

// Backup writes everything into one zip file at dst, also while a server runs: the
// state of one moment. It is written beside its place and renamed when complete.
//
// Files that are missing or not what was stored do not stop it: the error is then a
// *PartialError, which says where the backup is. That is dst, or, so that an earlier
// file is not lost to a backup that is not whole, another name beside it. The error
// wraps disk.ErrCannotWrite when there is no place for it.
func (a *Archive) Backup(ctx context.Context, dst string) error {
	if err := a.backup(ctx, dst); err != nil {
		return fmt.Errorf("backing up the archive: %w", err)
	}
	return nil
}

func (a *Archive) backup(ctx context.Context, dst string) (err error) {
	// A server that starts meanwhile leaves the folder alone: it is locked.
	lock, err := disk.LockedFolder(a.store.Tmp(), "backup-*")
	if err != nil {
		return err
	}
	snapshot := lock.Name()
	defer func() {
		_ = os.RemoveAll(snapshot) // the next server tries again
		_ = lock.Close()           // nothing was written to it
	}()
	files, bad, err := a.snapshot(ctx, snapshot)
	if err != nil {
		return err
	}
	var damage []string
	place, err := disk.WriteFile(dst, func(w io.Writer) (whole bool, err error) {
		z := zipped.NewWriter(ctx, w)
		if _, _, err := z.File(databaseName, filepath.Join(snapshot, databaseName)); err != nil {
			return false, err
		}
		for _, f := range files {
			why := bad[f.SHA256]
			if why == "" {
				// What is changed goes in as it is: it may be of use to somebody.
				name := path.Join(store.FilesFolder, f.SHA256[:2], f.SHA256)
				sum, unread, err := z.File(name, store.PathIn(snapshot, f.SHA256))
				switch {
				case err != nil:
					return false, err
				case unread != nil:
					why = store.CannotRead(unread)
				case sum != f.SHA256:
					why = store.Changed
				}
			}
			if why != "" {
				text, err := a.describe(ctx, f.SHA256, why)
				if err != nil {
					return false, err
				}
				damage = append(damage, text)
			}
		}
		return len(damage) == 0, z.Close()
	})
	return partly(err, place, damage)
}

// snapshot copies the database as it is now into a folder, with links to its files:
// what is deleted afterwards stays there. It returns the files, and what is wrong with
// those that are not there.
func (a *Archive) snapshot(ctx context.Context, dir string) (files []File, bad map[string]string, err error) {
	unlock, err := a.store.Lock(ctx)
	if err != nil {
		return nil, nil, err
	}
	defer unlock()
	// The writing connection has no transaction open while this waits its turn.
	if _, err := a.write.ExecContext(ctx, "VACUUM INTO ?", filepath.Join(dir, databaseName)); err != nil {
		return nil, nil, rows.Damaged(err)
	}
	if files, err = rows.List(ctx, a.write, scanStored, q.Files); err != nil {
		return nil, nil, err
	}
	var sums []string
	for _, f := range files {
		sums = append(sums, f.SHA256)
	}
	bad, err = a.store.Link(ctx, dir, sums)
	return files, bad, err
}

// Restore makes the data folder dir out of a backup. The folder must not be there, or
// be empty. Everything is unpacked beside it and checked first. The error wraps
// ErrDamaged when the file is no backup or not whole, and ErrNotEmpty, a case of
// ErrInvalid, when the folder holds something.
func Restore(ctx context.Context, src, dir string) error {
	return restoring{sync: disk.SyncFolder}.do(ctx, src, dir)
}

// RestoreWhole is Restore that leaves out the files of the backup that are missing or
// not what was stored; the error is then a *PartialError. Their rows stay, so that the
// archive still says what there was. A database that is not whole is refused.
func RestoreWhole(ctx context.Context, src, dir string) error {
	return restoring{keepWhole: true, sync: disk.SyncFolder}.do(ctx, src, dir)
}

// restoring is how a backup is restored.
type restoring struct {
	keepWhole bool
	sync      func(folder string) error
}

func (r restoring) do(ctx context.Context, src, dir string) error {
	if err := r.restore(ctx, src, filepath.Clean(dir)); err != nil {
		return fmt.Errorf("restoring the archive: %w", err)
	}
	return nil
}

func (r restoring) restore(ctx context.Context, src, dir string) error {
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return &said{fmt.Sprintf("the folder %s is not empty: name a new one with --data", dir), ErrNotEmpty}
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return disk.CannotWrite(err)
	}
	z, err := zipped.Open(src)
	if errors.Is(err, fs.ErrNotExist) {
		return &said{fmt.Sprintf("there is no file %s", src), ErrNotFound}
	}
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
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
	changed, err := z.Unpack(ctx, part, databaseName, r.keepWhole)
	if errors.Is(err, zipped.ErrNotWhole) {
		return keepWholeHint(fmt.Errorf("%w: %w", ErrDamaged, err), errors.Is(err, zipped.ErrChanged))
	}
	if err != nil {
		return err
	}
	damage, err := r.checkPart(ctx, part, changed)
	if err != nil {
		return err
	}
	if err := disk.SyncTree(part, r.sync); err != nil {
		return disk.CannotWrite(err)
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return disk.CannotWrite(err)
	}
	if err := os.Rename(part, dir); err != nil {
		return disk.CannotWrite(err)
	}
	if err := r.sync(filepath.Dir(dir)); err != nil {
		return disk.CannotWrite(err)
	}
	return partly(nil, dir, damage)
}

// keepWholeHint says how to get the rest when only files are not whole.
func keepWholeHint(err error, files bool) error {
	if !files {
		return err
	}
	return fmt.Errorf("%w; holdfast archive restore --keep-whole restores what is whole", err)
}

// checkPart checks what was unpacked and returns which files are not whole, given
// those that were left out because they were changed.
func (r restoring) checkPart(ctx context.Context, part string, changed map[string]bool) (damage []string, err error) {
	a, err := Open(ctx, part, Options{MustExist: true})
	if err != nil {
		if errors.Is(err, ErrNotArchive) {
			return nil, fmt.Errorf("%w: its database is empty", ErrDamaged)
		}
		return nil, err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	report, err := a.Check(ctx)
	if err != nil {
		if ctx.Err() == nil {
			err = fmt.Errorf("%w: %w", ErrDamaged, err)
		}
		return nil, err
	}
	files := len(report.Problems) == len(report.badFiles)
	if len(report.Problems) > 0 && !(files && r.keepWhole) {
		return nil, keepWholeHint(fmt.Errorf("%w: the backup is not whole: %s", ErrDamaged, report.Problems[0]), files)
	}
	for sum := range changed {
		if report.badFiles[sum] == "" { // no row missed it
			damage = append(damage, fmt.Sprintf("the file %s %s", sum, store.Changed))
		}
	}
	for sum, why := range report.badFiles {
		path := a.FilePath(sum)
		if why != store.Missing && disk.IsSum(sum) {
			if err := os.RemoveAll(path); err != nil {
				return nil, disk.CannotWrite(err)
			}
		}
		if changed[sum] {
			why = store.Changed
		}
		text, err := a.describe(ctx, sum, why)
		if err != nil {
			return nil, err
		}
		damage = append(damage, text)
	}
	slices.Sort(damage)
	return damage, nil
}
