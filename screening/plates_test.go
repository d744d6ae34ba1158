package screening_test

import (
	"math"
	"slices"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/screening"
)

// Hinges and presses with plates that hide knee and foot, or hand and shoulder: what is hidden has no number, and the
// interval of what is measured all the same holds the truth.
func TestPlatesHide(t *testing.T) {
	with, _ := tracks.Analysis(t, "hinge_bar", screening.Options{})
	limbs, _ := trueLimbs(t, "../testdata/movements/hinge_bar.json")
	if len(with.Reps) != 3 {
		t.Fatalf("%d reps", len(with.Reps))
	}
	trueStarts, trueEnds := []float64{0.75, 3.51, 6.08}, []float64{3.09, 5.71, 8.33}
	ranges := 0
	for i := range with.Reps {
		r := &with.Reps[i]
		if math.Abs(r.StartS-trueStarts[i]) > 0.15 || math.Abs(r.EndS-trueEnds[i]) > 0.15 || r.Tempo != events.TempoSlow {
			t.Errorf("hinge %d is %s, from %.2f to %.2f s, truth %.2f to %.2f s", i+1, r.Tempo, r.StartS, r.EndS,
				trueStarts[i], trueEnds[i])
		}
		for _, a := range []body.Angle{body.KneeFlexion, body.HipFlexion} {
			m, want := &r.Angles[a], trueRange(limbs, 30, body.FacingRight, a, r.StartS, r.EndS)
			if math.IsNaN(m.AtBottomDeg) {
				t.Errorf("hinge %d: the %v at the bottom is not told, and nothing hides it", i+1, a)
			}
			if math.IsNaN(m.ROMDeg) { // the plate hides the knee before and after
				continue
			}
			if ranges++; !(want >= m.ROMInterval95Deg[0] && want <= m.ROMInterval95Deg[1]) {
				t.Errorf("hinge %d %v: %.0f° (%.0f), truth %.0f°", i+1, a, m.ROMDeg, m.ROMInterval95Deg, want)
			}
		}
		if a := &r.Angles[body.AnkleDorsiflexion]; a.ROMDeg > 6 {
			t.Errorf("hinge %d: the ankle goes %.0f°, and the feet lie flat", i+1, a.ROMDeg)
		}
	}
	if ranges < 4 {
		t.Errorf("of three hinges %d ranges of knee and hip are told", ranges)
	}
	for _, w := range with.Warnings {
		if w.Code == "several_people" || w.Code == "zero_doubted" || w.Code == "sides_exchanged_often" {
			t.Errorf("a guess was taken for the leg: %s", screening.Say(w))
		}
	}
	press, _ := tracks.Analysis(t, "press_bar", screening.Options{})
	limbs, _ = trueLimbs(t, "../testdata/movements/press_bar.json")
	facing := body.FacingRight
	if press.Facing == "left" {
		facing = body.FacingLeft
	}
	for i := range press.Reps {
		r := &press.Reps[i]
		for k, at := range press.Series.TimeS {
			if at >= r.StartS && at <= r.EndS && !math.IsNaN(press.Series.AnglesDeg[body.ElbowFlexion][k]) {
				t.Fatalf("press %d: the elbow's curve goes on behind the plate", i+1)
			}
		}
		turn := press.Series.AnglesDeg[body.ShoulderFlexion][slices.IndexFunc(press.Series.TimeS,
			func(at float64) bool { return at > r.BottomS })]
		if at := r.Angles[body.ShoulderFlexion].AtBottomDeg; !math.IsNaN(at) || !math.IsNaN(turn) {
			t.Errorf("press %d: the shoulder is %.0f° at a lock-out in which the elbow is guessed", i+1, at)
		}
		if !slices.Contains(r.Hidden, body.Wrist) || !math.IsNaN(r.Angles[body.ElbowFlexion].ROMDeg) {
			t.Errorf("press %d: the plate hides the wrist: hidden %v, elbow %.0f°", i+1, r.Hidden,
				r.Angles[body.ElbowFlexion].ROMDeg)
		}
		for _, a := range []body.Angle{body.ShoulderFlexion, body.HipFlexion} {
			m, want := &r.Angles[a], trueRange(limbs, 30, facing, a, r.StartS, r.EndS)
			if want < m.ROMInterval95Deg[0] || want > m.ROMInterval95Deg[1] {
				t.Errorf("press %d %v: %.0f° (%.0f), truth %.0f°", i+1, a, m.ROMDeg, m.ROMInterval95Deg, want)
			}
		}
	}
	if len(press.Reps) != 3 {
		t.Errorf("%d presses", len(press.Reps))
	}
}
