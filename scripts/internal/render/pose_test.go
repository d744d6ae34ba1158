package render

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// straight is a skeleton with round numbers: legs straight down, arms hanging.
func straight() *Skeleton {
	s := &Skeleton{
		Lumbar: Vec{0, 1, 0}, Thorax: Vec{0, 1.2, 0}, NeckLow: Vec{0, 1.5, 0}, NeckHigh: Vec{0, 1.54, 0},
		HeadJoint: Vec{0, 1.58, 0},
		Head:      Vec{0, 1.65, 0}, Crown: Vec{0, 1.75, 0},
	}
	for _, side := range bothSides {
		x := 0.1 * side.out()
		s.Sides[side] = Limbs{
			Hip: Vec{x, 0.9, 0}, Knee: Vec{x, 0.5, 0}, Ankle: Vec{x, 0.1, 0}, Ball: Vec{x, 0.02, 0.12},
			Heel: Vec{x, 0.03, -0.05},
			Toe:  Vec{x, 0.03, 0.18}, Shoulder: Vec{2 * x, 1.4, 0}, Elbow: Vec{2 * x, 1.1, 0}, Wrist: Vec{2 * x, 0.85, 0},
		}
	}
	return s
}

func near(a, b Vec, within float64) bool { return a.sub(b).length() <= within }

func TestPlaceByHand(t *testing.T) {
	s := straight()
	root := math.Sqrt(0.5)
	left := func(f *Figure) *Limbs { return &f.Sides[Left] }
	pose := func(change func(*Pose)) *Pose {
		p := &Pose{Pelvis: s.pelvis()}
		change(p)
		return p
	}
	for _, c := range []struct {
		name string
		pose *Pose
		got  func(*Figure) Vec
		want Vec
	}{
		{
			"at rest the ankle is where it was", pose(func(*Pose) {}),
			func(f *Figure) Vec { return left(f).Ankle }, Vec{0.1, 0.1, 0},
		},
		{
			"a flexed hip brings the knee forward", pose(func(p *Pose) { p.Legs[Left].HipFlexionDeg = 90 }),
			func(f *Figure) Vec { return left(f).Knee }, Vec{0.1, 0.9, 0.4},
		},
		{
			"and leaves the other leg", pose(func(p *Pose) { p.Legs[Left].HipFlexionDeg = 90 }),
			func(f *Figure) Vec { return f.Sides[Right].Knee }, Vec{-0.1, 0.5, 0},
		},
		{
			"a flexed knee brings the ankle back", pose(func(p *Pose) { p.Legs[Left].KneeFlexionDeg = 90 }),
			func(f *Figure) Vec { return left(f).Ankle }, Vec{0.1, 0.5, -0.4},
		},
		{
			"both bring the shank upright",
			pose(func(p *Pose) { p.Legs[Left].HipFlexionDeg, p.Legs[Left].KneeFlexionDeg = 90, 90 }),
			func(f *Figure) Vec { return left(f).Ankle }, Vec{0.1, 0.5, 0.4},
		},
		{
			"abduction is outward on the left", pose(func(p *Pose) { p.Legs[Left].HipAbductionDeg = 90 }),
			func(f *Figure) Vec { return left(f).Knee }, Vec{0.5, 0.9, 0},
		},
		{
			"and on the right", pose(func(p *Pose) { p.Legs[Right].HipAbductionDeg = 90 }),
			func(f *Figure) Vec { return f.Sides[Right].Knee }, Vec{-0.5, 0.9, 0},
		},
		{"a turned thigh brings a bent shank out", pose(func(p *Pose) {
			p.Legs[Left].HipRotationDeg, p.Legs[Left].KneeFlexionDeg = 90, 90
		}), func(f *Figure) Vec { return left(f).Ankle }, Vec{-0.3, 0.5, 0}},
		{
			"heel up: the heel turns about the ankle", pose(func(p *Pose) { p.Legs[Left].FootPitchDeg = 90 }),
			func(f *Figure) Vec { return left(f).Heel }, Vec{0.1, 0.15, -0.07},
		},
		{
			"toes that stay level", pose(func(p *Pose) { p.Legs[Left].FootPitchDeg = 90 }),
			func(f *Figure) Vec { return left(f).Toe.sub(left(f).Ball) }, Vec{0, 0.01, 0.06},
		},
		{
			"toes that follow", pose(func(p *Pose) { p.Legs[Left].FootPitchDeg, p.Legs[Left].ToesFollow = 90, 1 }),
			func(f *Figure) Vec { return left(f).Toe.sub(left(f).Ball) }, Vec{0, -0.06, 0.01},
		},
		{
			"a tilted pelvis carries the trunk", pose(func(p *Pose) { p.PelvisTiltDeg = 90 }),
			func(f *Figure) Vec { return left(f).Shoulder }, Vec{0.2, 0.9, 0.5},
		},
		{
			"a bent thorax what is above it alone", pose(func(p *Pose) { p.ThoracicDeg = 90 }),
			func(f *Figure) Vec { return left(f).Shoulder }, Vec{0.2, 1.2, 0.2},
		},
		{
			"lumbar and thorax add up", pose(func(p *Pose) { p.LumbarDeg, p.ThoracicDeg = 45, 45 }),
			func(f *Figure) Vec { return left(f).Shoulder }, Vec{0.2, 1 + 0.2*root, 0.2*root + 0.2},
		},
		{
			"a turned pelvis: left forward", pose(func(p *Pose) { p.PelvisYawDeg = -90 }),
			func(f *Figure) Vec { return left(f).Hip }, Vec{0, 0.9, 0.1},
		},
		{
			"a list lifts the left", pose(func(p *Pose) { p.PelvisListDeg = 90 }),
			func(f *Figure) Vec { return left(f).Hip }, Vec{0, 1, 0},
		},
		{
			"an arm reaches forward", pose(func(p *Pose) { p.Arms[Left] = Arm{ElevationDeg: 90} }),
			func(f *Figure) Vec { return left(f).Wrist }, Vec{0.2, 1.4, 0.55},
		},
		{
			"whatever the trunk does", pose(func(p *Pose) { p.PelvisTiltDeg, p.Arms[Left] = 90, Arm{} }),
			func(f *Figure) Vec { return left(f).Elbow.sub(left(f).Shoulder) }, Vec{0, -0.3, 0},
		},
		{
			"a bent elbow brings the hand up", pose(func(p *Pose) { p.Arms[Left] = Arm{ElbowFlexionDeg: 90} }),
			func(f *Figure) Vec { return left(f).Wrist }, Vec{0.2, 1.1, 0.25},
		},
	} {
		if got := c.got(s.place(c.pose)); !near(got, c.want, 1e-9) {
			t.Errorf("%s: at %.4f, want %.4f", c.name, got, c.want)
		}
	}
}

