package archive

import (
	"archive/zip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"path"
	"strings"
)

const exportReadme = `What is in this file

athlete.json       the athlete
visits.json        the visits: date, condition, load, notes
clips.json         which folder holds which clip, with its corrections
clips/             a folder a clip: the original video, and what was measured:
  analysis.json      every number, with its interval; the format is JSON
  series.csv         the angles over time, as a table
  keypoints.json     the points found in each frame, in the COCO layout
  frames/            pictures
  track.json.gz      the points as the program keeps them to measure again
comparisons/       a folder a comparison: comparison.json, pages and pictures

Angles are degrees, times seconds. Everything is estimated from video: a coaching
aid, not a diagnosis and not a medical device.
`

// exportedClip is one entry of clips.json.
type exportedClip struct {
	Folder      string       `json:"folder"`
	Clip        Clip         `json:"clip"`
	Corrections []Correction `json:"corrections"`
}

// Export writes everything of one athlete as a zip of open formats.
func (a *Archive) Export(ctx context.Context, athleteID string, w io.Writer) error {
	if err := a.export(ctx, athleteID, w); err != nil {
		return fmt.Errorf("exporting an athlete: %w", err)
	}
	return nil
}

func (a *Archive) export(ctx context.Context, athleteID string, w io.Writer) error {
	who, err := a.Athlete(ctx, athleteID)
	if err != nil {
		return err
	}
	visits, err := a.Visits(ctx, athleteID)
	if err != nil {
		return err
	}
	dates := map[string]string{}
	for _, v := range visits {
		dates[v.ID] = v.Date
	}
	clips, err := a.ClipsOf(ctx, athleteID)
	if err != nil {
		return err
	}
	comparisons, err := a.ComparisonsOf(ctx, athleteID)
	if err != nil {
		return err
	}
	z := zip.NewWriter(w)
	text := func(name string, body []byte) error {
		f, err := z.Create(name)
		if err == nil {
			_, err = f.Write(body)
		}
		return err
	}
	asJSON := func(name string, v any) error {
		b, err := json.MarshalIndent(v, "", "  ")
		if err != nil {
			return err
		}
		return text(name, append(b, '\n'))
	}
	if err := text("README.txt", []byte(exportReadme)); err != nil {
		return err
	}
	if err := asJSON("athlete.json", who); err != nil {
		return err
	}
	if err := asJSON("visits.json", visits); err != nil {
		return err
	}
	listed := []exportedClip{} // not null
	for i, c := range clips {
		base, ext := splitName(c.Name)
		folder := fmt.Sprintf("clips/%s_%02d_%s", dates[c.VisitID], i+1, base)
		corrections, err := a.Corrections(ctx, c.ID)
		if err != nil {
			return err
		}
		listed = append(listed, exportedClip{Folder: folder, Clip: c, Corrections: corrections})
		if err := addFile(ctx, z, folder+"/original"+ext, a.FilePath(c.SHA256)); err != nil {
			return err
		}
		if c.Result == nil {
			continue
		}
		for _, f := range c.Result.Files {
			if err := addFile(ctx, z, path.Join(folder, f.Name), a.FilePath(f.SHA256)); err != nil {
				return err
			}
		}
	}
	if err := asJSON("clips.json", listed); err != nil {
		return err
	}
	for i, c := range comparisons {
		folder := fmt.Sprintf("comparisons/%s_%02d", c.CreatedAt.Format("2006-01-02"), len(comparisons)-i)
		for _, f := range c.Files {
			if err := addFile(ctx, z, path.Join(folder, f.Name), a.FilePath(f.SHA256)); err != nil {
				return err
			}
		}
	}
	return z.Close()
}

// splitName makes of a clip's name one that every system can write, without its
// ending, and the ending.
func splitName(name string) (base, ext string) {
	clean := func(s string, most int) string {
		s = strings.Map(func(r rune) rune {
			switch {
			case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_':
				return r
			}
			return '_'
		}, s)
		return s[:min(len(s), most)]
	}
	if e := path.Ext(name); len(e) > 1 && len(e) <= 6 {
		name, ext = strings.TrimSuffix(name, e), "."+clean(e[1:], 5)
	}
	if base = clean(name, 40); base == "" {
		base = "clip"
	}
	return base, ext
}
