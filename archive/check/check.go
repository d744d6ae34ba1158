// Package check compares what an archive's rows say with its files, and says in words what does not fit.
package check

import (
	"context"
	_ "embed"
	"errors"
	"path/filepath"

	"holdfast/archive/files"
	"holdfast/archive/folder"
	"holdfast/archive/halfsent"
	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/archive/zipped"
	"holdfast/words"
)

//go:embed queries.sql
var queriesText string

// q holds the statements of queries.sql by their names.
var q = func() (all queries) {
	rows.MustFill(&all, queriesText)
	return all
}()

type queries struct {
	FileUses, CountRows, ClipsAstray, ComparisonsAstray, FileNames string
}

// Report is what a check of the archive found.
type Report struct {
	Files, Rows int
	Problems    []string
	Notes       []string         // what is no damage
	BadFiles    map[string]error // of the problems those with the content of files, by sum
}

// Folder compares every file with its hash, every row with its file and every file
// with its row, and asks SQLite to check the database. Problems are in words; the
// error says only that the check could not be made.
//
// A file that no row knows is a problem; a server moves it to the folder lost at its
// next start. What is on its way is a note: a clip that has not come whole, a file that
// was being stored or removed when the program was killed, and a row that nothing refers
// to, whose file a server may be about to name.
func Folder(ctx context.Context, in *folder.Folder) (Report, error) {
	rep, err := checking{in}.check(ctx)
	if err != nil {
		return rep, words.Doing("doing_checking_archive", err)
	}
	return rep, nil
}

// checking is a check of one data folder.
type checking struct{ in *folder.Folder }

func (c checking) check(ctx context.Context) (Report, error) {
	var rep Report
	files, err := c.checkNames(ctx, &rep)
	if err != nil {
		return rep, err
	}
	// Files do not change: hashing them needs no lock.
	rep.BadFiles = map[string]error{}
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return rep, err
		}
		why, err := c.in.Store.Spoilt(ctx, f.SHA256, f.SizeBytes)
		if err != nil {
			return rep, err
		}
		if why == store.Missing {
			if _, err := folder.FileSize(ctx, c.in.Read, f.SHA256); err != nil {
				continue // it was deleted since
			}
		}
		if why == nil {
			rep.Files++
			continue
		}
		rep.BadFiles[f.SHA256] = why
		text, err := Describe(ctx, c.in, f.SHA256, why)
		if err != nil {
			return rep, err
		}
		rep.Problems = append(rep.Problems, text)
	}
	return rep, nil
}

