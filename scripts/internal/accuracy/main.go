// Command accuracy measures Holdfast against the rendered clips, whose true
// angles and times are known, and prints the errors.
package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/scripts/internal/accuracy/byhand"
	"holdfast/scripts/internal/accuracy/figures"
	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

const (
	clipFolder  = "testdata/clips"
	trackFolder = "testdata/tracks"
	lastFile    = "scripts/accuracy.txt"
)

// triples are the clips that are compared with each other.
var triples = [][]string{
	{"slow", "fast", "jump"},
	{"slow_30", "fast_30", "jump_30"},
	{"slow", "fast_vfr", "jump_vfr"},
	{"left_slow", "left_fast", "left_jump"},
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	model := flag.String("model", vision.DefaultModel, "network to measure; another than the default writes no file")
	tracks := flag.String("tracks", "",
		"folder of stored tracks, NAME.track.json.gz, to use instead of running the network; no file is written")
	clips := flag.String("clips", clipFolder,
		"folder of clips with their truth; another than the project's writes no file")
	measure := flag.Bool("calibrate", false,
		"with -athletes: measure what the network's points do instead, beside what its calibration says")
	write := flag.Bool("write", false, "with -calibrate: keep what is measured as the network's calibration in models")
	shoes := flag.Bool("shoe", false, "measure the network that finds shoes instead")
	pitch := flag.Bool("pitch", false,
		"measure the pitch of the near foot by the shoe's own picture instead, in the clips of -tracks")
	others := flag.String("real", "", "folder of other real clips, NAME.mp4, with marks.txt; no file is written")
	athletes := flag.String("athletes", "",
		"measure the clips of invented athletes in this folder instead, and keep their tracks there")
	every := flag.String("every", "",
		"with -tracks: folder of tracks in which every frame was looked at, to compare with")
	keep := flag.Bool("keep", false, "with -athletes: write "+athletesFile)
	flag.Parse()
	if *measure {
		exitOn(calibrate(ctx, os.Stdout, *athletes, *model, *write))
		return
	}
	if *athletes != "" {
		exitOn(measureAthletes(ctx, os.Stdout, *athletes, *model, *keep))
		return
	}
	names, err := clipNames(flag.Args(), *clips)
	if err == nil && *pitch {
		err = measurePitch(ctx, os.Stdout, names, *clips, cmp.Or(*tracks, trackFolder))
	} else if err == nil && *shoes {
		err = measureShoes(ctx, os.Stdout, names, *clips)
	} else if err == nil {
		err = run(ctx, names, sources{*clips, *tracks, *every, *others}, *model, flag.NArg() == 0)
	}
	exitOn(err)
}

func exitOn(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "accuracy:", err)
		os.Exit(1)
	}
}

// clipNames returns the clips that were asked for; none: all of the folder.
func clipNames(names []string, folder string) ([]string, error) {
	if len(names) > 0 {
		return names, nil
	}
	paths, err := filepath.Glob(filepath.Join(folder, "*.mp4"))
	if err != nil || len(paths) == 0 {
		return nil, fmt.Errorf("there are no clips in %s: %w", folder, errors.Join(err, os.ErrNotExist))
	}
	for _, p := range paths {
		names = append(names, strings.TrimSuffix(filepath.Base(p), ".mp4"))
	}
	return names, nil
}

// sources are the folders that are measured: clips, their stored tracks, those in which every frame was looked at, and
// other real clips; empty: none.
type sources struct{ clips, tracks, every, others string }

