package frontal

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

func near(t interface{ Fatalf(string, ...any) }, what string, got, want, within float64) {
	if !(math.Abs(got-want) <= within) {
		t.Fatalf("%s: %.6f, want %.6f", what, got, want)
	}
}

func at(x, y float64) body.Point { return body.Point{X: x, Y: y, SDPx: 1} }

// facing are legs that face the camera: the left one is on the picture's right.
func facing() (l Legs) {
	l[body.Left].Hip, l[body.Left].Knee, l[body.Left].Ankle = at(220, 300), at(214, 400), at(230, 500)
	l[body.Right].Hip, l[body.Right].Knee, l[body.Right].Ankle = at(180, 304), at(176, 402), at(170, 500)
	return l
}

// Worked by hand. Left: thigh (-6, 100) points atan(6/100) = 3.4336 degrees inward of straight down, the shank
// (16, 100) atan(16/100) = 9.0903 outward: 12.5239 in. Right: thigh (-4, 98) 2.3373 outward, shank (-6, 98) 3.5035
// outward: 1.1662 in. The middle of the hips is (200, 302), of the ankles (200, 500); the hips' line falls 4 pixels on
// 40 from left to right.
func TestWorkedExample(t *testing.T) {
	l := facing()
	near(t, "left knee", l.KneeIn(body.Left).Value, 12.5239, 1e-4)
	near(t, "right knee", l.KneeIn(body.Right).Value, 1.1662, 1e-4)
	near(t, "upright", l.UprightDeg(), 0, 1e-12)
	near(t, "tilt", l.HipTilt(0).Value, math.Atan2(4, 40)*body.DegPerRad, 1e-9)
	near(t, "shift", l.Shift(0).Value, 0, 1e-9)
	near(t, "shift's deviation", l.Shift(0).SD, 100*2/(2*60.0), 1e-9)
	for s := range l {
		l[s].Hip.X += 6 // of 60 between the ankles
	}
	near(t, "shift to the left", l.Shift(0).Value, 10, 1e-9)
	for _, leg := range []struct {
		name  string
		kneeX float64
		want  float64
	}{{"in line", 225, 0}, {"inside", 215, 11.4212}, {"outside", 235, -11.4212}} {
		l := facing()
		l[body.Left].Hip, l[body.Left].Knee, l[body.Left].Ankle = at(225, 300), at(leg.kneeX, 400), at(225, 500)
		near(t, leg.name, l.KneeIn(body.Left).Value, leg.want, 1e-4)
	}
	l[body.Right].Knee = body.MissingPoint()
	if l.KneeIn(body.Right).Known() || !l.KneeIn(body.Left).Known() {
		t.Error("a knee that is not seen has an angle, or takes the other's along")
	}
}

// drawLegs draws legs that face the camera.
func drawLegs(t *rapid.T) (l Legs) {
	f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	for s, x := range map[body.Side]float64{body.Left: 240, body.Right: 160} {
		l[s].Hip = at(x+f("hip", -15, 15), f("hip's height", 290, 310))
		l[s].Knee = at(x+f("knee", -25, 25), f("knee's", 380, 420))
		l[s].Ankle = at(x+f("ankle", -15, 15), f("ankle's", 490, 510))
	}
	return l
}

// moved returns legs with every point moved.
func (l Legs) moved(by func(x, y float64) (float64, float64)) Legs {
	for s := range l {
		for _, p := range []*body.Point{&l[s].Hip, &l[s].Knee, &l[s].Ankle} {
			p.X, p.Y = by(p.X, p.Y)
		}
	}
	return l
}

func TestMirrorSwapsLegs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLegs(t)
		m := l.moved(func(x, y float64) (float64, float64) { return 400 - x, y })
		same := m // the same athlete in a mirror
		m[body.Left], m[body.Right] = m[body.Right], m[body.Left]
		for _, s := range []body.Side{body.Left, body.Right} {
			near(t, "a leg and its mirror", m.KneeIn(s).Value, l.KneeIn(s.Opposite()).Value, 1e-9)
			near(t, "a mirrored picture", same.KneeIn(s).Value, l.KneeIn(s).Value, 1e-9)
		}
		near(t, "shift", m.Shift(0).Value, -l.Shift(0).Value, 1e-9)
		near(t, "shift in a mirror", same.Shift(0).Value, l.Shift(0).Value, 1e-9)
		near(t, "tilt", m.HipTilt(0).Value, -l.HipTilt(0).Value, 1e-9)
	})
}

// pathsOf are points that stand as stand for 10 samples and are as bottom for 10.
func pathsOf(stand, bottom Legs) *[2][body.NumLandmarks]body.Path {
	var out [2][body.NumLandmarks]body.Path
	for i := range 20 {
		l := stand
		if i >= 10 {
			l = bottom
		}
		for s := range out {
			for k := range body.NumLandmarks {
				p := body.MissingPoint()
				switch k {
				case body.Hip:
					p = l[s].Hip
				case body.Knee:
					p = l[s].Knee
				case body.Ankle:
					p = l[s].Ankle
				}
				to := &out[s][k]
				to.X, to.Y, to.SDPx = append(to.X, p.X), append(to.Y, p.Y), append(to.SDPx, p.SDPx)
			}
		}
	}
	return &out
}

