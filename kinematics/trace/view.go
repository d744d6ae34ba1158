package trace

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// View is how the camera looks at the athlete.
type View struct {
	// YawDeg is how far the plane of movement is turned away from side-on,
	// degrees about the vertical: positive when the athlete's front is turned
	// toward the camera, negative when the back is. SDDeg is its standard
	// deviation. NaN when not known.
	YawDeg float64 `json:"yaw_deg"`
	SDDeg  float64 `json:"yaw_sd_deg"`
	// RollDeg is by how much the picture is turned clockwise against the vertical
	// that the angles are measured from, in degrees; RollSource is RollGiven,
	// RollFlight, or empty when nothing is known and RollDeg is 0.
	RollDeg    float64 `json:"roll_deg"`
	RollSource string  `json:"roll_source"`
	// Known says that enough frames show both shoulders and both hips.
	Known bool `json:"-"`
	// From says from where the athlete was filmed, as far as the turn tells.
	From ViewFrom `json:"-"`
	// AngleSDDeg is the standard deviation, in degrees, that the turn and the
	// doubt about it put on each angle at the bottoms of the reps: what
	// foreshortening may have taken from or added to the picture's angle.
	AngleSDDeg [body.NumAngles]float64 `json:"-"`
}

// ViewFrom is the side of the athlete that the camera sees.
type ViewFrom int

// The sides. ViewSide covers all turns up to where the camera sees more of front or back.
const (
	ViewSide ViewFrom = iota
	ViewFront
	ViewBack
)

// String returns side, front or back.
func (f ViewFrom) String() string { return [...]string{"side", "front", "back"}[f] }

// What is known of the estimate; common practice, no source, but where said.
const (
	// viewWidthSD is how much viewWidth differs between people, a part of it.
	viewWidthSD = 0.12
	// viewSureSDs times the standard deviation is taken off the turn before it
	// counts: nine in ten are then turned at least that far.
	viewSureSDs = 1.28
	// NotSideOnDeg: a camera that surely stands further from side-on than this
	// gets a notice. TooObliqueDeg: beyond this no range of motion should be
	// given; a segment may then be misread by more than 4 degrees.
	NotSideOnDeg  = 10
	TooObliqueDeg = 30
	// facesDeg: turned further, the camera sees the athlete's front or back.
	facesDeg = 60
	// abreastTrunks: a body turned so far that it cannot be measured, whose far side lies behind
	// the near one by less, in trunk lengths of the network's guess, faces the camera or turns
	// its back. Seen were 0.1 in a squat filmed from the front, whose arms overhead made the
	// shoulders as narrow as at 45 degrees, and 1.9 to 3.7 in seven filmed from the side or up to
	// 30 degrees away.
	abreastTrunks = 0.8
	// besideRepS is how long before and after a rep, in seconds, the athlete still stands
	// as in it.
	besideRepS = 1
	// viewLeastSamples is how many samples must show both sides.
	viewLeastSamples = 5
)

// SurelyDeg returns how many degrees the camera stands from side-on at least, nine
// times in ten: the turn, without its sign, less 1.28 standard deviations; 0 when
// nothing is known.
func (v View) SurelyDeg() float64 {
	if !v.Known {
		return 0
	}
	return max(0, math.Abs(v.YawDeg)-viewSureSDs*v.SDDeg)
}

// yawOf returns the turn in degrees, and its standard deviation, that a body shows
// whose far shoulder and far hip lie across (together, in trunk lengths) in front
// of the near ones:
//
//	sin(yaw) = across / (shoulder width + hip width)
//
// A hidden shoulder moves out from behind the body as it turns; where it is the network
// guesses, which is off by viewSDDeg near side-on.
func yawOf(across, viewSDDeg float64) (yawDeg, sdDeg float64) {
	yawDeg = math.Asin(max(-1, min(1, across/ViewWidth))) * body.DegPerRad
	// The widths of a body not known weigh more the further it turns.
	steep := min(math.Tan(math.Abs(yawDeg)/body.DegPerRad), 2)
	return yawDeg, math.Hypot(viewSDDeg, viewWidthSD*steep*body.DegPerRad)
}

