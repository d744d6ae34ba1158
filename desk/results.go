package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/archive"
	"holdfast/desk/joined"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// AnalysisFile is the name of a result's numbers.
const AnalysisFile = "analysis.json"

const (
	// maxFileBytes bounds a file of a result, maxNoteBytes what lies beside one and says what
	// it was made of.
	maxFileBytes = 8 << 30
	maxNoteBytes = 1 << 20
)

// FileOf returns the file of a name; the zero File when there is none.
func FileOf(files []archive.File, name string) archive.File {
	if i := slices.IndexFunc(files, func(f archive.File) bool { return f.Name == name }); i >= 0 {
		return files[i]
	}
	return archive.File{}
}

// measuredAs names what was measured in a clip: another correction gives another
// name, another picture does not.
func measuredAs(c archive.Clip) string {
	if c.Result == nil {
		return ""
	}
	return FileOf(c.Result.Files, AnalysisFile).SHA256
}

// Track returns the track of a clip's current result. It is shared: nobody changes it.
func (d *Desk) Track(ctx context.Context, clip archive.Clip) (*pose.Track, error) {
	if clip.Result == nil {
		return nil, joined.NotMeasured
	}
	f := FileOf(clip.Result.Files, work.MadeTrack)
	if f.SHA256 == "" {
		return nil, &refusal.Error{Kind: refusal.Conflict, Code: "track_gone"}
	}
	return d.tracks.Get(f.SHA256, func() (*pose.Track, error) {
		r, err := d.archive.OpenFile(ctx, f.SHA256)
		if err != nil {
			return nil, err
		}
		defer r.Close()
		return pose.ReadTrack(r)
	})
}

// Analysis returns the analysis of a clip's current result. It is shared: take a
// copy to change its clip's path or name.
func (d *Desk) Analysis(clip archive.Clip) (*screening.Analysis, error) {
	sum := measuredAs(clip)
	if sum == "" {
		return nil, joined.NotMeasured
	}
	return d.analyses.Get(sum, func() (*screening.Analysis, error) {
		if err := d.archive.Fetch(context.Background(), sum); err != nil { // for all who ask, not for one who goes away
			return nil, err
		}
		a, err := screening.LoadAnalysis(d.archive.FilePath(sum))
		if err != nil {
			return nil, fmt.Errorf("%w: %w", archive.ErrDamaged, err)
		}
		return a, nil
	})
}

// Summary returns a clip's analysis without its series, which are large and which no list
// needs. It is shared.
func (d *Desk) Summary(clip archive.Clip) (*screening.Analysis, error) {
	return d.summaries.Get(measuredAs(clip), func() (*screening.Analysis, error) {
		a, err := d.Analysis(clip)
		if err != nil {
			return nil, err
		}
		small := *a
		small.Series = screening.Series{}
		return &small, nil
	})
}

// Told is [Desk.Summary] with what the archive's row says of the set.
func (d *Desk) Told(clip archive.Clip) (*screening.Analysis, error) {
	a, err := d.Summary(clip)
	if err != nil {
		return nil, err
	}
	told := *a
	told.Setting = clip.Setting.OrNil()
	return &told, nil
}

// measuredWithOf reads what a clip was measured with; nil when its result does not say.
func (d *Desk) measuredWithOf(ctx context.Context, clip archive.Clip) (*work.MeasuredWith, error) {
	f := FileOf(clip.Result.Files, work.MeasuredWithFile)
	if f.SHA256 == "" {
		return nil, nil
	}
	was, err := d.inputs.Get(f.SHA256, func() (m work.MeasuredWith, err error) { return m, d.readNote(ctx, f, &m) })
	if err != nil {
		return nil, err
	}
	return &was, nil
}

// readNote reads a short JSON document that says what a result was made of.
func (d *Desk) readNote(ctx context.Context, f archive.File, into any) error {
	r, err := d.archive.OpenFile(ctx, f.SHA256)
	if err != nil {
		return err
	}
	defer r.Close()
	if err := json.NewDecoder(io.LimitReader(r, maxNoteBytes)).Decode(into); err != nil {
		return fmt.Errorf("reading %s: %w: %w", f.Name, archive.ErrDamaged, err)
	}
	return nil
}