// readOf reads a rep whose bottom is the last sample.
func readOf(points *[2][body.NumLandmarks]body.Path, stands bool) *Rep {
	tr := &trace.Trace{RateHz: 10}
	standing := make([]bool, 20)
	for i := range standing {
		tr.TimeS = append(tr.TimeS, float64(i)/10)
		standing[i] = stands && i < 10
	}
	return Read(tr, points, ZeroOf(points, standing), &events.RepTimes{StartS: 0.5, BottomS: 1.9, EndS: 1.9})
}

func TestRollAndScaleChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stand, bottom := drawLegs(t), drawLegs(t)
		roll := rapid.Float64Range(-8, 8).Draw(t, "roll") / body.DegPerRad
		size := rapid.Float64Range(0.5, 3).Draw(t, "size")
		turn := func(x, y float64) (float64, float64) {
			sin, cos := math.Sincos(roll)
			return 100 + size*(x*cos-y*sin), 50 + size*(x*sin+y*cos)
		}
		a := readOf(pathsOf(stand, bottom), true)
		b := readOf(pathsOf(stand.moved(turn), bottom.moved(turn)), true)
		for m := range NumMeasures {
			near(t, m.String(), b.Of(m).Value, a.Of(m).Value, 1e-6)
		}
	})
}

// Standing is 0; without it the knees are known and where the weight goes is not; thighs that point at the camera are
// read before they do, or not at all.
func TestRead(t *testing.T) {
	l := facing()
	r := readOf(pathsOf(l, l), true)
	near(t, "shift", r.Of(WeightShift).Value, 0, 1e-9)
	near(t, "tilt", r.Of(HipTilt).Value, 0, 1e-9)
	near(t, "difference", r.Of(KneeDifference).Value, 12.5239-1.1662, 1e-3)
	near(t, "at", r.AtS, 1.9, 1e-9)
	if !r.AtBottom {
		t.Error("read before the bottom without need")
	}
	if r = readOf(pathsOf(l, l), false); r.Of(WeightShift).Known() || r.Of(HipTilt).Known() || !r.Of(KneeInLeft).Known() {
		t.Errorf("nobody stands: %+v", r)
	}
	deep := l
	for s := range deep {
		deep[s].Hip.Y = deep[s].Knee.Y - 30
	}
	if r = readOf(pathsOf(l, deep), true); r.AtBottom || r.AtS != 0.9 {
		t.Errorf("thighs point at the camera: %+v", r)
	}
	if r = readOf(pathsOf(deep, deep), false); !r.AtBottom {
		t.Errorf("nothing tells how long the thighs are: %+v", r)
	}
	gone := pathsOf(l, l)
	for i := range 20 {
		gone[body.Left][body.Hip].X[i] = math.NaN()
	}
	if r = readOf(gone, true); len(r.Readings) > 0 || r.Of(KneeInRight).Known() || !math.IsNaN(r.AtS) {
		t.Errorf("no hip: %+v", r)
	}
	if (&Rep{}).Of(HipTilt).Known() {
		t.Error("what was not read is known")
	}
}

// repsOf are reps with these angles of the left knee.
func repsOf(deg ...float64) (reps []*Rep) {
	for _, d := range deg {
		reps = append(reps, &Rep{Readings: []Reading{{KneeInLeft, stats.Estimate{Value: d, SD: 3.5}}}})
	}
	return reps
}

func TestCompare(t *testing.T) {
	for _, tt := range []struct {
		name       string
		base, hard []*Rep
		want       Verdict
	}{
		{"further in", repsOf(1, 2, 3), repsOf(14, 15, 16), More},
		{"further out", repsOf(14, 15, 16), repsOf(1, 2, 3), Less},
		{"held", repsOf(4, 5, 6, 5, 5), repsOf(4, 5, 6, 5, 5), Held},
		{"neither", repsOf(1, 9, 5), repsOf(0, 10, 14), Unclear},
		{"one knows nothing", repsOf(4, 5), []*Rep{{}, nil}, Unclear},
	} {
		got := Compare(tt.base, tt.hard, [2]string{}, 0)
		if len(got) != int(NumMeasures) || got[0].Verdict != tt.want || got[1].Verdict != Unclear {
			t.Errorf("%s: %+v", tt.name, got[:2])
		}
	}
	c := Compare(repsOf(1, 2, 3), repsOf(14, 15, 16), [2]string{}, 0)[0]
	near(t, "change", c.Change, 13, 1e-9)
	near(t, "middle of the interval", (c.Interval95[0]+c.Interval95[1])/2, 13, 1e-9)
	if c = c.Withheld(); !math.IsNaN(c.Change) || c.Verdict != Unclear || c.Baseline.Value != 2 {
		t.Errorf("withheld: %+v", c)
	}
	one := Compare(repsOf(1, 2, 3), repsOf(14, 15, 16), [2]string{}, 0)[0].Interval95
	two := Compare(repsOf(1, 2, 3), repsOf(14, 15, 16), [2]string{"May", "June"}, 0)[0].Interval95
	if !(two[1]-two[0] > one[1]-one[0]+1) {
		t.Errorf("two occasions (%v) are as sure as one (%v)", two, one)
	}
}

func TestMeasureNames(t *testing.T) {
	for m := range NumMeasures {
		text, _ := m.MarshalText()
		var back Measure
		if err := back.UnmarshalText(text); err != nil || back != m || m.Unit() == "" {
			t.Errorf("%v became %v, %v", m, back, err)
		}
	}
	var unknown Measure
	if _ = unknown.UnmarshalText([]byte("elbow")); unknown != NumMeasures || unknown.String() != "unknown" ||
		unknown.Unit() != "" {
		t.Errorf("an unknown name is %v", unknown)
	}
}
