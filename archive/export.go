package archive

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"strings"

	"holdfast/archive/check"
	"holdfast/archive/disk"
	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/archive/zipped"
	"holdfast/printable"
	"holdfast/words"
)

// exportedClip is one entry of clips.json.
type exportedClip struct {
	Folder      string       `json:"folder"`
	Clip        Clip         `json:"clip"`
	Corrections []Correction `json:"corrections"`
	// Marks are what the coach marked on its frames; null: nothing.
	Marks json.RawMessage `json:"marks"`
}

// Export writes everything of one athlete as a zip of open formats: the state of one
// moment. Files that are missing or not what was stored are left out, and listed in
// LEFT_OUT.txt within the zip.
func (a *Archive) Export(ctx context.Context, athleteID string, w io.Writer) error {
	if _, err := a.export(ctx, athleteID, w); err != nil {
		return words.Doing("doing_exporting_athlete", err)
	}
	return nil
}

// ExportFile is Export into a file, which is written beside its place and renamed when
// complete. When files were left out, the error is a *check.PartialError, which says where
// the export is: at dst, or under another name beside it, so that an earlier file is
// not lost to one that is not whole. The error wraps disk.ErrCannotWrite when there is no
// place for it.
func (a *Archive) ExportFile(ctx context.Context, athleteID, dst string) error {
	var left []string
	place, err := disk.WriteFile(dst, func(w io.Writer) (whole bool, err error) {
		left, err = a.export(ctx, athleteID, w)
		return len(left) == 0, err
	})
	if err := check.Partly(err, place, left); err != nil {
		return words.Doing("doing_exporting_athlete", err)
	}
	return nil
}

// exported is everything of an athlete, as it was at one moment.
type exported struct {
	who         Athlete
	visits      []Visit
	clips       []Clip
	corrections [][]Correction    // of each clip
	marks       []json.RawMessage // of each clip
	comparisons []Comparison
	bad         map[string]error // what is wrong with files, by their sum
}

// collect reads everything of an athlete and links the files into a folder, so that
// they stay when they are replaced or deleted meanwhile.
func (a *Archive) collect(ctx context.Context, athleteID, dir string) (e exported, err error) {
	unlock, err := a.folder.KeepFiles(ctx)
	if err != nil {
		return e, err
	}
	defer unlock()
	err = rows.View(ctx, a.folder.Read, func(db rows.Querier) (err error) {
		if e.who, err = scanAthlete(db.QueryRowContext(ctx, q.AthleteByID, athleteID, CoachOf(ctx))); err != nil {
			return err
		}
		if e.visits, err = rows.List(ctx, db, scanVisit, q.VisitsOfAthlete, athleteID); err != nil {
			return err
		}
		if e.clips, err = clipsOf(ctx, db, athleteID); err != nil {
			return err
		}
		for _, c := range e.clips {
			corrections, err := rows.List(ctx, db, scanCorrection, q.CorrectionsOfClip, c.ID)
			if err != nil {
				return err
			}
			marks, err := marksOf(ctx, db, c.ID)
			if err != nil {
				return err
			}
			e.corrections, e.marks = append(e.corrections, corrections), append(e.marks, marks)
		}
		e.comparisons, err = comparisonsOf(ctx, db, athleteID)
		return err
	})
	if err != nil {
		return e, err
	}
	var sums []string
	add := func(files []File) {
		for _, f := range files {
			sums = append(sums, f.SHA256)
		}
	}
	for _, c := range e.clips {
		sums = append(sums, c.SHA256)
		if c.Result != nil {
			add(c.Result.Files)
		}
	}
	for _, c := range e.comparisons {
		add(c.Files)
	}
	e.bad, err = a.folder.Store.Link(ctx, dir, sums)
	return e, err
}

// exporting is a zip being written from files in a folder.
type exporting struct {
	*zipped.Writer
	dir  string
	bad  map[string]error
	left []string // what was left out, in words
}

// stored adds a stored file when it is whole. It is read twice: what is in a zip cannot
// be taken back.
func (x *exporting) stored(ctx context.Context, name string, f File) error {
	why, from := x.bad[f.SHA256], store.PathIn(x.dir, f.SHA256)
	if why == nil {
		var err error
		if why, err = store.Spoilt(ctx, from, f.SHA256, f.SizeBytes); err != nil {
			return err
		}
	}
	if why == nil {
		_, unread, err := x.File(name, from)
		if err != nil {
			return err
		}
		if unread != nil {
			why = store.CannotRead(unread)
		}
	}
	if why != nil {
		x.left = append(x.left, printable.Line(words.Say("error.left_out", words.Params{"file": name, "wrong": why.Error()})))
	}
	return nil
}

// export returns which files were left out.
func (a *Archive) export(ctx context.Context, athleteID string, w io.Writer) (left []string, err error) {
	// A server that starts meanwhile leaves the folder alone: it is locked.
	lock, err := disk.LockedFolder(a.folder.Store.Tmp(), "export-*")
	if err != nil {
		return nil, err
	}
	dir := lock.Name()
	defer func() {
		_ = os.RemoveAll(dir) // the next server tries again
		_ = lock.Close()      // nothing was written to it
	}()
	e, err := a.collect(ctx, athleteID, dir)
	if err != nil {
		return nil, err
	}
	dates := map[string]string{}
	for _, v := range e.visits {
		dates[v.ID] = v.Date
	}
	x := &exporting{Writer: zipped.NewWriter(ctx, w), dir: dir, bad: e.bad}
	err = errors.Join(x.Text("README.txt", []byte(words.Say("export.readme", nil)+"\n")), x.JSON("athlete.json", e.who),
		x.JSON("visits.json", e.visits))
	if err != nil {
		return nil, err
	}
	listed := []exportedClip{} // not null
	for i, c := range e.clips {
		base, ext := zipped.SplitName(c.Name)
		folder := fmt.Sprintf("clips/%s_%02d_%s", dates[c.VisitID], i+1, base)
		listed = append(listed, exportedClip{Folder: folder, Clip: c, Corrections: e.corrections[i], Marks: e.marks[i]})
		if err := x.stored(ctx, folder+"/original"+ext, File{SHA256: c.SHA256, SizeBytes: c.SizeBytes}); err != nil {
			return nil, err
		}
		if c.Result == nil {
			continue
		}
		for _, f := range c.Result.Files {
			if err := x.stored(ctx, path.Join(folder, f.Name), f); err != nil {
				return nil, err
			}
		}
	}
	if err := x.JSON("clips.json", listed); err != nil {
		return nil, err
	}
	for i, c := range e.comparisons {
		folder := fmt.Sprintf("comparisons/%s_%02d", c.CreatedAt.Format("2006-01-02"), len(e.comparisons)-i)
		for _, f := range c.Files {
			if err := x.stored(ctx, path.Join(folder, f.Name), f); err != nil {
				return nil, err
			}
		}
	}
	if len(x.left) > 0 {
		if err := x.Text("LEFT_OUT.txt", []byte(strings.Join(x.left, "\n")+"\n")); err != nil {
			return nil, err
		}
	}
	return x.left, x.Close()
}
