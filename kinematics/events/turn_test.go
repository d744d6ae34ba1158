package events

import (
	"testing"

	"holdfast/kinematics/signal"
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
