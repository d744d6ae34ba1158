package vision

import (
	"math"

	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// plan says which frames are looked at, from what the scout saw before and after them: the more the speed changes, the
// more of them.
type plan struct {
	every   bool // looks at each frame
	most    int  // frames that wait at most
	pace    *pace
	spots   []spot   // the scout's of this stretch, oldest first, as far as they are needed
	begun   bool     // a frame of this stretch was settled
	owed    float64  // looks
	lastS   float64  // when the last settled frame was
	waiting []*sight // frames not yet settled
}

// How dense the looks are, settled on the shipped clips, see DEVELOPERS.md.
const (
	bodyOffM    = 0.007 // a straight way between two looks may be off by so much in the middle, as the speed changes,
	handOffM    = 0.012 // by so much at the hands, and
	footOffM    = 0.003 // by so much at the feet
	longestGapS = 0.2   // from one look to the next
	leastGapS   = 1.0 / 90
	impactMS2   = 8    // feet whose speed changes so fast, and not as in a fall, leave the floor or meet it: no frame
	aboutS      = 0.02 // is passed over, and so long before and after, but for those of more than 90 a second
)

// fallMS2 is that of a body in the air.
const fallMS2 = 9.81

// aheadS is how much later the scout must have seen the athlete before a frame is settled.
const aheadS = 0.13

// mostWaitingB is how many bytes of pictures wait at most.
const mostWaitingB = 160 << 20

// newPlan returns a plan for a clip whose scout goes by that pace.
func newPlan(clip *media.Clip, pace *pace, every bool) *plan {
	return &plan{every: every, most: max(12, mostWaitingB/pictureB(clip)), pace: pace}
}

// pictureB returns how many bytes a picture of a clip takes as it is tracked.
func pictureB(clip *media.Clip) int {
	shown := min(1, media.TrackedSidePx/float64(max(clip.WidthPx, clip.HeightPx)))
	return int(3 * shown * shown * float64(clip.WidthPx) * float64(clip.HeightPx))
}

// take takes in the next frame and returns those that are settled by now, in their order.
func (p *plan) take(s *sight) (settled []*sight) {
	if s.began || s.ended {
		settled = p.end()
	}
	if s.ended {
		s.Frame.Close() // nobody looks at its picture any more
		return append(settled, s)
	}
	if s.spot != nil {
		p.spots = append(p.spots, *s.spot)
	}
	p.waiting = append(p.waiting, s)
	for len(p.waiting) > 0 && (p.known(p.waiting[0].Frame.TimeS) || len(p.waiting) > p.most) {
		settled = append(settled, p.settle())
	}
	return settled
}

// end settles what waits: what comes says nothing of it.
func (p *plan) end() (settled []*sight) {
	for len(p.waiting) > 0 {
		settled = append(settled, p.settle())
	}
	p.spots, p.begun, p.owed = nil, false, 0
	return settled
}

// known says whether the scout has seen enough of what comes after a time.
func (p *plan) known(timeS float64) bool {
	return len(p.spots) > 0 && timeS+aheadS <= p.spots[len(p.spots)-1].timeS+1e-6
}

// settle settles the first frame that waits.
func (p *plan) settle() *sight {
	s := p.waiting[0]
	p.waiting = p.waiting[1:]
	timeS := s.Frame.TimeS
	s.pose = pose.Pose{Passed: true}
	if len(p.spots) == 0 || timeS > p.spots[len(p.spots)-1].timeS {
		s.Frame.Close()
		return s
	}
	way := p.at(timeS)
	s.way, s.begins = &way, !p.begun
	if s.begins {
		p.owed = 1
	} else {
		p.owed += (timeS - p.lastS) / p.gapS(timeS)
	}
	p.begun, p.lastS = true, timeS
	if p.every || p.owed > 1-1e-6 {
		s.looked, s.pose = true, pose.Pose{}
		p.owed = max(0, min(p.owed-1, 0.5))
	} else {
		s.Frame.Close()
	}
	for len(p.spots) > 3 && p.spots[2].timeS < timeS-aheadS {
		p.spots = p.spots[1:]
	}
	return s
}

// span returns the last spot at or before a time, the first one where there is none, and how far the time lies on
// the way from it to the next.
func (p *plan) span(timeS float64) (i int, part float64) {
	for i+2 < len(p.spots) && p.spots[i+1].timeS <= timeS {
		i++
	}
	if i+1 == len(p.spots) {
		return i, 0
	}
	a, b := p.spots[i].timeS, p.spots[i+1].timeS
	return i, min(1, max(0, (timeS-a)/(b-a)))
}

// at returns the region in which the athlete was at a time, on a smooth way through those of the spots.
func (p *plan) at(timeS float64) Region {
	i, part := p.span(timeS)
	if part == 0 {
		return p.spots[i].region
	}
	values := func(j int) [4]float64 {
		r := p.spots[j].region
		return [4]float64{r.CX, r.CY, r.SizePx, r.AngleRad}
	}
	a, b := values(i), values(i+1)
	turn := func(v [4]float64) [4]float64 { // angles near that of a
		v[3] = a[3] + math.Remainder(v[3]-a[3], 2*math.Pi)
		return v
	}
	b = turn(b)
	stepS := p.spots[i+1].timeS - p.spots[i].timeS
	slope := func(j, k int) (out [4]float64) {
		from, to := turn(values(j)), turn(values(k))
		for n := range out {
			out[n] = (to[n] - from[n]) / (p.spots[k].timeS - p.spots[j].timeS) * stepS
		}
		return out
	}
	da, db := slope(max(0, i-1), i+1), slope(i, min(len(p.spots)-1, i+2))
	var out [4]float64
	t := part
	for n := range out {
		out[n] = (2*t*t*t-3*t*t+1)*a[n] + (t*t*t-2*t*t+t)*da[n] + (3*t*t-2*t*t*t)*b[n] + (t*t*t-t*t)*db[n]
	}
	return Region{CX: out[0], CY: out[1], SizePx: out[2], AngleRad: out[3]}
}

// gapS returns how long it may be from one look to the next about a time.
func (p *plan) gapS(timeS float64) float64 {
	if !(p.pace.legPx > 0) || timeS-paceWindowS < p.spots[0].timeS-1e-6 || !p.known(timeS) {
		return leastGapS // what changes here is not known
	}
	middle := func(timeS float64, n int) plane.XY {
		i, part := p.span(timeS)
		a := p.spots[i].middles[n]
		if part == 0 {
			return a
		}
		b := p.spots[i+1].middles[n]
		return plane.XY{X: a.X + part*(b.X-a.X), Y: a.Y + part*(b.Y-a.Y)}
	}
	m := usualLegM / p.pace.legPx / (paceWindowS * paceWindowS)
	accel := func(timeS float64, n int) (x, y float64) {
		before, here, after := middle(timeS-paceWindowS, n), middle(timeS, n), middle(timeS+paceWindowS, n)
		return m * (before.X + after.X - 2*here.X), m * (before.Y + after.Y - 2*here.Y)
	}
	hits := func(timeS float64, n int) bool {
		x, y := accel(timeS, n)
		return math.Hypot(x, y) >= impactMS2 && !(p.falls(accel, timeS) && math.Hypot(x, y-fallMS2) < impactMS2)
	}
	gapS := longestGapS
	for n := range p.spots[0].middles {
		a, off := math.Hypot(accel(timeS, n)), bodyOffM
		if n >= p.pace.hands {
			off = handOffM
		}
		if n >= p.pace.feet {
			off = footOffM
			if hits(timeS, n) || hits(timeS-aboutS, n) || hits(timeS+aboutS, n) {
				return leastGapS
			}
		}
		if !(a*gapS*gapS/8 <= off) {
			gapS = math.Sqrt(8 * off / a)
		}
	}
	return gapS
}

// falls says whether all of the body falls: feet alone that go down as quickly step, or are guessed.
func (p *plan) falls(accel func(timeS float64, n int) (x, y float64), timeS float64) bool {
	if p.pace.hips < 0 {
		return true
	}
	x, y := accel(timeS, p.pace.hips)
	return math.Hypot(x, y-fallMS2) < fallMS2/2
}