// keepAnalysis makes the files of a fresh analysis the clip's result. Corrections
// that the clip has already (it is analysed anew) are applied to it, and what was cut off is left out.
func (d *Desk) keepAnalysis(ctx context.Context, clipID string, files []archive.File) error {
	back, err := d.turns.Take(ctx, clipID)
	if err != nil {
		return err
	}
	defer back()
	if _, err := d.archive.SaveResult(ctx, clipID, files, 0); err != nil {
		return err
	}
	doc, seq, err := d.archive.CurrentCorrections(ctx, clipID)
	if err != nil {
		return err
	}
	clip, err := d.archive.Clip(ctx, clipID)
	if err != nil {
		return err
	}
	if seq > 0 || clip.TrimFromS != nil || clip.TrimToS != nil {
		// A correction that no longer fits is no reason to lose the analysis.
		if err := d.again(ctx, clipID, doc, func() (int, error) { return seq, nil }); err != nil {
			d.log.Warn("corrections do not fit the new analysis", "clip", clipID)
			d.log.Debug("corrections do not fit the new analysis", "clip", clipID, "error", err)
		}
	}
	d.opt.ClipChanged(clipID)
	return nil
}

// addToResult adds a file to a result, if the clip still has the one that was measured as
// said: pictures of numbers that have been corrected since are thrown away. Empty: to
// whatever result it has.
func (d *Desk) addToResult(ctx context.Context, clipID, measured string, f archive.File) error {
	back, err := d.turns.Take(ctx, clipID)
	if err != nil {
		return err
	}
	defer back()
	clip, err := d.archive.Clip(ctx, clipID)
	if err != nil {
		return err
	}
	if clip.Result == nil || measured != "" && measuredAs(clip) != measured {
		return &refusal.Error{Kind: refusal.Conflict, Code: "video_outdated"}
	}
	if err := d.archive.AddResultFile(ctx, clip.Result.ID, f); err != nil {
		return err
	}
	d.opt.ClipChanged(clipID)
	return nil
}

// stillsFolder is where the stills of a result lie.
const stillsFolder = "frames"

func isStill(f archive.File) bool { return strings.HasPrefix(f.Name, stillsFolder+"/") }

// keepStills replaces the stills of a result by new ones.
func (d *Desk) keepStills(ctx context.Context, clipID, measured, dir string) error {
	back, err := d.turns.Take(ctx, clipID)
	if err != nil {
		return err
	}
	defer back()
	clip, err := d.archive.Clip(ctx, clipID)
	if err != nil {
		return err
	}
	if measuredAs(clip) != measured {
		return nil // corrected again meanwhile: another job draws the stills of that
	}
	made, err := d.putFolder(ctx, filepath.Join(dir, stillsFolder))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if len(made) == 0 {
		return nil
	}
	for i := range made {
		made[i].Name = stillsFolder + "/" + made[i].Name
	}
	files := append(slices.DeleteFunc(slices.Clone(clip.Result.Files), isStill), made...)
	if _, err := d.archive.SaveResult(ctx, clipID, files, clip.Result.CorrectionSeq); err != nil {
		return err
	}
	d.opt.ClipChanged(clipID)
	return nil
}

// put puts what fill writes into the archive under a name.
func (d *Desk) put(ctx context.Context, name string, fill func(io.Writer) error) (archive.File, error) {
	var text bytes.Buffer
	if err := fill(&text); err != nil {
		return archive.File{}, fmt.Errorf("writing %s: %w", name, err)
	}
	f, err := d.archive.Put(ctx, &text, maxFileBytes)
	f.Name = name
	return f, err
}

// putFile puts a file that a child has made into the archive.
func (d *Desk) putFile(ctx context.Context, path, name string) (archive.File, error) {
	f, err := os.Open(path)
	if err != nil {
		return archive.File{}, fmt.Errorf("reading what was made: %w", err)
	}
	defer f.Close()
	kept, err := d.archive.Put(ctx, f, maxFileBytes)
	kept.Name = name
	return kept, err
}

// putFolder puts all files of a folder into the archive, named as seen from it, and with them others beside it.
func (d *Desk) putFolder(ctx context.Context, dir string, beside ...string) ([]archive.File, error) {
	var paths, names []string
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || !e.Type().IsRegular() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		paths, names = append(paths, path), append(names, filepath.ToSlash(name))
		return err
	})
	if err != nil {
		return nil, err
	}
	for _, name := range beside {
		paths, names = append(paths, filepath.Join(filepath.Dir(dir), name)), append(names, name)
	}
	files, err := d.archive.PutAll(ctx, paths, maxFileBytes)
	for i := range files {
		files[i].Name = names[i]
	}
	return files, err
}
