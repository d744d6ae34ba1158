package screening

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/models"
	"holdfast/screening/footage"
	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// followed tracks and measures a clip with the smaller network on one core.
func followed(t *testing.T, path string) (*Analysis, *pose.Track) {
	t.Helper()
	ctx := context.Background()
	clip, err := media.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	tracker, err := vision.NewTracker(vision.TrackerOptions{Model: "full", Threads: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer tracker.Close()
	track, err := tracker.Track(ctx, clip, nil)
	if err != nil {
		t.Fatal(err)
	}
	// The quicker network sees well enough how a camera moves; it is measured with the
	// sizes of the default one, whose heel follows the foot more quietly.
	heavy, err := models.Load("heavy")
	if err != nil {
		t.Fatal(err)
	}
	track.ModelName, track.ModelSHA256 = heavy.Manifest.Name, heavy.Manifest.SHA256
	return measured(t, path, track), track
}

func measured(t *testing.T, path string, track *pose.Track) *Analysis {
	t.Helper()
	a := tryMeasure(t, path, track)
	if a == nil {
		t.Fatalf("%s cannot be measured", filepath.Base(path))
	}
	return a
}

// tryMeasure returns nil where the track cannot be measured.
func tryMeasure(t *testing.T, path string, track *pose.Track) *Analysis {
	t.Helper()
	clip, err := media.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	a, err := Measure(clip, track, Options{Model: "full"})
	if err != nil {
		t.Log(err)
		return nil
	}
	return a
}

// pxPerCm returns the scale of a rendered clip at the near leg, from its truth.
func pxPerCm(t *testing.T, name string) float64 {
	t.Helper()
	var truth struct {
		NearSide string `json:"near_side"`
		Segments struct {
			Thigh float64 `json:"thigh"`
		} `json:"segments_m"`
		Frames []struct {
			Points map[string][2]float64 `json:"points"`
		} `json:"frames"`
	}
	data, err := os.ReadFile("../testdata/clips/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &truth); err != nil {
		t.Fatal(err)
	}
	p := truth.Frames[0].Points
	h, k := p[truth.NearSide+"_hip"], p[truth.NearSide+"_knee"]
	return math.Hypot(h[0]-k[0], h[1]-k[1]) / (100 * truth.Segments.Thigh)
}

// A clip that is shaken must give the numbers of the same clip unshaken, though other frames of it are looked at: joint
// angles within a degree and a half, the heel's rise within half a centimetre on an athlete
// of 1.80 m, on average and at the bottoms.
func TestShakenClips(t *testing.T) {
	runsNetwork(t)
	const (
		angleAimDeg = 1.5
		heelAimCm   = 0.5
	)
	dir := t.TempDir()
	// Sway, and tremor at 5 to 8 Hz, in pixels, and a turn of about a degree.
	// The offsets are made at twice the size, so that they fall on half pixels.
	// The still clip goes the same way with no offsets.
	hand := func(w, h, size string) string {
		return "scale=2*iw:2*ih,rotate='" + size + "*(0.7*sin(1.9*t)+0.3*sin(4.7*t+1))*PI/180':bilinear=1," +
			"crop=2*" + w + ":2*" + h + ":exact=1:x='(iw-ow)/2+" + size +
			"*2*(14*sin(1.7*t)+5*sin(4.1*t+2)+1.5*sin(37*t))':y='(ih-oh)/2+" + size +
			"*2*(9*sin(2.3*t+1)+4*sin(5.3*t)+1.5*sin(43*t))',scale=" + w + ":" + h
	}
	tests := []struct {
		name, clip    string
		still, shaken string
	}{
		{"hand", "fast_30", hand("1180", "640", "0"), hand("1180", "640", "1")},
		{"hand, jumps", "jump_30", hand("640", "1160", "0"), hand("640", "1160", "1")},
		{"slow pan", "fast_30", "crop=760:720:260:0", "crop=760:720:exact=1:x='260+170*sin(2*PI*t/8)':y=0"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			source := "../testdata/clips/" + tt.clip + ".mp4"
			still, shaken := filepath.Join(dir, "still.mp4"), filepath.Join(dir, "shaken.mp4")
			ffmpeg(t, append([]string{"-t", "8", "-i", source, "-vf", tt.still}, h264("18", still)...)...)
			ffmpeg(t, append([]string{"-t", "8", "-i", source, "-vf", tt.shaken}, h264("18", shaken)...)...)
			want, wantTrack := followed(t, still)
			got, track := followed(t, shaken)
			if wantTrack.CameraMoved || !wantTrack.CameraKnown || want.Series.Camera != nil {
				t.Errorf("the still clip's camera: known %v, moved %v by %.1f px", wantTrack.CameraKnown, wantTrack.CameraMoved,
					wantTrack.CameraMotionPx)
			}
			if !track.CameraMoved || len(got.Series.Camera) != len(got.Series.TimeS) {
				t.Fatalf("the shaken clip's camera: moved %v by %.1f px", track.CameraMoved, track.CameraMotionPx)
			}
			unknown := 0
			for _, p := range track.Poses {
				if !p.Camera.Known {
					unknown++
				}
			}
			t.Logf("moved by %.1f px; place unknown in %d of %d frames", track.CameraMotionPx, unknown, len(track.Poses))
			if len(got.Reps) != len(want.Reps) {
				t.Fatalf("%d reps, want %d", len(got.Reps), len(want.Reps))
			}
			// The same track with the camera's motion left in, to see what it would cost.
			left := *track
			left.CameraMoved, left.Poses = false, slices.Clone(track.Poses)
			for i := range left.Poses {
				left.Poses[i].Camera = plane.Similarity{}
			}
			leftIn := tryMeasure(t, shaken, &left)
			if leftIn == nil {
				t.Log("with the motion left in nothing can be measured")
			}
			scale := pxPerCm(t, tt.clip)
			foot := 0.0
			for i := range want.Series.TimeS {
				h, k := want.Series.PointsPx["heel"], want.Series.PointsPx["toe"]
				if d := math.Hypot(h.X[i]-k.X[i], h.Y[i]-k.Y[i]); d > 0 {
					foot += d / float64(len(want.Series.TimeS))
				}
			}
			curves := []struct {
				name      string
				of        func(a *Analysis) []float64
				unit, aim float64
			}{
				{"knee", func(a *Analysis) []float64 { return a.Series.AnglesDeg[body.KneeFlexion] }, 1, angleAimDeg},
				{"hip", func(a *Analysis) []float64 { return a.Series.AnglesDeg[body.HipFlexion] }, 1, angleAimDeg},
				{"ankle", func(a *Analysis) []float64 { return a.Series.AnglesDeg[body.AnkleDorsiflexion] }, 1, angleAimDeg},
				{"heel rise", func(a *Analysis) []float64 { return a.Series.HeelRisePctFoot }, foot / scale / 100, heelAimCm},
			}
			for _, c := range curves {
				mean, bottoms := differ(want, got, c.of(want), c.of(got), c.unit)
				t.Logf("%s: differs by %.2f on average, %.2f at the bottoms", c.name, mean, bottoms)
				if leftIn != nil {
					m, b := differ(want, leftIn, c.of(want), c.of(leftIn), c.unit)
					t.Logf("%s: with the motion left in %.2f and %.2f", c.name, m, b)
				}
				// Over a floor that moves in the picture only the shoe's own picture tells an ankle, which may not do so at
				// a bottom.
				if !(mean < c.aim) || bottoms >= c.aim || math.IsNaN(bottoms) && c.name != "ankle" {
					t.Errorf("%s: differs by %.2f on average, %.2f at the bottoms, want less than %.1f", c.name, mean, bottoms, c.aim)
				}
			}
		})
	}
}

// differ returns the mean difference between the same series of two analyses, over
// all samples on the floor and at the bottoms.
func differ(want, got *Analysis, w, g []float64, unit float64) (mean, bottoms float64) {
	n := 0
	for i := range w {
		if i < len(g) && !math.IsNaN(g[i]) && !math.IsNaN(w[i]) && !airborne(want, want.Series.TimeS[i]) {
			mean += unit * math.Abs(g[i]-w[i])
			n++
		}
	}
	for _, r := range want.Reps {
		t := (r.BottomS + r.BottomEndS) / 2
		bottoms += unit * math.Abs(readAt(got, g, t)-readAt(want, w, t)) / float64(len(want.Reps))
	}
	return mean / float64(n), bottoms
}

func airborne(a *Analysis, timeS float64) bool {
	for _, r := range a.Reps {
		if r.FlightS > 0 && timeS > r.TakeoffS-0.1 && timeS < r.ContactS+0.1 {
			return true
		}
	}
	return false
}

// readAt returns the mean of a series over a tenth of a second.
func readAt(a *Analysis, series []float64, timeS float64) float64 {
	sum, n := 0.0, 0
	for i, s := range a.Series.TimeS {
		if math.Abs(s-timeS) <= 0.05 {
			sum += series[i]
			n++
		}
	}
	return sum / float64(n)
}

// A phone that is held crooked: the angles to the vertical are those of the same
// clip held straight.
func TestTurnedPhone(t *testing.T) {
	runsNetwork(t)
	dir := t.TempDir()
	// The corners that turning leaves black are cut away.
	turned := func(deg string) *Analysis {
		path := filepath.Join(dir, "turned.mp4")
		ffmpeg(t, append([]string{"-t", "3", "-i", "../testdata/clips/fast_30.mp4", "-vf",
			"rotate=" + deg + "*PI/180:bilinear=1,crop=1180:620"}, h264("18", path)...)...)
		a, _ := followed(t, path)
		return a
	}
	want, got := turned("0"), turned("4.5")
	if math.Abs(got.View.RollDeg-4.5) > 0.5 || got.View.RollSource != pose.RollLines || math.Abs(want.View.RollDeg) > 0.5 {
		t.Errorf("roll %.2f (%s) and %.2f, want 4.5 and 0", got.View.RollDeg, got.View.RollSource, want.View.RollDeg)
	}
	for _, c := range []struct {
		name      string
		got, want []float64
	}{
		{"trunk", got.Series.RawAnglesDeg[body.TrunkLean], want.Series.RawAnglesDeg[body.TrunkLean]},
		{"shank", got.Series.RawAnglesDeg[body.ShankAngle], want.Series.RawAnglesDeg[body.ShankAngle]},
		{"knee", got.Series.AnglesDeg[body.KneeFlexion], want.Series.AnglesDeg[body.KneeFlexion]},
	} {
		mean, _ := differ(want, got, c.want, c.got, 1)
		t.Logf("%s: differs by %.2f degrees", c.name, mean)
		if !(mean < 1.2) {
			t.Errorf("%s: differs by %.2f degrees", c.name, mean)
		}
	}
}

func TestWrongClockRefused(t *testing.T) {
	clip := &media.Clip{Path: "jumps.mp4"}
	tests := []struct {
		name    string
		factor  float64
		flights int
		opt     Options
		want    string
	}{
		{"three flights", 4.1, 3, Options{}, "plays 4 times slower"},
		{"too fast", 0.5, 2, Options{}, "plays 2 times faster"},
		{"one flight", 4.1, 1, Options{}, ""},
		{"the user knows", 4.1, 3, Options{CaptureFPS: 240}, ""},
		{"nothing", 1, 0, Options{}, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := refuseWrongClock(clip.Path, &kinematics.Series{ClockFactor: tt.factor, ClockFlights: tt.flights}, tt.opt)
			if tt.want == "" && err == nil {
				return
			}
			if tt.want == "" || !errors.Is(err, ErrCannotMeasure) ||
				!strings.Contains(strings.ReplaceAll(err.Error(), "seems to play", "plays"), tt.want) ||
				!strings.Contains(err.Error(), "that it was filmed at") {
				t.Errorf("got %v, want %q", err, tt.want)
			}
		})
	}
}