// run measures the program on clips; all says that none was left out.
func run(ctx context.Context, names []string, from sources, model string, all bool) error {
	folder, tracks, others := from.clips, from.tracks, from.others
	all = all && others == "" && model == vision.DefaultModel && tracks == "" && folder == clipFolder
	both := tracks == "" || from.every != ""
	var table bytes.Buffer
	out := io.MultiWriter(os.Stdout, &table)
	fmt.Fprintf(out, "Accuracy of %s on the rendered clips, degrees and frames against the known truth.\n\n",
		screening.Program)

	// The same points smoothed in two ways: one body fitted to the clip, as the
	// program does, and every point filtered by itself, for comparison.
	analyses, filtered := map[string]*screening.Analysis{}, map[string]*screening.Analysis{}
	truths := map[string]*truth{}
	every, looked := map[string]*screening.Analysis{}, map[string]int{}
	for _, name := range names {
		path := filepath.Join(folder, name+".mp4")
		t, err := readTruth(strings.TrimSuffix(path, ".mp4") + ".json")
		if err != nil {
			return err
		}
		clip, err := media.Open(ctx, path)
		if err != nil {
			return err
		}
		opt := screening.Options{Athlete: "rendered", Model: model, HeightCm: 100 * t.HeightM}
		a, track, err := analysis(ctx, clip, tracks, opt)
		if err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			fmt.Fprintf(out, "%s: FAILED: %v\n", name, err)
			continue
		}
		analyses[name], truths[name], looked[name] = a, t, figures.Looks(track)
		if both {
			opt.EveryFrame = true
			if every[name], _, err = analysis(ctx, clip, from.every, opt); err != nil {
				return err
			}
		}
		opt.Smoother = body.SmootherFilter
		if filtered[name], err = screening.Measure(clip, track, opt); err != nil {
			return err
		}
	}
	printReps(out, names, analyses, truths)
	printAngles(out, names, analyses, filtered, truths)
	if err := printLosses(out, analyses, filtered, truths); err != nil {
		return err
	}
	printCoverage(out, names, analyses, filtered, truths)
	printBody(out, names, analyses, truths)
	if err := errors.Join(printMovements(ctx, out, analyses), printFronts(ctx, out)); err != nil {
		return err
	}
	if both {
		figures.Pace(out, names, looked, analyses, every)
	}
	var measured []*screening.Analysis
	for _, name := range names {
		if a := analyses[name]; a != nil {
			measured = append(measured, a)
		}
	}
	figures.Known(out, "the rendered clips", measured)
	if err := byhand.Print(ctx, out, others, model); err != nil {
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

// analysis measures a clip, from the stored track where there is a folder of them.
func analysis(ctx context.Context, clip *media.Clip, tracks string,
	opt screening.Options) (*screening.Analysis, *pose.Track, error) {
	if tracks == "" {
		fmt.Fprintf(os.Stderr, "accuracy: analysing %s\n", clip.Path)
		return screening.Analyze(ctx, clip.Path, opt)
	}
	track, err := readTrack(tracks, strings.TrimSuffix(filepath.Base(clip.Path), ".mp4"))
	if err != nil {
		return nil, nil, err
	}
	a, err := screening.Measure(clip, track, opt)
	return a, track, err
}

// readTrack reads the stored track of a clip from a folder of them.
func readTrack(folder, name string) (*pose.Track, error) {
	path := filepath.Join(folder, name+".track.json.gz")
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("reading a stored track: %w", err)
	}
	defer f.Close()
	track, err := pose.ReadTrack(f)
	if err != nil {
		return nil, fmt.Errorf("reading the track in %s: %w", path, err)
	}
	return track, nil
}

// What package figures has.
var (
	newTable, atTime, tempoOf = figures.Table, figures.At, figures.TempoOf
	outside, decimal          = figures.Outside, figures.Decimal
)

// matched pairs each true rep with the found one whose bottom is nearest, at
// most half a second away; -1 where there is none.
func matched(a *screening.Analysis, t *truth) []int {
	found := make([]int, len(t.Reps))
	for i := range found {
		from, to := t.plateau(i)
		best := 0.5
		found[i] = -1
		for j := range a.Reps {
			if d := math.Abs(outside(a.Reps[j].BottomS, from, to)); d < best {
				found[i], best = j, d
			}
		}
	}
	return found
}