// checkNames compares rows with each other and with the names of files, while no file is put in place or removed, and
// returns the files that have a row. A database too damaged to be asked is one problem, and there are no files.
func (c checking) checkNames(ctx context.Context, rep *Report) ([]folder.File, error) {
	unlock, err := c.in.KeepFiles(ctx)
	if err != nil {
		return nil, err
	}
	defer unlock()
	wrong, err := rows.Unsound(ctx, c.in.Read, 100)
	if errors.Is(err, rows.ErrDamaged) {
		rep.bad(words.Say("error.check_database", words.Params{"wrong": err.Error()}))
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	for _, line := range wrong {
		rep.bad(words.Say("error.check_database", words.Params{"wrong": line}))
	}
	if err := c.checkRows(ctx, rep); err != nil {
		return nil, err
	}
	files, err := folder.Files(ctx, c.in.Read)
	if err != nil {
		return nil, err
	}
	return files, c.checkFolder(ctx, rep, files)
}

// checkRows looks for rows that do not fit together, and counts them.
func (c checking) checkRows(ctx context.Context, rep *Report) error {
	astray, err := rows.BrokenReferences(ctx, c.in.Read)
	if err != nil {
		return err
	}
	rep.Problems = append(rep.Problems, astray...)
	for _, look := range []struct {
		query string
		say   func(id string) string
	}{
		{q.ClipsAstray, func(id string) string { return words.Say("error.check_clip", words.Params{"clip": id}) }},
		{q.ComparisonsAstray, func(id string) string {
			return words.Say("error.check_comparison", words.Params{"comparison": id})
		}},
	} {
		ids, err := rows.Texts(ctx, c.in.Read, look.query)
		if err != nil {
			return err
		}
		for _, id := range ids {
			rep.bad(look.say(id))
		}
	}
	names, err := rows.Texts(ctx, c.in.Read, q.FileNames)
	if err != nil {
		return err
	}
	for _, name := range names {
		if !zipped.GoodName(name) {
			rep.bad(words.Say("error.check_name", words.Params{"name": name}))
		}
	}
	if err := c.in.Read.QueryRowContext(ctx, q.CountRows).Scan(&rep.Rows); err != nil {
		return rows.Damaged(err)
	}
	return nil
}

// checkFolder looks for files without a row and in the wrong place, and notes what is on its way.
func (c checking) checkFolder(ctx context.Context, rep *Report, named []folder.File) error {
	known := map[string]bool{}
	for _, f := range named {
		known[f.SHA256] = true
	}
	notes, underway, err := c.onTheirWay(ctx)
	if err != nil {
		return err
	}
	rep.Notes = append(rep.Notes, notes...)
	halfway := 0
	err = c.in.Store.Walk(ctx, func(key, name string) error {
		switch {
		case !known[name] && underway[name]:
			halfway++
		case !known[name]:
			if now, err := c.in.OnItsWay(ctx, name); err != nil || now {
				return err
			}
			rep.bad(words.Say("error.check_unknown", words.Params{"file": name}))
		case key != files.Key(name):
			rep.bad(words.Say("error.check_misplaced", words.Params{"file": name}))
		}
		return nil
	})
	if err != nil {
		return err
	}
	if halfway > 0 {
		rep.note(words.Say("error.check_halfway", words.Params{"n": halfway}))
	}
	waiting, err := folder.Unused(ctx, c.in.Read)
	if err != nil {
		return err
	}
	if n := len(waiting); n > 0 {
		rep.note(words.Say("error.check_unused", words.Params{"n": n}))
	}
	lost, err := c.in.Store.CountLost()
	if err != nil {
		return err
	}
	if lost > 0 {
		rep.note(words.Say("error.check_lost", words.Params{"n": lost, "days": store.LostDays,
			"folder": filepath.Join(c.in.Dir, store.LostFolder)}))
	}
	return nil
}

// onTheirWay notes what is no damage though no row knows it: clips that have not come
// whole, and the files that were getting or losing their row when a program was killed,
// which it returns. The lock of the files must be held.
func (c checking) onTheirWay(ctx context.Context) (notes []string, underway map[string]bool, err error) {
	if err := ctx.Err(); err != nil {
		return nil, nil, err
	}
	half, err := halfsent.List(c.in.Dir)
	if err != nil {
		return nil, nil, err
	}
	if n := len(half); n > 0 {
		var bytes int64
		for _, u := range half {
			bytes += u.Bytes
		}
		notes = append(notes, words.Say("error.check_uploads", words.Params{"n": n, "mb": float64(bytes) / 1e6}))
	}
	underway, err = c.in.Underway(ctx)
	return notes, underway, err
}

func (r *Report) bad(problem string) { r.Problems = append(r.Problems, problem) }

func (r *Report) note(text string) { r.Notes = append(r.Notes, text) }

// Wrong says what is wrong with a stored file.
func Wrong(sum string, why error) string {
	return words.Say("error.stored_wrong", words.Params{"file": sum, "wrong": why.Error()})
}

// Describe says what is wrong with a stored file and what it is used as.
func Describe(ctx context.Context, in *folder.Folder, sum string, why error) (string, error) {
	uses, err := rows.List(ctx, in.Read, scanUse, q.FileUses, sum)
	if err != nil || len(uses) == 0 {
		return Wrong(sum, why), err
	}
	if more := len(uses) - 1; more > 0 {
		return words.Say("error.stored_wrong_uses", words.Params{"wrong": Wrong(sum, why), "use": uses[0], "more": more}), nil
	}
	return words.Say("error.stored_wrong_use", words.Params{"wrong": Wrong(sum, why), "use": uses[0]}), nil
}

// scanUse reads what a file is used as.
func scanUse(s rows.Scanner) (string, error) {
	var athlete, file, clip string
	if err := s.Scan(&athlete, &file, &clip); err != nil {
		return "", err
	}
	switch {
	case file == "":
		return words.Say("error.use_clip", words.Params{"athlete": athlete, "clip": clip}), nil
	case clip == "":
		return words.Say("error.use_comparison", words.Params{"athlete": athlete, "file": file}), nil
	}
	return words.Say("error.use_result", words.Params{"athlete": athlete, "file": file, "clip": clip}), nil
}
