package figures

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/stats"
	"holdfast/screening"
)

// Seen is what the renderer says of the near side at a moment: its points in the picture, by name; Sign is +1 for an
// athlete who looks to the right, else -1, HeightPx how tall the athlete is.
type Seen struct {
	Points         map[string][2]float64
	Near           string
	Sign, HeightPx float64
}

// SeenAt returns what is seen at a moment.
func SeenAt(points map[string][2]float64, near string, sign, heightPx float64) Seen {
	return Seen{points, near, sign, heightPx}
}

func (s Seen) limb() *body.Limb {
	var l body.Limb
	for k := range body.NumLandmarks {
		l[k] = body.MissingPoint()
		if p, ok := s.Points[s.Near+"_"+strings.Replace(k.String(), "toe", "big_toe", 1)]; ok {
			l[k] = body.Point{X: p[0], Y: p[1]}
		}
	}
	return &l
}

func (s Seen) angle(a body.Angle) float64 {
	facing := body.FacingRight
	if s.Sign < 0 {
		facing = body.FacingLeft
	}
	return body.AnglesOf(s.limb(), facing)[a]
}

// armStepS is how closely the true arm is looked at for its range.
const armStepS = 0.02

// rangeIn returns the range of a true angle in a rep.
func rangeIn(r *kinematics.Rep, of body.Angle, at func(atS float64) Seen) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for s := r.StartS; s <= r.EndS; s += armStepS {
		v := at(s).angle(of)
		lo, hi = min(lo, v), max(hi, v)
	}
	return hi - lo
}

// AgainstPoints prints what is lost in movements, and what is measured of the arm, against the points of the renderer.
func AgainstPoints(w io.Writer, names []string, analyses map[string]*screening.Analysis,
	at func(string, float64) Seen) {
	losses(w, names, analyses, at)
	arms(w, names, analyses, at)
}

