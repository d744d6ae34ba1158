package marked

import (
	"bytes"
	"encoding/json"
	"errors"
	"image"
	_ "image/jpeg"
	"strings"
	"testing"

	"holdfast/internal/compared"
	"holdfast/vision/pose"
)

// TestCheck: marks are of known kinds, on frames of the clip, in its picture; each learns its time.
func TestCheck(t *testing.T) {
	times := &pose.Track{Poses: []pose.Pose{{}, {TimeS: 0.1}, {TimeS: 0.25}}}
	good := Document{Marks: []Mark{
		{Frame: 2, Kind: Angle, Points: [][2]float64{{10, 0}, {0, 0}, {0, 10}}},
		{Frame: 0, Kind: Line, Points: [][2]float64{{1, 2}, {3, 4}}, Text: "bar"},
		{Frame: 1, Kind: Note, Points: [][2]float64{{5, 5}}, Text: "heel"}}}
	got, err := good.Check(times, 100, 50)
	if err != nil || len(got.Marks) != 3 || got.Marks[0].Kind != Line || got.Marks[2].TimeS != 0.25 {
		t.Fatalf("%+v, %v", got, err)
	}
	if deg := got.Marks[2].Deg(); deg != 90 || got.Marks[2].label() != "90°" || got.Marks[0].label() != "bar" {
		t.Errorf("an angle of %v says %q", deg, got.Marks[2].label())
	}
	doc, err := json.Marshal(got)
	if err != nil || len(Read(doc)) != 3 || Read(nil) != nil || Read([]byte("{")) != nil {
		t.Errorf("read back: %v, %v", Read(doc), err)
	}
	for name, m := range map[string]Mark{
		"a kind": {Kind: "circle", Points: [][2]float64{{1, 1}}}, "two places": {Kind: Line, Points: [][2]float64{{1, 1}}},
		"a note without words": {Kind: Note, Points: [][2]float64{{1, 1}}},
		"after the end":        {Frame: 3, Kind: Line, Points: [][2]float64{{1, 2}, {3, 4}}},
		"outside":              {Kind: Line, Points: [][2]float64{{1, 2}, {300, 4}}},
		"a long text":          {Kind: Note, Points: [][2]float64{{1, 1}}, Text: strings.Repeat("a", 201)},
	} {
		if _, err := (Document{Marks: []Mark{m}}).Check(times, 100, 50); !errors.Is(err, ErrBad) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := (Document{Marks: make([]Mark, most+1)}).Check(times, 100, 50); !errors.Is(err, ErrBad) {
		t.Errorf("too many: %v", err)
	}
}

// TestPictures: a frame is drawn once with all its marks, and a clip that is gone is told of.
func TestPictures(t *testing.T) {
	a, _, times := compared.Short(t)
	marks := []Mark{{Frame: 1, TimeS: times[1], Kind: Line, Points: [][2]float64{{5, 5}, {40, 40}}},
		{Frame: 1, TimeS: times[1], Kind: Note, Points: [][2]float64{{20, 20}}, Text: "knee"},
		{Frame: 3, TimeS: times[3], Kind: Angle, Points: [][2]float64{{5, 5}, {20, 20}, {35, 5}}}}
	got, gone, err := Pictures(t.Context(), a, marks, false)
	if err != nil || gone != nil || len(got) != 2 || got[0].Frame != 1 || len(got[0].Notes) != 1 ||
		got[1].Notes[0] != "90°" {
		t.Fatalf("%d pictures, %v, %v", len(got), gone, err)
	}
	for _, p := range got {
		if _, _, err := image.Decode(bytes.NewReader(p.JPEG)); err != nil {
			t.Error(err)
		}
	}
	other := *a
	other.Clip.Path = "gone.mp4"
	if got, gone, err := Pictures(t.Context(), &other, marks, false); err != nil || gone == nil || got != nil {
		t.Errorf("of a clip that is gone: %v, %v, %v", got, gone, err)
	}
}
