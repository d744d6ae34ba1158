package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/screening"
	"holdfast/scripts/internal/render"
	"holdfast/scripts/internal/render/motion"
	"holdfast/vision/media"
)

const (
	athletesFile = "scripts/athletes.txt"
	// bootstraps and bootstrapSeed are those of the interval of a coverage.
	bootstraps, bootstrapSeed = 2000, 1
)

// invented is one invented athlete: the slow clip and the fast one.
type invented struct {
	name     string
	truths   [2]*truth
	analyses [2]*screening.Analysis // nil: could not be measured, and why
	refused  [2]error
	apart    error // why the two could not be compared
}

var bothTempos = [2]motion.Kind{motion.Slow, motion.Fast}

// measureAthletes measures the program on a folder of invented athletes' clips and prints
// how far it is off and how often its intervals hold the truth. What the network sees is kept
// in the folder: a second run needs none.
func measureAthletes(ctx context.Context, w io.Writer, folder, network string, keep bool) error {
	paths, err := filepath.Glob(filepath.Join(folder, "athlete_*_slow.mp4"))
	if err != nil || len(paths) == 0 {
		return fmt.Errorf("there are no invented athletes in %s: %w", folder, errors.Join(err, os.ErrNotExist))
	}
	var athletes []*invented
	for _, path := range paths {
		a := &invented{name: strings.TrimSuffix(filepath.Base(path), "_slow.mp4")}
		for k, kind := range bothTempos {
			if err := a.see(ctx, folder, network, k, fmt.Sprintf("%s_%s", a.name, kind)); err != nil {
				return err
			}
		}
		athletes = append(athletes, a)
	}
	var table bytes.Buffer
	out := io.MultiWriter(w, &table)
	if err := printAthletes(out, athletes); err != nil {
		return err
	}
	if !keep {
		return nil
	}
	part := athletesFile + ".part"
	if err := os.WriteFile(part, table.Bytes(), 0o644); err != nil {
		return fmt.Errorf("keeping the figures: %w", err)
	}
	return os.Rename(part, athletesFile)
}

// see measures one clip of an athlete.
func (a *invented) see(ctx context.Context, folder, network string, k int, name string) error {
	var err error
	if a.truths[k], err = readTruth(filepath.Join(folder, name+".json")); err != nil {
		return err
	}
	clip, err := media.Open(ctx, filepath.Join(folder, name+".mp4"))
	if err != nil {
		return err
	}
	track, err := keptTrack(ctx, clip, folder, network, name)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err == nil {
		a.analyses[k], err = screening.Measure(clip, track, screening.Options{Athlete: "invented",
			HeightCm: 100 * a.truths[k].HeightM})
	}
	a.refused[k] = err
	return nil
}

// reading is one number that was found, the truth of it, and the interval that came with it.
type reading struct {
	athlete      int
	found, truly float64
	interval     [2]float64
	usual        float64 // the truth of what the athlete usually does
	heelUp       bool
}

func (r *reading) known() bool { return !math.IsNaN(r.found) }

func (r *reading) err() float64 { return r.found - r.truly }

func (r *reading) half() float64 { return (r.interval[1] - r.interval[0]) / 2 }

func (r *reading) holds(truly float64) bool {
	return r.interval[0] <= truly && truly <= r.interval[1]
}

// readings are those of one kind.
type readings []reading

// known returns those that are known.
func (rs readings) known() readings {
	return slices.DeleteFunc(slices.Clone(rs), func(r reading) bool { return !r.known() })
}

func (rs readings) each(of func(*reading) float64) []float64 {
	out := make([]float64, len(rs))
	for i := range rs {
		out[i] = of(&rs[i])
	}
	return out
}

func (rs readings) rms() float64 { return rms(rs.each((*reading).err)) }

func (rs readings) bias() float64 { return stat.Mean(rs.each((*reading).err), nil) }

func (rs readings) percentile95() float64 {
	if len(rs) == 0 {
		return math.NaN()
	}
	return quantileOf(rs.each(func(r *reading) float64 { return math.Abs(r.err()) }), 0.95)
}

func (rs readings) medianHalf() float64 { return signal.Median(rs.each((*reading).half)) }

