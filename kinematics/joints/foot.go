package joints

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// footMotion is what is known of the near foot, one value a sample.
type footMotion struct {
	// pitchDeg is the pitch of the foot against its own flat position: 0 flat,
	// negative while the heel is up.
	pitchDeg, sdDeg []float64
	// heelRise is the height of the heel over its flat level as a part of the
	// foot's length.
	heelRise []float64
}

// footInput is what [footPitch] may use: everything of the near side, smoothed.
type footInput struct {
	heel, ankle, toe body.Path
	shankDeg         []float64
	facing           body.Facing
	legPx            float64
	standing         []bool
	airborne         []bool
	network          *body.Calibration
	measured         body.MeasuredPitch
}

// Bounds of the foot's estimate; common practice, no source.
const (
	// heelUpDeg and heelDownDeg: the heel is up when its rise speaks for more
	// than the first, and around that as long as it speaks for more than the
	// second.
	heelUpDeg, heelDownDeg = 3.0, 0.5
	// leastRiseSDLegs is the least noise of the height of a foot point, leg lengths.
	leastRiseSDLegs = 0.002
)

// footPitch returns the pitch of the near foot: as it was measured, where it was, and
// otherwise by the points. The heel-toe line of a pose
// Network is too rough for it and used in the air only, where nothing else is
// known. But a foot that lies on the floor has a known pitch: the athlete's own
// flat foot, 0. When the heel comes up, the rigid
// hindfoot turns about the ball of the foot, and heel and ankle point rise over
// where they are while the foot lies flat:
//
//	sin(pitch) = sum(w L rise) / sum(w L^2)
//
// L being each point's lever behind the ball and w the inverse of its variance.
// Where a point lies with a flat foot is a straight line over the lean of the
// shank, because a network's points sink a little as the leg folds; the line is
// fitted so that samples that stand above it (the heel is up) do not count.
func footPitch(in footInput) footMotion {
	n := len(in.shankDeg)
	out := footMotion{pitchDeg: make([]float64, n), sdDeg: signal.NaNs(n), heelRise: make([]float64, n)}

	grounded := func(i int) bool { return !in.airborne[i] }
	heelFwd, ankleFwd, toeFwd := signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)
	heelUp, ankleUp, toeUp := signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)
	flat := make([]bool, n)
	for i := range n {
		h := body.Sagittal(in.heel.X[i], in.heel.Y[i], in.facing)
		a := body.Sagittal(in.ankle.X[i], in.ankle.Y[i], in.facing)
		t := body.Sagittal(in.toe.X[i], in.toe.Y[i], in.facing)
		heelFwd[i], heelUp[i] = h.Fwd, h.Up
		ankleFwd[i], ankleUp[i] = a.Fwd, a.Up
		toeFwd[i], toeUp[i] = t.Fwd, t.Up
		flat[i] = grounded(i)
	}
	foot := make([]float64, n)
	reach := make([]float64, n)
	for i := range n {
		foot[i] = toeFwd[i] - heelFwd[i]
		reach[i] = ankleFwd[i] - heelFwd[i]
	}
	footPx := signal.MedianWhere(foot, flat)
	heelLever := min(footPx, body.BallLegLengths*in.legPx)
	ankleLever := heelLever - signal.MedianWhere(reach, flat)
	if !(heelLever > 0) || !(ankleLever > 0) {
		return footMotion{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
	}

	riseOver := func(up []float64) ([]float64, float64) {
		l := FlatLevel(up, in.shankDeg, flat, in.network.FootSinkLegsPerDeg*in.legPx)
		r := make([]float64, n)
		var low []float64
		for i := range r {
			r[i] = up[i] - l.At(in.shankDeg[i])
			if flat[i] && r[i] < 0 {
				low = append(low, r[i], -r[i])
			}
		}
		sd := leastRiseSDLegs * in.legPx
		if len(low) > 0 { // a foot that never lies under its line is as quiet as can be
			sd = max(sd, signal.RobustSD(low))
		}
		return r, sd
	}
	heelRise, heelSD := riseOver(heelUp)
	ankleRise, ankleSD := riseOver(ankleUp)

	wh, wa := 1/sq(heelSD), 1/sq(ankleSD)
	den := wh*sq(heelLever) + wa*sq(ankleLever)
	sd := body.DegPerRad / math.Sqrt(den)
	angle := make([]float64, n)
	for i := range n {
		rh, ra, d, w := heelRise[i], ankleRise[i], den, wh
		if math.IsNaN(rh) {
			rh, d, w = 0, wa*sq(ankleLever), 0
		}
		num := w*heelLever*rh + wa*ankleLever*ra
		angle[i] = math.Asin(max(-1, min(1, num/d))) * body.DegPerRad
	}

	lineDeg := signal.NaNs(n)
	for i := range n {
		lineDeg[i] = math.Atan2(toeUp[i]-heelUp[i], foot[i]) * body.DegPerRad
	}
	flatLineDeg := signal.MedianWhere(lineDeg, flat)

	up := heelIsUp(angle, in.airborne, in.standing, max(heelUpDeg, 2*sd))
	for i := range n {
		if math.IsNaN(angle[i]) {
			out.pitchDeg[i], out.heelRise[i] = math.NaN(), math.NaN()
			continue
		}
		out.sdDeg[i] = in.network.FlatFootSDDeg
		if up[i] {
			out.sdDeg[i] = max(sd, in.network.LiftedFootSDDeg)
			out.pitchDeg[i] = -max(0, angle[i])
			out.heelRise[i] = max(0, heelRise[i]) / footPx
			if math.IsNaN(heelRise[i]) {
				out.heelRise[i] = math.Sin(max(0, angle[i])/body.DegPerRad) * heelLever / footPx
			}
		}
		if in.airborne[i] && !math.IsNaN(lineDeg[i]) {
			out.sdDeg[i] = in.network.AirFootSDDeg
			out.pitchDeg[i] = lineDeg[i] - flatLineDeg
		}
		if in.measured.KnownAt(i) {
			out.sdDeg[i], out.pitchDeg[i] = in.measured.SDDeg[i], in.measured.Deg[i]
			if !in.airborne[i] {
				out.pitchDeg[i] = min(0, out.pitchDeg[i])
				out.heelRise[i] = math.Sin(-out.pitchDeg[i]/body.DegPerRad) * heelLever / footPx
			}
		}
	}
	return out
}

