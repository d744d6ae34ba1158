package events

import (
	"math"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// A descent, a dwell and an ascent, read from a signal made by hand.
func TestTurn(t *testing.T) {
	for _, c := range []struct {
		name                       string
		downFrom, downTo, up, upTo float64
		landing, push              bool
	}{
		{"slow with a dwell", 1, 2.5, 3, 4.5, false, false},
		{"quick with a dwell", 1, 1.5, 1.9, 2.4, false, false},
		{"without a dwell", 1, 2, 2, 3, false, false},
		{"into a take-off", 1, 2, 2.4, 2.7, false, true},
		{"from a landing", 1, 1.4, 2, 3, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			const rateHz, endS = 60.0, 6.0
			n := int(endS*rateHz) + 1
			w := turning{rateHz: rateHz, standing: make([]bool, n)}
			for i := range n {
				at := float64(i) / rateHz
				down := signal.MinJerk((at - c.downFrom) / (c.downTo - c.downFrom))
				up := signal.MinJerk((at - c.up) / (c.upTo - c.up))
				w.timeS = append(w.timeS, at)
				w.bend = append(w.bend, 100*(down-up))
				w.place = append(w.place, 0.5*(down-up))
				w.raw = append(w.raw, 5+0.5*(down-up))
				w.standing[i] = at < c.downFrom || at > c.upTo
			}
			w.quiet = w.bend
			r := signal.Range{From: w.index(c.downFrom + 0.1), To: w.index(c.upTo-0.1) + 1}
			if c.landing {
				r.From = w.index(c.downFrom + 0.15*(c.downTo-c.downFrom))
			}
			if c.push {
				r.To = w.index(c.upTo-0.15*(c.upTo-c.up)) + 1
			}
			got := w.turn(r, c.landing, c.push)
			near(t, "bottom", got.downToS, c.downTo, 0.04)
			near(t, "end of the dwell", got.upFromS, c.up, 0.04)
			if !c.landing {
				near(t, "start", got.downFromS, c.downFrom, 0.03)
			}
			if !c.push {
				near(t, "end", got.upToS, c.upTo, 0.03)
			}
		})
	}
}

// Where a plate hides the knees of one who stands, a hinge is read by its trunk, not by a hip that has a guessed knee
// in it; where the network does not tell, it is read as ever.
func TestTurnBehindAPlate(t *testing.T) {
	const fromS, toS, upS, endS = 1.5, 2.7, 2.9, 4.0
	for _, c := range []struct {
		name         string
		tells, hides bool
	}{
		{"nothing hides it", true, false},
		{"a plate in standing", true, true},
		{"a network that does not tell", false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := handTrace(30, 6, standingStill, onTheFloor)
			lean(tr, func(s float64) float64 {
				return 60 * (signal.MinJerk((s-fromS)/(toS-fromS)) - signal.MinJerk((s-upS)/(endS-upS)))
			})
			near := &tr.Raw[tr.NearSide]
			for i, s := range tr.TimeS {
				for k := range near {
					if near[k].SDPx[i] = 1; !c.tells {
						near[k].SDPx[i] = math.NaN()
					}
				}
				if c.hides && (s < 1.9 || s > 3.6) {
					near[body.Knee].X[i], near[body.Knee].SDPx[i] = 420, math.NaN()
				}
			}
			hinge := shipped.Movement("hinge")
			stand := Stand{Found: true, Spans: []trace.Span{{FromS: 0, ToS: fromS}, {FromS: endS, ToS: 6}}}
			reps, _ := FindReps(tr, hinge, CourseOf(tr, hinge, stand), stand, nil)
			if len(reps) != 1 {
				t.Fatalf("%d reps", len(reps))
			}
			r := &reps[0]
			if math.Abs(r.StartS-fromS) > 0.1 || math.Abs(r.EndS-endS) > 0.1 || math.Abs(r.BottomS-toS) > 0.15 {
				t.Errorf("from %.2f over %.2f to %.2f s, want %.2f, %.2f and %.2f", r.StartS, r.BottomS, r.EndS, fromS, toS,
					endS)
			}
		})
	}
}

// People sink on in what looks like a held bottom: it is reached when hardly anything is missing. In a real
// squat the knee bent by another 8 degrees in the last 0.4 s.
func TestTurnThatSinksOn(t *testing.T) {
	for _, c := range []struct {
		name             string
		creepsDeg, fromS float64 // from 2.5 s on
		downFrom, downTo float64 // when the bottom may be found
	}{
		{"held", 0, 2.5, 2.45, 2.55},
		{"sinks a little", 1.5, 2.5, 2.4, 2.6},
		{"sinks on", 8, 2.5, 2.75, 3.05},
	} {
		t.Run(c.name, func(t *testing.T) {
			const rateHz, n = 60.0, 361
			w := turning{rateHz: rateHz, standing: make([]bool, n)}
			for i := range n {
				at := float64(i) / rateHz
				down := signal.MinJerk((at - 1) / 1.5)
				sinks := c.creepsDeg * max(0, min(1, (at-c.fromS)/0.5))
				way := (100*down + sinks) * (1 - signal.MinJerk((at-3)/1.5))
				w.timeS, w.bend = append(w.timeS, at), append(w.bend, way)
				w.place, w.raw = append(w.place, way/200), append(w.raw, 5+way/200)
				w.standing[i] = at < 1 || at > 4.5
			}
			w.quiet = w.bend
			got := w.turn(signal.Range{From: w.index(1.1), To: w.index(4.4) + 1}, false, false)
			if !(got.downToS >= c.downFrom && got.downToS <= c.downTo) || got.upFromS < got.downToS {
				t.Errorf("the bottom is reached at %.2f s and left at %.2f s", got.downToS, got.upFromS)
			}
		})
	}
}

// A clip that begins at what seems to be the bottom, before an athlete who stands more
// bent than that: there is no sample before it to look at.
func TestTurnAtTheBeginningOfAClip(t *testing.T) {
	const n = 90
	w := turning{rateHz: 30, standing: make([]bool, n), place: make([]float64, n), raw: make([]float64, n)}
	for i := range n {
		bend := 10 - 0.3*float64(i)
		if w.standing[i] = i >= 30; w.standing[i] {
			bend = 60
		}
		w.timeS, w.bend = append(w.timeS, float64(i)/30), append(w.bend, bend)
	}
	w.quiet = w.bend
	got := w.turn(signal.Range{From: 0, To: 30}, false, false)
	if !(got.downFromS <= got.downToS && got.downToS <= got.upFromS) {
		t.Errorf("got %+v", got)
	}
}
