package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"holdfast/report"
	"holdfast/screening"
)

// missing stands for a number that could not be had.
const missing = "–"

// degrees prints an angle in whole degrees: "34°".
func degrees(n screening.Number) string {
	if n.Missing() {
		return missing
	}
	return whole(n) + "°"
}

// whole prints a rounded number with a proper minus and without a negative zero.
func whole(n screening.Number) string {
	if n.Missing() {
		return missing
	}
	r := math.Round(float64(n))
	if r < 0 {
		return fmt.Sprintf("−%.0f", -r)
	}
	return fmt.Sprintf("%.0f", math.Abs(r))
}

// seconds prints a time to a hundredth: "1.05 s".
func seconds(n screening.Number) string {
	if n.Missing() {
		return missing
	}
	return fmt.Sprintf("%.2f s", float64(n))
}

// withInterval prints an angle and its 95 % interval: "114° (109 to 119)".
func withInterval(value screening.Number, interval95 [2]screening.Number) string {
	if value.Missing() || interval95[0].Missing() || interval95[1].Missing() {
		return degrees(value)
	}
	return fmt.Sprintf("%s (%s)", degrees(value), interval(interval95, ""))
}

func newTable(w io.Writer) *tabwriter.Writer { return tabwriter.NewWriter(w, 0, 0, 3, ' ', 0) }

// row writes the cells of a table's line; the last cell needs no padding.
func row(w io.Writer, cells ...string) { fmt.Fprintln(w, strings.Join(cells, "\t")) }

// printAnalysis prints the table of reps.
func (a *app) printAnalysis(an *screening.Analysis) {
	fmt.Fprintf(a.stdout, "%s: %s, %d frames in %s, facing %s, measured on the %s side\n",
		an.Clip.Name, counted(len(an.Reps), "rep"), an.Clip.Frames, seconds(an.Clip.DurationS), an.Facing, an.NearSide)
	t := newTable(a.stdout)
	row(t, "Rep", "Tempo", "Start", "Bottom", "Knee ROM", "at bottom", "Hip ROM", "at bottom", "Ankle ROM", "at bottom", "Quality")
	var partial []string
	for _, r := range an.Reps {
		number := fmt.Sprint(r.Number)
		if r.Partial {
			number += "*"
			partial = append(partial, fmt.Sprintf("* rep %d is not complete: %s", r.Number, r.PartialReason))
		}
		j := r.Joints
		row(t, number, r.Tempo, seconds(r.StartS), seconds(r.BottomS),
			withInterval(j.Knee.ROMDeg, j.Knee.ROMInterval95Deg), degrees(j.Knee.AtBottomDeg),
			withInterval(j.Hip.ROMDeg, j.Hip.ROMInterval95Deg), degrees(j.Hip.AtBottomDeg),
			withInterval(j.Ankle.ROMDeg, j.Ankle.ROMInterval95Deg), degrees(j.Ankle.AtBottomDeg), grade(r.Quality))
	}
	_ = t.Flush() // standard output is looked at when results are JSON; a table is for reading
	for _, line := range partial {
		fmt.Fprintln(a.stdout, line)
	}
	for _, r := range an.Reps {
		if r.Jump != nil {
			fmt.Fprintf(a.stdout, "Rep %d jumped %s by the time in the air, %s by the rise of the centre of mass.%s\n", r.Number,
				centimetres(r.Jump.HeightFromFlightM, r.Jump.HeightFromFlightInterval95M),
				centimetres(r.Jump.RiseM, r.Jump.RiseInterval95M), after(r.Jump.Why))
		}
	}
	for _, line := range report.Advice(an) {
		fmt.Fprintln(a.stdout, line)
	}
	fmt.Fprintln(a.stdout, "ROM: range of motion, largest minus smallest angle; in brackets its 95 % interval.")
}

// centimetres prints a length and its 95 % interval: "25 cm (23 to 27)".
func centimetres(m screening.Number, in [2]screening.Number) string {
	if m.Missing() {
		return "an unknown height (no scale)"
	}
	return fmt.Sprintf("%.0f cm (%.0f to %.0f)", 100*float64(m), 100*float64(in[0]), 100*float64(in[1]))
}

// after puts a sentence behind another.
func after(sentence string) string {
	if sentence == "" {
		return ""
	}
	return " " + sentence
}

// grade prints how well the clip shows a rep.
func grade(q screening.Quality) string {
	if q.Grade == "" { // an analysis of before reps were graded
		return missing
	}
	return q.Grade
}

// joint is one row of a comparison.
type joint struct {
	name   string
	change screening.JointChange
}

// jointsOf lists the joints from the ground up.
func jointsOf(p screening.Pair) []joint {
	return []joint{{"Ankle", p.Joints.Ankle}, {"Knee", p.Joints.Knee}, {"Hip", p.Joints.Hip}}
}

// printComparison prints a table for each pair of tempos, then a sentence for
// each joint.
func (a *app) printComparison(c *screening.Comparison) {
	for _, p := range c.Pairs {
		joints := jointsOf(p)
		fmt.Fprintf(a.stdout, "Range of motion, %s against %s (%s, %s)\n", p.Baseline, p.Challenge,
			counted(joints[0].change.BaselineReps, "rep"), counted(joints[0].change.ChallengeReps, "rep"))
		t := newTable(a.stdout)
		row(t, "Joint", p.Baseline, p.Challenge, "Lost", "95 % interval", "Retained", "Verdict")
		for _, j := range joints {
			row(t, j.name, degrees(j.change.BaselineROMDeg), degrees(j.change.ChallengeROMDeg), degrees(j.change.LostDeg),
				interval(j.change.Interval95Deg, "°"), percent(j.change.RetainedPct), a.colored(j.change.Verdict))
		}
		_ = t.Flush()
		fmt.Fprintln(a.stdout)
	}
	for _, sentence := range report.Sentences(c) {
		fmt.Fprintln(a.stdout, sentence)
	}
	fmt.Fprintf(a.stdout, "Smallest change that matters: %s. unclear: the clips cannot tell.\n", degrees(c.SmallestChangeDeg))
	if s := report.OwnSmallestChange(c); s != "" {
		fmt.Fprintln(a.stdout, s)
	}
}

func interval(v [2]screening.Number, unit string) string {
	if v[0].Missing() || v[1].Missing() {
		return missing
	}
	return fmt.Sprintf("%s%s to %s%s", whole(v[0]), unit, whole(v[1]), unit)
}

func percent(n screening.Number) string {
	if n.Missing() {
		return missing
	}
	return whole(n) + " %"
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// colored paints a verdict for a terminal. The word carries the meaning, the
// colour only helps to find it. It stands in a table's last column, whose width
// does not matter.
func (a *app) colored(verdict string) string {
	codes := map[string]string{"lost": "1;33", "gained": "1;36", "unclear": "2"}
	code, ok := codes[verdict]
	if !a.color || !ok {
		return verdict
	}
	return "\x1b[" + code + "m" + verdict + "\x1b[0m"
}

// printWarnings tells the user what must be known when reading the numbers.
func (a *app) printWarnings(clip string, warnings []screening.Warning) {
	if clip != "" {
		clip += ": "
	}
	for _, w := range warnings {
		fmt.Fprintf(a.stderr, "holdfast: warning: %s%s\n", clip, w.Message)
	}
}
