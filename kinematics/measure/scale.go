package measure

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// ScaleSourceName says what a scale was taken from.
type ScaleSourceName string

// The sources of a scale.
const (
	ScaleHeight ScaleSourceName = "height" // the athlete's height, given
	ScaleMark   ScaleSourceName = "mark"   // a length in the picture, given
	ScaleJump   ScaleSourceName = "jump"   // how fast the body falls in its jumps
	ScaleLeg    ScaleSourceName = "leg"    // nothing but the usual length of a leg
)

// ScaleSource is one estimate of the scale.
type ScaleSource struct {
	Name    ScaleSourceName `json:"name"`
	MmPerPx stats.Estimate  `json:"mm_per_px"`
}

// Scale says how many millimetres a pixel in the plane of the athlete stands for.
type Scale struct {
	// MmPerPx is the mean of the sources, weighted by the inverse of their variances;
	// not known when there is no source.
	MmPerPx stats.Estimate `json:"mm_per_px"`
	// Known says whether lengths in metres and centimetres may be shown: there is a
	// source better than the usual length of a leg.
	Known   bool          `json:"known"`
	Sources []ScaleSource `json:"sources"`
	// Agree says that the sources lie within their intervals of one another.
	Agree bool `json:"agree"`
}

// MetresPerPx returns the same in metres.
func (sc Scale) MetresPerPx() float64 { return sc.MmPerPx.Value / 1000 }

// Metres returns a length in metres, and its standard deviation from that of the
// scale and of the length itself, both in pixels; NaN when the scale is not known.
func (sc Scale) metres(px, sdPx float64) stats.Estimate {
	if !sc.Known {
		return stats.Unknown()
	}
	return stats.Estimate{Value: px * sc.MetresPerPx(), SD: math.Hypot(px*sc.MmPerPx.SD/1000, sdPx*sc.MetresPerPx())}
}

// Centimetres returns the same as [Scale.Metres] in centimetres.
func (sc Scale) centimetres(px, sdPx float64) stats.Estimate {
	m := sc.metres(px, sdPx)
	return stats.Estimate{Value: 100 * m.Value, SD: 100 * m.SD}
}

// gravityPxS2 returns gravity in pixels a second squared.
func (sc Scale) gravityPxS2() float64 { return trace.GravityMS2 / sc.MetresPerPx() }

// ScaleDispute is two sources of a scale that lie apart by so many per cent of it, more
// than their intervals allow.
type ScaleDispute struct {
	A, B     ScaleSourceName
	ApartPct float64
}

// ScaleOptions is what the coach says of lengths; zero values are not known.
type ScaleOptions struct {
	// HeightM is the athlete's height without shoes in metres.
	HeightM float64
	// MarkPx is the length in pixels, MarkM the length in metres, of something in
	// the plane of the athlete.
	MarkPx, MarkM float64
}

const (
	// earToCrownPart is how much of a body's height lies over the point at the ear:
	// the head above the ear hole is about 7.4 % of the height, and a network's
	// point lies somewhat over the hole. Common practice, no source.
	earToCrownPart = 0.065
	// shoeM is the sole of a shoe, by which a shod athlete is taller.
	shoeM = 0.02
	// markPxSD is how well an end of a mark is pointed at, markPlaneSD how far the
	// mark is out of the athlete's plane, as a part of its distance. Common
	// practice, no source.
	markPxSD, markPlaneSD = 1.5, 0.02
	// raisedLegs is how much higher than on the floor feet stand that stand on something, in leg lengths.
	raisedLegs = 0.1
	// legSD is the spread of leg lengths about the usual one, as a part.
	legSD = 0.10
)

