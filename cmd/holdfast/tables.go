package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"text/tabwriter"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/stats"
	"holdfast/printable"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/words"
)

// missing stands for a number that could not be had.
const missing = "–"

// degrees prints an angle in whole degrees: "34°".
func degrees(n float64) string {
	if math.IsNaN(n) {
		return missing
	}
	return whole(n) + "°"
}

// bottomDegrees prints the angle of a position, marked where it has no zero: "118°†".
func bottomDegrees(n float64, zeroKnown bool) string {
	if math.IsNaN(n) {
		return missing
	}
	return degrees(n) + said.ZeroMark(zeroKnown)
}

// whole prints a rounded number with a proper minus and without a negative zero.
func whole(n float64) string { return words.Number(n, 0) }

// seconds prints a time to a hundredth: "1.05 s".
func seconds(n float64) string {
	if math.IsNaN(n) {
		return missing
	}
	return words.Number(n, 2) + " s"
}

// text returns a text of the terminal; with is its parameters, each after its name.
func text(key string, with ...any) string {
	params := words.Params{}
	for i := 0; i+1 < len(with); i += 2 {
		params[with[i].(string)] = with[i+1]
	}
	return words.Say("terminal."+key, params)
}

// tell prints a text of the terminal as a line.
func tell(w io.Writer, key string, with ...any) { say(w, "%s\n", text(key, with...)) }

// withInterval prints an angle and its 95 % interval: "114° (109 to 119)".
func withInterval(value float64, interval95 [2]float64) string {
	if math.IsNaN(value) || math.IsNaN(interval95[0]) || math.IsNaN(interval95[1]) {
		return degrees(value)
	}
	return degrees(value) + " (" + interval(interval95, "") + ")"
}

func newTable(w io.Writer) *tabwriter.Writer { return tabwriter.NewWriter(w, 0, 0, 2, ' ', 0) }

// say prints as fmt.Fprintf does, each text and error among the arguments as one line
// without hidden characters: names, tags and messages come from outside. Everything that
// a command prints for people goes through it.
func say(w io.Writer, format string, args ...any) {
	if false {
		_ = fmt.Sprintf(format, args...) // lets go vet compare the two
	}
	plain := slices.Clone(args)
	for i, arg := range plain {
		switch v := arg.(type) {
		case string:
			plain[i] = printable.Line(v)
		case error:
			plain[i] = printable.Line(v.Error())
		}
	}
	fmt.Fprintf(w, format, plain...)
}

// row writes the cells of a table's line; the last cell needs no padding.
func row(w io.Writer, cells ...string) { rowIn(w, "%s", cells...) }

// rowIn is row with a format for the last cell.
func rowIn(w io.Writer, last string, cells ...string) {
	for _, c := range cells[:len(cells)-1] {
		say(w, "%s\t", c)
	}
	say(w, last+"\n", cells[len(cells)-1])
}

// jointNames returns what the joints are called, from the ground up.
func jointNames() (names []string) {
	for j := range body.NumJoints {
		names = append(names, said.PositionWords(kinematics.PositionOf(j)).Name)
	}
	return names
}

