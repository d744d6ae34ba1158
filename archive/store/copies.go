package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"holdfast/archive/disk"
)

// What copies of files that are kept elsewhere may take of this computer.
const (
	// copyTime is how long a copy stays that nobody reads: a file that was deleted on another computer is gone from this
	// one a day later.
	copyTime = 24 * time.Hour
	// copyBytes is what all copies together may take; the ones read longest ago go first.
	copyBytes = 20 << 30
	// inUse is how long a copy stays in any case: who fetched it may not have opened it yet.
	inUse = time.Hour
	// trimEvery is how often copies are looked through.
	trimEvery = 10 * time.Minute
)

// Fetch sees to it that a file can be read at its path. What is kept elsewhere is copied from there, unless a copy is
// there already, and stays for an hour at least; the error wraps Changed when it is not what was stored, and
// fs.ErrNotExist when it is not there.
func (s *Store) Fetch(ctx context.Context, sum string) error {
	if !s.away {
		return nil
	}
	now := s.now()
	if os.Chtimes(s.Path(sum), now, now) == nil {
		return nil
	}
	tmp, err := disk.LockedFile(s.Tmp(), "copy-*")
	if err != nil {
		return err
	}
	defer func() {
		_ = tmp.Close()           // it is in its place, or given up
		_ = os.Remove(tmp.Name()) // what is in its place has this name no more
	}()
	is, _, err := s.read(ctx, sum, disk.Output{W: tmp})
	if err != nil {
		return err
	}
	if is != sum {
		return Changed
	}
	err = errors.Join(tmp.Sync(), os.Chtimes(tmp.Name(), now, now))
	if err = errors.Join(err, disk.Place(tmp.Name(), s.Path(sum))); err != nil {
		return disk.CannotWrite(err)
	}
	return s.trim()
}

// keepCopy makes a file that has just been put its copy: whoever put it reads it next. Without it Fetch makes one.
func (s *Store) keepCopy(from *os.File, sum string) {
	now := s.now()
	if from.Sync() != nil || os.Chtimes(from.Name(), now, now) != nil || disk.Place(from.Name(), s.Path(sum)) != nil {
		_ = os.Remove(from.Name()) // else the next server removes it
	}
}

// read writes a file that is kept elsewhere to w, and returns the SHA-256 of what came and its size.
func (s *Store) read(ctx context.Context, sum string, w io.Writer) (is string, bytes int64, err error) {
	r, err := s.kept.Get(ctx, sum)
	if err != nil {
		return "", 0, err
	}
	h := sha256.New()
	bytes, err = io.Copy(io.MultiWriter(w, h), disk.NewInput(ctx, r))
	return hex.EncodeToString(h.Sum(nil)), bytes, errors.Join(err, r.Close())
}

// sumAway returns the SHA-256 and the size of a file that is kept elsewhere.
func (s *Store) sumAway(ctx context.Context, sum string) (is string, bytes int64, err error) {
	return s.read(ctx, sum, io.Discard)
}

// trim removes copies that nobody has read for a day, and more of them when they take too much room.
func (s *Store) trim() error {
	now := s.now()
	s.mu.Lock()
	due := s.trimmed.IsZero() || now.Sub(s.trimmed) >= trimEvery
	if due {
		s.trimmed = now
	}
	s.mu.Unlock()
	if !due {
		return nil
	}
	type copied struct {
		path  string
		bytes int64
		read  time.Time
	}
	var all []copied
	var total int64
	err := filepath.WalkDir(s.here.Root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return disk.IgnoreMissing(err)
		}
		info, err := d.Info()
		if err != nil {
			return disk.IgnoreMissing(err)
		}
		all = append(all, copied{path, info.Size(), info.ModTime()})
		total += info.Size()
		return nil
	})
	if err != nil {
		return err
	}
	slices.SortFunc(all, func(a, b copied) int { return a.read.Compare(b.read) })
	for _, c := range all {
		age := now.Sub(c.read)
		if age < inUse || age < copyTime && total <= copyBytes {
			break
		}
		if err := disk.IgnoreMissing(os.Remove(c.path)); err != nil {
			return disk.CannotWrite(err)
		}
		total -= c.bytes
	}
	return nil
}
