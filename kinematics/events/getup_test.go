package events

import (
	"math"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// down returns a trace of one who goes down and up again once: both ankles end so far behind the hips, in leg lengths,
// the shoulders so far ahead of them and so high over the floor. Hips that stand at 1 come down to hip.
func down(hip, nearBehind, farBehind, shoulderAhead, shoulderUp float64) *trace.Trace {
	const downS, waysS, holdS = 1, 1.2, 0.6
	course := squat(downS, waysS, holdS, 1)
	tr := handTrace(30, 5.5, squat(downS, waysS, holdS, 1-hip), onTheFloor)
	for i, t := range tr.TimeS {
		part := 1 - course(t) // 0 in standing, 1 down
		for side, behind := range map[body.Side]float64{tr.NearSide: nearBehind, tr.NearSide.Opposite(): farBehind} {
			tr.Raw[side][body.Ankle].X[i] -= 100 * part * behind
			tr.Raw[side][body.Shoulder].X[i] = 400 + 100*part*shoulderAhead
			tr.Raw[side][body.Shoulder].Y[i] = 900 - 100*(1.6+part*(shoulderUp-1.6))
		}
	}
	tr.Quick = tr.Raw
	return tr
}

// On both knees, in a burpee and lying a body goes down by three ways that are told apart, and none of them is a squat
// or a lunge; over one knee it is no get-up. Shins and thighs are half a leg each.
func TestWaysToTheFloor(t *testing.T) {
	for _, tt := range []struct {
		name string
		tr   *trace.Trace
		want string // the movement; empty: no get-up
	}{
		{"both knees", down(0.55, 0.48, 0.42, 0, 1.15), "get_up_kneeling"},
		{"one knee, the far foot ahead", down(0.55, 0.48, -0.48, 0, 1.15), ""},
		{"one knee, the near foot ahead", down(0.55, -0.48, 0.48, 0, 1.15), ""},
		{"a squat", down(0.45, -0.25, -0.25, 0.1, 1.05), ""},
		{"the hands", down(0.45, 0.9, 0.9, 0.55, 0.5), "get_up"},
		{"face down", down(0.12, 0.95, 0.95, 0.6, 0.05), "get_up_lying"},
		{"on the back", down(0.12, -0.95, -0.95, -0.6, 0.05), "get_up_lying"},
	} {
		for _, key := range []string{"get_up", "get_up_kneeling", "get_up_lying", "squat", "lunge"} {
			if key == "squat" && tt.name == "a squat" {
				continue
			}
			got := Find(tt.tr, shipped.Movement(key), nil)
			if want := map[bool]int{true: 1}[key == tt.want]; len(got.Reps) != want {
				t.Errorf("%s: %d reps of %s, want %d", tt.name, len(got.Reps), key, want)
			}
		}
	}
}

// An athlete who is lost while lying has got up once, and wholly; one who is lost on the way up has not, and one who is
// lost in a squat is taken to have stood.
func TestLostLying(t *testing.T) {
	for _, tt := range []struct {
		key        string
		tr         *trace.Trace
		from, to   float64
		reps       int
		lostInside bool
	}{
		{"get_up_lying", down(0.12, 0.95, 0.95, 0.6, 0.05), 2.3, 2.7, 1, false},
		{"get_up_lying", down(0.12, 0.95, 0.95, 0.6, 0.05), 3.3, 3.8, 1, true},
		{"squat", handTrace(30, 5.5, squat(1, 1.2, 0.6, 0.4), onTheFloor), 2.3, 2.7, 2, true},
	} {
		for i, at := range tt.tr.TimeS {
			if at < tt.from || at > tt.to {
				continue
			}
			tt.tr.Missing[i], tt.tr.HipHeight[i], tt.tr.KneeDeg[i] = true, math.NaN(), math.NaN()
			for side := range 2 {
				for k := range body.NumLandmarks {
					tt.tr.Raw[side][k].X[i], tt.tr.Raw[side][k].Y[i] = math.NaN(), math.NaN()
				}
			}
		}
		reps := Find(tt.tr, shipped.Movement(tt.key), nil).Reps
		if len(reps) != tt.reps {
			t.Fatalf("%s lost from %.1f s: %d reps, want %d", tt.key, tt.from, len(reps), tt.reps)
		}
		if reps[0].Partial != tt.lostInside {
			t.Errorf("%s lost from %.1f s: partial %v, %v", tt.key, tt.from, reps[0].Partial, reps[0].PartialWhy)
		}
	}
}

// A body that seems to go down and is then on another level for good, as where a picture jumps, has done no rep.
func TestNoWayBackIsNoRep(t *testing.T) {
	tr := handTrace(30, 6, func(t float64) float64 { return 1 - 0.3*signal.MinJerk((t-2)/0.4) }, onTheFloor)
	for _, r := range Find(tr, shipped.Squat(), nil).Reps {
		if !r.Partial {
			t.Errorf("a whole rep from %.2f to %.2f s", r.StartS, r.EndS)
		}
	}
}