// FindView reads the turn from quiet standing within the spans and a second beside them,
// and where there is none, or too little of it, from the upright samples there; without spans, from all of the
// clip. An athlete who turns to get a drink after the set says nothing of the set. The
// network's guess of the body in three dimensions was tried
// as well: it is further off than the widths seen in the picture (5 to 8 degrees,
// and never the same way), and joining the two is no better than the widths alone.
func FindView(tr *Trace, standing, airborne []bool, spans []Span, viewSDDeg float64) View {
	beside := make([]Span, len(spans))
	for i, s := range spans {
		beside[i] = Span{FromS: s.FromS - besideRepS, ToS: s.ToS + besideRepS}
	}
	in := tr.Within(beside)
	look := func(i int) bool { return (len(spans) == 0 || in[i]) && !airborne[i] }
	near, far := &tr.Raw[tr.NearSide], &tr.Raw[tr.NearSide.Opposite()]
	var heights []float64
	still := 0
	for i, h := range tr.HipHeight {
		if look(i) {
			heights = append(heights, h)
			if standing[i] {
				still++
			}
		}
	}
	stands := still >= viewLeastSamples
	upright := signal.Quantile(heights, 0.8)
	var across, leftAcross, behind []float64
	for i := range tr.TimeS {
		if stands && !standing[i] || !stands && !(tr.HipHeight[i] >= upright) || !look(i) {
			continue
		}
		length := math.Hypot(near[body.Shoulder].X[i]+far[body.Shoulder].X[i]-near[body.Hip].X[i]-far[body.Hip].X[i],
			near[body.Shoulder].Y[i]+far[body.Shoulder].Y[i]-near[body.Hip].Y[i]-far[body.Hip].Y[i]) / 2
		farther := (far[body.Shoulder].X[i] - near[body.Shoulder].X[i] + far[body.Hip].X[i] - near[body.Hip].X[i]) / length
		across = append(across, tr.Facing.Sign()*farther)
		behind = append(behind, math.Abs(tr.Behind[i])/length)
		if tr.NearSide == body.Left {
			farther = -farther
		}
		leftAcross = append(leftAcross, farther)
	}
	across = signal.Present(across)
	if len(across) < viewLeastSamples {
		return View{YawDeg: math.NaN(), SDDeg: math.NaN()}
	}
	v := View{Known: true}
	v.YawDeg, v.SDDeg = yawOf(signal.Median(across), viewSDDeg)
	abreast := v.SurelyDeg() >= TooObliqueDeg && signal.Median(signal.Present(behind)) < abreastTrunks
	if abreast || math.Abs(v.YawDeg) >= facesDeg {
		// Who looks into the camera has his left side on the picture's right.
		v.From = ViewBack
		if signal.Median(signal.Present(leftAcross)) > 0 {
			v.From = ViewFront
		}
	}
	return v
}

// foreshortened returns how far the camera misreads each angle, in degrees, seen
// less true, when the plane of movement is turned by yawDeg and the picture shows
// these angles. Each segment by itself:
//
//	true = atan2(sin(seen) / cos(yaw), cos(seen))
//
// the inverse of what a camera far away makes of it, atan2(sin(true) cos(yaw),
// cos(true)). The pitch of a flat foot is 0 from any side.
func foreshortened(seen *[body.NumAngles]float64, yawDeg float64) [body.NumAngles]float64 {
	c := max(0.1, math.Cos(yawDeg/body.DegPerRad))
	off := func(deg float64) float64 {
		s, k := math.Sincos(deg / body.DegPerRad)
		return math.Remainder(deg-math.Atan2(s/c, k)*body.DegPerRad, 360)
	}
	thigh, shank, trunk := off(seen[body.ThighAngle]+90), off(seen[body.ShankAngle]), off(seen[body.TrunkLean])
	var e [body.NumAngles]float64
	e[body.KneeFlexion], e[body.HipFlexion], e[body.AnkleDorsiflexion] = thigh+shank, thigh+trunk, shank
	e[body.ThighAngle], e[body.ShankAngle], e[body.TrunkLean] = thigh, shank, trunk
	arm := seen[body.ShoulderFlexion] - seen[body.TrunkLean] // of the upper arm from straight down
	upper, fore := off(arm), off(arm+seen[body.ElbowFlexion])
	e[body.ShoulderFlexion], e[body.ElbowFlexion] = upper+trunk, fore-upper
	return e
}

// ViewSDs returns what the turn puts on each angle at the bottoms of the reps: the
// root mean square over what the turn may be, a normal distribution taken at
// three places (Gauss & Hermite).
func ViewSDs(tr *Trace, v View, bottomsS []float64) [body.NumAngles]float64 {
	var sum [body.NumAngles]float64
	n := 0.0
	if !v.Known {
		return sum
	}
	if len(bottomsS) == 0 { // a clip without a movement
		bottomsS = tr.TimeS
	}
	for _, atS := range bottomsS {
		b := tr.Index(atS)
		l := body.LimbAt(&tr.Quick[tr.NearSide], b)
		seen := body.AnglesOf(&l, tr.Facing)
		if math.IsNaN(seen[body.ThighAngle] + seen[body.ShankAngle] + seen[body.TrunkLean]) {
			continue
		}
		n++
		for _, g := range [3]struct{ at, weight float64 }{{-math.Sqrt(3), 1.0 / 6}, {0, 2.0 / 3}, {math.Sqrt(3), 1.0 / 6}} {
			e := foreshortened(&seen, v.YawDeg+g.at*v.SDDeg)
			for a := range sum {
				if !math.IsNaN(e[a]) { // what is not seen of the arm
					sum[a] += g.weight * sq(e[a])
				}
			}
		}
	}
	for a := range sum {
		if n > 0 {
			sum[a] = math.Sqrt(sum[a] / n)
		}
	}
	return sum
}
