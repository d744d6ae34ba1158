package archive

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
	"slices"
	"strings"

	"holdfast/archive/disk"
	"holdfast/archive/store"
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
	out := PartialError{Path: dst}
	err = writeZip(dst, func(z *zip.Writer) (string, error) {
		if _, _, err := addFile(ctx, z, databaseName, filepath.Join(snapshot, databaseName)); err != nil {
			return "", err
		}
		for _, f := range files {
			why := bad[f.SHA256]
			if why == "" {
				// What is changed goes in as it is: it may be of use to somebody.
				sum, unread, err := addFile(ctx, z, path.Join(store.FilesFolder, f.SHA256[:2], f.SHA256), store.PathIn(snapshot, f.SHA256))
				switch {
				case err != nil:
					return "", err
				case unread != nil:
					why = store.CannotRead(unread)
				case sum != f.SHA256:
					why = store.Changed
				}
			}
			if why != "" {
				text, err := a.describe(ctx, f.SHA256, why)
				if err != nil {
					return "", err
				}
				out.Damage = append(out.Damage, text)
			}
		}
		if len(out.Damage) > 0 {
			out.Path = incomplete(dst)
		}
		return out.Path, nil
	})
	if err == nil && len(out.Damage) > 0 {
		return &out
	}
	return err
}

// incomplete returns where something is written that is not whole: its place when
// nothing is there, else another name, so that what is there stays.
func incomplete(dst string) string {
	if _, err := os.Lstat(dst); errors.Is(err, fs.ErrNotExist) {
		return dst
	}
	ext := filepath.Ext(dst)
	return strings.TrimSuffix(dst, ext) + "-incomplete" + ext
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
		return nil, nil, damaged(err)
	}
	if files, err = list(ctx, a.write, scanStored, q.Files); err != nil {
		return nil, nil, err
	}
	var sums []string
	for _, f := range files {
		sums = append(sums, f.SHA256)
	}
	bad, err = a.store.Link(ctx, dir, sums)
	return files, bad, err
}

// writeZip writes a zip beside its place, syncs it and renames it; fill returns the
// place, which lies in the folder of dst.
func writeZip(dst string, fill func(z *zip.Writer) (place string, err error)) (err error) {
	return disk.WriteFile(dst, func(w io.Writer) (string, error) {
		z := zip.NewWriter(w)
		place, err := fill(z)
		if err != nil {
			return "", err
		}
		return place, z.Close()
	})
}

// addFile puts a file into a zip as it is: videos and pictures are packed already,
// and a backup that is not packed can be read back with bounded memory and disk. It
// returns the SHA-256 of what went in, and tells errors of reading, unread, from all
// others.
func addFile(ctx context.Context, z *zip.Writer, name, from string) (sum string, unread, err error) {
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
	if err != nil {
		return "", nil, err
	}
	f, err := os.Open(from)
	if err != nil {
		return "", err, nil
	}
	defer f.Close()
	in, h := disk.NewInput(ctx, f), sha256.New()
	if _, err := io.Copy(io.MultiWriter(w, h), in); in.Err() != nil {
		return "", in.Err(), nil
	} else if err != nil {
		return "", nil, err
	}
	return hex.EncodeToString(h.Sum(nil)), nil, nil
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
	z, err := zip.OpenReader(src)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return &said{fmt.Sprintf("there is no file %s", src), ErrNotFound}
		}
		return fmt.Errorf("%w: %s is no backup: %w", ErrDamaged, src, err)
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
	changed, err := r.unpackAll(ctx, &z.Reader, src, part)
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
	if len(damage) > 0 {
		return &PartialError{Path: dir, Damage: damage}
	}
	return nil
}

// unpackAll unpacks a backup. It returns the files that are not what was stored and
// were left out; without keepWhole it stops at the first.
func (r restoring) unpackAll(ctx context.Context, z *zip.Reader, src,
	part string) (changed map[string]bool, err error) {
	// Entries may lie over each other, so that a small file would unpack to a large
	// one. Those of a backup do not, and together are smaller than their file.
	info, err := os.Stat(src)
	if err != nil {
		return nil, err
	}
	room := uint64(info.Size())
	for _, f := range z.File {
		if f.UncompressedSize64 > room {
			return nil, fmt.Errorf("%w: %s would unpack to more than it holds", ErrDamaged, src)
		}
		room -= f.UncompressedSize64
	}
	changed = map[string]bool{}
	for _, f := range z.File {
		sum, err := unpack(ctx, f, part)
		if errors.Is(err, errChanged) && sum != "" && r.keepWhole {
			changed[sum] = true
			continue
		}
		if err != nil {
			return nil, keepWholeHint(err, sum != "" && errors.Is(err, errChanged))
		}
	}
	if _, err := os.Stat(filepath.Join(part, databaseName)); err != nil {
		return nil, fmt.Errorf("%w: %s holds no database", ErrDamaged, src)
	}
	return changed, nil
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

// errChanged: an entry of a backup is not what was put into it.
var errChanged = errors.New("this entry is not what was stored")

// unpack writes one entry of a backup. Only the names that Backup gives are taken,
// and only entries that are not packed: so it can write no more than the file holds.
// It returns the SHA-256 that a file is named by, empty for the database. The error
// wraps errChanged when the content is another; then nothing is left of the entry.
func unpack(ctx context.Context, f *zip.File, dir string) (sum string, err error) {
	head, sum, _ := strings.Cut(strings.TrimPrefix(f.Name, store.FilesFolder+"/"), "/")
	isFile := disk.IsSum(sum) && head == sum[:2] && f.Name == path.Join(store.FilesFolder, head, sum)
	if !isFile {
		sum = ""
	}
	if !isFile && f.Name != databaseName || !f.Mode().IsRegular() {
		return "", fmt.Errorf("%w: a backup holds no %q", ErrDamaged, f.Name)
	}
	if f.Method != zip.Store || f.UncompressedSize64 != f.CompressedSize64 {
		return "", fmt.Errorf("%w: the entry %q is packed, as in no backup", ErrDamaged, f.Name)
	}
	entry, err := f.Open()
	if err != nil {
		return "", fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	defer entry.Close()
	to := filepath.Join(dir, filepath.FromSlash(f.Name))
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return "", disk.CannotWrite(err)
	}
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return "", fmt.Errorf("%w: the entry %q is there twice", ErrDamaged, f.Name)
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
		err = fmt.Errorf("%w: the entry %q: %w: %w", ErrDamaged, f.Name, errChanged, in.Err())
	case err == nil && (uint64(n) != f.UncompressedSize64 || sum != "" && hex.EncodeToString(h.Sum(nil)) != sum):
		err = fmt.Errorf("%w: the entry %q: %w", ErrDamaged, f.Name, errChanged)
	case err == nil:
		err = disk.CannotWrite(out.Sync())
	}
	err = errors.Join(err, disk.CannotWrite(out.Close()))
	if err != nil {
		_ = os.Remove(to) // it lies in a folder that goes as a whole when this fails
	}
	return sum, err
}
