package render

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"holdfast/scripts/internal/render/body"
	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

// straight is a skeleton with round numbers: legs straight down, arms hanging.
func straight() *motion.Skeleton {
	s := &motion.Skeleton{
		Lumbar: space.Vec{X: 0, Y: 1, Z: 0}, Thorax: space.Vec{X: 0, Y: 1.2, Z: 0}, NeckLow: space.Vec{X: 0, Y: 1.5, Z: 0},
		NeckHigh:  space.Vec{X: 0, Y: 1.54, Z: 0},
		HeadJoint: space.Vec{X: 0, Y: 1.58, Z: 0},
		Head:      space.Vec{X: 0, Y: 1.65, Z: 0}, Crown: space.Vec{X: 0, Y: 1.75, Z: 0},
	}
	for _, side := range motion.BothSides {
		x := 0.1 * side.Out()
		s.Sides[side] = motion.Limbs{
			Hip: space.Vec{X: x, Y: 0.9, Z: 0}, Knee: space.Vec{X: x, Y: 0.5, Z: 0}, Ankle: space.Vec{X: x, Y: 0.1, Z: 0},
			Ball: space.Vec{X: x, Y: 0.02, Z: 0.12},
			Heel: space.Vec{X: x, Y: 0.03, Z: -0.05},
			Toe:  space.Vec{X: x, Y: 0.03, Z: 0.18}, Shoulder: space.Vec{X: 2 * x, Y: 1.4, Z: 0},
			Elbow: space.Vec{X: 2 * x, Y: 1.1, Z: 0}, Wrist: space.Vec{X: 2 * x, Y: 0.85, Z: 0},
		}
	}
	return s
}

func near(a, b space.Vec, within float64) bool { return a.Sub(b).Length() <= within }

