// Package halfsent reads the clips that have not come whole: they are no clips of the archive yet, and what whoever
// deletes an athlete or checks the archive has to know of.
package halfsent

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"holdfast/archive/disk"
	"holdfast/words"
)

// Folder is where, in the data folder, the clips lie that have not come whole. Each is two files named by its id:
// Part ends the name of what has come, Note that of a note in JSON, which begins with an Owner.
const (
	Folder = "uploads"
	Part   = ".part"
	Note   = ".json"
)

// Owner says whose clip an unfinished upload is: a visit's, an athlete's by id, or
// that of an athlete who was not known by the name yet.
type Owner struct {
	Athlete     string `json:"athlete"`
	AthleteName string `json:"athlete_name"`
	Visit       string `json:"visit"`
	Coach       string `json:"coach"` // who sends it, where users log in
}

// Upload is an unfinished upload as its files tell it.
type Upload struct {
	Owner Owner
	Bytes int64 // that have come

	note string // its path
	part string // the path of what has come
}

// List lists the unfinished uploads of a data folder that have a note: also one that was being written when the server
// was killed.
func List(data string) ([]Upload, error) {
	dir := filepath.Join(data, Folder)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, disk.IgnoreMissing(err)
	}
	var out []Upload
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), Part) || !e.Type().IsRegular() {
			continue
		}
		u := Upload{note: filepath.Join(dir, e.Name())}
		text, err := os.ReadFile(u.note)
		if errors.Is(err, fs.ErrNotExist) {
			continue // it has become a clip meanwhile
		}
		if err != nil {
			return nil, err
		}
		if json.Unmarshal(text, &u.Owner) != nil {
			continue
		}
		if id, ok := strings.CutSuffix(u.note, Note); ok {
			u.part = id + Part
			if info, err := os.Stat(u.part); err == nil {
				u.Bytes = info.Size()
			}
		}
		out = append(out, u)
	}
	return out, nil
}

// Drop removes the unfinished uploads of a data folder that want picks, and returns how many went and their bytes.
func Drop(data string, want func(Owner) bool) (n int, bytes int64, err error) {
	all, err := List(data)
	errs := []error{err}
	for _, u := range all {
		if !want(u.Owner) {
			continue
		}
		err := disk.IgnoreMissing(os.Remove(u.note))
		if u.part != "" {
			err = errors.Join(err, disk.IgnoreMissing(os.Remove(u.part)))
		}
		if errs = append(errs, err); err == nil {
			n++
			bytes += u.Bytes
		}
	}
	if n > 0 {
		errs = append(errs, disk.SyncFolder(filepath.Join(data, Folder)))
	}
	if err := errors.Join(errs...); err != nil {
		return n, bytes, words.Doing("doing_removing_half_sent_uploads", err)
	}
	return n, bytes, nil
}