// Rises prints how long athletes took from the floor onto the feet and in how many steps, against what the renderer
// made of it: is has those of a clip's rep.
func Rises(w io.Writer, names []string, analyses map[string]*screening.Analysis,
	is func(string, int) (upS float64, steps int)) {
	fmt.Fprintln(w, "From the floor onto the feet, seconds, a rep each; in brackets the 95 % interval. "+
		"Until still has no truth. Steps: found/true.")
	t := Table(w)
	fmt.Fprintln(t, "clip\trep\ttrue\tfound\tuntil still\tholds\tsteps")
	for _, name := range names {
		a := analyses[name]
		if a == nil {
			continue
		}
		for i := range a.Reps {
			u := a.Reps[i].Rise
			if u == nil {
				continue
			}
			in, holds := u.ToFeetS.Interval95(), "no"
			upS, steps := is(name, i)
			if in[0] <= upS && upS <= in[1] {
				holds = "yes"
			}
			fmt.Fprintf(t, "%s\t%d\t%.2f\t%.2f (%.2f to %.2f)\t%.2f\t%s\t%s/%d\n", name, i+1, upS, u.ToFeetS.Value, in[0],
				in[1], u.StillS, holds, counted(u.Steps), steps)
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// counted writes how often something was.
func counted(n *int) string {
	if n == nil {
		return "unknown"
	}
	return strconv.Itoa(*n)
}

// Drops prints from how high athletes dropped and when they met the floor, against what the renderer made of it: is
// has the height of the box and the first contact of a clip's rep.
func Drops(w io.Writer, names []string, analyses map[string]*screening.Analysis,
	is func(string, int) (boxM, contactS float64)) {
	fmt.Fprintln(w, "Drops from a box; in brackets the 95 % interval. Until still has no truth. No step follows.")
	t := Table(w)
	fmt.Fprintln(t, "clip\ttrue height cm\tfound\tholds\tfirst contact, frames off\tuntil still, s\tsteps")
	for _, name := range names {
		a := analyses[name]
		if a == nil {
			continue
		}
		for i := range a.Reps {
			d := a.Reps[i].Drop
			if d == nil {
				continue
			}
			boxM, contactS := is(name, i)
			in, holds := d.HeightM.Interval95(), "no"
			if in[0] <= boxM && boxM <= in[1] {
				holds = "yes"
			}
			fmt.Fprintf(t, "%s\t%.1f\t%.1f (%.1f to %.1f)\t%s\t%+.1f\t%.2f\t%s\n", name, 100*boxM, 100*d.HeightM.Value,
				100*in[0], 100*in[1], holds, (d.ContactS-contactS)*a.Clip.FrameRateHz, d.StillS, counted(d.Steps))
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// OnFeet returns the clips in which the feet carry the body.
func OnFeet(names []string, analyses map[string]*screening.Analysis) []string {
	return slices.DeleteFunc(slices.Clone(names), func(name string) bool {
		return analyses[name] != nil && !analyses[name].OnItsFeet()
	})
}

// lossPair is two clips of which the losses are told.
type lossPair struct{ called, easy, hard string }

// lossPairs returns the slow and the fast clip of each movement, a swing beside slow hinges, and low and high boxes.
func lossPairs(names []string) (pairs []lossPair) {
	for _, easy := range names {
		if key, is := strings.CutSuffix(easy, "_slow"); is {
			pairs = append(pairs, lossPair{key, easy, key + "_fast"})
			if swing := key + "_swing"; slices.Contains(names, swing) {
				pairs = append(pairs, lossPair{swing, easy, swing})
			}
		} else if key, is := strings.CutSuffix(easy, "_low"); is {
			pairs = append(pairs, lossPair{key, easy, key + "_high"})
		}
	}
	return pairs
}

// losses prints what is lost from the slow to the fast clip of each movement, of the ranges of the joints that it
// compares, against the points of the renderer.
func losses(w io.Writer, names []string, analyses map[string]*screening.Analysis, at func(string, float64) Seen) {
	fmt.Fprintln(w, "Range of motion lost from slow to fast or from low to high, mean over the reps, degrees, "+
		"the truth as the picture shows it.")
	t := Table(w)
	fmt.Fprintln(t, "movement\tjoint\ttrue\tfound\terror\t95 % interval\tverdict")
	for _, pair := range lossPairs(names) {
		easy, hard := analyses[pair.easy], analyses[pair.hard]
		if easy == nil || hard == nil {
			continue
		}
		c, err := screening.Compare([]*screening.Analysis{easy, hard}, screening.CompareOptions{})
		if err != nil {
			continue
		}
		for _, j := range c.Joints {
			mean := func(name string) (sum float64) {
				for i := range analyses[name].Reps {
					sum += rangeIn(&analyses[name].Reps[i], j.Angle(), func(atS float64) Seen { return at(name, atS) })
				}
				return sum / float64(len(analyses[name].Reps))
			}
			lost, found := mean(pair.easy)-mean(pair.hard), &c.Pairs[0].Joints[j]
			fmt.Fprintf(t, "%s\t%s\t%.1f\t%.1f\t%+.1f\t%.1f to %.1f\t%s\n", pair.called, j, lost, found.LostDeg,
				found.LostDeg-lost, found.Interval95Deg[0], found.Interval95Deg[1], found.Verdict)
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// arms prints what is measured of the arm in the clips of which that is done, against the points of the renderer.
func arms(w io.Writer, names []string, analyses map[string]*screening.Analysis, at func(string, float64) Seen) {
	fmt.Fprintln(w, "Arms: range and angle at the turn, degrees, and how far forward of the middle of the foot a "+
		"point is there, per cent\nof the body's height: found minus true, a rep each, and how many 95 % intervals of the "+
		"ranges and places hold the truth.")
	t := Table(w)
	fmt.Fprintln(t, "clip\tmeasure\ttrue\tfound minus true\tholds")
	for _, name := range names {
		a := analyses[name]
		if a == nil || len(a.Reps) == 0 || a.Series.AnglesDeg[body.ShoulderFlexion] == nil {
			continue
		}
		row := func(what string, of func(r *kinematics.Rep) (found, true float64, in [2]float64)) {
			var errs []string
			mean, holds, n := 0.0, 0, 0
			for i := range a.Reps {
				found, is, in := of(&a.Reps[i])
				errs, mean, n = append(errs, fmt.Sprintf("%+.1f", found-is)), mean+is, n+1
				if in[0] <= is && is <= in[1] {
					holds++
				}
			}
			fmt.Fprintf(t, "%s\t%s\t%.1f\t%s\t%d of %d\n", name, what, mean/float64(n), strings.Join(errs, " "), holds, n)
		}
		for _, of := range []body.Angle{body.ShoulderFlexion, body.ElbowFlexion} {
			row(of.String()+", range", func(r *kinematics.Rep) (float64, float64, [2]float64) {
				return r.Angles[of].ROMDeg, rangeIn(r, of, func(atS float64) Seen { return at(name, atS) }),
					r.Angles[of].ROMInterval95Deg
			})
			row(of.String()+", at the turn", func(r *kinematics.Rep) (float64, float64, [2]float64) {
				m := &r.Angles[of]
				sd := math.Hypot(m.SDDeg, body.ArmErrors[of].ClipDeg)
				in := stats.Estimate{Value: m.AtBottomDeg, SD: sd}.Interval95()
				return m.AtBottomDeg, at(name, r.BottomS).angle(of), in
			})
		}
		for _, k := range []body.Landmark{body.Hip, body.Shoulder, body.Wrist} {
			if a.Reps[0].Stack == nil { // it hangs
				break
			}
			row(k.String()+" over foot", func(r *kinematics.Rep) (float64, float64, [2]float64) {
				seen, e := at(name, r.BottomS), r.Stack.Of(k).ForwardPct
				l := seen.limb()
				px := l[k].X - (l[body.Heel].X+l[body.Toe].X)/2
				return e.Value, 100 * seen.Sign * px / seen.HeightPx, e.Interval95()
			})
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}
