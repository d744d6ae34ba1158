package trace

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
)

// steadyObs are frames of a standing athlete whose points move to the right by a pixel a frame, looked at where looked
// says so.
func steadyObs(n int, looked func(i int) bool) []Observation {
	obs := make([]Observation, n)
	for i := range obs {
		obs[i].TimeS, obs[i].Passed = float64(i)/30, !looked(i)
		for s := range 2 {
			for k := range body.NumLandmarks {
				obs[i].Points[s][k] = body.MissingPoint()
				if looked(i) {
					obs[i].Points[s][k] = body.Point{X: 100 + float64(i), Y: 100 + 60*float64(k), SDPx: 1, Confidence: 1}
				}
			}
		}
	}
	return obs
}

func TestPassedFrames(t *testing.T) {
	third := func(i int) bool { return i%3 == 0 }
	frames, _, spikes, err := Clean(steadyObs(61, third))
	if err != nil {
		t.Fatal(err)
	}
	if len(frames) != 21 || spikes != 0 || frames[1].PassedBefore != 2 || frames[0].PassedBefore != 0 {
		t.Fatalf("%d frames, %d spikes, %d passed before the second", len(frames), spikes, frames[1].PassedBefore)
	}
	tr := New(frames, body.Left, body.FacingRight)
	if math.Abs(tr.RateHz-30) > 1e-6 || len(tr.TimeS) != 61 {
		t.Fatalf("%d samples at %.2f Hz, want those of all frames", len(tr.TimeS), tr.RateHz)
	}
	for i := range tr.TimeS {
		if tr.Between[i] != (i%3 != 0) || tr.Filled[i] || tr.Missing[i] {
			t.Errorf("sample %d: between %v, filled %v, missing %v", i, tr.Between[i], tr.Filled[i], tr.Missing[i])
		}
		if x := tr.Raw[body.Left][body.Knee].X[i]; math.Abs(x-100-float64(i)) > 1e-6 {
			t.Errorf("sample %d lies at %.2f", i, x)
		}
	}
}

// A frame that was passed over and in which a coach put a point right counts, its other points lying between those of
// the frames beside it; a cut before a frame that was passed over is not forgotten.
func TestPassedFrameCorrectedOrCut(t *testing.T) {
	obs := steadyObs(61, func(i int) bool { return i%3 == 0 })
	obs[10].Corrections = []Correction{{Near: true, Landmark: body.Knee, X: 115, Y: 300}}
	obs[31].Cut = true
	frames, _, _, err := Clean(obs)
	if err != nil {
		t.Fatal(err)
	}
	byTime := func(i int) *Observation {
		for k := range frames {
			if math.Abs(frames[k].TimeS-float64(i)/30) < 1e-9 {
				return &frames[k]
			}
		}
		t.Fatalf("frame %d is not there", i)
		return nil
	}
	if p := byTime(10).Points[body.Left][body.Ankle]; math.Abs(p.X-110) > 1e-9 {
		t.Errorf("the ankle of the corrected frame lies at %.2f, want 110", p.X)
	}
	if o := byTime(12); o.PassedBefore != 1 || o.Cut {
		t.Errorf("frame 12: %d passed before, cut %v", o.PassedBefore, o.Cut)
	}
	if o := byTime(33); !o.Cut || o.PassedBefore != 0 {
		t.Errorf("frame 33: %d passed before, cut %v", o.PassedBefore, o.Cut)
	}
}
