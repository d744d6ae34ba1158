// Command accuracy measures Holdfast against the rendered clips, whose true
// angles and times are known, and prints the errors.
package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"holdfast/screening"
)

const (
	clipFolder = "testdata/clips"
	lastFile   = "scripts/accuracy.txt"
)

// triples are the clips that are compared with each other.
var triples = [][]string{
	{"slow", "fast", "jump"},
	{"slow_30", "fast_30", "jump_30"},
	{"slow", "fast_vfr", "jump_vfr"},
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "accuracy:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, names []string) error {
	all := len(names) == 0
	if all {
		paths, err := filepath.Glob(filepath.Join(clipFolder, "*.mp4"))
		if err != nil || len(paths) == 0 {
			return fmt.Errorf("there are no clips in %s: %w", clipFolder, errors.Join(err, os.ErrNotExist))
		}
		for _, p := range paths {
			names = append(names, strings.TrimSuffix(filepath.Base(p), ".mp4"))
		}
	}
	var table bytes.Buffer
	out := io.MultiWriter(os.Stdout, &table)
	fmt.Fprintf(out, "Accuracy of %s on the rendered clips, degrees and frames against the known truth.\n\n", screening.Program)

	analyses := map[string]*screening.Analysis{}
	truths := map[string]*truth{}
	for _, name := range names {
		path := filepath.Join(clipFolder, name+".mp4")
		t, err := readTruth(strings.TrimSuffix(path, ".mp4") + ".json")
		if err != nil {
			return err
		}
		fmt.Fprintf(os.Stderr, "accuracy: analysing %s\n", path)
		a, _, err := screening.Analyze(ctx, path, screening.Options{Athlete: "rendered"})
		if err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			fmt.Fprintf(out, "%s: FAILED: %v\n", name, err)
			continue
		}
		analyses[name], truths[name] = a, t
	}
	printReps(out, names, analyses, truths)
	printAngles(out, names, analyses, truths)
	if err := printLosses(out, analyses, truths); err != nil {
		return err
	}
	if !all {
		return nil
	}
	// The figures of the last full run are kept in the repository.
	part := lastFile + ".part"
	if err := os.WriteFile(part, table.Bytes(), 0o644); err != nil {
		return fmt.Errorf("keeping the figures: %w", err)
	}
	return os.Rename(part, lastFile)
}

func newTable(w io.Writer) *tabwriter.Writer { return tabwriter.NewWriter(w, 0, 0, 3, ' ', 0) }

// matched pairs each true rep with the found one whose bottom is nearest, at
// most half a second away; -1 where there is none.
func matched(a *screening.Analysis, t *truth) []int {
	found := make([]int, len(t.Reps))
	for i := range found {
		from, to := t.plateau(i)
		best := 0.5
		found[i] = -1
		for j := range a.Reps {
			if d := math.Abs(outside(float64(a.Reps[j].BottomS), from, to)); d < best {
				found[i], best = j, d
			}
		}
	}
	return found
}

// outside returns how far a value lies outside an interval, signed.
func outside(v, from, to float64) float64 {
	switch {
	case v < from:
		return v - from
	case v > to:
		return v - to
	}
	return v - v // 0, or NaN
}

// decimal prints a number with one decimal and no negative zero.
func decimal(v float64) string { return fmt.Sprintf("%.1f", math.Round(v*10)/10+0) }

func printReps(w io.Writer, names []string, analyses map[string]*screening.Analysis, truths map[string]*truth) {
	fmt.Fprintln(w, "Reps and times. Bottom: frames outside the held bottom (0 is right), and frames from its first instant, a rep each.")
	t := newTable(w)
	fmt.Fprintln(t, "clip\tframes/s\treps found\ttrue\ttempos\tbottom outside\tbottom from start\tlanding bottom")
	for _, name := range names {
		a, tr := analyses[name], truths[name]
		if a == nil {
			continue
		}
		var tempos, out, start, landing []string
		for _, r := range a.Reps {
			tempos = append(tempos, r.Tempo)
		}
		rate := float64(a.Clip.FrameRateHz)
		for i, j := range matched(a, tr) {
			if j < 0 {
				out, start = append(out, "none"), append(start, "none")
				continue
			}
			from, to := tr.plateau(i)
			b := float64(a.Reps[j].BottomS)
			out = append(out, decimal(rate*outside(b, from, to)))
			start = append(start, decimal(rate*(b-from)))
			if tr.Reps[i].Bottom == nil {
				landing = append(landing, decimal(rate*(float64(a.Reps[j].LandingBottomS)-tr.Reps[i].LandBottom+tr.originS())))
			}
		}
		slices.Sort(tempos)
		verdict := strings.Join(slices.Compact(tempos), ",")
		if verdict != tempoOf(name) {
			verdict += " (WRONG)"
		}
		fmt.Fprintf(t, "%s\t%.1f\t%d\t%d\t%s\t%s\t%s\t%s\n", name, rate, len(a.Reps), len(tr.Reps), verdict,
			strings.Join(out, " "), strings.Join(start, " "), strings.Join(landing, " "))
	}
	_ = t.Flush() // a table for reading
	fmt.Fprintln(w)
}

