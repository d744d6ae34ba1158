package kinematics

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The sums of the published masses: de Leva 1996 (male 1.0000, female 0.9999 by
// the table's own rounding), and Winter's Dempster table.
func TestMassSums(t *testing.T) {
	for _, c := range []struct {
		model MassModel
		want  float64
	}{{DeLevaMale(), 1}, {DeLevaFemale(), 0.9999}, {DeLevaMean(), 0.99995}, {Winter(), 1}, {winterHAT(), 1}} {
		if got := c.model.TotalMass(); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: masses sum to %.6f, want %.4f", c.model.Name, got, c.want)
		}
	}
}

// workedSquat is a figure in metres, y up, worked out by hand from the tables.
func workedSquat() *Limb {
	l := &Limb{}
	for k, p := range map[Landmark][2]float64{
		Ear: {.20, 1.20}, Shoulder: {.16, 1.00}, Hip: {-.26, .55}, Knee: {.16, .52}, Ankle: {.02, .10},
		Heel: {-.05, .02}, Toe: {.21, .02}, Elbow: {.38, .88}, Wrist: {.60, .96},
	} {
		l[k] = Point{X: p[0], Y: p[1]}
	}
	return l
}

// Expected values: the same sums done apart from this program, from de Leva 1996
// and from Winter's four-part body.
func TestCentreOfWorkedSquat(t *testing.T) {
	none := &Limb{}
	for k := range none {
		none[k] = MissingPoint()
	}
	for _, c := range []struct {
		model   MassModel
		x, y    float64
		footPct float64
		within  float64
	}{
		{DeLevaMale(), 0.028569904, 0.707320196, 30.219193846, 1e-9},
		{DeLevaFemale(), 0.0273680788, 0.7093392877, 29.756953388, 1e-9},
		{winterHAT(), -0.0010709, 0.7044816, 18.818884615, 1e-7},
	} {
		for side, limbs := range map[string][2]*Limb{"both": {workedSquat(), workedSquat()}, "near alone": {none, workedSquat()}, "far alone": {workedSquat(), none}} {
			at, part := c.model.CentreOfLimbs(limbs[0], limbs[1])
			if math.Abs(at.X-c.x) > c.within || math.Abs(at.Y-c.y) > c.within {
				t.Errorf("%s, %s: (%.10f, %.10f), want (%.10f, %.10f)", c.model.Name, side, at.X, at.Y, c.x, c.y)
			}
			if pct := 100 * (at.X + .05) / .26; math.Abs(pct-c.footPct) > 1e3*c.within {
				t.Errorf("%s, %s: %.6f %% of the foot, want %.6f", c.model.Name, side, pct, c.footPct)
			}
			if math.Abs(part-1) > 1e-12 {
				t.Errorf("%s: %.3f of the mass seen", c.model.Name, part)
			}
		}
	}
}

func TestCentreOfHiddenBody(t *testing.T) {
	l := workedSquat()
	for _, k := range []Landmark{Shoulder, Hip, Ear} {
		l[k] = MissingPoint()
	}
	if at, part := DeLevaMean().CentreOfLimbs(l, l); part > 0.9 || !math.IsNaN(at.X) && part < 0.5 {
		t.Errorf("a body without trunk has its centre at %v, %.2f of it seen", at, part)
	}
	for k := range l {
		l[k] = MissingPoint()
	}
	if at, _ := DeLevaMean().CentreOfLimbs(l, l); !at.Missing() {
		t.Errorf("nothing seen, yet the centre is at %v", at)
	}
}

// Moving, turning or enlarging the whole figure moves its centre of mass with it.
func TestCentreMovesWithTheBody(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		num := rapid.Float64Range(-2, 2)
		a, b := &Limb{}, &Limb{}
		ma, mb := &Limb{}, &Limb{}
		dx, dy := num.Draw(t, "dx"), num.Draw(t, "dy")
		k := rapid.Float64Range(0.1, 3).Draw(t, "scale")
		sin, cos := math.Sincos(rapid.Float64Range(-3, 3).Draw(t, "turn"))
		move := func(p Point) Point {
			return Point{X: k*(cos*p.X-sin*p.Y) + dx, Y: k*(sin*p.X+cos*p.Y) + dy}
		}
		for i := range NumLandmarks {
			a[i] = Point{X: num.Draw(t, "x"), Y: num.Draw(t, "y")}
			b[i] = Point{X: num.Draw(t, "x"), Y: num.Draw(t, "y")}
			ma[i], mb[i] = move(a[i]), move(b[i])
		}
		at, _ := DeLevaFemale().CentreOfLimbs(a, b)
		want := move(at)
		got, _ := DeLevaFemale().CentreOfLimbs(ma, mb)
		if math.Hypot(got.X-want.X, got.Y-want.Y) > 1e-9 {
			t.Fatalf("centre at %v, want %v", got, want)
		}
	})
}