// printAnalysis prints the table of reps.
func (a *app) printAnalysis(an *screening.Analysis) {
	tell(a.stdout, "analysed", "clip", an.Clip.Name, "n", len(an.Reps), "frames", an.Clip.Frames,
		"lasts", seconds(an.Clip.DurationS),
		"facing", words.Or("facing."+an.Facing, an.Facing), "side", words.Or("facing."+an.NearSide, an.NearSide))
	fmt.Fprintln(a.stdout)
	tell(a.stdout, "rom_title")
	t := newTable(a.stdout)
	row(t, slices.Concat([]string{text("rep"), text("tempo"), text("bottom")}, jointNames(), []string{text("quality")})...)
	var partial []string
	number := func(r *kinematics.Rep) string {
		if r.Partial {
			return fmt.Sprintf("%d*", r.Number)
		}
		return fmt.Sprint(r.Number)
	}
	for i := range an.Reps {
		r := &an.Reps[i]
		if r.Partial {
			partial = append(partial, text("not_complete", "rep", r.Number, "why", screening.Say(r.PartialWhy)))
		}
		cells := []string{number(r), said.RepTempo(r), seconds(r.BottomS)}
		for j := range body.NumJoints {
			m := &r.Angles[j.Angle()]
			cells = append(cells, withInterval(m.ROMDeg, m.ROMInterval95Deg))
		}
		row(t, append(cells, grade(r.Quality))...)
	}
	_ = t.Flush() // standard output is looked at when results are JSON; a table is for reading
	for _, line := range partial {
		say(a.stdout, "%s\n", line)
	}
	fmt.Fprintln(a.stdout)
	tell(a.stdout, "bottom_title")
	t = newTable(a.stdout)
	row(t, slices.Concat([]string{text("rep"), text("tempo")}, jointNames(), []string{
		said.PositionWords(kinematics.PositionHeel).Plain,
		said.PositionWords(kinematics.PositionSupport).Plain, text("outside_middle")})...)
	noZero := false
	for i := range an.Reps {
		r := &an.Reps[i]
		heel, weight, outside := footCells(r)
		cells := []string{number(r), said.RepTempo(r)}
		for j := range body.NumJoints {
			m := &r.Angles[j.Angle()]
			cells = append(cells, bottomDegrees(m.AtBottomDeg, m.ZeroKnown))
			noZero = noZero || !m.ZeroKnown && !math.IsNaN(m.AtBottomDeg)
		}
		row(t, append(cells, heel, weight, outside)...)
	}
	_ = t.Flush()
	if noZero {
		say(a.stdout, "%s\n", said.NoZero())
	}
	if an.MassModel != "" { // not in an analysis of before it was measured
		tell(a.stdout, "weight_on_foot", "lo", an.SupportBandPct[0], "hi", an.SupportBandPct[1])
		switch {
		case an.LoadKg > 0:
			tell(a.stdout, "load", "kg", strconv.FormatFloat(an.LoadKg, 'g', -1, 64))
		case math.IsNaN(an.LoadKg):
			tell(a.stdout, "load_asked")
		}
	}
	a.printJumps(an)
	for _, line := range said.Advice(an) {
		say(a.stdout, "%s\n", line)
	}
	if !math.IsNaN(an.TimeToFeetS) && an.TimeToFeetS > 0 {
		tell(a.stdout, "to_feet", "time", seconds(an.TimeToFeetS))
	}
}

// footCells prints what the foot did in a rep: the heel's rise, where the weight was on
// average, and for how long it left the middle of the foot.
func footCells(r *kinematics.Rep) (heel, weight, outside string) {
	heel, weight, outside = missing, missing, missing
	if f := r.Foot; f != nil && !math.IsNaN(f.Heel.MaxPctFoot.Value) {
		switch {
		case !f.Heel.Up:
			heel = text("heel_down")
		case !math.IsNaN(f.Heel.MaxCm.Value):
			heel = estimate(f.Heel.MaxCm, 1) + " cm"
		default:
			heel = text("of_foot", "pct", estimate(f.Heel.MaxPctFoot, 0))
		}
	}
	for _, sp := range r.Support {
		if sp.Phase == events.WholeRep && !math.IsNaN(sp.MeanPct.Value) {
			weight, outside = estimate(sp.MeanPct, 0)+" %", seconds(sp.OutsideS)
		}
	}
	return heel, weight, outside
}

// estimate prints a number and half its 95 % interval: "3.1 ±0.8".
func estimate(e stats.Estimate, digits int) string {
	if math.IsNaN(e.SD) {
		return words.Number(e.Value, digits)
	}
	return words.Number(e.Value, digits) + " ±" + words.Number(screening.Half95(e.SD), digits)
}

// printJumps prints a line or two for each rep with a flight.
func (a *app) printJumps(an *screening.Analysis) {
	for i := range an.Reps {
		r := &an.Reps[i]
		if r.Jump == nil {
			continue
		}
		if i == 0 || an.Reps[i-1].Jump == nil {
			fmt.Fprintln(a.stdout)
		}
		tell(a.stdout, "jumped", "rep", r.Number,
			"air", centimetres(r.Jump.HeightFromFlightM, r.Jump.HeightFromFlightInterval95M),
			"rise", centimetres(r.Jump.RiseM, r.Jump.RiseInterval95M))
		if why := screening.Say(r.Jump.Why); why != "" {
			say(a.stdout, "%s\n", why)
		}
		if l := r.Landing; l != nil {
			tell(a.stdout, "landed", "bottom", timeOf(l.ContactToBottomS), "settled", settled(l.SettleS),
				"steps", text("steps", "n", l.Steps), "hops", text("hops", "n", l.Hops))
		}
	}
}

func timeOf(e stats.Estimate) string {
	if math.IsNaN(e.Value) {
		return missing
	}
	return estimate(e, 2) + " s"
}

func settled(s float64) string {
	if math.IsNaN(s) {
		return text("settled_not")
	}
	return text("settled_after", "time", seconds(s))
}

// centimetres prints a length and its 95 % interval: "25 cm (23 to 27)".
func centimetres(m float64, in [2]float64) string {
	if math.IsNaN(m) {
		return text("height_unknown")
	}
	return whole(100*m) + " cm (" + interval([2]float64{100 * in[0], 100 * in[1]}, "") + ")"
}

// grade prints how well the clip shows a rep.
func grade(q joints.Quality) string {
	if q.Grade == "" { // an analysis of before reps were graded
		return missing
	}
	return said.GradeWord(q.Grade)
}