func TestCameraSeries(t *testing.T) {
	known := plane.Similarity{Scale: 1, Known: true}
	moved := plane.Similarity{Scale: 1.1, AngleDeg: 2, DXPx: 10, DYPx: -4, Known: true}
	track := &pose.Track{CameraMoved: true, Poses: []pose.Pose{
		{TimeS: 0, Camera: known}, {TimeS: 0.2, Camera: moved}, {TimeS: 0.4, Camera: moved},
		{TimeS: 0.6, Camera: plane.Similarity{Scale: 1}},
	}}
	got := footage.CameraAlong(track, []float64{0, 0.05, 0.1, 0.15, 0.25}, 2)
	want := []*plane.Similarity{{Scale: 1}, {Scale: 1.05, AngleDeg: 1, DXPx: 5, DYPx: -2},
		{Scale: 1.1, AngleDeg: 2, DXPx: 10, DYPx: -4}, {Scale: 1.1, AngleDeg: 2, DXPx: 10, DYPx: -4}, nil}
	for i := range want {
		if (got[i] == nil) != (want[i] == nil) || got[i] != nil &&
			math.Abs(got[i].Scale-want[i].Scale)+math.Abs(got[i].DXPx-want[i].DXPx)+
				math.Abs(got[i].AngleDeg-want[i].AngleDeg)+math.Abs(got[i].DYPx-want[i].DYPx) > 1e-9 {
			t.Errorf("sample %d: got %+v, want %+v", i, got[i], want[i])
		}
	}
	track.CameraMoved = false
	if c := footage.CameraAlong(track, []float64{0}, 1); c != nil {
		t.Errorf("a camera that stood still has places: %v", c)
	}
}