// coverage prints how many intervals hold the truth, and the 95 % interval of that part by
// a bootstrap over athletes, whose readings go together (Efron & Tibshirani 1993, 13.3,
// from memory).
func (rs readings) coverage(holds func(*reading) bool) string {
	if len(rs) == 0 {
		return "-"
	}
	held, all := map[int]float64{}, map[int]float64{}
	var athletes []int
	var sum float64
	for i := range rs {
		a := rs[i].athlete
		if all[a] == 0 {
			athletes = append(athletes, a)
		}
		all[a]++
		if holds(&rs[i]) {
			held[a]++
			sum++
		}
	}
	rng := rand.New(rand.NewPCG(bootstrapSeed, bootstrapSeed))
	parts := make([]float64, bootstraps)
	for b := range parts {
		var in, n float64
		for range athletes {
			a := athletes[rng.IntN(len(athletes))]
			in, n = in+held[a], n+all[a]
		}
		parts[b] = in / n
	}
	return fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*sum/float64(len(rs)), 100*quantileOf(parts, 0.025),
		100*quantileOf(parts, 0.975))
}

func heldTruth(r *reading) bool { return r.holds(r.truly) }
func heldUsual(r *reading) bool { return r.holds(r.usual) }

// part prints how many of some are.
func part(n, of int) string { return fmt.Sprintf("%d of %d", n, of) }

func printAthletes(w io.Writer, athletes []*invented) error {
	var first *screening.Analysis
	for _, a := range athletes {
		for _, of := range a.analyses {
			first = cmp.Or(first, of)
		}
	}
	if first == nil {
		return errors.New("none of the clips could be measured")
	}
	fmt.Fprintf(w, "Accuracy of %s on invented athletes, %s: a slow clip and a fast one each, three reps a clip.\n"+
		"Network %s, calibration %d. Degrees against the known truth.\n\n",
		screening.Program, setOf(athletes), first.Model.Name, first.Model.Calibration.Version)
	printAthleteAngles(w, athletes)
	printAthleteRanges(w, athletes)
	lost := athleteLosses(athletes)
	printAthleteLosses(w, lost)
	printAthleteHeels(w, athletes)
	printEachAthlete(w, athletes, lost)
	return nil
}

// setOf names the set that the athletes are of.
func setOf(athletes []*invented) string {
	for _, set := range []string{"calibrate", "check"} {
		seeds, err := render.Seeds(set)
		if err == nil && slices.ContainsFunc(seeds, func(s uint64) bool { return s == athletes[0].truths[0].Seed }) {
			return fmt.Sprintf("%d of the %d of the set %q", len(athletes), len(seeds), set)
		}
	}
	return fmt.Sprintf("%d of no known set", len(athletes))
}

