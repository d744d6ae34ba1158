package kinematics

import (
	"fmt"
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/trace"
)

// quickerBy returns the same track played so many times as fast, and every so many-th frame
// of it.
func quickerBy(obs []trace.Observation, times float64, every int) []trace.Observation {
	var out []trace.Observation
	for i := 0; i < len(obs); i += every {
		o := obs[i]
		o.TimeS /= times
		out = append(out, o)
	}
	return out
}

// The same movement played faster loses nothing: the positions are the same. The truth is
// the track itself.
func TestPlayedFasterLosesNothing(t *testing.T) {
	for _, name := range []string{"slow_30", "fast_30"} {
		want := analyze(t, loadTracked(t, name), Options{})
		for _, c := range []struct {
			times float64
			every int
		}{{2, 1}, {2, 2}, {3, 1}} {
			t.Run(fmt.Sprintf("%s %gx every %d", name, c.times, c.every), func(t *testing.T) {
				got := analyze(t, quickerBy(loadTracked(t, name), c.times, c.every), Options{})
				if len(got.reps) != len(want.reps) {
					t.Fatalf("%d reps, want %d", len(got.reps), len(want.reps))
				}
				for i := range got.reps {
					g, w := &got.reps[i], &want.reps[i]
					for _, j := range body.LegJoints {
						a, b := g.Angles[j.Angle()].ROMDeg, w.Angles[j.Angle()].ROMDeg
						if !(math.Abs(a-b) <= 2) {
							t.Errorf("rep %d %v: %.1f, want %.1f", i+1, j, a, b)
						}
					}
				}
			})
		}
	}
}

// cosines is a row of squats without a stand between them, each a raised cosine of the
// time that it lasts from a position that is up to the bottom; standS before and after it.
// power 1 is the cosine itself, less dwells at the bottom and hurries at the top.
func (a *simAthlete) cosines(up, bottom simPose, reps int, lastsS, standS, power float64) *simClip {
	bend := func(p simPose) float64 { return p.joints()[body.KneeJoint] / 120 }
	var parts []part
	if standS > 0 {
		parts = append(parts, hold(a.stand, 0, standS), sweep(a.stand, up, 0, bend(up), 0.4))
	}
	for range reps {
		parts = append(parts, part{lengthS: lastsS, at: func(t float64) simSample {
			s, c := math.Sincos(2 * math.Pi * t / lastsS)
			p := up.toward(bottom, math.Pow((1-c)/2, power))
			return simSample{pose: p, bend: bend(p), speed: math.Abs(s) * math.Pi / lastsS * bend(bottom)}
		}})
	}
	if standS > 0 {
		parts = append(parts, sweep(up, a.stand, bend(up), 0, 0.4), hold(a.stand, 0, standS))
	}
	return joined(a, parts, nil)
}

// Quick reps without a stand between have the range from their highest to their lowest
// position, whether the athlete stands before and after them or not, and each begins where
// the last one ends. Smoothing rounds the corner of those that hurry at the top.
func TestQuickRepsWithoutStand(t *testing.T) {
	rates := []float64{25, 60}
	if testing.Short() {
		rates = rates[:1]
	}
	for _, shape := range []struct{ standS, power, tolDeg float64 }{{1, 1, 2}, {0, 1, 2}, {0, 0.7, 3}, {1, 0.7, 3}} {
		for _, upPart := range []float64{0, 0.3} {
			for _, rate := range rates {
				for _, lastsS := range []float64{0.6, 1.2} {
					name := fmt.Sprintf("%+v up %g lasts %g at %g", shape, upPart, lastsS, rate)
					a := newSimAthlete(5)
					a.exact = true
					bottom := simPose{a.stand.shank + 25, a.stand.thigh + 75, a.stand.trunk + 30, 0}
					up := a.stand.toward(bottom, upPart)
					clip := a.cosines(up, bottom, 6, lastsS, shape.standS, shape.power)
					got := analyze(t, clip.film(rate, false), Options{Tempo: events.TempoFast})
					if len(got.reps) != 6 {
						t.Errorf("%s: %d reps, want 6", name, len(got.reps))
						continue
					}
					for i := range got.reps {
						r := &got.reps[i]
						if i > 0 && math.Abs(r.StartS-got.reps[i-1].EndS) > 0.1*lastsS {
							t.Errorf("%s: rep %d begins at %.2f, the one before ends at %.2f s",
								name, i+1, r.StartS, got.reps[i-1].EndS)
						}
						if shape.standS > 0 && (i == 0 || i == 5) {
							continue // begins or ends in the stand
						}
						for j, full := range [...]float64{25, 100, 105} {
							g, w := r.Angles[body.Joint(j).Angle()].ROMDeg, (1-upPart)*full
							if !(math.Abs(g-w) <= shape.tolDeg) {
								t.Errorf("%s: rep %d %v: %.1f, want %.1f", name, i+1, body.Joint(j), g, w)
							}
						}
					}
				}
			}
		}
	}
}