func TestPlaceByHand(t *testing.T) {
	s := straight()
	root := math.Sqrt(0.5)
	left := func(f *motion.Figure) *motion.Limbs { return &f.Sides[motion.Left] }
	pose := func(change func(*motion.Pose)) *motion.Pose {
		p := &motion.Pose{Pelvis: s.Pelvis()}
		change(p)
		return p
	}
	for _, c := range []struct {
		name string
		pose *motion.Pose
		got  func(*motion.Figure) space.Vec
		want space.Vec
	}{
		{
			"at rest the ankle is where it was", pose(func(*motion.Pose) {}),
			func(f *motion.Figure) space.Vec { return left(f).Ankle }, space.Vec{X: 0.1, Y: 0.1, Z: 0},
		},
		{
			"a flexed hip brings the knee forward", pose(func(p *motion.Pose) { p.Legs[motion.Left].HipFlexionDeg = 90 }),
			func(f *motion.Figure) space.Vec { return left(f).Knee }, space.Vec{X: 0.1, Y: 0.9, Z: 0.4},
		},
		{
			"and leaves the other leg", pose(func(p *motion.Pose) { p.Legs[motion.Left].HipFlexionDeg = 90 }),
			func(f *motion.Figure) space.Vec { return f.Sides[motion.Right].Knee }, space.Vec{X: -0.1, Y: 0.5, Z: 0},
		},
		{
			"a flexed knee brings the ankle back", pose(func(p *motion.Pose) { p.Legs[motion.Left].KneeFlexionDeg = 90 }),
			func(f *motion.Figure) space.Vec { return left(f).Ankle }, space.Vec{X: 0.1, Y: 0.5, Z: -0.4},
		},
		{
			"both bring the shank upright",
			pose(func(p *motion.Pose) { p.Legs[motion.Left].HipFlexionDeg, p.Legs[motion.Left].KneeFlexionDeg = 90, 90 }),
			func(f *motion.Figure) space.Vec { return left(f).Ankle }, space.Vec{X: 0.1, Y: 0.5, Z: 0.4},
		},
		{
			"abduction is outward on the left", pose(func(p *motion.Pose) { p.Legs[motion.Left].HipAbductionDeg = 90 }),
			func(f *motion.Figure) space.Vec { return left(f).Knee }, space.Vec{X: 0.5, Y: 0.9, Z: 0},
		},
		{
			"and on the right", pose(func(p *motion.Pose) { p.Legs[motion.Right].HipAbductionDeg = 90 }),
			func(f *motion.Figure) space.Vec { return f.Sides[motion.Right].Knee }, space.Vec{X: -0.5, Y: 0.9, Z: 0},
		},
		{"a turned thigh brings a bent shank out", pose(func(p *motion.Pose) {
			p.Legs[motion.Left].HipRotationDeg, p.Legs[motion.Left].KneeFlexionDeg = 90, 90
		}), func(f *motion.Figure) space.Vec { return left(f).Ankle }, space.Vec{X: -0.3, Y: 0.5, Z: 0}},
		{
			"heel up: the heel turns about the ankle", pose(func(p *motion.Pose) { p.Legs[motion.Left].FootPitchDeg = 90 }),
			func(f *motion.Figure) space.Vec { return left(f).Heel }, space.Vec{X: 0.1, Y: 0.15, Z: -0.07},
		},
		{
			"toes that stay level", pose(func(p *motion.Pose) { p.Legs[motion.Left].FootPitchDeg = 90 }),
			func(f *motion.Figure) space.Vec { return left(f).Toe.Sub(left(f).Ball) }, space.Vec{X: 0, Y: 0.01, Z: 0.06},
		},
		{
			"toes that follow", pose(func(p *motion.Pose) {
				p.Legs[motion.Left].FootPitchDeg, p.Legs[motion.Left].ToesFollow = 90, 1
			}),
			func(f *motion.Figure) space.Vec { return left(f).Toe.Sub(left(f).Ball) }, space.Vec{X: 0, Y: -0.06, Z: 0.01},
		},
		{
			"a tilted pelvis carries the trunk", pose(func(p *motion.Pose) { p.PelvisTiltDeg = 90 }),
			func(f *motion.Figure) space.Vec { return left(f).Shoulder }, space.Vec{X: 0.2, Y: 0.9, Z: 0.5},
		},
		{
			"a bent thorax what is above it alone", pose(func(p *motion.Pose) { p.ThoracicDeg = 90 }),
			func(f *motion.Figure) space.Vec { return left(f).Shoulder }, space.Vec{X: 0.2, Y: 1.2, Z: 0.2},
		},
		{
			"lumbar and thorax add up", pose(func(p *motion.Pose) { p.LumbarDeg, p.ThoracicDeg = 45, 45 }),
			func(f *motion.Figure) space.Vec { return left(f).Shoulder }, space.Vec{X: 0.2, Y: 1 + 0.2*root, Z: 0.2*root + 0.2},
		},
		{
			"a turned pelvis: left forward", pose(func(p *motion.Pose) { p.PelvisYawDeg = -90 }),
			func(f *motion.Figure) space.Vec { return left(f).Hip }, space.Vec{X: 0, Y: 0.9, Z: 0.1},
		},
		{
			"a list lifts the left", pose(func(p *motion.Pose) { p.PelvisListDeg = 90 }),
			func(f *motion.Figure) space.Vec { return left(f).Hip }, space.Vec{X: 0, Y: 1, Z: 0},
		},
		{
			"an arm reaches forward", pose(func(p *motion.Pose) { p.Arms[motion.Left] = motion.Arm{ElevationDeg: 90} }),
			func(f *motion.Figure) space.Vec { return left(f).Wrist }, space.Vec{X: 0.2, Y: 1.4, Z: 0.55},
		},
		{
			"whatever the trunk does", pose(func(p *motion.Pose) { p.PelvisTiltDeg, p.Arms[motion.Left] = 90, motion.Arm{} }),
			func(f *motion.Figure) space.Vec { return left(f).Elbow.Sub(left(f).Shoulder) }, space.Vec{X: 0, Y: -0.3, Z: 0},
		},
		{
			"a bent elbow brings the hand up",
			pose(func(p *motion.Pose) { p.Arms[motion.Left] = motion.Arm{ElbowFlexionDeg: 90} }),
			func(f *motion.Figure) space.Vec { return left(f).Wrist }, space.Vec{X: 0.2, Y: 1.1, Z: 0.25},
		},
	} {
		if got := c.got(s.Place(c.pose)); !near(got, c.want, 1e-9) {
			t.Errorf("%s: at %.4f, want %.4f", c.name, got, c.want)
		}
	}
}

