package store

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"holdfast/archive/disk"
)

// Begin writes down that files are about to get or lose their row. Whoever finds the
// list has the lock of the files, so the one who wrote it was killed: those of the
// files that no row knows may go. durable says that the list must survive a power cut,
// else such a file goes to lost. The lock must be held.
func (s *Store) Begin(sums []string, durable bool) (end func(), err error) {
	f, err := os.CreateTemp(filepath.Join(s.dir, TmpFolder), underwayName+"*")
	if err != nil {
		return nil, disk.CannotWrite(err)
	}
	_, err = f.WriteString(strings.Join(sums, "\n") + "\n")
	if err == nil && durable {
		err = f.Sync()
	}
	err = errors.Join(err, f.Close())
	if err == nil && durable {
		err = disk.SyncFolder(filepath.Dir(f.Name()))
	}
	end = func() { _ = os.Remove(f.Name()) } // what stays is removed by the next server
	if err != nil {
		end()
		return nil, disk.CannotWrite(err)
	}
	return end, nil
}

// Underway returns the files that were getting or losing their row when a program was
// killed. The lock must be held.
func (s *Store) Underway() (map[string]bool, error) {
	lists, err := filepath.Glob(filepath.Join(globQuoted(s.dir), TmpFolder, underwayName+"*"))
	if err != nil {
		return nil, err
	}
	out := map[string]bool{}
	read := func(path string) error {
		f, err := os.Open(path)
		if err != nil {
			return err
		}
		defer f.Close()
		lines := bufio.NewScanner(f)
		for lines.Scan() {
			if disk.IsSum(lines.Text()) {
				out[lines.Text()] = true
			}
		}
		return lines.Err()
	}
	for _, path := range lists {
		if err := read(path); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// globQuoted makes a path stand for itself in a pattern.
func globQuoted(path string) string {
	return strings.NewReplacer(`*`, `[*]`, `?`, `[?]`, `[`, `[[]`).Replace(path)
}

// Drop removes a file by its key.
func (s *Store) Drop(ctx context.Context, key string) error {
	if s.away {
		return s.kept.Delete(ctx, path.Base(key))
	}
	return os.Remove(s.at(key))
}

// at returns where a file lies on this computer, by its key.
func (s *Store) at(key string) string { return filepath.Join(s.here.Root, filepath.FromSlash(key)) }

// Lose moves a file that no row knows to lost, by its key. Its time becomes that of the move. What is kept elsewhere
// stays there.
func (s *Store) Lose(key string) error {
	if s.away {
		return nil
	}
	path := s.at(key)
	dir := filepath.Join(s.dir, LostFolder)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return disk.CannotWrite(err)
	}
	to := filepath.Join(dir, filepath.Base(path))
	for n := 2; ; n++ {
		if _, err := os.Lstat(to); errors.Is(err, fs.ErrNotExist) {
			break
		} else if err != nil {
			return err
		}
		to = filepath.Join(dir, fmt.Sprintf("%s-%d", filepath.Base(path), n))
	}
	if info, err := os.Lstat(path); err == nil && info.Mode().IsRegular() { // a link would change what it leads to
		now := s.now()
		if err := os.Chtimes(path, now, now); err != nil {
			return disk.CannotWrite(err)
		}
	}
	return disk.CannotWrite(os.Rename(path, to))
}

// SortLost brings back files that lie in lost and that rows miss, as when the right
// database has come back, and removes those that have lain there long enough.
func (s *Store) SortLost(ctx context.Context, missing map[string]bool) error {
	dir := filepath.Join(s.dir, LostFolder)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return disk.IgnoreMissing(err)
	}
	sort := func(e fs.DirEntry) error {
		path := filepath.Join(dir, e.Name())
		info, err := e.Info()
		if err != nil {
			return disk.IgnoreMissing(err)
		}
		if sum, _, _ := strings.Cut(e.Name(), "-"); missing[sum] && disk.IsSum(sum) && info.Mode().IsRegular() {
			is, _, err := disk.Sum(ctx, path)
			if err != nil {
				return err
			}
			if is == sum {
				delete(missing, sum)
				return disk.Place(path, s.Path(sum))
			}
		}
		if s.now().Sub(info.ModTime()) > LostDays*24*time.Hour {
			return os.RemoveAll(path)
		}
		return nil
	}
	for _, e := range entries {
		if err := sort(e); err != nil {
			return err
		}
	}
	if err := disk.SyncFolder(dir); err != nil {
		return err
	}
	_ = os.Remove(dir) // when it is empty
	return nil
}

// forgetLost removes the copies of a file from lost.
func (s *Store) forgetLost(sum string) error {
	if !disk.IsSum(sum) {
		return nil
	}
	copies, err := filepath.Glob(filepath.Join(globQuoted(s.dir), LostFolder, sum+"*"))
	if err != nil {
		return err
	}
	for _, path := range copies {
		err = errors.Join(err, disk.IgnoreMissing(os.Remove(path)))
	}
	return err
}

// CountLost returns how many files lie in lost.
func (s *Store) CountLost() (int, error) {
	entries, err := os.ReadDir(filepath.Join(s.dir, LostFolder))
	return len(entries), disk.IgnoreMissing(err)
}
