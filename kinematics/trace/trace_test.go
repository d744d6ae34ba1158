package trace

import (
	"math"
	"slices"
	"testing"

	"holdfast/kinematics/body"
)

// stick is an athlete of straight lines who looks right: both sides in one place, the
// left one nearer to the camera, the leg 400 pixels long.
var stick = [body.NumLandmarks][2]float64{
	{5, 300}, {0, 380}, {10, 450}, {20, 520}, {0, 600}, {10, 800}, {0, 1000}, {-20, 1040}, {60, 1045},
}

// seen returns n frames of the stick at 30 a second, sinkPx lower and forwardPx further
// on in each.
func seen(n int, forwardPx, sinkPx float64) []Observation {
	obs := make([]Observation, n)
	for i := range obs {
		obs[i] = Observation{TimeS: float64(i) / 30, Depth: [2]float64{-1, 1}}
		for s := range 2 {
			for k, at := range stick {
				obs[i].Points[s][k] = body.Point{
					X: 300 + at[0] + float64(i)*forwardPx + 40*float64(s), Y: at[1] + float64(i)*sinkPx, SDPx: 2, Confidence: 0.9,
				}
			}
		}
	}
	return obs
}

// A way that is a straight line stays one through a gap; what is missing for long stays
// missing, and is told.
func TestNewFillsShortGapsAlone(t *testing.T) {
	obs := seen(60, 3, 0)
	for i := range obs {
		if i >= 10 && i < 13 || i >= 30 && i < 40 {
			obs[i].Points[body.Left][body.Knee] = body.MissingPoint()
		}
	}
	tr := New(obs, body.Left, body.FacingRight)
	near(t, "rate", tr.RateHz, 30, 1e-9)
	near(t, "leg length", tr.LegPx, 2*math.Hypot(10, 200), 1e-6)
	near(t, "height of the floor", tr.FloorY, 1000, 1e-6)
	near(t, "height of the hip", tr.HipHeight[20], 400/tr.LegPx, 1e-6)
	for i := range obs {
		long := i >= 30 && i < 40
		if tr.Missing[i] != long || tr.Filled[i] != (i >= 10 && i < 13) {
			t.Errorf("frame %d: missing %v, filled %v", i, tr.Missing[i], tr.Filled[i])
		}
		if x := tr.Raw[body.Left][body.Knee].X[i]; !long {
			near(t, "knee", x, 310+3*float64(i), 1e-6)
		}
	}
	if want := []Span{{FromS: tr.TimeS[30], ToS: tr.TimeS[39]}}; !slices.Equal(tr.Gaps, want) {
		t.Errorf("gaps %v, want %v", tr.Gaps, want)
	}
}

func TestRepairSwaps(t *testing.T) {
	obs := seen(40, 4, 0)
	for i := 12; i < 20; i++ {
		p := &obs[i].Points
		for _, k := range LegLandmarks {
			p[body.Left][k], p[body.Right][k] = p[body.Right][k], p[body.Left][k]
		}
	}
	if n := RepairSwaps(obs); n != 8 {
		t.Errorf("%d frames put back, want 8", n)
	}
	for i, o := range seen(40, 4, 0) {
		if obs[i].Points[body.Left][body.Knee] != o.Points[body.Left][body.Knee] {
			t.Errorf("frame %d: the left knee is at %v", i, obs[i].Points[body.Left][body.Knee])
		}
		if obs[i].Exchanged != (i >= 12 && i < 20) {
			t.Errorf("frame %d exchanged: %v", i, obs[i].Exchanged)
		}
	}
}

func TestRejectSpikes(t *testing.T) {
	obs := seen(40, 0, 0)
	obs[17].Points[body.Right][body.Toe].X += 120
	if n := RejectSpikes(obs); n != 1 || !obs[17].Points[body.Right][body.Toe].Missing() {
		t.Errorf("%d points left out, the toe is at %v", n, obs[17].Points[body.Right][body.Toe])
	}
}

func TestSideAndFacing(t *testing.T) {
	obs := seen(20, 0, 0)
	if s := FindNearSide(obs); s != body.Left {
		t.Errorf("near side %v, want left", s)
	}
	if f, sure := findFacing(obs); f != body.FacingRight || sure != 1 {
		t.Errorf("facing %v, %v sure", f, sure)
	}
	for i := range obs { // a mirrored picture
		for s := range 2 {
			for k := range obs[i].Points[s] {
				obs[i].Points[s][k].X *= -1
			}
		}
	}
	if f, sure := findFacing(obs); f != body.FacingLeft || sure != 1 {
		t.Errorf("mirrored: facing %v, %v sure", f, sure)
	}
}