func printAngles(w io.Writer, names []string, analyses map[string]*screening.Analysis, truths map[string]*truth) {
	fmt.Fprintln(w, `Angles over the reps (flight and standing left out), and range of motion (ROM) of each rep.
Error: mean absolute error after the athlete's own standing is taken off; raw: of the network's points as they are.
ROM error: found minus true, a rep each.`)
	t := newTable(w)
	fmt.Fprintln(t, "clip\tjoint\terror\traw\tmissing\ttrue ROM\tROM error\tSD of a reading")
	for _, name := range names {
		a, tr := analyses[name], truths[name]
		if a == nil {
			continue
		}
		for _, joint := range joints {
			stand := tr.standing(joint.angle)
			fixed, missing := angleError(&a.Series, &a.Series.AnglesDeg, tr, joint.angle, stand)
			raw, _ := angleError(&a.Series, &a.Series.RawAnglesDeg, tr, joint.angle, 0)
			var errs []string
			var trueROM, sd float64
			for i, j := range matched(a, tr) {
				trueROM += tr.rom(i, joint.angle) / float64(len(tr.Reps))
				if j < 0 {
					errs = append(errs, "none")
					continue
				}
				m := measureOf(&a.Reps[j].Joints, joint.name)
				errs = append(errs, fmt.Sprintf("%+.1f", math.Round(10*(float64(m.ROMDeg)-tr.rom(i, joint.angle)))/10+0))
				sd = math.Max(sd, float64(m.SDDeg))
			}
			fmt.Fprintf(t, "%s\t%s\t%.1f\t%.1f\t%d\t%.1f\t%s\t%.1f\n", name, joint.name, fixed, raw, missing, trueROM, strings.Join(errs, " "), sd)
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// angleError returns the mean absolute difference between a measured angle and the
// true one less an offset, and the number of frames without a measured angle.
func angleError(s *screening.Series, angles *screening.AngleSeries, t *truth, angle string, offset float64) (meanDeg float64, missing int) {
	values := seriesOf(angles, angle)
	var sum float64
	n := 0
	for i := range t.Frames {
		f := &t.Frames[i]
		if f.Phase == "stand" || f.Phase == "flight" {
			continue
		}
		v := at(s.TimeS, values, f.shownS()-t.originS())
		if math.IsNaN(v) {
			missing++
			continue
		}
		sum += math.Abs(v - (f.Angles[angle] - offset))
		n++
	}
	return sum / float64(n), missing
}

// at interpolates a series linearly; NaN outside it.
func at(times, values []screening.Number, timeS float64) float64 {
	const slackS = 1e-3
	i, exact := slices.BinarySearch(times, screening.Number(timeS))
	switch {
	case exact:
		return float64(values[i])
	case i == 0 && len(values) > 0 && float64(times[0])-timeS < slackS:
		return float64(values[0])
	case i == len(times) && i > 0 && timeS-float64(times[i-1]) < slackS:
		return float64(values[i-1])
	case i == 0 || i == len(times):
		return math.NaN()
	}
	part := (timeS - float64(times[i-1])) / float64(times[i]-times[i-1])
	return float64(values[i-1]) + part*float64(values[i]-values[i-1])
}

func printLosses(w io.Writer, analyses map[string]*screening.Analysis, truths map[string]*truth) error {
	fmt.Fprintln(w, "What is lost between two tempos, mean over the reps, and the error of that: the number the coach acts on.")
	t := newTable(w)
	fmt.Fprintln(t, "baseline\tchallenge\tjoint\ttrue\tfound\terror\t95 % interval\tverdict")
	for _, names := range triples {
		var some []*screening.Analysis
		for _, n := range names {
			if analyses[n] != nil {
				some = append(some, analyses[n])
			}
		}
		if len(some) < 2 {
			continue
		}
		c, err := screening.Compare(some, screening.CompareOptions{})
		if err != nil {
			fmt.Fprintf(w, "%s: FAILED: %v\n", strings.Join(names, ", "), err)
			continue
		}
		for _, p := range c.Pairs {
			base, challenge := clipOf(c, p.BaselineClip), clipOf(c, p.ChallengeClip)
			for _, joint := range joints {
				lost := truths[base].meanROM(joint.angle) - truths[challenge].meanROM(joint.angle)
				ch := changeOf(&p.Joints, joint.name)
				fmt.Fprintf(t, "%s\t%s\t%s\t%.1f\t%.1f\t%+.1f\t%.1f to %.1f\t%s\n", base, challenge, joint.name,
					lost, float64(ch.LostDeg), float64(ch.LostDeg)-lost, float64(ch.Interval95Deg[0]), float64(ch.Interval95Deg[1]), ch.Verdict)
			}
		}
	}
	return t.Flush()
}

func clipOf(c *screening.Comparison, i int) string {
	return strings.TrimSuffix(c.Clips[i].Name, ".mp4")
}