func printReps(w io.Writer, names []string, analyses map[string]*screening.Analysis, truths map[string]*truth) {
	fmt.Fprintln(w, "Reps and times. Bottom: frames outside the held bottom (0 is right), and "+
		"frames from its first instant, a rep each.")
	t := newTable(w)
	fmt.Fprintln(t, "clip\tframes/s\treps found\ttrue\ttempos\tbottom outside\tbottom from start\tlanding bottom")
	for _, name := range names {
		a, tr := analyses[name], truths[name]
		if a == nil {
			continue
		}
		var tempos, out, start, landing []string
		for _, r := range a.Reps {
			tempos = append(tempos, string(r.Tempo))
		}
		rate := a.Clip.FrameRateHz
		for i, j := range matched(a, tr) {
			if j < 0 {
				out, start = append(out, "none"), append(start, "none")
				continue
			}
			from, to := tr.plateau(i)
			b := a.Reps[j].BottomS
			out = append(out, decimal(rate*outside(b, from, to)))
			start = append(start, decimal(rate*(b-from)))
			if tr.Reps[i].Bottom == nil {
				landing = append(landing, decimal(rate*(a.Reps[j].LandingBottomS-tr.Reps[i].LandBottom+tr.originS())))
			}
		}
		slices.Sort(tempos)
		verdict := strings.Join(slices.Compact(tempos), ",")
		if want := tempoOf(name); want != "" && verdict != want {
			verdict += " (WRONG)"
		}
		fmt.Fprintf(t, "%s\t%.1f\t%d\t%d\t%s\t%s\t%s\t%s\n", name, rate, len(a.Reps), len(tr.Reps), verdict,
			strings.Join(out, " "), strings.Join(start, " "), strings.Join(landing, " "))
	}
	_ = t.Flush() // a table for reading
	fmt.Fprintln(w)
}

