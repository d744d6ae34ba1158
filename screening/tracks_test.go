package screening_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"holdfast/internal/golden"
	"holdfast/internal/tracks"
	"holdfast/models"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/vision/pose"
)

// store tracks a shipped clip and keeps what was seen.
func store(t *testing.T, name string) {
	t.Helper()
	tracker, err := vision.NewTracker(vision.TrackerOptions{})
	if err != nil {
		t.Fatal(err)
	}
	track, err := tracker.Track(t.Context(), tracks.Clip(t, name), nil)
	if err = errors.Join(err, tracker.Close()); err != nil {
		t.Fatal(err)
	}
	if err := tracks.Store(name, track); err != nil {
		t.Fatal(err)
	}
}

// The stored tracks are what the shipped network sees in the shipped clips, and a clip
// measured from its track is the clip measured from its pictures. One clip is seen
// anew, so that it costs seconds; -update sees and stores those that -run chooses.
func TestStoredTracks(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	shipped, err := models.SHA256Of(vision.DefaultModel)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range slices.Concat(tracks.Names(t), tracks.Movements(t), tracks.NoReps(t), tracks.Fronts(t),
		tracks.Unshipped(t)) {
		t.Run(name, func(t *testing.T) {
			if golden.Update() {
				store(t, name)
			}
			clip, track := tracks.Load(t, name)
			if track.ModelName != vision.DefaultModel || track.ModelSHA256 != shipped {
				t.Error("its track is that of another network than the default one: run this test with -update")
			}
			if len(track.Poses) != len(clip.TimesS) {
				t.Errorf("its track has %d frames, the clip %d", len(track.Poses), len(clip.TimesS))
			}
		})
	}
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	const name = "fast_30"
	clip, stored := tracks.Load(t, name)
	opt := screening.Options{Athlete: "Sam Example", HeightCm: 180}
	full, seen, err := screening.Analyze(t.Context(), clip.Path, opt)
	if err != nil {
		t.Fatal(err)
	}

	// Through its file a track loses nothing that is measured.
	var b bytes.Buffer
	if err := pose.WriteTrack(&b, seen); err != nil {
		t.Fatal(err)
	}
	read, err := pose.ReadTrack(&b)
	if err != nil {
		t.Fatal(err)
	}
	again, err := screening.MeasureAgain(full.Clip, read, opt)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(asJSON(t, again), asJSON(t, full)) {
		t.Error("the clip measured from its track is another one than from its pictures")
	}

	// The stored one is rounded, and another machine's network differs in its last digits.
	const mostPx, mostApart = 0.05, 0.05
	for i := range stored.Poses {
		p, q := &stored.Poses[i], &seen.Poses[i]
		if p.Found != q.Found || p.Camera != q.Camera || p.TimeS != q.TimeS || len(p.Keypoints) != len(q.Keypoints) {
			t.Fatalf("frame %d is stored as %+v, and seen as %+v", i, p, q)
		}
		if a, b := p.FootPitch, q.FootPitch; (a == nil) != (b == nil) || a != nil && math.Abs(a.Deg-b.Deg) > mostApart {
			t.Errorf("frame %d: the foot is stored as %+v, and seen as %+v: run this test with -update", i, a, b)
		}
		for k := range p.Keypoints {
			if d := math.Hypot(p.Keypoints[k].X-q.Keypoints[k].X, p.Keypoints[k].Y-q.Keypoints[k].Y); d > mostPx {
				t.Errorf("frame %d: %s is %.3f pixels from where it is stored: run this test with -update", i,
					stored.KeypointNames[k], d)
			}
		}
	}
	from, _ := tracks.Analysis(t, name, opt)
	from.Clip.Path = full.Clip.Path
	apart, where := farthest(t, asJSON(t, from), asJSON(t, full))
	t.Logf("numbers differ by %.4f at most, at %s", apart, where)
	if !(apart <= mostApart) {
		t.Errorf("measured from the stored track %s differs by %.4f", where, apart)
	}
}

// No foot bears weight off itself, and the weight does not leap along it from one sample to
// the next: where the movement is too quick for a smoothing, the point is not known.
func TestSupportStaysOnTheFoot(t *testing.T) {
	const mostSDs, leastKnown = 3, 0.65
	for _, name := range tracks.Names(t) {
		a, _ := tracks.Analysis(t, name, screening.Options{})
		pct, sd := a.Series.SupportPct, a.Series.SupportSDPct
		known, last := 0, -1
		for i, at := range a.Series.TimeS {
			if math.IsNaN(pct[i]) {
				continue
			}
			if known++; pct[i] < 0 || pct[i] > 100 {
				t.Errorf("%s at %.2f s: %.1f %% of the foot", name, at, pct[i])
			}
			if i == last+1 && last >= 0 && math.Abs(pct[i]-pct[last]) > mostSDs*math.Hypot(sd[i], sd[last]) {
				t.Errorf("%s at %.2f s: %.1f %% of the foot, %.1f %% a sample before", name, at, pct[i], pct[last])
			}
			last = i
		}
		if part := float64(known) / float64(len(pct)); part < leastKnown {
			t.Errorf("%s: known in %.0f %% of the samples", name, 100*part)
		}
	}
}

// A set of ten minutes at six frames a second, as long as the longest that is filmed.
func TestTenMinutes(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it measures ten minutes")
	}
	_, round := tracks.Load(t, "slow_30")
	const rounds = 33
	long := *round
	long.Poses = nil
	lasts := round.Poses[len(round.Poses)-1].TimeS + 1.0/30
	for r := range rounds {
		for i := 0; i < len(round.Poses); i += 5 {
			p := round.Poses[i]
			p.Index, p.TimeS = len(long.Poses), p.TimeS+float64(r)*lasts
			long.Poses = append(long.Poses, p)
		}
	}
	a, err := screening.MeasureAgain(screening.ClipInfo{Name: "ten minutes.mp4", WidthPx: 720, HeightPx: 1280,
		FrameRateHz: 6, SlowMotionFactor: 1}, &long, screening.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if n := len(a.Reps); n < 3*rounds-3 || n > 3*rounds+3 {
		t.Errorf("%d reps, want about %d", n, 3*rounds)
	}
}

func asJSON(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// farthest returns the largest difference between the numbers of two documents and
// the field it is in; infinite where they differ otherwise.
func farthest(t *testing.T, one, other []byte) (apart float64, where string) {
	t.Helper()
	var a, b any
	for _, x := range []struct {
		raw  []byte
		into *any
	}{{one, &a}, {other, &b}} {
		if err := json.Unmarshal(x.raw, x.into); err != nil {
			t.Fatal(err)
		}
	}
	var walk func(a, b any, path string)
	walk = func(a, b any, path string) {
		d := math.Inf(1)
		switch v := a.(type) {
		case float64:
			if w, ok := b.(float64); ok {
				d = math.Abs(v - w)
			}
		case map[string]any:
			if w, ok := b.(map[string]any); ok && len(v) == len(w) {
				d = 0
				for k := range v {
					walk(v[k], w[k], path+"."+k)
				}
			}
		case []any:
			if w, ok := b.([]any); ok && len(v) == len(w) {
				d = 0
				for i := range v {
					walk(v[i], w[i], path+"[]")
				}
			}
		default:
			if a == b {
				d = 0
			}
		}
		if d > apart {
			apart, where = d, strings.TrimPrefix(path, ".")
		}
	}
	walk(a, b, "")
	return apart, where
}