// The picture of a flat foot reads up to leastFlatDeg from 0, in degrees, by its noise, and up to mostFlatDeg
// where the foot it was compared with stood elsewhere, before a step or a pan: real sets read up to 3. Common
// practice, no source.
const leastFlatDeg, mostFlatDeg = 0.5, 5.0

// flatInStanding returns a measured pitch that is 0 in the standing that the angles are counted from, as
// they are; as it was where it is 0 but for noise, or further from 0 than a flat foot reads.
func flatInStanding(measured body.MeasuredPitch, zero []bool) body.MeasuredPitch {
	out := body.MeasuredPitch{Deg: slices.Clone(measured.Deg), SDDeg: measured.SDDeg}
	known := make([]bool, len(measured.Deg))
	for i := range known {
		known[i] = zero[i] && measured.KnownAt(i)
	}
	flat := signal.MedianWhere(measured.Deg, known)
	if !(math.Abs(flat) > leastFlatDeg && math.Abs(flat) <= mostFlatDeg) {
		return out
	}
	for i := range out.Deg {
		out.Deg[i] -= flat
	}
	return out
}

// surelyUpSDs is how many standard deviations a measured pitch must exceed somewhere in a
// stretch for the heel to be up in it. Common practice, no source.
const surelyUpSDs = 2.0

// flatUnlessUp returns a measured pitch with the foot flat where it may well be: a foot on the
// floor lies flat or has its heel up, and a flat one never reads 0. Stretches in which the
// heel is up for sure stay as they are, down to heelDownDeg at their ends.
func flatUnlessUp(measured body.MeasuredPitch, airborne []bool) body.MeasuredPitch {
	out := body.MeasuredPitch{Deg: slices.Clone(measured.Deg), SDDeg: measured.SDDeg}
	over := func(i int) bool {
		return measured.KnownAt(i) && !airborne[i] && measured.Deg[i] < -heelDownDeg
	}
	for _, r := range signal.Runs(len(measured.Deg), func(i int) bool {
		return over(i) || !measured.KnownAt(i) || airborne[i]
	}) {
		up := false
		for i := r.From; i < r.To; i++ {
			up = up || airborne[i] || over(i) && measured.Deg[i] < -surelyUpSDs*measured.SDDeg[i]
		}
		for i := r.From; i < r.To && !up; i++ {
			if over(i) {
				out.Deg[i] = 0
			}
		}
	}
	return out
}

// heelIsUp marks the samples with the heel up: the stretches in which the angle
// stays over heelDownDeg and somewhere exceeds upDeg, and the flights. They reach
// down to the lower bound on both sides, so that the pitch grows from where the
// heel leaves the floor and does not jump.
func heelIsUp(angle []float64, airborne, standing []bool, upDeg float64) []bool {
	out := make([]bool, len(angle))
	over := func(i int) bool { return airborne[i] || (angle[i] > heelDownDeg && !standing[i]) }
	for _, r := range signal.Runs(len(angle), over) {
		up := false
		for i := r.From; i < r.To; i++ {
			up = up || airborne[i] || angle[i] > upDeg
		}
		for i := r.From; up && i < r.To; i++ {
			out[i] = true
		}
	}
	return out
}

// line is a straight line over the lean of the shank.
type line struct{ level, slope float64 }

func (l line) At(x float64) float64 { return l.level + l.slope*x }

// FlatLevel fits the height of a foot point with a flat foot over the lean of
// the shank, by repeated least squares in which a sample that stands far above
// the line counts little (Tukey's weights, on the upper side only). The slope is
// kept between -maxSink and 0: a network's point may sink as the leg folds, but
// one that rises with it is a heel coming up.
func FlatLevel(up, shankDeg []float64, use []bool, maxSink float64) line {
	l := line{level: signal.MedianWhere(up, use)}
	for range 30 {
		var res []float64
		for i := range up {
			if r := up[i] - l.At(shankDeg[i]); use[i] && !math.IsNaN(r) {
				res = append(res, math.Abs(r))
			}
		}
		scale := max(1.4826*signal.Median(res), 1e-3)
		var sums signal.Line
		for i := range up {
			r := (up[i] - l.At(shankDeg[i])) / (3 * scale)
			if !use[i] || math.IsNaN(r) || r >= 1 {
				continue
			}
			w := 1.0
			if r > 0 {
				w = sq(1 - r*r)
			}
			sums.Add(w, shankDeg[i], up[i])
		}
		weight := sums.Weight()
		if weight == 0 {
			return l
		}
		next := line{}
		if sums.Spread() > 1e-6*weight*weight {
			next.slope = max(-maxSink, min(0, sums.Slope()))
		}
		next.level = sums.Level(next.slope)
		if math.Abs(next.level-l.level) < 1e-4 && math.Abs(next.slope-l.slope) < 1e-6 {
			return next
		}
		l = next
	}
	return l
}
