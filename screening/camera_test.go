package screening

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"holdfast/vision"
)

// followed tracks and measures a clip with the smaller network on one core.
func followed(t *testing.T, path string) (*Analysis, *vision.Track) {
	t.Helper()
	ctx := context.Background()
	clip, err := vision.Open(ctx, path)
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
	a, err := Measure(clip, track, Options{Model: "full"})
	if err != nil {
		t.Fatal(err)
	}
	return a, track
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

// A clip that is shaken must give the numbers of the same clip unshaken: joint
// angles within a degree, the heel's rise within half a centimetre on an athlete
// of 1.80 m, on average and at the bottoms.
func TestShakenClips(t *testing.T) {
	const (
		angleAimDeg = 1.0
		heelAimCm   = 0.5
	)
	dir := t.TempDir()
	// Sway, and tremor at 5 to 8 Hz, in pixels, and a turn of about a degree.
	// The offsets are made at twice the size, so that they fall on half pixels.
	hand := func(w, h string) string {
		return "scale=2*iw:2*ih,rotate='(0.7*sin(1.9*t)+0.3*sin(4.7*t+1))*PI/180':bilinear=1," +
			"crop=2*" + w + ":2*" + h + ":exact=1:x='(iw-ow)/2+2*(14*sin(1.7*t)+5*sin(4.1*t+2)+1.5*sin(37*t))':y='(ih-oh)/2+2*(9*sin(2.3*t+1)+4*sin(5.3*t)+1.5*sin(43*t))',scale=" + w + ":" + h
	}
	tests := []struct {
		name, clip    string
		still, shaken string
	}{
		{"hand", "fast_30", "crop=1180:640:50:40", hand("1180", "640")},
		{"hand, jumps", "jump_30", "crop=640:1160:40:60", hand("640", "1160")},
		{"slow pan", "fast_30", "crop=760:720:260:0", "crop=760:720:exact=1:x='260+170*sin(2*PI*t/9.6)':y=0"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			source := "../testdata/clips/" + tt.clip + ".mp4"
			still, shaken := filepath.Join(dir, "still.mp4"), filepath.Join(dir, "shaken.mp4")
			ffmpeg(t, append([]string{"-i", source, "-vf", tt.still}, h264("18", still)...)...)
			ffmpeg(t, append([]string{"-i", source, "-vf", tt.shaken}, h264("18", shaken)...)...)
			want, wantTrack := followed(t, still)
			got, track := followed(t, shaken)
			if wantTrack.CameraMoved || !wantTrack.CameraKnown || want.Series.Camera != nil {
				t.Errorf("the still clip's camera: known %v, moved %v by %.1f px", wantTrack.CameraKnown, wantTrack.CameraMoved, wantTrack.CameraMotionPx)
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
			scale := pxPerCm(t, tt.clip)
			foot := 0.0
			for i := range want.Series.TimeS {
				h, k := want.Series.PointsPx["heel"], want.Series.PointsPx["toe"]
				if d := math.Hypot(float64(h.X[i]-k.X[i]), float64(h.Y[i]-k.Y[i])); d > 0 {
					foot += d / float64(len(want.Series.TimeS))
				}
			}
			curves := []struct {
				name      string
				got, want []Number
				unit, aim float64
			}{
				{"knee", got.Series.AnglesDeg.KneeFlexion, want.Series.AnglesDeg.KneeFlexion, 1, angleAimDeg},
				{"hip", got.Series.AnglesDeg.HipFlexion, want.Series.AnglesDeg.HipFlexion, 1, angleAimDeg},
				{"ankle", got.Series.AnglesDeg.AnkleDorsiflexion, want.Series.AnglesDeg.AnkleDorsiflexion, 1, angleAimDeg},
				{"heel rise", got.Series.HeelRisePctFoot, want.Series.HeelRisePctFoot, foot / scale / 100, heelAimCm},
			}
			for _, c := range curves {
				sum, n := 0.0, 0
				for i := range c.want {
					if i < len(c.got) && !c.got[i].Missing() && !c.want[i].Missing() && !airborne(want, float64(want.Series.TimeS[i])) {
						sum += math.Abs(float64(c.got[i] - c.want[i]))
						n++
					}
				}
				bottoms := 0.0
				for _, r := range want.Reps {
					t0 := float64(r.BottomS+r.BottomEndS) / 2
					bottoms += math.Abs(readAt(got, c.got, t0)-readAt(want, c.want, t0)) / float64(len(want.Reps))
				}
				mean := c.unit * sum / float64(n)
				bottoms *= c.unit
				t.Logf("%s: differs by %.2f on average, %.2f at the bottoms", c.name, mean, bottoms)
				if !(mean < c.aim) || !(bottoms < c.aim) {
					t.Errorf("%s: differs by %.2f on average, %.2f at the bottoms, want less than %.1f", c.name, mean, bottoms, c.aim)
				}
			}
		})
	}
}

func airborne(a *Analysis, timeS float64) bool {
	for _, r := range a.Reps {
		if float64(r.FlightS) > 0 && timeS > float64(r.TakeoffS)-0.1 && timeS < float64(r.ContactS)+0.1 {
			return true
		}
	}
	return false
}

// readAt returns the mean of a series over a tenth of a second.
func readAt(a *Analysis, series []Number, timeS float64) float64 {
	sum, n := 0.0, 0
	for i, s := range a.Series.TimeS {
		if math.Abs(float64(s)-timeS) <= 0.05 {
			sum += float64(series[i])
			n++
		}
	}
	return sum / float64(n)
}
