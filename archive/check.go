package archive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// Check compares every file with its hash, every row with its file and every file
// with its row, and asks SQLite to check the database. Problems are in words; the
// error says only that the check could not be made.
//
// A file that no row knows is a problem only when no server runs that might be about
// to name it; a server removes it at its next start.
func (a *Archive) Check(ctx context.Context) (Report, error) {
	rep, err := a.check(ctx)
	if err != nil {
		return rep, fmt.Errorf("checking the archive: %w", err)
	}
	return rep, nil
}

func (a *Archive) check(ctx context.Context) (Report, error) {
	var rep Report
	bad := func(format string, args ...any) { rep.Problems = append(rep.Problems, fmt.Sprintf(format, args...)) }
	unlock, err := a.lockFiles(ctx)
	if err != nil {
		return rep, err
	}
	locked := true
	defer func() {
		if locked {
			unlock()
		}
	}()
	whole, err := texts(ctx, a.read, "PRAGMA integrity_check")
	if err != nil {
		if errors.Is(err, ErrDamaged) {
			bad("the database is damaged: %v", err)
			return rep, nil
		}
		return rep, err
	}
	for _, line := range whole {
		if line != "ok" {
			bad("the database is damaged: %s", line)
		}
	}
	astray, err := list(ctx, a.read, func(s scanner) (string, error) {
		var table, parent string
		var row, key any
		err := s.Scan(&table, &row, &parent, &key)
		return fmt.Sprintf("a row of %s refers to one of %s that is not there", table, parent), err
	}, "PRAGMA foreign_key_check")
	if err != nil {
		return rep, err
	}
	rep.Problems = append(rep.Problems, astray...)
	clips, err := texts(ctx, a.read, q.ClipsAstray)
	if err != nil {
		return rep, err
	}
	for _, id := range clips {
		bad("clip %s belongs to another athlete than its visit", id)
	}
	comparisons, err := texts(ctx, a.read, q.ComparisonsAstray)
	if err != nil {
		return rep, err
	}
	for _, id := range comparisons {
		bad("comparison %s uses a clip of another athlete", id)
	}
	names, err := texts(ctx, a.read, q.FileNames)
	if err != nil {
		return rep, err
	}
	for _, name := range names {
		if !goodFileName(name) {
			bad("a result has the file name %q, which this program never gives", name)
		}
	}
	if err := a.read.QueryRowContext(ctx, q.CountRows).Scan(&rep.Rows); err != nil {
		return rep, damaged(err)
	}
	type row struct {
		sum  string
		size int64
	}
	files, err := list(ctx, a.read, func(s scanner) (r row, err error) { return r, s.Scan(&r.sum, &r.size) }, q.Files)
	if err != nil {
		return rep, err
	}
	known := map[string]bool{}
	for _, f := range files {
		known[f.sum] = true
	}
	err = a.walkFiles(func(path, name string) error {
		switch {
		case !known[name]:
			bad("the file %s is known to no row", name)
		case path != a.FilePath(name):
			bad("the file %s lies in the wrong folder", name)
		}
		return nil
	})
	if err != nil {
		return rep, err
	}
	// Files do not change: hashing them needs no lock.
	unlock()
	locked = false
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return rep, err
		}
		sum, size, err := hashFile(ctx, a.FilePath(f.sum))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			var still int64 // it may have been deleted since
			if a.read.QueryRowContext(ctx, q.FileSize, f.sum).Scan(&still) == nil {
				bad("the file %s is missing", f.sum)
			}
		case err != nil:
			bad("the file %s cannot be read: %v", f.sum, err)
		case sum != f.sum || size != f.size:
			bad("the file %s is not what was stored", f.sum)
		default:
			rep.Files++
		}
	}
	return rep, nil
}

func hashFile(ctx context.Context, path string) (sum string, size int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	if size, err = io.Copy(h, ctxReader{ctx, f}); err != nil {
		return "", 0, err
	}
	return hex.EncodeToString(h.Sum(nil)), size, nil
}