func printAngles(w io.Writer, names []string, analyses, filtered map[string]*screening.Analysis,
	truths map[string]*truth) {
	fmt.Fprintln(w, `Angles over the reps (flight and standing left out), and range of motion (ROM) of each rep.
Error: mean absolute error after the athlete's own standing is taken off, with the body fit and with the plain filter;
raw: of the network's points as they are. ROM error: found minus true, a rep each.`)
	t := newTable(w)
	fmt.Fprintln(t, "clip\tjoint\terror\tfilter\traw\tmissing\ttrue ROM\tROM error\tfilter")
	sum := map[string][3][]float64{}
	for _, name := range names {
		a, tr := analyses[name], truths[name]
		if a == nil {
			continue
		}
		for _, joint := range perJoint {
			stand := tr.standing(joint.angle)
			body, missing := angleError(&a.Series, &a.Series.AnglesDeg, tr, joint.angle, stand)
			plain, _ := angleError(&filtered[name].Series, &filtered[name].Series.AnglesDeg, tr, joint.angle, stand)
			raw, _ := angleError(&a.Series, &a.Series.RawAnglesDeg, tr, joint.angle, 0)
			var trueROM float64
			for i := range tr.Reps {
				trueROM += tr.rom(i, joint.angle) / float64(len(tr.Reps))
			}
			fmt.Fprintf(t, "%s\t%s\t%.1f\t%.1f\t%.1f\t%d\t%.1f\t%s\t%s\n", name, joint.name, body, plain, raw, missing, trueROM,
				romErrors(a, tr, joint.name, joint.angle), romErrors(filtered[name], tr, joint.name, joint.angle))
			s := sum[joint.name]
			sum[joint.name] = [3][]float64{append(s[0], body), append(s[1], plain), append(s[2], raw)}
		}
	}
	for _, joint := range perJoint {
		s := sum[joint.name]
		fmt.Fprintf(t, "mean\t%s\t%.1f\t%.1f\t%.1f\t\t\t\t\n", joint.name, figures.Mean(s[0]), figures.Mean(s[1]),
			figures.Mean(s[2]))
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// romErrors lists the error of the range of motion of each true rep.
func romErrors(a *screening.Analysis, t *truth, joint, angle string) string {
	var errs []string
	for i, j := range matched(a, t) {
		if j < 0 {
			errs = append(errs, "none")
			continue
		}
		m := measureOf(&a.Reps[j].Angles, joint)
		errs = append(errs, fmt.Sprintf("%+.1f", math.Round(10*(m.ROMDeg-t.rom(i, angle)))/10+0))
	}
	return strings.Join(errs, " ")
}

// angleError returns the mean absolute difference between a measured angle and the
// true one less an offset, and the number of frames without a measured angle.
func angleError(s *screening.Series, angles *body.AngleSeries, t *truth, angle string,
	offset float64) (meanDeg float64, missing int) {
	values := seriesOf(angles, angle)
	var sum float64
	n := 0
	for i := range t.Frames {
		f := &t.Frames[i]
		if f.Phase == "stand" || f.Phase == "flight" {
			continue
		}
		v := atTime(s.TimeS, values, f.shownS()-t.originS())
		if math.IsNaN(v) {
			missing++
			continue
		}
		sum += math.Abs(v - (f.Angles[angle] - offset))
		n++
	}
	return sum / float64(n), missing
}

// lossRow is one joint in one pair of clips.
type lossRow struct {
	base, challenge, joint string
	trueDeg                float64
	change                 kinematics.JointChange
}

// losses compares the clips of one triple.
func losses(names []string, analyses map[string]*screening.Analysis, truths map[string]*truth) ([]lossRow, error) {
	var some []*screening.Analysis
	for _, n := range names {
		if analyses[n] != nil {
			some = append(some, analyses[n])
		}
	}
	if len(some) < 2 {
		return nil, nil
	}
	c, err := screening.Compare(some, screening.CompareOptions{})
	if err != nil {
		return nil, fmt.Errorf("comparing %s: %w", strings.Join(names, ", "), err)
	}
	var rows []lossRow
	for _, p := range c.Pairs {
		base, challenge := figures.ClipOf(c, p.BaselineClip), figures.ClipOf(c, p.ChallengeClip)
		for j, joint := range perJoint {
			rows = append(rows, lossRow{base, challenge, joint.name,
				truths[base].meanROM(joint.angle) - truths[challenge].meanROM(joint.angle), p.Joints[j]})
		}
	}
	return rows, nil
}

func printLosses(w io.Writer, analyses, filtered map[string]*screening.Analysis, truths map[string]*truth) error {
	fmt.Fprintln(w, "What is lost between two tempos, mean over the reps, and the error of that: "+
		"the number the coach acts on.")
	t := newTable(w)
	fmt.Fprintln(t, "baseline\tchallenge\tjoint\ttrue\tfound\terror\t95 % interval\tverdict\tfilter's error")
	for _, names := range triples {
		rows, err := losses(names, analyses, truths)
		if err != nil {
			return err
		}
		plain, err := losses(names, filtered, truths)
		if err != nil {
			return err
		}
		for i, r := range rows {
			other := ""
			if i < len(plain) {
				other = fmt.Sprintf("%+.1f", plain[i].change.LostDeg-plain[i].trueDeg)
			}
			fmt.Fprintf(t, "%s\t%s\t%s\t%.1f\t%.1f\t%+.1f\t%.1f to %.1f\t%s\t%s\n", r.base, r.challenge, r.joint,
				r.trueDeg, r.change.LostDeg, r.change.LostDeg-r.trueDeg,
				r.change.Interval95Deg[0], r.change.Interval95Deg[1], r.change.Verdict, other)
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
	return nil
}

// printCoverage counts how often the 95 % intervals hold the truth. The clips are
// few and their errors alike, so that the count is a check and no estimate.
func printCoverage(w io.Writer, names []string, analyses, filtered map[string]*screening.Analysis,
	truths map[string]*truth) {
	fmt.Fprintln(w, "How often 95 % intervals hold the truth: range of motion of each rep, and losses.")
	t := newTable(w)
	fmt.Fprintln(t, "smoother\tjoint\tROM\tloss")
	for _, s := range []struct {
		name     string
		analyses map[string]*screening.Analysis
	}{{"body", analyses}, {"filter", filtered}} {
		for _, joint := range perJoint {
			var rom, romAll, lost, lostAll int
			for _, name := range names {
				a, tr := s.analyses[name], truths[name]
				if a == nil {
					continue
				}
				for i, j := range matched(a, tr) {
					if j < 0 {
						continue
					}
					romAll++
					in := measureOf(&a.Reps[j].Angles, joint.name).ROMInterval95Deg
					if v := tr.rom(i, joint.angle); in[0] <= v && v <= in[1] {
						rom++
					}
				}
			}
			for _, triple := range triples {
				rows, err := losses(triple, s.analyses, truths)
				if err != nil {
					continue // told of in the table of losses
				}
				for _, r := range rows {
					if r.joint != joint.name {
						continue
					}
					lostAll++
					if r.change.Interval95Deg[0] <= r.trueDeg && r.trueDeg <= r.change.Interval95Deg[1] {
						lost++
					}
				}
			}
			fmt.Fprintf(t, "%s\t%s\t%d of %d\t%d of %d\n", s.name, joint.name, rom, romAll, lost, lostAll)
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}
