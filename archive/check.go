package archive

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"holdfast/archive/rows"
	"holdfast/archive/store"
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
	files, err := a.checkNames(ctx, &rep)
	if err != nil {
		return rep, err
	}
	// Files do not change: hashing them needs no lock.
	rep.badFiles = map[string]string{}
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return rep, err
		}
		why, err := store.Spoilt(ctx, a.FilePath(f.SHA256), f.SHA256, f.SizeBytes)
		if err != nil {
			return rep, err
		}
		if why == store.Missing {
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

// checkNames compares rows with each other and with the names of files, while no file is put in place or removed, and
// returns the files that have a row. A database too damaged to be asked is one problem, and there are no files.
func (a *Archive) checkNames(ctx context.Context, rep *Report) ([]File, error) {
	unlock, err := a.store.Lock(ctx)
	if err != nil {
		return nil, err
	}
	defer unlock()
	whole, err := rows.Texts(ctx, a.read, "PRAGMA integrity_check")
	if errors.Is(err, ErrDamaged) {
		rep.bad("the database is damaged: %v", err)
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	for _, line := range whole {
		if line != "ok" {
			rep.bad("the database is damaged: %s", line)
		}
	}
	if err := a.checkRows(ctx, rep); err != nil {
		return nil, err
	}
	files, err := rows.List(ctx, a.read, scanStored, q.Files)
	if err != nil {
		return nil, err
	}
	return files, a.checkFolder(ctx, rep, files)
}

// checkRows looks for rows that do not fit together, and counts them.
func (a *Archive) checkRows(ctx context.Context, rep *Report) error {
	astray, err := rows.BrokenReferences(ctx, a.read)
	if err != nil {
		return err
	}
	rep.Problems = append(rep.Problems, astray...)
	for _, look := range []struct{ query, format string }{
		{q.ClipsAstray, "clip %s belongs to another athlete than its visit"},
		{q.ComparisonsAstray, "comparison %s uses a clip of another athlete"},
	} {
		ids, err := rows.Texts(ctx, a.read, look.query)
		if err != nil {
			return err
		}
		for _, id := range ids {
			rep.bad(look.format, id)
		}
	}
	names, err := rows.Texts(ctx, a.read, q.FileNames)
	if err != nil {
		return err
	}
	for _, name := range names {
		if !goodFileName(name) {
			rep.bad("a result has the file name %q, which this program never gives", name)
		}
	}
	if err := a.read.QueryRowContext(ctx, q.CountRows).Scan(&rep.Rows); err != nil {
		return rows.Damaged(err)
	}
	return nil
}

// checkFolder looks for files without a row and in the wrong place, and notes what is on its way.
func (a *Archive) checkFolder(ctx context.Context, rep *Report, files []File) error {
	known := map[string]bool{}
	for _, f := range files {
		known[f.SHA256] = true
	}
	notes, underway, err := a.onTheirWay(ctx)
	if err != nil {
		return err
	}
	rep.Notes = append(rep.Notes, notes...)
	halfway := 0
	err = a.store.Walk(func(path, name string) error {
		switch {
		case !known[name] && underway[name]:
			halfway++
		case !known[name]:
			rep.bad("the file %s is known to no row", name)
		case path != a.FilePath(name):
			rep.bad("the file %s lies in the wrong folder", name)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if halfway > 0 {
		rep.note("on their way: %s that were being stored or removed when the program was ended; "+
			"the next start of holdfast serve removes them", countedFiles(halfway))
	}
	waiting, err := rows.List(ctx, a.read, scanUnused, q.FilesUnused)
	if err != nil {
		return err
	}
	if n := len(waiting); n > 0 {
		rep.note("without a use: %s; a server that runs may be about to use them, else the next start removes them",
			countedFiles(n))
	}
	lost, err := a.store.CountLost()
	if err != nil {
		return err
	}
	if lost > 0 {
		rep.note("in %s: %s that the database did not know; each is removed after %d days there, "+
			"or comes back with a database that knows it", filepath.Join(a.dir, store.LostFolder), countedFiles(lost),
			store.LostDays)
	}
	return nil
}

func (r *Report) bad(format string, args ...any) {
	r.Problems = append(r.Problems, fmt.Sprintf(format, args...))
}

func (r *Report) note(format string, args ...any) {
	r.Notes = append(r.Notes, fmt.Sprintf(format, args...))
}

// describe says what is wrong with a stored file and what it is used as.
func (a *Archive) describe(ctx context.Context, sum, why string) (string, error) {
	uses, err := rows.Texts(ctx, a.read, q.FileUses, sum)
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
