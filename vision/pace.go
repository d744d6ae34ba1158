package vision

import (
	"math"
	"slices"

	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// pace says which frames of a clip are worth looking at: a body that stands or moves slowly is
// much the same in the next frame. It goes by how fast the athlete moved in the frames that were looked
// at, and by how fast that changes: muscles and the floor bound how soon a body is elsewhere.
type pace struct {
	middles     [][2]int // places of both sides of a point among the key points
	seen        []paced  // the last looks, oldest first
	legPx       float64  // thigh and shank, the longest seen
	leg         [3][2]int
	hips        int // place of the hips among the middles, -1 where the network has none
	hands, feet int // places of the first of the hands and of the feet
}

// paced is where the athlete was in a frame: the middle between left and right of each point, pixels.
type paced struct {
	timeS float64
	at    []plane.XY
}

// How far the athlete may go unseen. Settled on clips of invented athletes, see DEVELOPERS.md.
const (
	passedWayM   = 0.08 // by the fastest point, from one look to the next,
	footWayM     = 0.04 // and by feet that are faster than so much: they stop at once when they meet the floor
	footFastMS   = 0.5
	longestPassS = 0.15 // from one look to the next
	paceWindowS  = 0.08 // over which speed is taken; twice that must have been seen
	leastAccel   = 2.0  // m/s2: that of a slow movement that starts
	accelFactor  = 2.0  // what is seen of an acceleration may be so much more
	usualLegM    = 0.85 // thigh and shank
)

// newPace returns the pace for a network whose points have these names.
func newPace(names []string) *pace {
	p := &pace{}
	at := func(point string) [2]int {
		return [2]int{slices.Index(names, "left_"+point), slices.Index(names, "right_"+point)}
	}
	p.leg = [3][2]int{at("hip"), at("knee"), at("ankle")}
	add := func(points ...string) {
		for _, point := range points {
			if m := at(point); min(m[0], m[1]) >= 0 {
				p.middles = append(p.middles, m)
			}
		}
	}
	add("shoulder")
	p.hips = len(p.middles)
	if add("hip"); p.hips == len(p.middles) {
		p.hips = -1
	}
	add("knee")
	p.hands = len(p.middles)
	add("wrist")
	p.feet = len(p.middles)
	add("ankle", "heel", "foot_index")
	return p
}

// forget makes the next frames be looked at all.
func (p *pace) forget() { p.seen = p.seen[:0] }

// took takes in a frame that was looked at and in which the athlete was found, and returns where the middles were.
func (p *pace) took(s *pose.Pose) []plane.XY {
	at := make([]plane.XY, len(p.middles))
	for i, m := range p.middles {
		a, b := s.Keypoints[m[0]], s.Keypoints[m[1]]
		at[i] = s.Camera.Apply(plane.XY{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2})
	}
	for side := range 2 {
		hip, knee, ankle := s.Keypoints[p.leg[0][side]], s.Keypoints[p.leg[1][side]], s.Keypoints[p.leg[2][side]]
		if l := math.Hypot(hip.X-knee.X, hip.Y-knee.Y) + math.Hypot(knee.X-ankle.X, knee.Y-ankle.Y); l > p.legPx {
			p.legPx = l
		}
	}
	p.seen = append(p.seen, paced{s.TimeS, at})
	for len(p.seen) > 3 && p.seen[1].timeS <= s.TimeS-2*longestPassS {
		p.seen = p.seen[1:]
	}
	return at
}

// before returns the last look at or before a time, the first one where there is none.
func (p *pace) before(timeS float64) paced {
	i := len(p.seen) - 1
	for i > 0 && p.seen[i].timeS > timeS {
		i--
	}
	return p.seen[i]
}

// passS returns how long the athlete need not be looked at after the last look.
func (p *pace) passS() float64 {
	if len(p.seen) < 3 || !(p.legPx > 0) {
		return 0
	}
	now := p.seen[len(p.seen)-1]
	if now.timeS-p.seen[0].timeS < 2*paceWindowS-1e-6 {
		return 0
	}
	mid := p.before(now.timeS - paceWindowS + 1e-6)
	old := p.before(mid.timeS - paceWindowS + 1e-6)
	d1, d0 := now.timeS-mid.timeS, mid.timeS-old.timeS
	if d0 <= 0 || d1 <= 0 {
		return 0
	}
	m := usualLegM / p.legPx
	t := longestPassS
	for i := range now.at {
		vx, vy := (now.at[i].X-mid.at[i].X)/d1*m, (now.at[i].Y-mid.at[i].Y)/d1*m
		ux, uy := (mid.at[i].X-old.at[i].X)/d0*m, (mid.at[i].Y-old.at[i].Y)/d0*m
		accel := math.Hypot(vx-ux, vy-uy) / ((d0 + d1) / 2)
		if math.IsNaN(accel) {
			return 0
		}
		v := math.Hypot(vx+(vx-ux)/(d0+d1)*d1, vy+(vy-uy)/(d0+d1)*d1)
		a, way := math.Max(leastAccel, accelFactor*accel), passedWayM
		if i >= p.feet && v > footFastMS {
			way = footWayM
		}
		t = math.Min(t, (math.Sqrt(v*v+2*a*way)-v)/a)
	}
	return t
}
