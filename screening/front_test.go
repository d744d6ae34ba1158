package screening_test

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"strings"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/frontal"
	"holdfast/screening"
	"holdfast/screening/footage"
)

// trueFronts reads what the front shows in each frame of a rendered clip, the hips and the weight from standing.
func trueFronts(t *testing.T, name string) (at func(timeS float64) [frontal.NumMeasures]float64) {
	t.Helper()
	text, err := os.ReadFile("../testdata/front/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		FPS    float64
		Frames []struct {
			Front struct {
				Knee  map[string]float64 `json:"knee_in_deg"`
				Shift float64            `json:"shift_pct"`
				Tilt  float64            `json:"hip_tilt_deg"`
			}
		}
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	return func(timeS float64) [frontal.NumMeasures]float64 {
		f, stand := doc.Frames[int(math.Round(timeS*doc.FPS))].Front, doc.Frames[3].Front
		l, r := f.Knee["left"], f.Knee["right"]
		return [...]float64{l, r, l - r, f.Shift - stand.Shift, f.Tilt - stand.Tilt}
	}
}

// The same athlete squats slowly and fast before the camera: reps, tempo and every reading are the truth's within their
// intervals, nothing of the side is told, and what became of the knees is what the renderer made of them.
func TestFrontAgainstTruth(t *testing.T) {
	var analyses []*screening.Analysis
	var knees [2][2]float64
	for i, tempo := range []events.Tempo{events.TempoSlow, events.TempoFast} {
		name := "front_" + string(tempo)
		a, _ := tracks.Analysis(t, name, screening.Options{Athlete: "Sam Example"})
		truth := trueFronts(t, name)
		analyses = append(analyses, a)
		if !a.View.Front || len(a.Reps) != 3 || a.Movement.Key != "squat" || len(a.Sets) != 0 {
			t.Fatalf("%s: front %v, %d reps of %s", name, a.View.Front, len(a.Reps), a.Movement.Key)
		}
		for k := range a.Reps {
			r := &a.Reps[k]
			want := truth(r.Front.AtS)
			for m := range frontal.NumMeasures {
				if in := r.Front.Of(m).Interval95(); !(in[0] <= want[m] && want[m] <= in[1]) {
					t.Errorf("%s rep %d %v: %.1f (%.1f to %.1f), truth %.1f", name, r.Number, m, r.Front.Of(m).Value, in[0], in[1],
						want[m])
				}
			}
			if r.Tempo != tempo || r.Partial || !math.IsNaN(r.Angles[body.KneeFlexion].ROMDeg) || r.Foot != nil {
				t.Errorf("%s rep %d: %s, partial %v, knee range %v", name, r.Number, r.Tempo, r.Partial,
					r.Angles[body.KneeFlexion].ROMDeg)
			}
			knees[i][0], knees[i][1] = knees[i][0]+want[0]/3, knees[i][1]+want[1]/3
		}
		for _, series := range a.Series.AnglesDeg {
			for _, deg := range series {
				if !math.IsNaN(deg) {
					t.Fatalf("%s has an angle of the side: %v", name, deg)
				}
			}
		}
	}
	c, err := screening.Compare(analyses, screening.CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for m, ch := range c.Pairs[0].Front[:2] {
		want := knees[1][m] - knees[0][m]
		if math.Abs(ch.Change-want) > 2 || !(ch.Interval95[0] <= want && want <= ch.Interval95[1]) {
			t.Errorf("%v: %.1f (%.1f), truth %.1f", ch.Measure, ch.Change, ch.Interval95, want)
		}
	}
	if len(c.Headlines) != 0 || len(c.Ladder.Rungs) != 0 || c.Landing != nil || len(c.Pairs[0].Curves) != 0 {
		t.Errorf("something of the side is compared: %+v", c.Headlines)
	}
}

// What two views show is never set against each other.
func TestViewsAreNotMixed(t *testing.T) {
	front, _ := tracks.Analysis(t, "front_fast", screening.Options{})
	side, _ := tracks.Analysis(t, "slow_30", screening.Options{})
	for _, analyses := range [][]*screening.Analysis{{side, front}, {front, side}} {
		_, err := screening.Compare(analyses, screening.CompareOptions{})
		if !errors.Is(err, screening.ErrDifferentViews) || !errors.Is(err, screening.ErrCannotMeasure) ||
			!strings.Contains(err.Error(), "front_fast.mp4 is filmed from the front and slow_30.mp4 from the side") {
			t.Errorf("%v", err)
		}
	}
	_, err := screening.Compare([]*screening.Analysis{side, side}, screening.CompareOptions{Retest: front})
	if !errors.Is(err, screening.ErrDifferentViews) {
		t.Errorf("a retest from another view: %v", err)
	}
}

// Where two of three squats are made as narrow as 35 degrees from side-on shows them, they are no squats from the
// front. Of one alone the points may be wrong.
func TestAthleteTurns(t *testing.T) {
	for turned := 1; turned <= 2; turned++ {
		whole, _ := tracks.Analysis(t, "front_slow", screening.Options{})
		fromS := whole.Reps[len(whole.Reps)-turned-1].EndS + 0.1
		clip, track := tracks.Load(t, "front_slow")
		for i := range track.Poses {
			p := &track.Poses[i]
			if !p.Found || p.TimeS < fromS {
				continue
			}
			middle := (p.Keypoints[track.KeypointIndex("left_hip")].X + p.Keypoints[track.KeypointIndex("right_hip")].X) / 2
			for k := range p.Keypoints {
				p.Keypoints[k].X = middle + math.Sin(35*math.Pi/180)*(p.Keypoints[k].X-middle)
			}
		}
		for _, view := range []footage.ViewChoice{"", footage.ViewFront} {
			a, err := screening.Measure(clip, track, screening.Options{View: view})
			switch {
			case turned == 1 && (err != nil || !a.View.Front):
				t.Errorf("one rep turned, view %q: %v", view, err)
			case turned == 2 && view != "" && (err == nil || !strings.Contains(err.Error(), "the athlete turns")):
				t.Errorf("two reps turned, view %q: %v", view, err)
			case turned == 2 && view == "" && err == nil && a.View.Front:
				t.Errorf("two reps turned are found to be from the front")
			}
		}
	}
}

// A rep in which the athlete of a clip from the side faces the camera is not measured; the others are.
func TestRepThatFacesTheCamera(t *testing.T) {
	whole, _ := tracks.Analysis(t, "slow_30", screening.Options{})
	clip, track := tracks.Load(t, "slow_30")
	for i := range track.Poses {
		p := &track.Poses[i]
		if !p.Found || p.TimeS > whole.Reps[0].EndS+0.1 {
			continue
		}
		for name, trunks := range map[string]float64{"shoulder": 0.35, "hip": 0.25} {
			l, r := &p.Keypoints[track.KeypointIndex("left_"+name)], &p.Keypoints[track.KeypointIndex("right_"+name)]
			middle, half := (l.X+r.X)/2, trunks*0.15*float64(clip.HeightPx)
			l.X, r.X, l.Z, r.Z = middle+half, middle-half, 0, 0
		}
	}
	a, err := screening.Measure(clip, track, screening.Options{})
	if err != nil || len(a.Reps) != len(whole.Reps) {
		t.Fatalf("%v, not %d reps", err, len(whole.Reps))
	}
	for i := range a.Reps {
		r := &a.Reps[i]
		if known := !math.IsNaN(r.Angles[body.KneeFlexion].AtBottomDeg); known != (i > 0) || r.Partial != (i == 0) {
			t.Errorf("rep %d: known %v, %v", r.Number, known, r.PartialWhy)
		}
	}
}

// A coach may say from where a clip is filmed.
func TestViewIsSaid(t *testing.T) {
	clip, track := tracks.Load(t, "front_fast")
	_, err := screening.Measure(clip, track, screening.Options{View: footage.ViewSide})
	if err == nil || !strings.Contains(err.Error(), "filmed from the front") {
		t.Errorf("said to be from the side: %v", err)
	}
	a, err := screening.Measure(clip, track, screening.Options{View: footage.ViewFront})
	if err != nil || !a.View.Front {
		t.Errorf("said to be from the front: %v", err)
	}
	again, err := screening.MeasureAgain(a.Clip, track, screening.Options{})
	if err != nil || string(asJSON(t, again)) != string(asJSON(t, a)) {
		t.Errorf("measured again it is another one: %v", err)
	}
	_, err = screening.Measure(clip, track, screening.Options{View: footage.ViewFront, Movement: "press"})
	if !errors.Is(err, screening.ErrCannotMeasure) || !strings.Contains(err.Error(), "the front does not show") {
		t.Errorf("presses from the front: %v", err)
	}
	for i := range track.Poses {
		track.Poses[i].Keypoints = track.Poses[i%10].Keypoints
	}
	_, err = screening.Measure(clip, track, screening.Options{View: footage.ViewFront})
	if !errors.Is(err, screening.ErrNoReps) || strings.Contains(err.Error(), "side") {
		t.Errorf("who stands before the camera: %v", err)
	}
}
