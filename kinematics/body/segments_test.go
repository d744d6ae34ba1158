package body

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
		for side, limbs := range map[string][2]*Limb{
			"both": {workedSquat(), workedSquat()}, "near alone": {none, workedSquat()}, "far alone": {workedSquat(), none},
		} {
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

// Single numbers of the tables that are easily taken wrongly. De Leva 1996, after the
// Zatsiorsky & Seluyanov data: the trunk is the one between mid-shoulder and mid-hip, the
// shank ends at the joint centre of the ankle (to the malleolus it would be .4459 and
// .4416), the head weighs .0694 and not ten times that. Dempster's table after Winter.
func TestPublishedSegments(t *testing.T) {
	find := func(m MassModel, name string) Segment {
		for _, s := range m.Segments {
			if s.Name == name {
				return s
			}
		}
		t.Fatalf("%s has no %s", m.Name, name)
		return Segment{}
	}
	for _, c := range []struct {
		model        MassModel
		segment      string
		mass, centre float64
		from, to     Landmark
	}{
		{DeLevaMale(), "head", .0694, 0, Ear, Ear},
		{DeLevaFemale(), "head", .0668, 0, Ear, Ear},
		{DeLevaMale(), "trunk", .4346, .4310, Shoulder, Hip},
		{DeLevaFemale(), "trunk", .4257, .3782, Shoulder, Hip},
		{DeLevaMale(), "upper arm", .0271, .5772, Shoulder, Elbow},
		{DeLevaFemale(), "forearm", .0138, .4559, Elbow, Wrist},
		{DeLevaMale(), "thigh", .1416, .4095, Hip, Knee},
		{DeLevaFemale(), "thigh", .1478, .3612, Hip, Knee},
		{DeLevaMale(), "shank", .0433, .4395, Knee, Ankle},
		{DeLevaFemale(), "shank", .0481, .4352, Knee, Ankle},
		{DeLevaMale(), "foot", .0137, .4415, Heel, Toe},
		{DeLevaFemale(), "foot", .0129, .4014, Heel, Toe},
		{DeLevaMean(), "thigh", .1447, .38535, Hip, Knee},
		{Winter(), "forearm and hand", .022, .682, Elbow, Wrist},
		{Winter(), "thigh", .100, .433, Hip, Knee},
		{Winter(), "shank", .0465, .433, Knee, Ankle},
		{winterHAT(), "head, arms and trunk", .678, .626, Hip, Shoulder},
	} {
		s := find(c.model, c.segment)
		if math.Abs(s.Mass-c.mass) > 1e-12 || math.Abs(s.Centre-c.centre) > 1e-12 || s.From != c.from || s.To != c.to {
			t.Errorf("%s, %s: %+v", c.model.Name, c.segment, s)
		}
	}
	// Winter's composites are sums of his segments: head, arms and trunk .678, an arm
	// .050, a leg .161, foot and shank .061.
	w := Winter()
	mass := func(names ...string) (sum float64) {
		for _, n := range names {
			sum += find(w, n).Mass
		}
		return sum
	}
	arm := mass("upper arm", "forearm and hand")
	for name, v := range map[string][2]float64{
		"arm": {arm, .050}, "leg": {mass("thigh", "shank", "foot"), .161}, "foot and shank": {mass("shank", "foot"), .061},
		"head, arms and trunk": {mass("head", "trunk") + 2*arm, .678},
	} {
		if math.Abs(v[0]-v[1]) > 1e-12 {
			t.Errorf("Winter's %s weighs %.4f, want %.4f", name, v[0], v[1])
		}
	}
}

// Where the parts of the worked squat lie, by de Leva's numbers for men, worked out
// apart from this program.
func TestSegmentsOfWorkedSquat(t *testing.T) {
	l := workedSquat()
	want := map[string][2]float64{
		"head": {.20, 1.20}, "trunk": {-.021020, .806050}, "upper arm": {.286984, .930736}, "forearm": {.480628, .916592},
		"hand": {.60, .96}, "thigh": {-.088010, .537715}, "shank": {.098470, .335410}, "foot": {.064790, .020000},
	}
	for _, s := range DeLevaMale().Segments {
		x := l[s.From].X + s.Centre*(l[s.To].X-l[s.From].X)
		y := l[s.From].Y + s.Centre*(l[s.To].Y-l[s.From].Y)
		if w := want[s.Name]; math.Abs(x-w[0]) > 5e-7 || math.Abs(y-w[1]) > 5e-7 {
			t.Errorf("%s at (%.6f, %.6f), want (%.6f, %.6f)", s.Name, x, y, w[0], w[1])
		}
	}
	// The choice of the table alone moves the weight by 11 % of this foot: why a range
	// is shown and no line.
	a, _ := DeLevaMale().CentreOfLimbs(l, l)
	b, _ := winterHAT().CentreOfLimbs(l, l)
	if d := 100 * (a.X - b.X) / .26; math.Abs(d-11.400309) > 1e-4 {
		t.Errorf("the tables differ by %.6f %% of the foot, want 11.400309", d)
	}
}

// winterHAT is Winter's four-part body: head, arms and trunk are one, between hip
// and shoulder.
func winterHAT() MassModel {
	return MassModel{Name: "head, arms and trunk as one, after Winter", Segments: []Segment{
		{Name: "head, arms and trunk", From: Hip, To: Shoulder, Mass: .678, Centre: .626, Gyration: .496},
		{Name: "thigh", From: Hip, To: Knee, Mass: .100, Centre: .433, Gyration: .323, Limb: true},
		{Name: "shank", From: Knee, To: Ankle, Mass: .0465, Centre: .433, Gyration: .302, Limb: true},
		{Name: "foot", From: Ankle, To: Toe, Mass: .0145, Centre: .50, Gyration: .475, Limb: true},
	}}
}