// printComparison prints a table for each pair of conditions, then a sentence for
// each joint.
func (a *app) printComparison(c *screening.Comparison) {
	for _, p := range c.Pairs {
		tell(a.stdout, "pair", "easier", c.Word(p.Baseline), "harder", c.Word(p.Challenge),
			"easier_reps", text("reps", "n", p.Joints[0].BaselineReps),
			"harder_reps", text("reps", "n", p.Joints[0].ChallengeReps))
		t := newTable(a.stdout)
		row(t, text("joint"), c.Word(p.Baseline), c.Word(p.Challenge), text("lost"), text("interval"),
			text("retained"), text("at_bottom"), text("verdict"))
		for j, name := range jointNames() {
			ch := &p.Joints[j]
			rowIn(t, a.painted(ch.Verdict), name,
				degrees(ch.BaselineROMDeg), degrees(ch.ChallengeROMDeg), degrees(ch.LostDeg),
				interval(ch.Interval95Deg, "°"), percent(ch.RetainedPct),
				bottomDegrees(ch.BaselineBottomDeg, ch.BaselineZeroKnown)+" → "+
					bottomDegrees(ch.ChallengeBottomDeg, ch.ChallengeZeroKnown),
				said.VerdictWord(ch.Verdict))
		}
		_ = t.Flush()
		if ch := &p.Joints[body.KneeJoint]; !ch.BaselineZeroKnown || !ch.ChallengeZeroKnown {
			say(a.stdout, "%s\n", said.NoZero())
		}
		fmt.Fprintln(a.stdout)
	}
	for _, h := range said.Headlines(c) {
		say(a.stdout, "%s\n", h.Sentence)
	}
	a.printLadder(c)
	tell(a.stdout, "smallest", "deg", c.SmallestChangeDeg)
	if s := said.OwnSmallestChange(c); s != "" {
		say(a.stdout, "%s\n", s)
	}
}

// printLadder prints each position through the conditions, at the bottom (of a jump: of
// the landing), and what it may point to.
func (a *app) printLadder(c *screening.Comparison) {
	l := &c.Ladder
	if len(l.Rungs) == 0 {
		return
	}
	title := text("positions")
	if !c.ByTempo() {
		title = text("positions_against", "easiest", c.Sides[0].Words)
	}
	say(a.stdout, "\n%s\n", title)
	t := newTable(a.stdout)
	head := []string{text("position")}
	for _, cell := range l.Rungs[0].Cells {
		head = append(head, c.Word(cell.Condition))
	}
	row(t, append(head, text("first_outside"))...)
	for _, r := range l.Rungs {
		unit := said.UnitSign(r.Unit)
		cells := []string{said.PositionWords(r.Position).Plain}
		for _, c := range r.Cells {
			text := missing
			if !math.IsNaN(c.Value) {
				text = whole(c.Value) + unit + said.ZeroMark(c.ZeroKnown)
			}
			if c.Change != nil {
				text += " " + said.PositionVerdict(r.Position, c.Change.Verdict)
			}
			cells = append(cells, text)
		}
		first := c.Word(r.First)
		if first == "" {
			first = missing
		}
		row(t, append(cells, first)...)
	}
	_ = t.Flush()
	marked := false
	for i := range l.Rungs {
		if s := said.RungSentence(&l.Rungs[i]); s != "" {
			marked = true
			say(a.stdout, "%s\n", s)
		}
	}
	if marked {
		say(a.stdout, "%s\n", words.Say("ladder.caution", nil))
	}
	fmt.Fprintln(a.stdout)
}

func interval(v [2]float64, unit string) string {
	if math.IsNaN(v[0]) || math.IsNaN(v[1]) {
		return missing
	}
	return words.Say("report.ends", words.Params{"lo": whole(v[0]) + unit, "hi": whole(v[1]) + unit})
}

func percent(n float64) string {
	if math.IsNaN(n) {
		return missing
	}
	return whole(n) + " %"
}

// painted returns the format of a verdict on a terminal. The word carries the meaning,
// the colour only helps to find it. It stands in a table's last column, whose width
// does not matter.
func (a *app) painted(verdict stats.Verdict) string {
	codes := map[stats.Verdict]string{"lost": "1;33", "gained": "1;36", "unclear": "2"}
	code, ok := codes[verdict]
	if !a.color || !ok {
		return "%s"
	}
	return "\x1b[" + code + "m%s\x1b[0m"
}

// printWarnings tells the user what must be known when reading the numbers.
func (a *app) printWarnings(clip string, warnings []screening.Warning) {
	if clip != "" {
		clip += ": "
	}
	for _, w := range warnings {
		tell(a.stderr, "warning", "text", clip+screening.SayAt("terminal", w))
	}
}
