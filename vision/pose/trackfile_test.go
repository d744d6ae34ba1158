package pose

import (
	"bytes"
	"compress/gzip"
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"holdfast/vision/plane"
)

func smallTrack() *Track {
	nan := math.NaN()
	return &Track{
		KeypointNames: []string{"left_hip", "right_hip"}, ModelName: "heavy", ModelSHA256: "ab", PeopleSeen: 2,
		CameraKnown: true, CameraMoved: true, CameraMotionPx: 3.5, RollDeg: 0.25, RollSDDeg: 0.1, RollSource: RollLines,
		ListedS: 9.75, TurnedDeg: 90,
		Poses: []Pose{
			{Index: 0, TimeS: 0, Found: true, Score: 0.75, Camera: plane.Similarity{Scale: 1, Known: true},
				Keypoints: []Keypoint{
					{X: 1.5, Y: 2.25, Z: -3, Visibility: 1, Presence: 0.5, SDPx: 1.25},
					{X: nan, Y: nan, Z: 0, Visibility: 0, Presence: 0, SDPx: nan},
				}},
			{Index: 1, TimeS: 0.04, Score: nan, Redetected: true, Damaged: true},
			{Index: 2, TimeS: 0.08, Score: 0.5, FootPitch: &FootPitch{Deg: -12.5, SDDeg: 0.25, Correlation: 0.98,
				Source: FootPitchOfPicture}, Cut: true, Scene: 1},
			{Index: 3, TimeS: 0.12, Score: 0.5, FootPitch: &FootPitch{Deg: nan, SDDeg: nan, Correlation: nan}, Scene: 1,
				Repeats: 2},
			{Index: 4, TimeS: 0.16, Frozen: true, Score: nan, Scene: 1},
		},
	}
}

func TestTrackGoesThroughItsFile(t *testing.T) {
	want := smallTrack()
	var b bytes.Buffer
	if err := WriteTrack(&b, want); err != nil {
		t.Fatal(err)
	}
	got, err := ReadTrack(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got, cmpopts.EquateNaNs()); d != "" {
		t.Errorf("what was read differs (-wrote +read):\n%s", d)
	}
	for cut := range b.Len() {
		if _, err := ReadTrack(bytes.NewReader(b.Bytes()[:cut])); !errors.Is(err, ErrNotATrack) {
			t.Fatalf("cut after %d bytes: error %v, want ErrNotATrack", cut, err)
		}
	}
}

// A track of the time before foot pitches is read.
func TestReadFirstTrack(t *testing.T) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	if _, err := z.Write([]byte(`{"schema":"holdfast/track/1","keypoints":[],"poses":[{"time_s":0.5}]}`)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	track, err := ReadTrack(&packed)
	if err != nil {
		t.Fatal(err)
	}
	if len(track.Poses) != 1 || track.Poses[0].TimeS != 0.5 || track.Poses[0].FootPitch != nil {
		t.Errorf("read %+v", track.Poses)
	}
}

func FuzzReadTrack(f *testing.F) {
	var b bytes.Buffer
	if err := WriteTrack(&b, smallTrack()); err != nil {
		f.Fatal(err)
	}
	z, err := gzip.NewReader(&b)
	if err != nil {
		f.Fatal(err)
	}
	var plain bytes.Buffer
	if _, err := plain.ReadFrom(z); err != nil {
		f.Fatal(err)
	}
	f.Add(plain.Bytes())
	f.Add([]byte(`{"schema":"holdfast/track/1","poses":[{"time_s":0},{"time_s":0}]}`))
	f.Add([]byte(`{"schema":"holdfast/track/2","poses":[{"foot_pitch":{}},` +
		`{"time_s":1,"foot_pitch":{"deg":1e308,"sd_deg":-1,"source":"?"}}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var packed bytes.Buffer
		w := gzip.NewWriter(&packed)
		w.Write(data)
		w.Close()
		track, err := ReadTrack(&packed)
		if err != nil {
			if !errors.Is(err, ErrNotATrack) {
				t.Fatalf("error %v, want ErrNotATrack", err)
			}
			return
		}
		if err := WriteTrack(&packed, track); err != nil {
			t.Fatal(err)
		}
	})
}
