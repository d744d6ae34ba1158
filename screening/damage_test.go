package screening

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

func codes(a *Analysis) []string {
	var out []string
	for _, w := range a.Warnings {
		out = append(out, w.Code)
	}
	return out
}

// A clip with one bit turned over, or cut off, gives the numbers of the whole clip or
// says that it cannot.
func TestDamagedClips(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	const shipped = "../testdata/clips/fast_30.mp4"
	data, err := os.ReadFile(shipped)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := quick(shipped)
	if err != nil {
		t.Fatal(err)
	}
	flip := func(part float64) []byte {
		d := bytes.Clone(data)
		at := bytes.Index(d, []byte("mdat"))
		d[at+4+int(part*float64(binary.BigEndian.Uint32(d[at-4:])-8))] ^= 0x20
		return d
	}
	tests := []struct {
		name     string
		data     []byte
		refused  bool
		measured []int  // reps
		code     string // of the warning
		message  string
	}{
		{"in the second turn", flip(0.45), false, []int{1}, "damaged_frames", "81 of its 289 frames"},
		{"a single picture", flip(0.93), false, []int{1, 2, 3}, "damaged_frames", "1 of its 289 frames"},
		{"near the start", flip(0.2), true, nil, "", "167 of its 289 frames are damaged"},
		{"cut off", data[:len(data)*6/10], false, []int{1}, "clip_cut_short", "of 9.6 s"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "damaged.mp4")
			if err := os.WriteFile(path, tt.data, 0o644); err != nil {
				t.Fatal(err)
			}
			a, track, err := Analyze(context.Background(), path, Options{Model: "full"})
			if tt.refused {
				if !errors.Is(err, media.ErrUnreadable) || !strings.Contains(err.Error(), tt.message) ||
					!strings.Contains(err.Error(), "again") {
					t.Fatalf("error %v, want one that says %q and what to do", err, tt.message)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			i := slices.IndexFunc(a.Warnings, func(w Warning) bool { return w.Code == tt.code })
			if i < 0 || !strings.Contains(Say(a.Warnings[i]), tt.message) {
				t.Errorf("warnings %v, want %s with %q", a.Warnings, tt.code, tt.message)
			}
			var measured []int
			for i := range a.Reps {
				r := &a.Reps[i]
				if r.Partial {
					if r.PartialWhy.IsZero() {
						t.Errorf("rep %d is left out without a reason", r.Number)
					}
					continue
				}
				measured = append(measured, r.Number)
				if d := math.Abs(float64(r.Angles[body.AnkleDorsiflexion].ROMDeg -
					whole.Reps[i].Angles[body.AnkleDorsiflexion].ROMDeg)); !(d < 2) {
					t.Errorf("rep %d: ankle %.1f degrees, %.1f in the whole clip", r.Number, r.Angles[body.AnkleDorsiflexion].ROMDeg,
						whole.Reps[i].Angles[body.AnkleDorsiflexion].ROMDeg)
				}
			}
			if !slices.Equal(measured, tt.measured) {
				t.Errorf("measured are the reps %v, want %v", measured, tt.measured)
			}
			// The stored track says the same.
			var file bytes.Buffer
			if err := pose.WriteTrack(&file, track); err != nil {
				t.Fatal(err)
			}
			stored, err := pose.ReadTrack(&file)
			if err != nil {
				t.Fatal(err)
			}
			again, err := MeasureAgain(a.Clip, stored, Options{Model: "full"})
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(codes(again), codes(a)) {
				t.Errorf("measured again it warns of %v, first of %v", codes(again), codes(a))
			}
		})
	}
}

func TestLengthLimit(t *testing.T) {
	clip := func(durationS float64, frames int) *media.Clip {
		return &media.Clip{Path: "clip.mp4", DurationS: durationS, TimesS: make([]float64, frames)}
	}
	tests := []struct {
		name    string
		clip    *media.Clip
		minutes float64
		says    string
	}{
		{"ten minutes", clip(600, 36_000), 0, ""},
		{"eleven minutes", clip(660, 19_800), 0, "11.0 minutes, and at most 10"},
		{"eleven of twelve minutes", clip(660, 19_800), 12, ""},
		{"many frames", clip(500, 100_000), 0, "100000 frames, and at most 72000"},
	}
	for _, tt := range tests {
		err := checkLength(tt.clip, tt.minutes)
		if tt.says == "" && err != nil || tt.says != "" && (!errors.Is(err, ErrCannotMeasure) ||
			!strings.Contains(err.Error(), tt.says)) {
			t.Errorf("%s: error %v, want one that says %q", tt.name, err, tt.says)
		}
	}
}