// Whatever the pelvis does, a leg that reaches puts its ball where it should be, and bends forward.
func TestPlantedFeet(t *testing.T) {
	skeletons := []*Skeleton{straight()}
	if s, err := NewScene(3, Slow); err != nil {
		t.Error(err)
	} else {
		skeletons = append(skeletons, &s.Body.Skeleton)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(skeletons).Draw(t, "skeleton")
		between := func(low, high float64, name string) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		p := Pose{
			Pelvis: s.pelvis().add(Vec{between(-0.05, 0.05, "x"), -between(0.06, 0.42, "down"),
				between(-0.15, 0.1, "z")}),
			PelvisTiltDeg: between(-10, 60, "tilt"), PelvisYawDeg: between(-15, 15, "yaw"),
			PelvisListDeg: between(-8, 8, "list"),
		}
		for _, side := range bothSides {
			leg := &p.Legs[side]
			leg.HipRotationDeg, leg.FootPitchDeg = between(-10, 20, "rotation"), between(0, 45, "pitch")
			ball := s.Sides[side].Ball.add(Vec{0, 0, between(-0.3, 0.3, "step")})
			if short, beside := s.plant(&p, side, ball); short > 0 || beside > 0 {
				return
			}
			f := s.place(&p)
			if got := f.Sides[side].Ball; !near(got, ball, 1e-9) {
				t.Fatalf("the %v ball is at %.6f, not %.6f", side, got, ball)
			}
			// The standing leg of a skeleton is a few degrees from straight itself.
			if leg.KneeFlexionDeg < -5 || math.Abs(leg.HipAbductionDeg) > 90 {
				t.Fatalf("the %v leg bends the wrong way: %+v", side, *leg)
			}
		}
	})
}

// A leg that is too short says by how much, and reaches when the hip comes down by that.
func TestPlantTooFar(t *testing.T) {
	s := straight()
	p := Pose{Pelvis: s.pelvis().add(Vec{0, 0.1, 0})}
	ball := s.Sides[Left].Ball
	short, _ := s.plant(&p, Left, ball)
	if short < 0.09 || short > 0.12 {
		t.Fatalf("a hip that is 10 cm too high is said to be %.3f m too high", short)
	}
	p.Pelvis.Y -= short + 1e-9
	if again, _ := s.plant(&p, Left, ball); again > 0 || !near(s.place(&p).Sides[Left].Ball, ball, 1e-6) {
		t.Errorf("lowered by that, it still lacks %.6f m", again)
	}
}

// A leg that is folded until its ankle lies under the hip cannot be opened to a foot that stands far to the side.
func TestPlantFolded(t *testing.T) {
	s := straight()
	ball := s.Sides[Left].Ball.add(Vec{0.3 * Left.out(), 0, 0})
	p := Pose{Pelvis: s.pelvis().add(Vec{0, -0.75, 0})}
	short, beside := s.plant(&p, Left, ball)
	if short > 0 || beside <= 0 {
		t.Fatalf("%.3f m short and %.3f m beside, want a leg that ends beside", short, beside)
	}
	if got := s.place(&p).Sides[Left].Ball; math.Abs(got.X-ball.X) < beside/2 {
		t.Errorf("the ball is at %.3f, said to be %.3f m beside %.3f", got, beside, ball)
	}
}

func TestTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := func(name string) float64 { return rapid.Float64Range(-180, 180).Draw(t, name) }
		a := aboutX(deg("a")).after(aboutY(deg("b"))).after(aboutZ(deg("c")))
		v := Vec{deg("x"), deg("y"), deg("z")}
		if back := a.inverse().of(a.of(v)); !near(back, v, 1e-9) {
			t.Fatalf("%v came back as %v", v, back)
		}
		d := dualOf(rigid{a, Vec{1, 2, 3}, Vec{-1, 0.5, 0.25}})
		v = v.scale(1.0 / 180)
		got, _ := d.of(v, Vec{0, 1, 0})
		want := rigid{a, Vec{1, 2, 3}, Vec{-1, 0.5, 0.25}}.of(v)
		if !near(Vec{float64(got[0]), float64(got[1]), float64(got[2])}, want, 1e-5) {
			t.Fatalf("the dual quaternion moves %v to %v, the matrix to %v", v, got, want)
		}
	})
	if got := fromTo(Vec{0, -1, 0}, Vec{0, 0, 2}).of(Vec{0, -3, 0}); !near(got, Vec{0, 0, 3}, 1e-9) {
		t.Errorf("from down to forward: %v", got)
	}
}
