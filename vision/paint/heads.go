package paint

import (
	"math"
	"slices"
	"sort"

	"holdfast/vision/plane"
)

// Disc is a round place of a picture, in pixels.
type Disc struct {
	At       plane.XY
	RadiusPx float64
}

// HeadSample is what is known of an athlete's head at one time: places in pixels of
// the clip, as those of a track. What was not seen is left out.
type HeadSample struct {
	TimeS float64 // of the file, from its first frame
	Ears  []plane.XY
	Face  []plane.XY // eyes, nose, mouth
	// Shoulders and Hips give the size, and the place when the head itself was not
	// seen.
	Shoulders, Hips []plane.XY
	// Unsure says that the points of the head may be wrong.
	Unsure bool
}

// Heads says where an athlete's head is all through a clip, so that it can be made
// unrecognisable. It errs on the large side: where the head was not seen for a
// while, a wide area about its last and its next place counts, and where it never
// was, the whole picture. A nil Heads knows of no head and hides nothing.
type Heads struct {
	paths []headPath
	// all is the disc that covers the whole picture.
	all Disc
}

type headPath struct {
	timesS []float64
	discs  []Disc // radius 0: not known
}

// The size of a head. Common practice, no source: the ear lies about 22 cm over the
// middle of the shoulder, chin and crown 10 to 14 cm from the ear, the tip of the
// nose 12 cm.
const (
	headPerNeck  = 0.8  // radius of the hidden place in distances from shoulder to ear
	headMargin   = 0.35 // beyond the points of the face, in the same
	neckPerTrunk = 0.45 // shoulder to ear in lengths of the trunk, where no ear is seen
	// A head whose place is a guess may be anywhere near it.
	unsureHead, guessedHead, lostHead, longLostHead = 1.25, 1.5, 1.6, 2.5
)

const (
	// headNearS is how far in time a sample counts for: a single wrong one
	// between two right ones uncovers nothing.
	headNearS = 0.1
	// headLostS is how long the last place of a head is a good guess.
	headLostS = 1.0
)

// NewHeads finds the head in samples in order of time, for a clip of the given size
// in pixels.
func NewHeads(samples []HeadSample, widthPx, heightPx int) *Heads {
	h := &Heads{all: Disc{plane.XY{X: float64(widthPx) / 2, Y: float64(heightPx) / 2},
		math.Hypot(float64(widthPx), float64(heightPx))}}
	usual := usualNeck(samples)
	if !(usual > 0) {
		usual = float64(max(widthPx, heightPx)) / 12
	}
	p := headPath{}
	known := false
	for i := range samples {
		d := samples[i].disc(usual)
		known = known || d.RadiusPx > 0
		p.timesS = append(p.timesS, samples[i].TimeS)
		p.discs = append(p.discs, d)
	}
	if known {
		h.paths = append(h.paths, p)
	}
	return h
}

// usualNeck is the distance from shoulder to ear in the middle of the clip's
// samples: a head that is bowed comes nearer to the shoulder, and is no smaller.
func usualNeck(samples []HeadSample) float64 {
	var necks, trunks []float64
	for i := range samples {
		s := &samples[i]
		sh, ear, hip := meanPlace(s.Shoulders), meanPlace(s.Ears), meanPlace(s.Hips)
		if d := dist(ear.X-sh.X, ear.Y-sh.Y); d > 0 {
			necks = append(necks, d)
		}
		if d := dist(hip.X-sh.X, hip.Y-sh.Y); d > 0 {
			trunks = append(trunks, neckPerTrunk*d)
		}
	}
	usual := 0.0
	for _, ds := range [][]float64{necks, trunks} {
		if len(ds) > 0 {
			slices.Sort(ds)
			usual = math.Max(usual, ds[len(ds)/2])
		}
	}
	return usual
}

