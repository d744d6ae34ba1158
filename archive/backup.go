package archive

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
)

// Backup writes everything into one zip file at dst, also while a server runs: the
// state of one moment. It is written beside its place and renamed when complete.
func (a *Archive) Backup(ctx context.Context, dst string) error {
	if err := a.backup(ctx, dst); err != nil {
		return fmt.Errorf("backing up the archive: %w", err)
	}
	return nil
}

func (a *Archive) backup(ctx context.Context, dst string) (err error) {
	snapshot, err := os.MkdirTemp(filepath.Join(a.dir, tmpName), "backup-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(snapshot)
	lock, err := os.Open(snapshot) // a server that starts meanwhile leaves it alone
	if err != nil {
		return err
	}
	defer lock.Close()
	if _, err := lockOpen(lock); err != nil {
		return err
	}
	sums, err := a.snapshot(ctx, snapshot)
	if err != nil {
		return err
	}
	names := []string{databaseName}
	for _, sum := range sums {
		names = append(names, path.Join(filesName, sum[:2], sum))
	}
	return writeZip(dst, func(z *zip.Writer) error {
		for _, name := range names {
			if err := addFile(ctx, z, name, filepath.Join(snapshot, filepath.FromSlash(name))); err != nil {
				return err
			}
		}
		return nil
	})
}

// snapshot copies the database as it is now into a folder, with links to its files:
// what is deleted afterwards stays there. It returns the names of the files.
func (a *Archive) snapshot(ctx context.Context, dir string) ([]string, error) {
	unlock, err := a.lockFiles(ctx)
	if err != nil {
		return nil, err
	}
	defer unlock()
	// The writing connection has no transaction open while this waits its turn.
	if _, err := a.write.ExecContext(ctx, "VACUUM INTO ?", filepath.Join(dir, databaseName)); err != nil {
		return nil, damaged(err)
	}
	files, err := list(ctx, a.write, func(s scanner) (sum string, err error) {
		var size int64
		return sum, s.Scan(&sum, &size)
	}, q.Files)
	if err != nil {
		return nil, err
	}
	for _, sum := range files {
		if !isSum(sum) {
			return nil, fmt.Errorf("%w: a row names the file %q", ErrDamaged, sum)
		}
		to := filepath.Join(dir, filesName, sum[:2], sum)
		if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
			return nil, err
		}
		if err := os.Link(a.FilePath(sum), to); err != nil {
			if err := copyFile(ctx, a.FilePath(sum), to); err != nil { // a disk without links
				return nil, err
			}
		}
	}
	return files, nil
}

func copyFile(ctx context.Context, from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if _, err := io.Copy(out, ctxReader{ctx, in}); err != nil {
		_ = out.Close()
		return err
	}
	return errors.Join(out.Sync(), out.Close())
}

// writeZip writes a zip beside its place, syncs it and renames it.
func writeZip(dst string, fill func(z *zip.Writer) error) (err error) {
	tmp, err := os.CreateTemp(filepath.Dir(dst), "."+filepath.Base(dst)+".part-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = tmp.Close()
			os.Remove(tmp.Name())
		}
	}()
	z := zip.NewWriter(tmp)
	if err := fill(z); err != nil {
		return err
	}
	if err := errors.Join(z.Close(), tmp.Sync(), tmp.Close()); err != nil {
		return err
	}
	if err := os.Rename(tmp.Name(), dst); err != nil {
		return err
	}
	return syncDir(filepath.Dir(dst))
}

// addFile puts a file into a zip as it is: videos and pictures are packed already,
// and a backup that is not packed can be read back with bounded memory and disk.
func addFile(ctx context.Context, z *zip.Writer, name, from string) error {
	f, err := os.Open(from)
	if err != nil {
		return err
	}
	defer f.Close()
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
	if err != nil {
		return err
	}
	_, err = io.Copy(w, ctxReader{ctx, f})
	return err
}

// Restore makes the data folder dir out of a backup. The folder must not be there, or
// be empty. Everything is unpacked beside it and checked first. The error wraps
// ErrDamaged when the file is no backup or not whole, and ErrInvalid when the folder
// holds something.
func Restore(ctx context.Context, src, dir string) error {
	if err := restore(ctx, src, dir); err != nil {
		return fmt.Errorf("restoring the archive: %w", err)
	}
	return nil
}

func restore(ctx context.Context, src, dir string) error {
	dir = filepath.Clean(dir)
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return fmt.Errorf("%w: the folder %s is not empty; name a new one", ErrInvalid, dir)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	z, err := zip.OpenReader(src)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%w: there is no file %s", ErrNotFound, src)
		}
		return fmt.Errorf("%w: %s is no backup: %w", ErrDamaged, src, err)
	}
	defer z.Close()
	if err := os.MkdirAll(filepath.Dir(dir), 0o700); err != nil {
		return err
	}
	part, err := os.MkdirTemp(filepath.Dir(dir), "."+filepath.Base(dir)+".part-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(part)
	// Entries may lie over each other, so that a small file would unpack to a large
	// one. Those of a backup do not, and together are smaller than their file.
	info, err := os.Stat(src)
	if err != nil {
		return err
	}
	room := uint64(info.Size())
	for _, f := range z.File {
		if f.UncompressedSize64 > room {
			return fmt.Errorf("%w: %s would unpack to more than it holds", ErrDamaged, src)
		}
		room -= f.UncompressedSize64
	}
	for _, f := range z.File {
		if err := unpack(ctx, f, part); err != nil {
			return err
		}
	}
	if _, err := os.Stat(filepath.Join(part, databaseName)); err != nil {
		return fmt.Errorf("%w: %s holds no database", ErrDamaged, src)
	}
	a, err := openFolder(ctx, part, Options{}, true)
	if err != nil {
		return err
	}
	report, err := a.Check(ctx)
	if err != nil && ctx.Err() == nil {
		err = fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	if err = errors.Join(err, a.Close()); err != nil {
		return err
	}
	if len(report.Problems) > 0 {
		return fmt.Errorf("%w: the backup is not whole: %s", ErrDamaged, report.Problems[0])
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.Rename(part, dir); err != nil {
		return err
	}
	return syncDir(filepath.Dir(dir))
}

// unpack writes one entry of a backup. Only the names that Backup gives are taken,
// and only entries that are not packed: so it can write no more than the file holds.
func unpack(ctx context.Context, f *zip.File, dir string) error {
	head, sum, _ := strings.Cut(strings.TrimPrefix(f.Name, filesName+"/"), "/")
	isFile := isSum(sum) && head == sum[:2] && f.Name == path.Join(filesName, head, sum)
	if !isFile && f.Name != databaseName || !f.Mode().IsRegular() {
		return fmt.Errorf("%w: a backup holds no %q", ErrDamaged, f.Name)
	}
	if f.Method != zip.Store || f.UncompressedSize64 != f.CompressedSize64 {
		return fmt.Errorf("%w: the entry %q is packed, as in no backup", ErrDamaged, f.Name)
	}
	in, err := f.Open()
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	defer in.Close()
	to := filepath.Join(dir, filepath.FromSlash(f.Name))
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return err
	}
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%w: the entry %q is there twice", ErrDamaged, f.Name)
	}
	if err != nil {
		return err
	}
	if _, err := io.Copy(out, ctxReader{ctx, io.LimitReader(in, int64(f.UncompressedSize64))}); err != nil {
		_ = out.Close()
		if ctx.Err() == nil {
			err = fmt.Errorf("%w: %w", ErrDamaged, err)
		}
		return err
	}
	return errors.Join(out.Sync(), out.Close())
}