// In the air the body speeds up along the picture's turned vertical, and turned by what
// the flight says it falls straight down; turned back, points are where they were.
func TestRollOfAFall(t *testing.T) {
	const rollDeg = 6.0
	sin, cos := math.Sincos(rollDeg / body.DegPerRad)
	obs := seen(40, 0, 0)
	for i := range obs {
		u := float64(i)/30 - 0.6
		fall := 0.5 * 9.81 * u * u * 450 // 450 pixels a metre
		for s := range 2 {
			for k := range obs[i].Points[s] {
				p := &obs[i].Points[s][k]
				x, y := p.X, p.Y+fall
				p.X, p.Y = cos*x-sin*y, sin*x+cos*y
			}
		}
	}
	tr := New(obs, body.Left, body.FacingRight)
	flight := []Span{{FromS: 0.3, ToS: 0.9}}
	got, sd, ok := RollFromFlights(tr, flight, body.DeLevaMean())
	if !ok || math.Abs(got-rollDeg) > 0.2 {
		t.Errorf("turned by %.2f, SD %.2f (%v), want %g", got, sd, ok, rollDeg)
	}
	shown := obs[5].Points[body.Left][body.Knee]
	TurnUpright(obs, rollDeg)
	near(t, "upright knee", obs[5].Points[body.Left][body.Knee].X, 310, 1e-9)
	knee := New(obs, body.Left, body.FacingRight).Raw[body.Left][body.Knee].Turned(-rollDeg)
	near(t, "knee in the picture, x", knee.X[5], shown.X, 1e-6)
	near(t, "knee in the picture, y", knee.Y[5], shown.Y, 1e-6)
}

// A clip that plays a jump four times slower falls with a sixteenth of gravity.
func TestClockOfAFall(t *testing.T) {
	for _, factor := range []float64{1, 4} {
		var obs []Observation
		for i := range 90 {
			o := seen(1, 0, 0)[0]
			o.TimeS = factor * float64(i) / 60
			rise := 0.0
			if u := (float64(i)/60 - 0.5) / 0.5; u > 0 && u < 1 {
				rise = 9.81 * 0.5 * 0.5 / 2 * u * (1 - u) * 400 / UsualLegM
			}
			for s := range 2 {
				for k := range o.Points[s] {
					o.Points[s][k].Y -= rise
				}
			}
			obs = append(obs, o)
		}
		got, flights := ClockFactor(New(obs, body.Left, body.FacingRight))
		if math.Abs(got/factor-1) > 0.05 || (flights > 0) != (factor > 1) {
			t.Errorf("factor %.2f of %d flights, want %g", got, flights, factor)
		}
	}
}

// Far shoulder and far hip before the near ones by half of the two widths: the plane is
// turned by 30 degrees.
func TestFindViewOfAStand(t *testing.T) {
	obs := seen(30, 0, 0)
	trunk := stick[body.Hip][1] - stick[body.Shoulder][1]
	for i := range obs {
		for k := range obs[i].Points[body.Right] {
			obs[i].Points[body.Right][k].X += 0.25*ViewWidth*trunk - 40
		}
	}
	tr := New(obs, body.Left, body.FacingRight)
	still := make([]bool, len(tr.TimeS))
	for i := range still {
		still[i] = true
	}
	v := FindView(tr, still, make([]bool, len(still)), nil, viewSDDeg)
	if !v.Known {
		t.Fatal("no view")
	}
	near(t, "turn", v.YawDeg, 30, 0.1)
	near(t, "surely", v.SurelyDeg(), 30-1.28*v.SDDeg, 1e-6)
	if v := FindView(tr, still, still, nil, viewSDDeg); v.Known {
		t.Error("a view of an athlete who is always in the air")
	}
	moment := make([]bool, len(still)) // too little of a stand is none, and the upright samples tell
	moment[3], moment[4] = true, true
	if v := FindView(tr, moment, make([]bool, len(still)), nil, viewSDDeg); !v.Known {
		t.Error("no view of an athlete who stands for a moment")
	}
}

