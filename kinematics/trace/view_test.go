package trace

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics/body"
)

// across returns by how much the far side lies in front of the near one, in trunk
// lengths, for network points of rendered athletes turned by a known angle (large
// network: the median of half a second of standing).
//
// The numbers were read from clips of two rendered bodies, A and C, that are too
// large to keep here.
var turnedAthletes = []struct {
	body        string
	yaw, across float64
}{
	{"A", -45, -0.82}, {"A", -30, -0.59}, {"A", -20, -0.46}, {"A", -15, -0.41}, {"A", -10, -0.29}, {"A", 0, -0.04},
	{"A", 10, 0.16}, {"A", 15, 0.30}, {"A", 20, 0.39}, {"A", 30, 0.58}, {"A", 45, 0.80},
	{"C", -45, -0.81}, {"C", -30, -0.55}, {"C", -20, -0.34}, {"C", -15, -0.28}, {"C", -10, -0.18}, {"C", 0, -0.08},
	{"C", 10, 0.05}, {"C", 15, 0.26}, {"C", 20, 0.38}, {"C", 30, 0.60}, {"C", 45, 0.85},
}

// viewSDDeg is how well a network tells the turn near side-on.
const viewSDDeg = 4.0

func TestYawOfTurnedAthletes(t *testing.T) {
	var ss float64
	n := 0.0
	for _, a := range turnedAthletes {
		got, sd := yawOf(a.across, viewSDDeg)
		v := View{Known: true, YawDeg: got, SDDeg: sd}
		t.Logf("%s turned by %+3.0f: %+5.1f (SD %.1f), surely %.0f", a.body, a.yaw, got, sd, v.SurelyDeg())
		if math.Abs(got-a.yaw) > 2.5*sd {
			t.Errorf("%s turned by %g: got %.1f, SD %.1f", a.body, a.yaw, got, sd)
		}
		if math.Abs(a.yaw) < NotSideOnDeg && v.SurelyDeg() >= NotSideOnDeg {
			t.Errorf("%s turned by %g: a notice without need", a.body, a.yaw)
		}
		if math.Abs(a.yaw) >= 30 && v.SurelyDeg() < NotSideOnDeg || math.Abs(a.yaw) >= 45 && v.SurelyDeg() < TooObliqueDeg {
			t.Errorf("%s turned by %g passes: surely %.1f", a.body, a.yaw, v.SurelyDeg())
		}
		if math.Abs(a.yaw) <= 30 {
			ss, n = ss+(got-a.yaw)*(got-a.yaw), n+1
		}
	}
	if rms := math.Sqrt(ss / n); rms > viewSDDeg {
		t.Errorf("root mean square error of %.1f degrees, want less than %g", rms, viewSDDeg)
	} else {
		t.Logf("root mean square error %.1f degrees up to 30", rms)
	}
}

// What foreshortening does to the angles undoes yawedDeg; the values are those of a
// plane turned by yaw with thigh 70, shank 35 and trunk 40 degrees from the vertical
// (orthographic projection).
func TestForeshortened(t *testing.T) {
	for _, c := range []struct{ yaw, thigh, shank, trunk float64 }{
		{5, 69.9297, 34.8974, 39.8925},
		{10, 69.7164, 34.5890, 39.5687},
		{20, 68.8272, 33.3441, 38.2556},
		{30, 67.2041, 31.2325, 36.0052},
		{45, 62.7637, 26.3410, 30.6821},
	} {
		var seen [body.NumAngles]float64
		seen[body.ThighAngle], seen[body.ShankAngle], seen[body.TrunkLean] = c.thigh-90, c.shank, c.trunk
		e := foreshortened(&seen, c.yaw)
		near(t, "thigh", e[body.ThighAngle], c.thigh-70, 1e-3)
		near(t, "shank", e[body.ShankAngle], c.shank-35, 1e-3)
		near(t, "trunk", e[body.TrunkLean], c.trunk-40, 1e-3)
		near(t, "knee", e[body.KneeFlexion], c.thigh+c.shank-105, 2e-3)
		near(t, "hip", e[body.HipFlexion], c.thigh+c.trunk-110, 2e-3)
	}
	rapid.Check(t, func(t *rapid.T) {
		deg, yaw := rapid.Float64Range(-80, 80).Draw(t, "angle"), rapid.Float64Range(-60, 60).Draw(t, "yaw")
		var seen [body.NumAngles]float64
		seen[body.ThighAngle] = -90
		seen[body.ShankAngle] = yawedDeg(deg, yaw)
		if e := foreshortened(&seen, yaw); math.Abs(e[body.ShankAngle]-(yawedDeg(deg, yaw)-deg)) > 1e-9 ||
			math.Abs(e[body.KneeFlexion]-e[body.ShankAngle]) > 1e-9 {
			t.Fatalf("%g turned by %g: %v", deg, yaw, e)
		}
	})
}

// yawedDeg returns what the camera reads of a segment at angleDeg from the
// vertical when the plane of movement is turned by yawDeg away from side-on,
// seen from far away:
//
//	atan2(sin(angle) cos(yaw), cos(angle))
func yawedDeg(angleDeg, yawDeg float64) float64 {
	a := angleDeg / body.DegPerRad
	return math.Atan2(math.Sin(a)*math.Cos(yawDeg/body.DegPerRad), math.Cos(a)) * body.DegPerRad
}
