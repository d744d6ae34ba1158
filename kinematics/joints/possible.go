package joints

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// jointOf says which joint is doubted when an angle reads what no body can show.
var jointOf = [body.NumAngles]body.Joint{
	body.KneeFlexion: body.KneeJoint, body.ThighAngle: body.KneeJoint,
	body.HipFlexion: body.HipJoint, body.TrunkLean: body.HipJoint,
	body.ShoulderFlexion: body.ShoulderJoint, body.ElbowFlexion: body.ElbowJoint,
	body.AnkleDorsiflexion: body.AnkleJoint, body.ShankAngle: body.AnkleJoint, body.FootPitch: body.AnkleJoint,
}

// Believe makes those readings of a rep unknown that no body can show by the table
// [body.Possible], and those whose interval tells nothing, and returns the joints in which
// it found the impossible: all of them where the limbs of the near side have no possible lengths from
// one sample to another.
func Believe(angles *body.ByAngle[AngleMeasure], near *[body.NumLandmarks]body.Path, from, to int) (
	impossible []body.Joint) {
	var found [body.NumJoints]bool
	for a := range body.NumAngles {
		if !angles[a].believe(a) {
			found[jointOf[a]] = true
		}
	}
	limbs, foot := lengthsHold(near, from, to)
	for j := range body.NumJoints {
		wrong := !j.OfArm() && (!limbs || j == body.AnkleJoint && !foot)
		if !found[j] && !wrong {
			continue
		}
		impossible = append(impossible, j)
		if wrong {
			angles[j.Angle()] = notMeasured()
		}
	}
	if !foot {
		angles[body.FootPitch] = notMeasured()
	}
	return impossible
}

// believe makes the readings of one angle unknown that cannot be, and says whether there
// were none.
func (am *AngleMeasure) believe(a body.Angle) bool {
	p := &body.Possible[a]
	possible := true
	for _, x := range []*float64{&am.MinDeg, &am.MaxDeg, &am.AtStandDeg, &am.AtBottomDeg, &am.AtLandingBottomDeg} {
		if !math.IsNaN(*x) && !p.Deg.Hold(*x) {
			*x, possible = math.NaN(), false
		}
	}
	if am.ROMDeg > p.MostRangeDeg {
		possible = false
	}
	if !(math.Abs(am.PeakVelocityDegS) <= p.MostDegS) {
		am.PeakVelocityDegS = math.NaN() // a wrong clock does not spoil positions
	}
	half := (am.ROMInterval95Deg[1] - am.ROMInterval95Deg[0]) / 2
	if !possible || half > p.MostHalfDeg {
		am.ROMDeg, am.ROMInterval95Deg = math.NaN(), [2]float64{math.NaN(), math.NaN()}
	}
	if stats.Normal95*am.SDDeg > p.MostHalfDeg {
		*am = notMeasured()
	}
	return possible
}

// lengthsHold says whether thigh and shank of the near side, and its foot, have possible
// lengths against one another between two clip times. What was not seen is not against it.
func lengthsHold(near *[body.NumLandmarks]body.Path, from, to int) (limbs, foot bool) {
	var thighs, feet []float64
	for i := from; i <= to && i < len(near[body.Hip].X); i++ {
		thigh, shank := body.Dist(&near[body.Hip], &near[body.Knee], i), body.Dist(&near[body.Knee], &near[body.Ankle], i)
		thighs = append(thighs, thigh/shank)
		feet = append(feet, body.Dist(&near[body.Heel], &near[body.Toe], i)/(thigh+shank))
	}
	hold := func(b body.Bounds, x []float64) bool {
		m := signal.Median(x)
		return math.IsNaN(m) || b.Hold(m)
	}
	return hold(body.ThighOverShank, thighs), hold(body.FootOverLeg, feet)
}

// Believe makes those samples of angles and heel unknown that no body can show.
func (m *Motion) Believe() {
	for a := range body.NumAngles {
		p := &body.Possible[a]
		for i, x := range m.AnglesDeg[a] {
			if !p.Deg.Hold(x) {
				m.AnglesDeg[a][i], m.SDDeg[a][i], m.VelocityDegS[a][i] = math.NaN(), math.NaN(), math.NaN()
			}
			if !(math.Abs(m.VelocityDegS[a][i]) <= p.MostDegS) {
				m.VelocityDegS[a][i] = math.NaN()
			}
		}
	}
	for i, x := range m.HeelRise {
		m.HeelRise[i] = body.HeelOverFloorPct.Believed(100*x) / 100
	}
}

// HardestToSee returns the point of the near side that a joint's angle is taken from and
// that is hidden most between two clip times: missing, or guessed by a network that tells. Where
// hardly anything is hidden, it is the one that the network doubts most.
func HardestToSee(obs []trace.Observation, near body.Side, rep trace.Span, joints []body.Joint) body.Landmark {
	guessed := GuessedIn(obs, near, rep)
	var trust, missing [body.NumLandmarks]float64
	n := 0.0
	for i := range obs {
		if !rep.Contains(obs[i].TimeS) {
			continue
		}
		n++
		for k := range body.NumLandmarks {
			if p := &obs[i].Points[near][k]; p.Missing() {
				missing[k]++
			} else {
				trust[k] += p.Confidence
			}
		}
	}
	hidden, most := body.Hip, 0.0
	doubted, least := body.Hip, math.Inf(1)
	for _, j := range joints {
		for _, k := range pointsOf[j] {
			gone := missing[k] / max(1, n)
			if h := gone + (1-gone)*guessed[k]; h > most {
				hidden, most = k, h
			}
			if trust[k] < least {
				doubted, least = k, trust[k]
			}
		}
	}
	if most > hardlyHidden {
		return hidden
	}
	return doubted
}

// hardlyHidden is the part of the frames in which a point may be missing or guessed though
// nothing hides it, see [guessedPart].
const hardlyHidden = 0.05

// pointsOf lists the points that a joint's angle is taken from.
var pointsOf = [body.NumJoints][]body.Landmark{
	body.AnkleJoint: {body.Knee, body.Ankle, body.Heel, body.Toe},
	body.KneeJoint:  {body.Hip, body.Knee, body.Ankle},
	body.HipJoint:   {body.Shoulder, body.Hip, body.Knee},

	body.ShoulderJoint: {body.Hip, body.Shoulder, body.Elbow},
	body.ElbowJoint:    {body.Shoulder, body.Elbow, body.Wrist},
}
