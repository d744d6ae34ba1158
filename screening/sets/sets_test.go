package sets_test

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/kinematics/frontal"
	"holdfast/screening"
	"holdfast/screening/sets"
)

// Two sets that were filmed from both views are compared side with side and front with front: each as it is alone, in
// one document that is read as it was written.
func TestJoinedSets(t *testing.T) {
	of := func(names ...string) (out []*screening.Analysis) {
		for _, name := range names {
			a, _ := tracks.Analysis(t, name, screening.Options{Athlete: "Sam Example"})
			out = append(out, a)
		}
		return out
	}
	sides, fronts := of("slow_30", "fast_30"), of("front_slow", "front_fast")
	alone, err := screening.Compare(sides, screening.CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	frontsAlone, err := screening.Compare(fronts, screening.CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := sets.Compare(sides, fronts, screening.CompareOptions{})
	if err != nil || c.Fronts == nil {
		t.Fatalf("%v, %+v", err, c)
	}
	for i, ch := range c.Fronts.Pairs[0].Front {
		if want := frontsAlone.Pairs[0].Front[i]; math.Abs(ch.Change-want.Change) > 1e-9 || ch.Verdict != want.Verdict {
			t.Errorf("%v is %+v, alone %+v", ch.Measure, ch, want)
		}
	}
	if got, want := c.Headlines, alone.Headlines; len(got) != len(want) || got[0].Position.Code != want[0].Position.Code {
		t.Errorf("the side says %+v, alone %+v", got, want)
	}
	if slices.ContainsFunc(c.Warnings, func(w screening.Warning) bool { return w.Code == "joined_reps" }) {
		t.Error("three reps and three reps do not fit")
	}
	// The side tells how quick the set was: the slow front by itself lies between slow and fast.
	if r := &c.Fronts.Analyses[0].Reps[0]; r.Between || fronts[0].Reps[0].Between == r.Between {
		t.Errorf("rep 1 from the front is %+v", r.RepTimes)
	}
	text, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "comparison.json")
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	again, err := sets.Load(path, sides, fronts)
	if err != nil || again.Fronts == nil || len(again.Fronts.Analyses) != 2 {
		t.Fatalf("%v, %+v", err, again)
	}
	got, want := again.Fronts.Pairs[0].Front[frontal.KneeInLeft], c.Fronts.Pairs[0].Front[frontal.KneeInLeft]
	if math.Abs(got.Change-want.Change) > 1e-3 {
		t.Errorf("read again the left knee changes by %v", got.Change)
	}
	if _, err := sets.Load(path, sides, nil); err == nil {
		t.Error("read without its clips from the front")
	}
}

// What cannot be one set is refused or told of.
func TestSetsThatDoNotFit(t *testing.T) {
	side, _ := tracks.Analysis(t, "slow_30", screening.Options{})
	fast, _ := tracks.Analysis(t, "fast_30", screening.Options{})
	front, _ := tracks.Analysis(t, "front_slow", screening.Options{})
	for _, pair := range [][2]*screening.Analysis{{side, fast}, {front, front}, {front, side}} {
		if _, err := sets.FitTogether(pair[0], pair[1]); !errors.Is(err, screening.ErrCannotMeasure) {
			t.Errorf("%s and %s: %v", pair[0].Clip.Name, pair[1].Clip.Name, err)
		}
	}
	if _, err := sets.Compare([]*screening.Analysis{side, fast}, []*screening.Analysis{front},
		screening.CompareOptions{}); err == nil || !strings.Contains(err.Error(), "each clip needs one") {
		t.Errorf("one front of two sets: %v", err)
	}
	fewer := *front
	fewer.Reps = front.Reps[:2]
	told, err := sets.FitTogether(side, &fewer)
	if err != nil || len(told) != 1 || screening.Say(told[0]) !=
		"slow_30.mp4 shows 3 whole reps and front_slow.mp4 2: look whether both are of one set." {
		t.Errorf("%v, %v", told, err)
	}
	c, err := sets.Compare([]*screening.Analysis{side, fast}, []*screening.Analysis{&fewer, front},
		screening.CompareOptions{})
	if err != nil || !slices.ContainsFunc(c.Warnings, func(w screening.Warning) bool { return w.Code == "joined_reps" }) {
		t.Errorf("%v, %+v", err, c)
	}
	// Fronts that cannot be compared leave the sides as they are, and that is said.
	none := *front
	none.Reps = nil
	c, err = sets.Compare([]*screening.Analysis{side, fast}, []*screening.Analysis{&none, &none},
		screening.CompareOptions{})
	if err != nil || c.Fronts != nil || len(c.Pairs) != 1 ||
		!slices.ContainsFunc(c.Warnings, func(w screening.Warning) bool { return w.Code == "fronts_not_compared" }) {
		t.Errorf("%v, %+v", err, c)
	}
}
