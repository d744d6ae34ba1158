package foot

import (
	"math"

	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// A foot that stands on its toes turns about the ball of the foot, which stays where it is. So
// the way of the shoe's rear tells the pitch a second time: as an angle about the ball. What
// draws the turn of the picture off, a sock or a shadow within the patch, draws its place
// off the other way, and the mean of the two is better than either.

// What is known of the way of the shoe's rear; common practice, no source, lengths are parts of
// the shoe.
const (
	flatTurnDeg   = 3.0  // turned less: the foot may lie flat
	flatFrames    = 9    // before and after a frame that say where the ball is
	ballStaysPart = 0.06 // that the ball may have moved from those before to those after
	toeStaysPart  = 0.2  // that the toe may have moved, as the network sees it
	arcMissPart   = 0.08 // that the rear may lie off its circle
)

// arcs returns for each picture the angle, degrees, heel up positive, by which the rear of
// the shoe has gone round the ball of the foot since it lay flat; NaN where it is not known
// that the ball stayed, or the rear does not lie on the circle.
func (m *footMatch) arcs(t *pose.Track) []float64 {
	n := len(m.found)
	out := make([]float64, n)
	// Places in the first frame of the clip, so that the camera may move.
	place := func(k int, p plane.XY) plane.XY {
		kept := &m.album.kept[k]
		clip := plane.XY{X: kept.from.X + (p.X+0.5)*m.album.clipPx, Y: kept.from.Y + (p.Y+0.5)*m.album.clipPx}
		return t.Poses[kept.pose].Camera.Apply(clip)
	}
	toe := func(k int) plane.XY {
		i := m.album.kept[k].pose
		return t.Poses[i].Camera.Apply(m.way.toe[i])
	}
	shoePx := m.shoePx * m.album.clipPx
	ball, middle := place(m.stand, m.at(ballAt, 0)), place(m.stand, m.fine.middle)
	u := plane.XY{X: middle.X - ball.X, Y: middle.Y - ball.Y}

	flats := make([]int, 0, n)
	before := make([]int, n) // how many flat ones come before a picture
	for k := range n {
		before[k] = len(flats)
		if m.known[k] && m.found[k].correlation >= leastAlike && math.Abs(m.upDeg(t, k)) < flatTurnDeg {
			flats = append(flats, k)
		}
	}
	// moved returns how far the rear lay from where it lay in the stand, the median of some
	// flat ones, and whether the toe was then where it is in picture k.
	moved := func(k int, of []int) (at plane.XY, timeS float64, ok bool) {
		if len(of) == 0 {
			return plane.XY{}, 0, false
		}
		var xs, ys, tx, ty []float64
		for _, f := range of {
			p, q := place(f, m.found[f].at), toe(f)
			xs, ys = append(xs, p.X-middle.X), append(ys, p.Y-middle.Y)
			tx, ty = append(tx, q.X), append(ty, q.Y)
			timeS += m.way.timeS[m.album.kept[f].pose] / float64(len(of))
		}
		now := toe(k)
		ok = math.Hypot(plane.Quantile(tx, 0.5)-now.X, plane.Quantile(ty, 0.5)-now.Y) < toeStaysPart*shoePx
		return plane.XY{X: plane.Quantile(xs, 0.5), Y: plane.Quantile(ys, 0.5)}, timeS, ok
	}
	for k := range n {
		out[k] = math.NaN()
		if !m.known[k] {
			continue
		}
		b := before[k]
		was, wasS, wasOK := moved(k, flats[max(0, b-flatFrames):b])
		will, willS, willOK := moved(k, flats[b:min(len(flats), b+flatFrames)])
		o := was
		switch nowS := m.way.timeS[m.album.kept[k].pose]; {
		case wasOK && willOK && math.Hypot(will.X-was.X, will.Y-was.Y) < ballStaysPart*shoePx:
			w := 0.5
			if willS > wasS {
				w = max(0, min(1, (nowS-wasS)/(willS-wasS)))
			}
			o = plane.XY{X: was.X + w*(will.X-was.X), Y: was.Y + w*(will.Y-was.Y)}
		case wasOK && (!willOK || nowS-wasS <= willS-nowS):
		case willOK:
			o = will
		default:
			continue
		}
		p := place(k, m.found[k].at)
		v := plane.XY{X: p.X - o.X - ball.X, Y: p.Y - o.Y - ball.Y}
		if math.Abs(math.Hypot(v.X, v.Y)-math.Hypot(u.X, u.Y)) > arcMissPart*shoePx {
			continue
		}
		out[k] = m.way.facing * math.Atan2(u.X*v.Y-u.Y*v.X, u.X*v.X+u.Y*v.Y) * 180 / math.Pi
	}
	return out
}
