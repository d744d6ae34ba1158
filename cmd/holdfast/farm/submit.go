package farm

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"holdfast/archive"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk"
	"holdfast/desk/given"
)

// listName is the file beside clips that says whose they are where their folders do not.
const listName = "clips.csv"

// Clip is a file to be sent in, and what is said about it.
type Clip struct {
	Path   string
	Fields given.Clip
}

// endings are those of files that are clips.
var endings = []string{".mp4", ".mov", ".m4v", ".avi", ".mkv", ".webm"}

// Read returns the clips below a folder. Where a list clips.csv lies in it, that says which and whose they are; else
// their names do: ATHLETE/DATE/TEMPO….mp4, the date as 2026-05-02 with the condition after it where that is not fresh,
// as 2026-05-02_loaded_20kg.
func Read(dir string) ([]Clip, error) {
	f, err := os.Open(filepath.Join(dir, listName))
	if err == nil {
		defer f.Close()
		return readList(dir, f)
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var clips []Clip
	err = filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || !slices.Contains(endings, strings.ToLower(filepath.Ext(path))) {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		fields, ok := fieldsOf(filepath.ToSlash(rel))
		if !ok {
			return terminal.Usage("submit_name", "file", rel)
		}
		clips = append(clips, Clip{path, fields})
		return nil
	})
	if errors.Is(err, fs.ErrNotExist) {
		return nil, terminal.Usage("submit_folder", "folder", dir)
	}
	return clips, err
}

// fieldsOf reads what the name of a clip says, ATHLETE/DATE/TEMPO….
func fieldsOf(name string) (f given.Clip, ok bool) {
	parts := strings.Split(name, "/")
	if len(parts) != 3 {
		return f, false
	}
	f.AthleteName = strings.ReplaceAll(parts[0], "_", " ")
	said := strings.Split(parts[1], "_")
	if _, err := time.Parse(time.DateOnly, said[0]); err != nil {
		return f, false
	}
	f.Date = said[0]
	for _, word := range said[1:] {
		kg, isLoad := strings.CutSuffix(word, "kg")
		switch {
		case slices.Contains([]string{archive.Fresh, archive.Loaded, archive.Fatigued}, word):
			f.Condition = word
		case isLoad && f.Set("load_kg", kg) == nil:
		default:
			return f, false
		}
	}
	for _, tempo := range []string{"slow", "fast", "jump"} {
		if strings.HasPrefix(strings.ToLower(parts[2]), tempo) {
			f.Tempo = tempo
		}
	}
	return f, true
}

// readList reads a list of clips: a line of names, then a line a clip. The column file is needed, and athlete; the
// others are date, condition, load_kg, tempo, height_cm and capture_fps.
func readList(dir string, r io.Reader) ([]Clip, error) {
	lines := csv.NewReader(r)
	names, err := lines.Read()
	if err != nil {
		return nil, terminal.Usage("submit_list", "line", 1, "error", err)
	}
	var clips []Clip
	for {
		values, err := lines.Read()
		if errors.Is(err, io.EOF) {
			return clips, nil
		}
		line, _ := lines.FieldPos(0)
		var c Clip
		for i, value := range values {
			switch name := strings.TrimPrefix(strings.TrimSpace(names[i]), "\ufeff"); {
			case err != nil:
			case name == "file" && filepath.IsLocal(value):
				c.Path = filepath.Join(dir, value)
			case name == "file":
				err = errors.New(value)
			case name == "athlete":
				c.Fields.AthleteName = value
			default:
				err = c.Fields.Set(name, value)
			}
		}
		if err == nil {
			err = c.Fields.Check()
		}
		if err == nil && c.Path == "" {
			err = errors.New("file")
		}
		if err != nil {
			return nil, terminal.Usage("submit_list", "line", line, "error", err)
		}
		clips = append(clips, c)
	}
}

// Submit sends the clips of a folder to a shared archive, to be measured when nobody waits for something else. A clip
// that the athlete has already is left as it is, so that a folder can be sent again.
// A coach's athletes they are, by the name of the user; of none where that is empty.
func Submit(ctx context.Context, in place.Options, dir, coach string, progress func(done, total int)) (sent, known int,
	err error) {
	clips, err := Read(dir)
	if err != nil {
		return 0, 0, err
	}
	arc, err := open(ctx, in, archive.Options{})
	if err != nil {
		return 0, 0, err
	}
	defer func() { err = errors.Join(err, arc.Close()) }()
	if coach != "" {
		user, err := arc.Users().Find(ctx, coach)
		if err != nil {
			return 0, 0, err
		}
		ctx = archive.ForCoach(ctx, user.ID)
	}
	work, leave, err := folder(arc)
	if err != nil {
		return 0, 0, err
	}
	defer func() { err = errors.Join(err, leave()) }()
	d, err := desk.New(desk.Options{Archive: arc, WorkDir: work, Limits: desk.Limits{Queue: 1 << 30}})
	if err != nil {
		return 0, 0, err
	}
	for i, c := range clips {
		if err := c.Fields.Check(); err != nil {
			return sent, known, fmt.Errorf("%s: %w", c.Path, err)
		}
		added, err := submit(ctx, d, c)
		if err == nil && added.Job != "" {
			err = arc.LaterJob(ctx, added.Job)
		}
		if err != nil {
			return sent, known, fmt.Errorf("%s: %w", c.Path, err)
		}
		if sent++; added.Known {
			sent--
			known++
		}
		progress(i+1, len(clips))
	}
	return sent, known, nil
}

func submit(ctx context.Context, d *desk.Desk, c Clip) (desk.Added, error) {
	f, err := os.Open(c.Path)
	if err != nil {
		return desk.Added{}, err
	}
	defer f.Close()
	return d.Add(ctx, f, given.DisplayName(filepath.Base(c.Path)), c.Fields)
}