// FindScale returns the scale of the clip from all that is known, and which of its
// sources do not agree; one that gives the athlete a leg that nobody has is not used. With no source but the usual
// length of a leg the scale serves sums that need a rough one, and Known is false.
//
//	height   (H (1 - crown) + shoe) / (ear to heel in standing, pixels)
//	mark     length in metres / length in pixels
//	jump     g / (fall of the centre of mass in flight, pixels a second squared)
func FindScale(m *joints.Motion, stand events.Stand, reps []events.RepTimes, c *CentreOfMass,
	opt ScaleOptions) (Scale, []ScaleDispute) {
	sc := Scale{MmPerPx: stats.Unknown(), Sources: []ScaleSource{}, Agree: true}
	var wrong []ScaleDispute // what gives the athlete an impossible leg
	add := func(name ScaleSourceName, mpp, sd float64) {
		if leg := mpp * knownLegPx(m); name != ScaleLeg && sd > 0 && !math.IsNaN(leg) && !body.LegM.Hold(leg) {
			if name != ScaleJump { // that one nobody gave
				wrong = append(wrong, ScaleDispute{name, ScaleLeg, 100 * math.Abs(leg/trace.UsualLegM-1)})
			}
			return
		}
		if mpp > 0 && sd > 0 && !math.IsInf(mpp+sd, 0) {
			sc.Sources = append(sc.Sources, ScaleSource{name, stats.Estimate{Value: 1000 * mpp, SD: 1000 * sd}})
			sc.Known = sc.Known || name != ScaleLeg
		}
	}
	if opt.HeightM > 0 && stand.Found {
		_, ear := uprightPath(m, m.NearSide, body.Ear)
		if far, up := uprightPath(m, m.NearSide.Opposite(), body.Ear); len(far) == len(ear) {
			for i := range ear {
				if !math.IsNaN(up[i]) && !math.IsNaN(ear[i]) {
					ear[i] = (ear[i] + up[i]) / 2
				}
			}
		}
		standing := within(m, stand.Spans)
		sole := c.floorUp
		if up := soleUp(m, standing); up-sole > raisedLegs*knownLegPx(m) {
			sole = up // who stands on a box is no taller
		}
		px := signal.MedianWhere(ear, standing) - sole
		mpp := (opt.HeightM*(1-earToCrownPart) + shoeM) / px
		add(ScaleHeight, mpp, heightSD*mpp)
	}
	if opt.MarkM > 0 && opt.MarkPx > 0 {
		mpp := opt.MarkM / opt.MarkPx
		add(ScaleMark, mpp, mpp*math.Hypot(math.Sqrt2*markPxSD/opt.MarkPx, markPlaneSD))
	}
	var sum, weight float64
	flights := 0.0
	for i := range reps {
		f, ok := flyingOf(m, c, &reps[i])
		if !ok || f.fallPxS2 <= 0 {
			continue
		}
		mpp := trace.GravityMS2 / f.fallPxS2
		part := f.fallSEPxS2 / f.fallPxS2
		w := 1 / sq(mpp*math.Hypot(part, jumpSD))
		sum, weight, flights = sum+w*mpp, weight+w, flights+1
	}
	if weight > 0 {
		mpp, sd := sum/weight, 1/math.Sqrt(weight)
		add(ScaleJump, mpp, math.Hypot(sd, mpp*jumpSharedSD))
	}
	if len(sc.Sources) == 0 {
		mpp := trace.UsualLegM / knownLegPx(m)
		add(ScaleLeg, mpp, legSD*mpp)
	}
	disputes := wrong
	sc.Agree = len(wrong) == 0
	if len(sc.Sources) == 0 {
		return sc, disputes
	}
	sc.MmPerPx = weightedMean(sc.Sources)
	for i, a := range sc.Sources {
		for _, b := range sc.Sources[i+1:] {
			apart := math.Abs(a.MmPerPx.Value - b.MmPerPx.Value)
			if apart <= stats.Normal95*math.Hypot(a.MmPerPx.SD, b.MmPerPx.SD) {
				continue
			}
			sc.Agree = false
			// What does not agree is known no better than it disagrees.
			sc.MmPerPx.SD = max(sc.MmPerPx.SD, apart/2)
			disputes = append(disputes, ScaleDispute{a.Name, b.Name, 100 * apart / sc.MmPerPx.Value})
		}
	}
	return sc, disputes
}

// weightedMean returns the mean of the sources, each weighted by the inverse of its
// variance.
func weightedMean(sources []ScaleSource) stats.Estimate {
	var sum, weight float64
	for _, src := range sources {
		w := 1 / sq(src.MmPerPx.SD)
		sum, weight = sum+w*src.MmPerPx.Value, weight+w
	}
	return stats.Estimate{Value: sum / weight, SD: 1 / math.Sqrt(weight)}
}
