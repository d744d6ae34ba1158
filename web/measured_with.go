package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"

	"holdfast/archive"
	"holdfast/printable"
)

// measuredWithFile lies beside an analysis and says what the numbers rest on that the
// coach gave. It tells whether the clip was changed since, for instance by a program
// that was killed between the change and the measuring.
const measuredWithFile = "measured_with.json"

type measuredWith struct {
	Name       string  `json:"name"`
	Tempo      string  `json:"tempo"`       // empty: found
	HeightCm   float64 `json:"height_cm"`   // 0: not given
	CaptureFPS float64 `json:"capture_fps"` // 0: as the file says
}

func (w workClip) measuredWith() measuredWith {
	return measuredWith{w.Name, w.Tempo, w.HeightCm, w.CaptureFPS}
}

func (m measuredWith) write(w io.Writer) error {
	text, err := json.Marshal(m)
	if err == nil {
		_, err = w.Write(append(printable.JSON(text), '\n'))
	}
	return err
}

// file puts it into the archive.
func (m measuredWith) file(ctx context.Context, a *archive.Archive) (archive.File, error) {
	var text bytes.Buffer
	if err := m.write(&text); err != nil {
		return archive.File{}, err
	}
	f, err := a.Put(ctx, &text, maxJSONBytes)
	f.Name = measuredWithFile
	return f, err
}

// outdated says whether a clip was given another tempo, height, rate or name since it
// was measured. Of a result that names no such file nothing is outdated; one whose file
// cannot be read is measured again, which writes it anew.
func (s *Server) outdated(ctx context.Context, clip archive.Clip) bool {
	was, err := s.measuredWithOf(ctx, clip)
	return err != nil || was != nil && *was != s.orderOf(clip).measuredWith()
}

// measuredWithOf reads what a clip was measured with; nil when its result does not say.
func (s *Server) measuredWithOf(ctx context.Context, clip archive.Clip) (*measuredWith, error) {
	f := fileOf(clip.Result.Files, measuredWithFile)
	if f.SHA256 == "" {
		return nil, nil
	}
	was, err := s.desk.inputs.get(f.SHA256, func() (measuredWith, error) {
		var m measuredWith
		r, err := s.archive.OpenFile(ctx, f.SHA256)
		if err != nil {
			return m, err
		}
		defer r.Close()
		if err := json.NewDecoder(io.LimitReader(r, maxJSONBytes)).Decode(&m); err != nil {
			return m, fmt.Errorf("reading what a clip was measured with: %w: %w", archive.ErrDamaged, err)
		}
		return m, nil
	})
	if err != nil {
		return nil, err
	}
	return &was, nil
}