func printAthleteAngles(w io.Writer, athletes []*invented) {
	fmt.Fprintln(w, "Angles over the reps (standing left out and taken off): mean absolute error of a clip.")
	t := newTable(w)
	fmt.Fprintln(t, "joint\tclips\tmean\t90th percentile\tworst")
	for _, joint := range perJoint {
		var errs []float64
		for _, a := range athletes {
			for k, of := range a.analyses {
				if of == nil {
					continue
				}
				tr := a.truths[k]
				if e, _ := angleError(&of.Series, &of.Series.AnglesDeg, tr, joint.angle,
					tr.usualStanding(joint.angle)); !math.IsNaN(e) {
					errs = append(errs, e)
				}
			}
		}
		fmt.Fprintf(t, "%s\t%s\t%.1f\t%.1f\t%.1f\n", joint.name, part(len(errs), 2*len(athletes)), stat.Mean(errs, nil),
			quantileOf(errs, 0.9), slices.Max(errs))
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// ranges returns the range of motion of every true rep.
func (a *invented) ranges(number, k int, joint, angle string) (out readings) {
	tr := a.truths[k]
	found := make([]int, len(tr.Reps))
	if a.analyses[k] != nil {
		found = matched(a.analyses[k], tr)
	}
	for i, j := range found {
		r := reading{athlete: number, found: math.NaN(), truly: tr.wholeROM(i, angle), heelUp: tr.heelUp(i)}
		if a.analyses[k] != nil && j >= 0 {
			m := measureOf(&a.analyses[k].Reps[j].Angles, joint)
			r.found, r.interval = m.ROMDeg, m.ROMInterval95Deg
		}
		out = append(out, r)
	}
	return out
}

func printAthleteRanges(w io.Writer, athletes []*invented) {
	fmt.Fprintln(w, "Range of motion of each rep: error, and the 95 % interval; in brackets what the coverage may be, "+
		"by a bootstrap over athletes.")
	t := newTable(w)
	fmt.Fprintln(t, "joint\tclips\tknown\tbias\trms\t95th percentile\thalf of the interval\tit holds the truth")
	for _, joint := range perJoint {
		for k, kind := range bothTempos {
			var all readings
			for n, a := range athletes {
				all = append(all, a.ranges(n, k, joint.name, joint.angle)...)
			}
			is := all.known()
			fmt.Fprintf(t, "%s\t%s\t%s\t%+.1f\t%.1f\t%.1f\t%.1f\t%s\n", joint.name, kind, part(len(is), len(all)), is.bias(),
				is.rms(), is.percentile95(), is.medianHalf(), is.coverage(heldTruth))
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// athleteLoss is what one athlete lost: a reading a joint.
type athleteLoss struct {
	body.ByJoint[reading]
	verdicts body.ByJoint[string]
}

// athleteLosses compares the two clips of every athlete with the first reps of each, one, two and so on.
func athleteLosses(athletes []*invented) [][]athleteLoss {
	most := 0
	for _, a := range athletes {
		most = max(most, len(a.truths[0].Reps))
	}
	out := make([][]athleteLoss, most)
	for reps := range most {
		for n, a := range athletes {
			var l athleteLoss
			for j := range perJoint {
				l.ByJoint[j] = reading{athlete: n, found: math.NaN()}
			}
			if a.analyses[0] != nil && a.analyses[1] != nil {
				a.lose(&l, reps+1)
			}
			out[reps] = append(out[reps], l)
		}
	}
	return out
}

// lose compares the first reps of the athlete's clips.
func (a *invented) lose(l *athleteLoss, reps int) {
	var some []*screening.Analysis
	var trueROM [2]body.ByJoint[float64]
	for k, of := range a.analyses {
		tr, cut := a.truths[k], *of
		cut.Reps = nil
		for i, j := range matched(of, tr)[:reps] {
			if j < 0 {
				return
			}
			cut.Reps = append(cut.Reps, of.Reps[j])
			for joint, p := range perJoint {
				trueROM[k][joint] += tr.wholeROM(i, p.angle) / float64(reps)
			}
		}
		some = append(some, &cut)
	}
	c, err := screening.Compare(some, screening.CompareOptions{})
	if err != nil {
		a.apart = err
		return
	}
	p := &c.Pairs[0]
	for joint, in := range perJoint {
		j, r := &p.Joints[joint], &l.ByJoint[joint]
		r.found, r.interval, r.truly = j.LostDeg, j.Interval95Deg, trueROM[0][joint]-trueROM[1][joint]
		r.usual = a.truths[0].UsualROM[in.angle] - a.truths[1].UsualROM[in.angle]
		l.verdicts[joint] = string(j.Verdict)
	}
}

func printAthleteLosses(w io.Writer, lost [][]athleteLoss) {
	fmt.Fprintln(w, "What is lost from slow to fast, by the reps of each clip that are used. Error: against the true "+
		"loss in these reps. The interval is one of\n"+
		"what the athlete usually loses, so that it has the spread of the athlete's own reps in it as well: it is held "+
		"against the mean of many more\n"+
		"reps of the same movement, and against these reps.")
	t := newTable(w)
	fmt.Fprintln(t, "joint\treps\tknown\tbias\trms\t95th percentile\thalf of the interval\tit holds the usual loss\t"+
		"the loss in these reps\tclear verdicts")
	for joint, p := range perJoint {
		for reps := len(lost); reps > 0; reps-- {
			var all readings
			clear := 0
			for _, l := range lost[reps-1] {
				all = append(all, l.ByJoint[joint])
				if v := l.verdicts[joint]; v != "" && v != "unclear" {
					clear++
				}
			}
			is := all.known()
			fmt.Fprintf(t, "%s\t%d\t%s\t%+.1f\t%.1f\t%.1f\t%.1f\t%s\t%s\t%d\n", p.name, reps, part(len(is), len(all)), is.bias(),
				is.rms(), is.percentile95(), is.medianHalf(), is.coverage(heldUsual), is.coverage(heldTruth), clear)
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

func printAthleteHeels(w io.Writer, athletes []*invented) {
	fmt.Fprintln(w, "Heel rise, the largest of a rep, cm.")
	t := newTable(w)
	fmt.Fprintln(t, "reps\tknown\tbias\trms\t95th percentile\thalf of the interval\tit holds the truth")
	for _, up := range []bool{false, true} {
		var all readings
		for n, a := range athletes {
			for k, of := range a.analyses {
				tr := a.truths[k]
				if of == nil {
					continue
				}
				for i, j := range matched(of, tr) {
					if tr.heelUp(i) != up {
						continue
					}
					r := reading{athlete: n, found: math.NaN(), truly: 100 * tr.Reps[i].Peaks["heel_rise_m"].Peak}
					if j >= 0 && of.Reps[j].Foot != nil {
						rise := of.Reps[j].Foot.Heel.MaxCm
						r.found, r.interval = rise.Value, rise.Interval95()
					}
					all = append(all, r)
				}
			}
		}
		is := all.known()
		fmt.Fprintf(t, "%s\t%s\t%+.1f\t%.1f\t%.1f\t%.1f\t%s\n", map[bool]string{false: "heel down", true: "heel up"}[up],
			part(len(is), len(all)), is.bias(), is.rms(), is.percentile95(), is.medianHalf(), is.coverage(heldTruth))
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

func printEachAthlete(w io.Writer, athletes []*invented, lost [][]athleteLoss) {
	fmt.Fprintln(w, "Each athlete. Foot: from heel to toe in the picture. Heel: how far the foot turns up in the fast "+
		"reps. Loss: its error with all reps and half of\n"+
		"its interval; in brackets: the interval misses the loss in these reps.")
	t := newTable(w)
	fmt.Fprintln(t, "athlete\tframes/s\tyaw\tfoot px\theel\tankle\tknee\thip\tnot measured")
	for n, a := range athletes {
		slow, fast := a.truths[0], a.truths[1]
		row := []string{strings.TrimPrefix(a.name, "athlete_"), fmt.Sprint(slow.RateHz),
			fmt.Sprintf("%+.0f", slow.Camera.YawDeg),
			fmt.Sprintf("%.0f", slow.footPx()), fmt.Sprintf("%.0f", fast.mostPitchDeg())}
		for joint := range perJoint {
			r := &lost[len(lost)-1][n].ByJoint[joint]
			s := fmt.Sprintf("%+.1f ±%.1f", r.err(), r.half())
			switch {
			case !r.known():
				s = "-"
			case !r.holds(r.truly):
				s = "(" + s + ")"
			}
			row = append(row, s)
		}
		why := ""
		for k, of := range a.analyses {
			switch {
			case of == nil:
				why += fmt.Sprintf("%s: %v ", bothTempos[k], a.refused[k])
			case slices.Contains(matched(of, a.truths[k]), -1):
				why += fmt.Sprintf("%s: a rep not found, but %d of %s ", bothTempos[k], len(of.Reps), of.Movement.Key)
			}
		}
		if a.apart != nil {
			why += a.apart.Error()
		}
		fmt.Fprintln(t, strings.Join(append(row, strings.TrimSpace(why)), "\t"))
	}
	_ = t.Flush()
}

// usualStanding returns an angle of standing: the median, because a body that stands sways.
func (t *truth) usualStanding(angle string) float64 {
	var at []float64
	for i := range t.Frames {
		if f := &t.Frames[i]; f.Phase == "stand" {
			at = append(at, f.Angles[angle])
		}
	}
	return signal.Median(at)
}

// wholeROM returns the range of motion of a squat, from the lowest value, standing counted in,
// to the highest.
func (t *truth) wholeROM(rep int, angle string) float64 {
	r := &t.Reps[rep]
	lowest := t.usualStanding(angle)
	for i := range t.Frames {
		if f := &t.Frames[i]; r.Start <= f.TimeS && f.TimeS <= r.End {
			lowest = min(lowest, f.Angles[angle])
		}
	}
	return r.Peaks[angle].Peak - lowest
}

// heelUp says whether the heel comes up in a rep.
func (t *truth) heelUp(rep int) bool { return t.Reps[rep].Peaks["heel_rise_m"].Peak > heelUpM }

// footPx is the length of the near foot in the first picture.
func (t *truth) footPx() float64 {
	p := t.Frames[0].Points
	heel, toe := p[t.Near+"_heel"], p[t.Near+"_big_toe"]
	return math.Hypot(toe[0]-heel[0], toe[1]-heel[1])
}

func (t *truth) mostPitchDeg() float64 {
	var most float64
	for i := range t.Frames {
		most = max(most, t.Frames[i].Angles["foot_pitch"])
	}
	return most
}