// A set keeps its zero however fast it is played: the athlete stands for a moment between the reps, in as large a part
// of a rep. Reps that turn with bent knees have none.
func TestPlayedFasterKeepsTheZero(t *testing.T) {
	set := func(standS, times float64) []trace.Observation {
		a := newSimAthlete(5)
		a.exact = true
		bottom := simPose{a.stand.shank + 20, a.stand.thigh + 70, a.stand.trunk + 30, 0}
		var parts []part
		for range 4 {
			parts = append(parts, sweep(a.stand, bottom, 0, 1, 1.2), sweep(bottom, a.stand, 1, 0, 1.2),
				hold(a.stand, 0, standS))
		}
		return quickerBy(joined(a, parts, nil).film(25, false), times, 1)
	}
	want := analyze(t, set(0.3, 1), Options{})
	for _, times := range []float64{2, 3} {
		got := analyze(t, set(0.3, times), Options{})
		if len(got.reps) != len(want.reps) {
			t.Fatalf("%g times: %d reps, want %d", times, len(got.reps), len(want.reps))
		}
		for i := range got.reps {
			g, w := &got.reps[i], &want.reps[i]
			for _, j := range body.LegJoints {
				a, b := g.Angles[j.Angle()], w.Angles[j.Angle()]
				if i > 0 && (!a.ZeroKnown || !b.ZeroKnown || !(math.Abs(a.AtBottomDeg-b.AtBottomDeg) <= 2)) {
					t.Errorf("%g times, rep %d %v: %.1f from a zero that is known: %v, want %.1f", times, i+1, j,
						a.AtBottomDeg, a.ZeroKnown, b.AtBottomDeg)
				}
			}
		}
	}
	a := newSimAthlete(5)
	a.exact = true
	bottom := simPose{a.stand.shank + 20, a.stand.thigh + 70, a.stand.trunk + 30, 0}
	for _, upPart := range []float64{0.2, 0.3} {
		for _, lastsS := range []float64{0.6, 0.9, 1.2} {
			got := analyze(t, a.cosines(a.stand.toward(bottom, upPart), bottom, 6, lastsS, 0, 1).film(60, false), Options{})
			if got.series.ZeroFound {
				t.Errorf("reps of %g s that turn at %g of the depth: counted from standing", lastsS, upPart)
			}
		}
	}
}

// A rep without a stand after it is whole where the hips come up as high as it began before they sink once more
// and the clip ends; it is not where they sink again half way up.
func TestSinksOnceMoreAtTheEnd(t *testing.T) {
	for _, c := range []struct {
		name            string
		backUp, deepest float64 // parts of the depth: where the last rep comes up to, where the clip ends
		whole           bool
	}{{"after the whole way up", 0, 0.45, true}, {"half way up", 0.5, 0.75, false}} {
		a := newSimAthlete(5)
		a.exact = true
		bottom := simPose{a.stand.shank + 25, a.stand.thigh + 75, a.stand.trunk + 30, 0}
		up := a.stand.toward(bottom, 0.15)
		at := func(part float64) simPose { return up.toward(bottom, part) }
		clip := joined(a, []part{sweep(up, bottom, 0.2, 1, 0.8), sweep(bottom, up, 1, 0.2, 0.8),
			sweep(up, bottom, 0.2, 1, 0.8), sweep(bottom, at(c.backUp), 1, 0.2, 0.8),
			sweep(at(c.backUp), at(c.deepest), 0.2, 0.6, 0.6)}, nil)
		got := analyze(t, clip.film(30, false), Options{Tempo: events.TempoFast})
		if len(got.reps) != 2 {
			t.Errorf("%s: %d reps, want 2", c.name, len(got.reps))
			continue
		}
		if r := &got.reps[1]; r.Partial == c.whole {
			t.Errorf("%s: the last rep, %.2f to %.2f s, is partial: %v", c.name, r.StartS, r.EndS, r.Partial)
		}
	}
}

// An athlete who leans on something long after the set does not change the zero of its
// angles, and one who leans in the standing beside the reps is told of it.
func TestZeroFromTheStandByTheReps(t *testing.T) {
	a := newSimAthlete(5)
	a.exact = true
	lean := a.stand
	lean.trunk += 22
	bottom := simPose{a.stand.shank + 25, a.stand.thigh + 75, a.stand.trunk + 30, 0}
	bend := bottom.joints()[body.KneeJoint] / 120
	set := func(stand simPose, after ...part) *simClip {
		squat := []part{hold(stand, 0, 1.2), sweep(stand, bottom, 0, bend, 1),
			sweep(bottom, stand, bend, 0, 1), hold(stand, 0, 2)}
		return joined(a, append(squat, after...), nil)
	}
	want := analyze(t, set(a.stand).film(30, false), Options{})
	got := analyze(t, set(a.stand, sweep(a.stand, lean, 0, 0, 1), hold(lean, 0, 9)).film(30, false), Options{})
	bent := analyze(t, set(lean).film(30, false), Options{})
	for _, j := range []body.Angle{body.HipFlexion, body.TrunkLean} {
		if g, w := got.reps[0].Angles[j].AtBottomDeg, want.reps[0].Angles[j].AtBottomDeg; !(math.Abs(g-w) < 1) {
			t.Errorf("%v at the bottom is %.1f after leaning, %.1f without", j, g, w)
		}
	}
	if got.has("zero_doubted") || want.has("zero_doubted") || !bent.has("zero_doubted") {
		t.Errorf("the zero is doubted: %v, %v, %v, want only the last",
			got.has("zero_doubted"), want.has("zero_doubted"), bent.has("zero_doubted"))
	}
}
