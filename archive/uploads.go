package archive

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"holdfast/archive/disk"
)

// UploadsFolder is the folder, in the data folder, of the clips that have not come whole.
// Each is two files named by its id: UploadPart ends the name of what has come, UploadNote
// that of a note in JSON, which begins with an UploadOwner.
const (
	UploadsFolder = "uploads"
	UploadPart    = ".part"
	UploadNote    = ".json"
)

// UploadOwner says whose clip an unfinished upload is: a visit's, an athlete's by id, or
// that of an athlete who was not known by the name yet.
type UploadOwner struct {
	Athlete     string `json:"athlete"`
	AthleteName string `json:"athlete_name"`
	Visit       string `json:"visit"`
}

// upload is an unfinished upload as its files tell it.
type upload struct {
	owner UploadOwner
	note  string // its path
	part  string // the path of what has come
	bytes int64
}

// uploads lists the unfinished uploads that have a note: also one that was being written
// when the server was killed.
func (a *Archive) uploads() ([]upload, error) {
	dir := filepath.Join(a.dir, UploadsFolder)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, disk.IgnoreMissing(err)
	}
	var out []upload
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), UploadPart) || !e.Type().IsRegular() {
			continue
		}
		u := upload{note: filepath.Join(dir, e.Name())}
		text, err := os.ReadFile(u.note)
		if errors.Is(err, fs.ErrNotExist) {
			continue // it has become a clip meanwhile
		}
		if err != nil {
			return nil, err
		}
		if json.Unmarshal(text, &u.owner) != nil {
			continue
		}
		if id, ok := strings.CutSuffix(u.note, UploadNote); ok {
			u.part = id + UploadPart
			if info, err := os.Stat(u.part); err == nil {
				u.bytes = info.Size()
			}
		}
		out = append(out, u)
	}
	return out, nil
}

// dropUploads removes the unfinished uploads that want picks, and returns how many went
// and their bytes.
func (a *Archive) dropUploads(want func(UploadOwner) bool) (n int, bytes int64, err error) {
	all, err := a.uploads()
	errs := []error{err}
	for _, u := range all {
		if !want(u.owner) {
			continue
		}
		err := disk.IgnoreMissing(os.Remove(u.note))
		if u.part != "" {
			err = errors.Join(err, disk.IgnoreMissing(os.Remove(u.part)))
		}
		if errs = append(errs, err); err == nil {
			n++
			bytes += u.bytes
		}
	}
	if n > 0 {
		errs = append(errs, disk.SyncFolder(filepath.Join(a.dir, UploadsFolder)))
	}
	if err := errors.Join(errs...); err != nil {
		return n, bytes, fmt.Errorf("removing half-sent uploads: %w", err)
	}
	return n, bytes, nil
}

// uploadsOf returns what picks the uploads of an athlete with these visits.
func uploadsOf(who Athlete, visits []Visit) func(UploadOwner) bool {
	oneLine := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	of := map[string]bool{}
	for _, v := range visits {
		of[v.ID] = true
	}
	return func(o UploadOwner) bool {
		switch {
		case o.Visit != "":
			return of[o.Visit]
		case o.Athlete != "":
			return o.Athlete == who.ID
		}
		return strings.EqualFold(oneLine(o.AthleteName), oneLine(who.Name))
	}
}

// onTheirWay notes what is no damage though no row knows it: clips that have not come
// whole, and the files that were getting or losing their row when a program was killed,
// which it returns. The lock of the files must be held.
func (a *Archive) onTheirWay(ctx context.Context) (notes []string, underway map[string]bool, err error) {
	if err := ctx.Err(); err != nil {
		return nil, nil, err
	}
	half, err := a.uploads()
	if err != nil {
		return nil, nil, err
	}
	if n := len(half); n > 0 {
		var bytes int64
		for _, u := range half {
			bytes += u.bytes
		}
		notes = append(notes, fmt.Sprintf("on their way: %s of clips that have not come whole (%.1f MB); "+
			"each goes on when its page sends the rest, or is removed after a day", countedFiles(n), float64(bytes)/1e6))
	}
	underway, err = a.store.Underway()
	return notes, underway, err
}
