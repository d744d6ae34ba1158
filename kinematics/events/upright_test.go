package events

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// leaping returns two seconds at 60 frames a second of a stiff athlete who looks right and
// flies from 0.7 to 1.2 s, in a picture turned clockwise by rollDeg; 450 pixels a metre.
func leaping(rollDeg float64) []trace.Observation {
	const pxPerM = 450
	stick := [body.NumLandmarks][2]float64{
		{5, 300}, {0, 380}, {10, 450}, {20, 520}, {0, 600}, {10, 800}, {0, 1000}, {-20, 1040}, {60, 1045},
	}
	sin, cos := math.Sincos(rollDeg / body.DegPerRad)
	obs := make([]trace.Observation, 120)
	for i := range obs {
		t := float64(i) / 60
		up := max(0, trace.GravityMS2/2*(t-0.7)*(1.2-t)) * pxPerM
		obs[i] = trace.Observation{TimeS: t, Depth: [2]float64{1, -1}}
		for s := range 2 {
			for k, at := range stick {
				x, y := 300+at[0]+30*float64(s), at[1]-up
				obs[i].Points[s][k] = body.Point{X: cos*x - sin*y, Y: sin*x + cos*y, SDPx: 2, Confidence: 0.9}
			}
		}
	}
	return obs
}

// The vertical is the given one, else that of the flight where it surely differs from the
// picture's; and with it the flight is where it is.
func TestUpright(t *testing.T) {
	for _, c := range []struct {
		name    string
		rollDeg float64
		given   trace.Roll
		want    trace.Roll
	}{
		{"upright", 0, trace.Roll{}, trace.Roll{Source: trace.RollFlight}},
		{"turned by less than the flight can tell", 1, trace.Roll{}, trace.Roll{Source: trace.RollFlight}},
		{"turned", 6, trace.Roll{}, trace.Roll{Deg: 6, Source: trace.RollFlight}},
		{"turned back", -6, trace.Roll{}, trace.Roll{Deg: -6, Source: trace.RollFlight}},
		{"given", 6, trace.Roll{Deg: 5, Source: trace.RollGiven}, trace.Roll{Deg: 5, Source: trace.RollGiven}},
	} {
		for _, masses := range []body.MassModel{body.DeLevaMean(), body.Winter()} {
			tr, flights, doubted, roll := Upright(leaping(c.rollDeg), body.Right, body.FacingRight, c.given, masses)
			if math.Abs(roll.Deg-c.want.Deg) > 0.3 || roll.Source != c.want.Source {
				t.Errorf("%s, %s: turned by %+v, want %+v", c.name, masses.Name, roll, c.want)
			}
			if len(flights) != 1 || len(doubted) > 0 || math.Abs(flights[0].FromS-0.7) > 0.05 ||
				math.Abs(flights[0].ToS-1.2) > 0.05 {
				t.Errorf("%s: flights %+v, doubted %+v", c.name, flights, doubted)
			}
			hip := &tr.Raw[body.Right][body.Hip]
			off, left := hip.X[55]-hip.X[5], math.Sin((roll.Deg-c.rollDeg)/body.DegPerRad)
			if math.Abs(off-left*(hip.Y[55]-hip.Y[5])) > 1 {
				t.Errorf("%s: the hip flies %.1f pixels to the side", c.name, off)
			}
		}
	}
}