// The view is that of the reps: an athlete who turns away after them is not turned. Beyond
// sixty degrees the camera sees the front, with the left side on the right, or the back.
func TestFindViewOfTheReps(t *testing.T) {
	trunk := stick[body.Hip][1] - stick[body.Shoulder][1]
	tests := []struct {
		name       string
		near       body.Side
		facing     body.Facing
		yaw, after float64 // degrees in the first half, and after it
		behind     float64 // the far side behind the near one, trunk lengths; 0: not known
		from       ViewFrom
	}{
		{"side, then turned", body.Right, body.FacingRight, 0, 40, 3, ViewSide},
		{"turned, then side", body.Right, body.FacingRight, 25, 0, 2.8, ViewSide},
		{"oblique, left", body.Left, body.FacingLeft, -45, 0, 2, ViewSide},
		{"front", body.Right, body.FacingRight, 80, 0, 0.4, ViewFront},
		{"front, left", body.Left, body.FacingLeft, 80, 0, 0.4, ViewFront},
		{"back", body.Right, body.FacingRight, -80, 0, 0.4, ViewBack},
		{"front, arms overhead", body.Left, body.FacingLeft, 45, 0, 0.14, ViewFront},
		{"back, arms overhead", body.Right, body.FacingRight, -45, 0, -0.3, ViewBack},
		{"oblique, by a network without depth", body.Right, body.FacingRight, 45, 0, 0, ViewSide},
		{"a little oblique, its depth misread", body.Right, body.FacingRight, 20, 0, 0.3, ViewSide},
		// The depth of a front view tells nothing of the near side, nor do its feet of the
		// facing.
		{"front, taken for the other side", body.Left, body.FacingRight, -80, 0, 0.4, ViewFront},
		{"back, taken for the other side", body.Left, body.FacingRight, 80, 0, 0.4, ViewBack},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			obs := seen(60, 0, 0)
			for i := range obs {
				yaw := tt.yaw
				if i >= 30 {
					yaw = tt.after
				}
				p := &obs[i].Points
				obs[i].Depth[tt.near.Opposite()] = obs[i].Depth[tt.near] + tt.behind*trunk
				for k := range p[0] {
					p[tt.near][k] = p[body.Left][k]
					p[tt.near.Opposite()][k] = p[tt.near][k]
					p[tt.near.Opposite()][k].X += tt.facing.Sign() * math.Sin(yaw/body.DegPerRad) * ViewWidth * trunk / 2
				}
			}
			tr := New(obs, tt.near, tt.facing)
			still := make([]bool, len(tr.TimeS))
			for i := range still {
				still[i] = true
			}
			v := FindView(tr, still, make([]bool, len(still)), []Span{{tr.TimeS[0] - 2, tr.TimeS[29] - besideRepS}}, viewSDDeg)
			if math.Abs(v.YawDeg-tt.yaw) > 0.1 || v.From != tt.from {
				t.Errorf("turned by %.1f, from %v; want %g, from %v", v.YawDeg, v.From, tt.yaw, tt.from)
			}
		})
	}
}

// A measured pitch is carried over with its spread, through a short gap less surely and
// not at all through a long one; a clip without any has none.
func TestNewCarriesThePitch(t *testing.T) {
	obs := seen(60, 0, 0)
	if tr := New(obs, body.Left, body.FacingRight); tr.FootPitch.Deg != nil {
		t.Errorf("a pitch without a measurement: %+v", tr.FootPitch)
	}
	for i := range obs {
		if short, long := i >= 10 && i < 13, i >= 30 && i < 40; !short && !long {
			obs[i].FootPitch = FootPitch{Deg: -float64(i), SDDeg: 0.5}
		}
	}
	tr := New(obs, body.Left, body.FacingRight)
	for i := range obs {
		sd := 0.5
		switch {
		case i >= 30 && i < 40:
			if tr.FootPitch.SDDeg[i] > 0 {
				t.Errorf("frame %d: %g in a long gap", i, tr.FootPitch.Deg[i])
			}
			continue
		case i >= 10 && i < 13:
			sd = 1
		}
		near(t, "pitch", tr.FootPitch.Deg[i], -float64(i), 1e-9)
		near(t, "its spread", tr.FootPitch.SDDeg[i], sd, 1e-9)
	}
}

// What no foot can do is no measurement.
func TestUsableRefusesPitches(t *testing.T) {
	obs := seen(20, 0, 0)
	bad := []FootPitch{{math.NaN(), 1}, {math.Inf(-1), 1}, {500, 1}, {0, math.NaN()}, {0, math.Inf(1)}, {0, -1}, {}}
	for i, p := range bad {
		obs[i].FootPitch = p
	}
	obs[len(bad)].FootPitch = FootPitch{-47, 0.1}
	clean, err := usable(obs)
	if err != nil {
		t.Fatal(err)
	}
	for i := range clean {
		if known := clean[i].FootPitch.Known(); known != (i == len(bad)) {
			t.Errorf("frame %d: %+v known %v", i, obs[i].FootPitch, known)
		}
	}
}