func (s *HeadSample) disc(usual float64) Disc {
	ear, sh, hip := meanPlace(s.Ears), meanPlace(s.Shoulders), meanPlace(s.Hips)
	face := meanPlace(s.Face)
	neck := usual
	if d := dist(ear.X-sh.X, ear.Y-sh.Y); d > usual {
		neck = math.Min(d, 1.6*usual)
	}
	d := Disc{RadiusPx: headPerNeck * neck}
	switch {
	case !ear.Missing():
		d.At = ear
		if !face.Missing() && dist(face.X-ear.X, face.Y-ear.Y) < neck {
			// The middle of the head lies a little before the ear.
			d.At = plane.XY{X: ear.X + 0.25*(face.X-ear.X), Y: ear.Y + 0.25*(face.Y-ear.Y)}
		}
	case !face.Missing():
		d.At, d.RadiusPx = face, unsureHead*d.RadiusPx
	case !sh.Missing():
		// Nothing of the head was seen: the top of the figure.
		up := plane.XY{X: 0, Y: -1}
		if l := dist(sh.X-hip.X, sh.Y-hip.Y); l > 0 {
			up = plane.XY{X: (sh.X - hip.X) / l, Y: (sh.Y - hip.Y) / l}
		}
		d.At, d.RadiusPx = sh.Add(0.9*neck*up.X, 0.9*neck*up.Y), guessedHead*d.RadiusPx
	default:
		return Disc{}
	}
	for _, list := range [][]plane.XY{s.Ears, s.Face} {
		for _, p := range list {
			if r := dist(p.X-d.At.X, p.Y-d.At.Y) + headMargin*neck; r < 2*headPerNeck*neck {
				d.RadiusPx = math.Max(d.RadiusPx, r)
			}
		}
	}
	if s.Unsure {
		d.RadiusPx *= unsureHead
	}
	if !finite(d.At.X, d.At.Y, d.RadiusPx) {
		return Disc{}
	}
	return d
}

// meanPlace returns the middle of places; NaN when there is none.
func meanPlace(ps []plane.XY) plane.XY {
	var sum plane.XY
	n := 0.0
	for _, p := range ps {
		if finite(p.X, p.Y) {
			sum = sum.Add(p.X, p.Y)
			n++
		}
	}
	return plane.XY{X: sum.X / n, Y: sum.Y / n} // 0/0 is NaN
}

// Join returns heads that cover what either covers. Either may be nil.
func (h *Heads) Join(other *Heads) *Heads {
	switch {
	case h == nil:
		return other
	case other == nil:
		return h
	}
	return &Heads{paths: slices.Concat(h.paths, other.paths), all: h.all}
}

// At returns the places that cover the head at a time of the file, in pixels of the
// clip.
func (h *Heads) At(timeS float64) []Disc {
	if h == nil {
		return nil
	}
	var out []Disc
	for i := range h.paths {
		out = append(out, h.paths[i].at(timeS)...)
	}
	if len(out) == 0 {
		out = append(out, h.all)
	}
	return out
}

func (p *headPath) at(timeS float64) []Disc {
	if math.IsNaN(timeS) {
		return nil
	}
	var out []Disc
	// All known places close by in time.
	lo := sort.SearchFloat64s(p.timesS, timeS-headNearS)
	hi := sort.SearchFloat64s(p.timesS, timeS+headNearS)
	at := sort.SearchFloat64s(p.timesS, timeS-1e-6)
	before, after := -1, -1
	for i := min(at, len(p.discs)-1); i >= 0 && before < 0; i-- {
		if p.timesS[i] <= timeS+1e-6 && p.discs[i].RadiusPx > 0 {
			before = i
		}
	}
	for i := at; i < len(p.discs) && after < 0; i++ {
		if p.discs[i].RadiusPx > 0 {
			after = i
		}
	}
	exact := at < len(p.discs) && math.Abs(p.timesS[at]-timeS) <= 1e-6 && p.discs[at].RadiusPx > 0
	if exact || before >= 0 && after >= 0 && p.timesS[after]-p.timesS[before] <= headNearS {
		// The nearest two on each side are enough.
		for i := max(lo, at-2); i < min(hi, at+3); i++ {
			if p.discs[i].RadiusPx > 0 {
				out = append(out, p.discs[i])
			}
		}
		for _, i := range []int{before, after} {
			if i >= 0 && (i < max(lo, at-2) || i >= min(hi, at+3)) && math.Abs(p.timesS[i]-timeS) <= headNearS {
				out = append(out, p.discs[i])
			}
		}
		return out
	}
	// A gap: about the last place, the next one, and all between.
	grown := func(i int) Disc {
		d := p.discs[i]
		if math.Abs(p.timesS[i]-timeS) > headLostS {
			d.RadiusPx *= longLostHead
		} else {
			d.RadiusPx *= lostHead
		}
		return d
	}
	switch {
	case before >= 0 && after >= 0:
		a, b := grown(before), grown(after)
		const steps = 12
		for k := range steps + 1 {
			f := float64(k) / steps
			out = append(out, Disc{plane.XY{X: a.At.X + f*(b.At.X-a.At.X), Y: a.At.Y + f*(b.At.Y-a.At.Y)},
				a.RadiusPx + f*(b.RadiusPx-a.RadiusPx)})
		}
	case before >= 0:
		out = append(out, grown(before))
	case after >= 0:
		out = append(out, grown(after))
	}
	return out
}
