package body

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// exampleLimb is a squat drawn by hand in image pixels, facing right.
func exampleLimb() Limb {
	var l Limb
	for k := range l {
		l[k] = MissingPoint()
	}
	for k, p := range map[Landmark][2]float64{
		Shoulder: {400, 200}, Hip: {340, 420}, Knee: {500, 440}, Ankle: {450, 610}, Heel: {415, 650}, Toe: {560, 655},
		Elbow: {520, 200}, Wrist: {520, 90},
	} {
		l[k] = Point{X: p[0], Y: p[1], SDPx: 3, Confidence: 1}
	}
	return l
}

// The values follow from the six points by the definitions of the package
// comment, worked out apart from this program.
var exampleDeg = [NumAngles]float64{
	KneeFlexion:       99.26452398513298,
	HipFlexion:        98.13010235415598,
	AnkleDorsiflexion: 14.41460632315281,
	ShankAngle:        16.389540334034784,
	TrunkLean:         15.255118703057777,
	ThighAngle:        -7.125016348901798,
	FootPitch:         -1.9749340108819766,
	// An upper arm level in front of a trunk that leans by 15.3 degrees, a forearm upright.
	ShoulderFlexion: 90 + 15.255118703057777,
	ElbowFlexion:    90,
}

func TestAnglesOfExample(t *testing.T) {
	l := exampleLimb()
	got := AnglesOf(&l, FacingRight)
	for a := range NumAngles {
		near(t, a.String(), got[a], exampleDeg[a], 1e-9)
	}
	for k := range l {
		l[k].X = 1000 - l[k].X
	}
	got = AnglesOf(&l, FacingLeft)
	for a := range NumAngles {
		near(t, "mirrored "+a.String(), got[a], exampleDeg[a], 1e-9)
	}
	l[Knee] = MissingPoint()
	got = AnglesOf(&l, FacingLeft)
	if !math.IsNaN(got[KneeFlexion]) || math.IsNaN(got[TrunkLean]) {
		t.Error("a missing knee must take the knee's angle and leave the trunk's")
	}
}

func TestAnglesKeepTheirSign(t *testing.T) {
	l := exampleLimb()
	l[Hip], l[Knee], l[Ankle] = Point{X: 100, Y: 100}, Point{X: 95, Y: 200}, Point{X: 100, Y: 300}
	if k := AnglesOf(&l, FacingRight)[KneeFlexion]; !(k < -5 && k > -6) {
		t.Errorf("a knee bent backward reads %.2f, want about -5.7", k)
	}
}

// limbGen draws a limb whose segments are 20 to 400 pixels long in any direction.
func limbGen(t *rapid.T) Limb {
	var l Limb
	from := func(p Point, name string) Point {
		s, c := math.Sincos(rapid.Float64Range(-math.Pi, math.Pi).Draw(t, name+" direction"))
		n := rapid.Float64Range(20, 400).Draw(t, name+" length")
		return Point{X: p.X + n*c, Y: p.Y + n*s, SDPx: 2}
	}
	l[Hip] = Point{X: 500, Y: 500, SDPx: 2}
	l[Shoulder], l[Knee] = from(l[Hip], "trunk"), from(l[Hip], "thigh")
	l[Ankle] = from(l[Knee], "shank")
	l[Heel] = from(l[Ankle], "heel")
	l[Toe] = from(l[Heel], "foot")
	return l
}

// sameDeg compares angles that may differ by whole turns.
func sameDeg(a, b float64) bool { return math.Abs(math.Remainder(a-b, 360)) < 1e-6 }

func TestAngleProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := limbGen(t)
		before := AnglesOf(&l, FacingRight)

		turn := rapid.Float64Range(-180, 180).Draw(t, "turn") / DegPerRad
		size := rapid.Float64Range(0.1, 10).Draw(t, "size")
		moved, mirror := l, l
		for k := range l {
			s, c := math.Sincos(turn)
			moved[k].X = 50 + size*(c*l[k].X-s*l[k].Y)
			moved[k].Y = -20 + size*(s*l[k].X+c*l[k].Y)
			mirror[k].X = 700 - l[k].X
		}
		m := AnglesOf(&moved, FacingRight)
		for _, a := range []Angle{KneeFlexion, HipFlexion, AnkleDorsiflexion} {
			if !sameDeg(m[a], before[a]) {
				t.Fatalf("%v changes from %g to %g when the picture is turned", a, before[a], m[a])
			}
		}
		if !sameDeg(m[TrunkLean], before[TrunkLean]+turn*DegPerRad) {
			t.Fatalf("trunk lean does not turn with the picture")
		}
		f := AnglesOf(&mirror, FacingLeft)
		for a := range NumAngles {
			if !sameDeg(f[a], before[a]) {
				t.Fatalf("%v changes from %g to %g in the mirror", a, before[a], f[a])
			}
		}
		thigh := before[ThighAngle] + 90
		if !sameDeg(before[KneeFlexion], thigh+before[ShankAngle]) ||
			!sameDeg(before[HipFlexion], thigh+before[TrunkLean]) ||
			!sameDeg(before[AnkleDorsiflexion], before[ShankAngle]+before[FootPitch]) {
			t.Fatalf("joint angles are not the sums of their segments: %v", before)
		}
	})
}

func TestAngleSDs(t *testing.T) {
	near(t, "segment of 150 px, 3 px", segmentSDDeg(3, 150), 1.620569, 1e-6)
	for included, want := range map[float64]float64{180: 2.806908, 90: 2.291831, 60: 1.984784} {
		near(t, fmt.Sprintf("joint at %g", included), jointSDDeg(3, 150, 150, included), want, 1e-6)
	}

	// The general propagation agrees with the closed forms.
	l := exampleLimb()
	sd := AngleSDs(&l, FacingRight)
	length := func(a, b Landmark) float64 { return math.Hypot(l[a].X-l[b].X, l[a].Y-l[b].Y) }
	near(t, "shank", sd[ShankAngle], segmentSDDeg(3, length(Knee, Ankle)), 1e-12)
	near(t, "knee", sd[KneeFlexion],
		jointSDDeg(3, length(Hip, Knee), length(Knee, Ankle), 180-exampleDeg[KneeFlexion]), 1e-9)
	near(t, "hip", sd[HipFlexion],
		jointSDDeg(3, length(Hip, Shoulder), length(Hip, Knee), 180-exampleDeg[HipFlexion]), 1e-9)
}

// Small pushes of each point must move the angle as the propagation says.
func TestAngleSDsAgainstDifferences(t *testing.T) {
	l := exampleLimb()
	sd := AngleSDs(&l, FacingRight)
	const e = 1e-4
	for a := range NumAngles {
		var v float64
		for k := range l {
			for _, d := range [][2]float64{{e, 0}, {0, e}} {
				m := l
				m[k].X, m[k].Y = m[k].X+d[0], m[k].Y+d[1]
				if diff := AnglesOf(&m, FacingRight)[a] - exampleDeg[a]; !math.IsNaN(diff) {
					v += sq(diff / e * 3)
				}
			}
		}
		near(t, a.String(), sd[a], math.Sqrt(v), 1e-3)
	}
}

// segmentSDDeg returns the standard deviation in degrees of a segment's
// direction when both ends have the standard deviation sdPx across it and lie
// lengthPx apart: sqrt(2) sd/L.
func segmentSDDeg(sdPx, lengthPx float64) float64 { return math.Sqrt2 * sdPx / lengthPx * DegPerRad }

// jointSDDeg returns the standard deviation in degrees of the angle between two
// segments of lengths l1 and l2 (pixels) that share a point, when each of the
// three points has the standard deviation sdPx. includedDeg is the angle
// between the segments, 180 when straight:
//
//	sd sqrt(2/l1^2 + 2/l2^2 - 2 cos(included)/(l1 l2))
func jointSDDeg(sdPx, l1, l2, includedDeg float64) float64 {
	c := math.Cos(includedDeg / DegPerRad)
	return sdPx * math.Sqrt(2/(l1*l1)+2/(l2*l2)-2*c/(l1*l2)) * DegPerRad
}
