package body

import "math"

// Segment is a part of the body with a share of its mass. A limb's segment stands
// for one side; both sides have it.
type Segment struct {
	Name string
	// From and To are the points at its ends. A segment with one point twice is
	// all there.
	From, To Landmark
	// Mass is its part of the body's mass (of one side, for a limb); Centre is
	// Where its centre of mass lies, as a part of the way from From to To; Gyration
	// is its radius of gyration about the axis from side to side, as a part of its
	// length.
	Mass, Centre, Gyration float64
	Limb                   bool
}

// MassModel says how the mass of a body is spread over its segments.
type MassModel struct {
	Name     string
	Segments []Segment
}

// TotalMass returns the sum of the masses of all segments, both sides of the
// limbs: 1 but for the rounding of the published table.
func (m MassModel) TotalMass() float64 {
	var sum float64
	for _, s := range m.Segments {
		sum += s.Mass * s.Sides()
	}
	return sum
}

func (s Segment) Sides() float64 {
	if s.Limb {
		return 2
	}
	return 1
}

// deLeva builds a model from de Leva's numbers: mass, centre and transverse radius
// of gyration of head, trunk (mid-shoulder to mid-hip), upper arm, forearm, hand,
// thigh, shank (knee to ankle joint centre) and foot (heel to toe tip). The head's
// mass is put at the ear and the hand's at the wrist, the nearest points there
// are: 2 to 3 mm of the body's centre of mass for the head. Common practice, no
// source.
func deLeva(name string, mass, centre, gyration [8]float64) MassModel {
	ends := [8]Segment{
		{Name: "head", From: Ear, To: Ear},
		{Name: "trunk", From: Shoulder, To: Hip},
		{Name: "upper arm", From: Shoulder, To: Elbow, Limb: true},
		{Name: "forearm", From: Elbow, To: Wrist, Limb: true},
		{Name: "hand", From: Wrist, To: Wrist, Limb: true},
		{Name: "thigh", From: Hip, To: Knee, Limb: true},
		{Name: "shank", From: Knee, To: Ankle, Limb: true},
		{Name: "foot", From: Heel, To: Toe, Limb: true},
	}
	m := MassModel{Name: name, Segments: ends[:]}
	for i := range ends {
		s := &m.Segments[i]
		s.Mass, s.Centre, s.Gyration = mass[i], centre[i], gyration[i]
		if s.From == s.To {
			s.Centre, s.Gyration = 0, 0
		}
	}
	return m
}

var (
	femaleMass   = [8]float64{.0668, .4257, .0255, .0138, .0056, .1478, .0481, .0129}
	femaleCentre = [8]float64{0, .3782, .5754, .4559, 0, .3612, .4352, .4014}
	femaleTurn   = [8]float64{0, .361, .260, .257, 0, .364, .263, .279}
	maleMass     = [8]float64{.0694, .4346, .0271, .0162, .0061, .1416, .0433, .0137}
	maleCentre   = [8]float64{0, .4310, .5772, .4574, 0, .4095, .4395, .4415}
	maleTurn     = [8]float64{0, .358, .269, .265, 0, .329, .246, .245}
)

// DeLevaFemale returns the segment masses of women. Source: de Leva 1996, Journal
// of Biomechanics 29:1223-1230, adjusted from Zatsiorsky & Seluyanov.
func DeLevaFemale() MassModel {
	return deLeva("de Leva 1996, female", femaleMass, femaleCentre, femaleTurn)
}

// DeLevaMale returns the segment masses of men; source as [DeLevaFemale].
func DeLevaMale() MassModel { return deLeva("de Leva 1996, male", maleMass, maleCentre, maleTurn) }

// OrMean returns the model, the mean of women's and men's where there is none.
func (m MassModel) OrMean() MassModel {
	if len(m.Segments) == 0 {
		return DeLevaMean()
	}
	return m
}

// DeLevaMean returns the mean of the female and the male segment masses, for an
// athlete of whom nothing is said; source as [DeLevaFemale].
func DeLevaMean() MassModel {
	mean := func(a, b [8]float64) [8]float64 {
		for i := range a {
			a[i] = (a[i] + b[i]) / 2
		}
		return a
	}
	return deLeva("de Leva 1996, mean of female and male",
		mean(femaleMass, maleMass), mean(femaleCentre, maleCentre), mean(femaleTurn, maleTurn))
}

// Winter returns a second model, to see how much the choice of a table matters:
// Dempster's masses as given by Winter, Biomechanics and Motor Control of Human
// Movement. The trunk's mass lies half way between hip and shoulder, the head's at
// the ear, forearm and hand are one. The radii of gyration are Winter's about the
// centre of mass (from memory).
func Winter() MassModel {
	return MassModel{Name: "Dempster, after Winter", Segments: []Segment{
		{Name: "head", From: Ear, To: Ear, Mass: .081},
		{Name: "trunk", From: Hip, To: Shoulder, Mass: .497, Centre: .50, Gyration: .40},
		{Name: "upper arm", From: Shoulder, To: Elbow, Mass: .028, Centre: .436, Gyration: .322, Limb: true},
		{Name: "forearm and hand", From: Elbow, To: Wrist, Mass: .022, Centre: .682, Gyration: .468, Limb: true},
		{Name: "thigh", From: Hip, To: Knee, Mass: .100, Centre: .433, Gyration: .323, Limb: true},
		{Name: "shank", From: Knee, To: Ankle, Mass: .0465, Centre: .433, Gyration: .302, Limb: true},
		{Name: "foot", From: Ankle, To: Toe, Mass: .0145, Centre: .50, Gyration: .475, Limb: true},
	}}
}

// CentreOfLimbs returns the centre of mass of a body whose two sides show the
// given points, in the units and axes of the points. Points missing on one side
// are taken from the other; a segment that neither side shows is left out of the
// sum. part is how much of the body's mass was seen, 0 to 1; the point is missing
// when that is less than half.
func (m MassModel) CentreOfLimbs(left, right *Limb) (at Point, part float64) {
	at = Point{SDPx: 0}
	var seen, variance float64
	end := func(a, b *Point) (x, y, v float64, ok bool) {
		switch {
		case a.Missing() && b.Missing():
			return 0, 0, 0, false
		case a.Missing():
			return b.X, b.Y, sq(b.SDPx), true
		case b.Missing():
			return a.X, a.Y, sq(a.SDPx), true
		}
		return (a.X + b.X) / 2, (a.Y + b.Y) / 2, (sq(a.SDPx) + sq(b.SDPx)) / 4, true
	}
	for _, s := range m.Segments {
		ax, ay, va, okA := end(&left[s.From], &right[s.From])
		bx, by, vb, okB := end(&left[s.To], &right[s.To])
		switch {
		case !okA && !okB:
			continue
		case !okA:
			ax, ay, va = bx, by, vb
		case !okB:
			bx, by, vb = ax, ay, va
		}
		w := s.Mass * s.Sides()
		seen += w
		at.X += w * (ax + s.Centre*(bx-ax))
		at.Y += w * (ay + s.Centre*(by-ay))
		variance += sq(w) * (sq(1-s.Centre)*va + sq(s.Centre)*vb)
	}
	part = seen / m.TotalMass()
	if part < 0.5 {
		return MissingPoint(), part
	}
	at.X, at.Y = at.X/seen, at.Y/seen
	at.SDPx = math.Sqrt(variance) / seen
	return at, part
}