// Whatever the pelvis does, a leg that reaches puts its ball where it should be, and bends forward.
func TestPlantedFeet(t *testing.T) {
	skeletons := []*motion.Skeleton{straight()}
	if s, err := NewScene(3, motion.Slow); err != nil {
		t.Error(err)
	} else {
		skeletons = append(skeletons, &s.Body.Skeleton)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(skeletons).Draw(t, "skeleton")
		between := func(low, high float64, name string) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		p := motion.Pose{
			Pelvis: s.Pelvis().Add(space.Vec{X: between(-0.05, 0.05, "x"), Y: -between(0.06, 0.42, "down"),
				Z: between(-0.15, 0.1, "z")}),
			PelvisTiltDeg: between(-10, 60, "tilt"), PelvisYawDeg: between(-15, 15, "yaw"),
			PelvisListDeg: between(-8, 8, "list"),
		}
		for _, side := range motion.BothSides {
			leg := &p.Legs[side]
			leg.HipRotationDeg, leg.FootPitchDeg = between(-10, 20, "rotation"), between(0, 45, "pitch")
			ball := s.Sides[side].Ball.Add(space.Vec{X: 0, Y: 0, Z: between(-0.3, 0.3, "step")})
			if short, beside := s.Plant(&p, side, ball); short > 0 || beside > 0 {
				return
			}
			f := s.Place(&p)
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
	p := motion.Pose{Pelvis: s.Pelvis().Add(space.Vec{X: 0, Y: 0.1, Z: 0})}
	ball := s.Sides[motion.Left].Ball
	short, _ := s.Plant(&p, motion.Left, ball)
	if short < 0.09 || short > 0.12 {
		t.Fatalf("a hip that is 10 cm too high is said to be %.3f m too high", short)
	}
	p.Pelvis.Y -= short + 1e-9
	if again, _ := s.Plant(&p, motion.Left, ball); again > 0 || !near(s.Place(&p).Sides[motion.Left].Ball, ball, 1e-6) {
		t.Errorf("lowered by that, it still lacks %.6f m", again)
	}
}

// A leg that is folded until its ankle lies under the hip cannot be opened to a foot that stands far to the side.
func TestPlantFolded(t *testing.T) {
	s := straight()
	ball := s.Sides[motion.Left].Ball.Add(space.Vec{X: 0.3 * motion.Left.Out(), Y: 0, Z: 0})
	p := motion.Pose{Pelvis: s.Pelvis().Add(space.Vec{X: 0, Y: -0.75, Z: 0})}
	short, beside := s.Plant(&p, motion.Left, ball)
	if short > 0 || beside <= 0 {
		t.Fatalf("%.3f m short and %.3f m beside, want a leg that ends beside", short, beside)
	}
	if got := s.Place(&p).Sides[motion.Left].Ball; math.Abs(got.X-ball.X) < beside/2 {
		t.Errorf("the ball is at %.3f, said to be %.3f m beside %.3f", got, beside, ball)
	}
}

func TestTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := func(name string) float64 { return rapid.Float64Range(-180, 180).Draw(t, name) }
		a := space.AboutX(deg("a")).After(space.AboutY(deg("b"))).After(space.AboutZ(deg("c")))
		v := space.Vec{X: deg("x"), Y: deg("y"), Z: deg("z")}
		if back := a.Inverse().Of(a.Of(v)); !near(back, v, 1e-9) {
			t.Fatalf("%v came back as %v", v, back)
		}
		d := body.DualOf(space.Rigid{Turn: a, Pivot: space.Vec{X: 1, Y: 2, Z: 3}, At: space.Vec{X: -1, Y: 0.5, Z: 0.25}})
		v = v.Scale(1.0 / 180)
		got, _ := d.Of(v, space.Vec{X: 0, Y: 1, Z: 0})
		want := space.Rigid{Turn: a, Pivot: space.Vec{X: 1, Y: 2, Z: 3}, At: space.Vec{X: -1, Y: 0.5, Z: 0.25}}.Of(v)
		if !near(space.Vec{X: float64(got[0]), Y: float64(got[1]), Z: float64(got[2])}, want, 1e-5) {
			t.Fatalf("the dual quaternion moves %v to %v, the matrix to %v", v, got, want)
		}
	})
	if got := space.FromTo(space.Vec{X: 0, Y: -1, Z: 0}, space.Vec{X: 0, Y: 0, Z: 2}).Of(space.Vec{X: 0, Y: -3,
		Z: 0}); !near(got, space.Vec{X: 0, Y: 0, Z: 3}, 1e-9) {
		t.Errorf("from down to forward: %v", got)
	}
}
