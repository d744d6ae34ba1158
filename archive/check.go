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
	"path/filepath"
)

// Check compares every file with its hash, every row with its file and every file
// with its row, and asks SQLite to check the database. Problems are in words; the
// error says only that the check could not be made.
//
// A file that no row knows is a problem; a server moves it to the folder lost at its
// next start. What is on its way is a note: a clip that has not come whole, a file that
// was being stored or removed when the program was killed, and a row that nothing refers
// to, whose file a server may be about to name.
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
	astray, err := brokenReferences(ctx, a.read)
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
	files, err := list(ctx, a.read, scanStored, q.Files)
	if err != nil {
		return rep, err
	}
	known := map[string]bool{}
	for _, f := range files {
		known[f.SHA256] = true
	}
	notes, underway, err := a.onTheirWay(ctx)
	if err != nil {
		return rep, err
	}
	rep.Notes = append(rep.Notes, notes...)
	halfway := 0
	err = a.walkFiles(func(path, name string) error {
		switch {
		case !known[name] && underway[name]:
			halfway++
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
	if halfway > 0 {
		rep.Notes = append(rep.Notes, fmt.Sprintf("on their way: %s that were being stored or removed when the program was ended; "+
			"the next start of holdfast serve removes them", countedFiles(halfway)))
	}
	waiting, err := list(ctx, a.read, scanUnused, q.FilesUnused)
	if err != nil {
		return rep, err
	}
	if n := len(waiting); n > 0 {
		rep.Notes = append(rep.Notes, fmt.Sprintf("without a use: %s; a server that runs may be about to use them, else the next start removes them", countedFiles(n)))
	}
	lost, err := a.countLost()
	if err != nil {
		return rep, err
	}
	if lost > 0 {
		rep.Notes = append(rep.Notes, fmt.Sprintf("in %s: %s that the database did not know; each is removed after %d days there, or comes back with a database that knows it", filepath.Join(a.dir, lostName), countedFiles(lost), lostDays))
	}
	// Files do not change: hashing them needs no lock.
	unlock()
	locked = false
	rep.badFiles = map[string]string{}
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return rep, err
		}
		why, err := spoilt(ctx, a.FilePath(f.SHA256), f)
		if err != nil {
			return rep, err
		}
		if why == isMissing {
			var still int64 // it may have been deleted since
			if a.read.QueryRowContext(ctx, q.FileSize, f.SHA256).Scan(&still) != nil {
				continue
			}
		}
		if why == "" {
			rep.Files++
			continue
		}
		rep.badFiles[f.SHA256] = why
		text, err := a.describe(ctx, f.SHA256, why)
		if err != nil {
			return rep, err
		}
		rep.Problems = append(rep.Problems, text)
	}
	return rep, nil
}

// brokenReferences lists the rows that refer to rows that are not there.
func brokenReferences(ctx context.Context, db querier) ([]string, error) {
	return list(ctx, db, func(s scanner) (string, error) {
		var table, parent string
		var row, key any
		err := s.Scan(&table, &row, &parent, &key)
		return fmt.Sprintf("a row of %s refers to one of %s that is not there", table, parent), err
	}, "PRAGMA foreign_key_check")
}

// What is wrong with a file.
const (
	isMissing = "is missing"
	isChanged = "is not what was stored"
)

// spoilt says what is wrong with a file at a path that should hold f; empty: nothing.
// The error is that of the context.
func spoilt(ctx context.Context, path string, f File) (why string, err error) {
	sum, size, err := hashFile(ctx, path)
	switch {
	case ctx.Err() != nil:
		return "", ctx.Err()
	case errors.Is(err, fs.ErrNotExist):
		return isMissing, nil
	case err != nil:
		return cannotRead(err), nil
	case sum != f.SHA256 || size != f.SizeBytes:
		return isChanged, nil
	}
	return "", nil
}

func cannotRead(err error) string { return fmt.Sprintf("cannot be read: %v", err) }

// describe says what is wrong with a stored file and what it is used as.
func (a *Archive) describe(ctx context.Context, sum, why string) (string, error) {
	uses, err := texts(ctx, a.read, q.FileUses, sum)
	if err != nil {
		return "", err
	}
	text := fmt.Sprintf("the file %s %s", sum, why)
	switch {
	case len(uses) > 1:
		text += fmt.Sprintf(" (%s, and %d more)", uses[0], len(uses)-1)
	case len(uses) == 1:
		text += " (" + uses[0] + ")"
	}
	return text, nil
}

func countedFiles(n int) string {
	if n == 1 {
		return "1 file"
	}
	return fmt.Sprint(n, " files")
}

func hashFile(ctx context.Context, path string) (sum string, size int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	if size, err = io.Copy(h, &input{ctx: ctx, r: f}); err != nil {
		return "", 0, err
	}
	return hex.EncodeToString(h.Sum(nil)), size, nil
}
