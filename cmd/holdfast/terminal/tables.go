package terminal

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"text/tabwriter"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/movements"
	"holdfast/printable"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/words"
)

// Missing stands for a number that could not be had.
const Missing = "–"

// degrees prints an angle in whole degrees: "34°".
func degrees(n float64) string {
	if math.IsNaN(n) {
		return Missing
	}
	return Whole(n) + "°"
}

// bottomDegrees prints the angle of a position, marked where it has no zero: "118°†".
func bottomDegrees(n float64, zeroKnown bool) string {
	if math.IsNaN(n) {
		return Missing
	}
	return degrees(n) + said.ZeroMark(zeroKnown)
}

// Whole prints a rounded number with a proper minus and without a negative zero.
func Whole(n float64) string { return words.Number(n, 0) }

// seconds prints a time to a hundredth: "1.05 s".
func seconds(n float64) string {
	if math.IsNaN(n) {
		return Missing
	}
	return words.Number(n, 2) + " s"
}

// Text returns a text of the terminal; with is its parameters, each after its name.
func Text(key string, with ...any) string {
	params := words.Params{}
	for i := 0; i+1 < len(with); i += 2 {
		params[with[i].(string)] = with[i+1]
	}
	return words.Say("terminal."+key, params)
}

// Tell prints a text of the terminal as a line.
func Tell(w io.Writer, key string, with ...any) { Say(w, "%s\n", Text(key, with...)) }

// withInterval prints an angle and its 95 % interval: "114° (109 to 119)".
func withInterval(value float64, interval95 [2]float64) string {
	if math.IsNaN(value) || math.IsNaN(interval95[0]) || math.IsNaN(interval95[1]) {
		return degrees(value)
	}
	return degrees(value) + " (" + Interval(interval95, "") + ")"
}

func NewTable(w io.Writer) *tabwriter.Writer { return tabwriter.NewWriter(w, 0, 0, 2, ' ', 0) }

// Say prints as fmt.Fprintf does, each text and error among the arguments as one line
// without hidden characters: names, tags and messages come from outside. Everything that
// a command prints for people goes through it.
func Say(w io.Writer, format string, args ...any) {
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

// Row writes the cells of a table's line; the last cell needs no padding.
func Row(w io.Writer, cells ...string) { rowIn(w, "%s", cells...) }

// rowIn is row with a format for the last cell.
func rowIn(w io.Writer, last string, cells ...string) {
	for _, c := range cells[:len(cells)-1] {
		Say(w, "%s\t", c)
	}
	Say(w, last+"\n", cells[len(cells)-1])
}

// jointNames returns what joints are called.
func jointNames(which []said.Joint) (names []string) {
	for _, j := range which {
		names = append(names, j.Name())
	}
	return names
}

// printSetting prints how a set was done, where something was said of it.
func printSetting(w io.Writer, an *screening.Analysis) {
	if an.Setting != nil {
		Tell(w, "setting", "setting", an.Setting.Said())
	}
}

// Analysis prints the table of reps.
func Analysis(w io.Writer, an *screening.Analysis) {
	switch {
	case an.View.Front:
		printFront(w, an)
	case an.Plain != nil:
		printPlain(w, an)
	default:
		printSide(w, an)
	}
}

// printSide prints that of a clip from the side.
func printSide(w io.Writer, an *screening.Analysis) {
	Tell(w, "analysed", "clip", an.Clip.Name, "movement", movements.Name(an.Shows().Key), "n", len(an.Reps),
		"frames", an.Clip.Frames, "lasts", seconds(an.Clip.DurationS),
		"facing", words.Or("facing."+an.Facing, an.Facing), "side", words.Or("facing."+an.NearSide, an.NearSide))
	printSetting(w, an)
	fmt.Fprintln(w)
	which, turn := said.JointsOf(an), an.Movement.Turn
	Tell(w, "rom_title")
	t := NewTable(w)
	Row(t, slices.Concat([]string{Text("rep"), Text("tempo"), Text("bottom", "turn", turn)}, jointNames(which),
		[]string{Text("quality")})...)
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
			partial = append(partial, Text("not_complete", "rep", r.Number, "why", screening.Say(r.PartialWhy)))
		}
		cells := []string{number(r), said.RepTempo(r), seconds(r.BottomS)}
		for _, j := range which {
			m := &r.Angles[j.Angle()]
			cells = append(cells, withInterval(m.ROMDeg, m.ROMInterval95Deg))
		}
		Row(t, append(cells, grade(r.Quality))...)
	}
	_ = t.Flush() // standard output is looked at when results are JSON; a table is for reading
	for _, line := range partial {
		Say(w, "%s\n", line)
	}
	fmt.Fprintln(w)
	printBottoms(w, an, number)
	printJumps(w, an)
	for _, line := range slices.Concat(said.Within(an), said.Advice(an)) {
		Say(w, "%s\n", line)
	}
	if !math.IsNaN(an.TimeToFeetS) && an.TimeToFeetS > 0 {
		Tell(w, "to_feet", "time", seconds(an.TimeToFeetS))
	}
}

// printBottoms prints the angles at the turn and what the foot did, as far as anything of it is known; number writes
// that of a rep.
func printBottoms(w io.Writer, an *screening.Analysis, number func(*kinematics.Rep) string) {
	which, turn := said.JointsOf(an), an.Movement.Turn
	var heels, weights bool
	for i := range an.Reps {
		heel, weight, _ := footCells(&an.Reps[i])
		heels, weights = heels || heel != Missing, weights || weight != Missing
	}
	title := "bottom_title"
	if heels || weights {
		title = "bottom_and_foot_title"
	}
	Tell(w, title, "turn", turn)
	t := NewTable(w)
	head := slices.Concat([]string{Text("rep"), Text("tempo")}, jointNames(which))
	if heels {
		head = append(head, said.PositionWords(kinematics.PositionHeel).Plain)
	}
	if weights {
		head = append(head, said.PositionWords(kinematics.PositionSupport).Plain, Text("outside_middle"))
	}
	Row(t, head...)
	noZero := false
	for i := range an.Reps {
		r := &an.Reps[i]
		cells := []string{number(r), said.RepTempo(r)}
		for _, j := range which {
			m := &r.Angles[j.Angle()]
			cells = append(cells, bottomDegrees(m.AtBottomDeg, m.ZeroKnown))
			noZero = noZero || !m.ZeroKnown && !math.IsNaN(m.AtBottomDeg)
		}
		heel, weight, outside := footCells(r)
		if heels {
			cells = append(cells, heel)
		}
		if weights {
			cells = append(cells, weight, outside)
		}
		Row(t, cells...)
	}
	_ = t.Flush()
	if noZero {
		Say(w, "%s\n", said.NoZero())
	}
	if weights && an.MassModel != "" { // not in an analysis of before it was measured
		Tell(w, "weight_on_foot", "lo", an.SupportBandPct[0], "hi", an.SupportBandPct[1])
		switch {
		case an.LoadKg > 0:
			Tell(w, "load", "kg", strconv.FormatFloat(an.LoadKg, 'g', -1, 64))
		case math.IsNaN(an.LoadKg):
			Tell(w, "load_asked")
		}
	}
}

// footCells prints what the foot did in a rep: the heel's rise, where the weight was on
// average, and for how long it left the middle of the foot.
func footCells(r *kinematics.Rep) (heel, weight, outside string) {
	heel, weight, outside = Missing, Missing, Missing
	if f := r.Foot; f != nil && !math.IsNaN(f.Heel.MaxPctFoot.Value) {
		switch {
		case !f.Heel.Up:
			heel = Text("heel_down")
		case !math.IsNaN(f.Heel.MaxCm.Value):
			heel = estimate(f.Heel.MaxCm, 1) + " cm"
		default:
			heel = Text("of_foot", "pct", estimate(f.Heel.MaxPctFoot, 0))
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
func printJumps(w io.Writer, an *screening.Analysis) {
	for i := range an.Reps {
		r := &an.Reps[i]
		if r.Jump == nil {
			continue
		}
		if i == 0 || an.Reps[i-1].Jump == nil {
			fmt.Fprintln(w)
		}
		Tell(w, "jumped", "rep", r.Number,
			"air", centimetres(r.Jump.HeightFromFlightM, r.Jump.HeightFromFlightInterval95M),
			"rise", centimetres(r.Jump.RiseM, r.Jump.RiseInterval95M))
		if e := r.Jump.ContactTimeS; r.Jump.Kind == measure.JumpRebound && !math.IsNaN(e.Value) {
			Tell(w, "on_floor", "time", timeOf(e))
		}
		if why := screening.Say(r.Jump.Why); why != "" {
			Say(w, "%s\n", why)
		}
		if l := r.Landing; l != nil {
			form := "stays"
			if i+1 < len(an.Reps) && an.Reps[i+1].Jump != nil && an.Reps[i+1].Jump.Kind == measure.JumpRebound {
				form = "jumps_on"
			}
			Tell(w, "landed", "form", form, "bottom", timeOf(l.ContactToBottomS), "settled", settled(l.SettleS),
				"steps", Text("steps", "n", l.Steps), "hops", Text("hops", "n", l.Hops))
		}
	}
}

func timeOf(e stats.Estimate) string {
	if math.IsNaN(e.Value) {
		return Missing
	}
	return estimate(e, 2) + " s"
}

func settled(s float64) string {
	if math.IsNaN(s) {
		return Text("settled_not")
	}
	return Text("settled_after", "time", seconds(s))
}

// centimetres prints a length and its 95 % interval: "25 cm (23 to 27)".
func centimetres(m float64, in [2]float64) string {
	if math.IsNaN(m) {
		return Text("height_unknown")
	}
	return Whole(100*m) + " cm (" + Interval([2]float64{100 * in[0], 100 * in[1]}, "") + ")"
}

// grade prints how well the clip shows a rep.
func grade(q joints.Quality) string {
	if q.Grade == "" { // an analysis of before reps were graded
		return Missing
	}
	return said.GradeWord(q.Grade)
}

// Comparison prints a table for each pair of conditions, then a sentence for
// each joint.
func Comparison(w io.Writer, color bool, c *screening.Comparison) {
	if c.FromFront() {
		compareFronts(w, c)
		return
	}
	for _, p := range c.Pairs {
		if c.TurnOnly {
			break
		}
		var easier, harder int // reps that a joint was read in
		for _, j := range said.JointsIn(c) {
			easier, harder = max(easier, p.Joints[j].BaselineReps), max(harder, p.Joints[j].ChallengeReps)
		}
		Tell(w, "pair", "easier", c.Word(p.Baseline), "harder", c.Word(p.Challenge),
			"easier_reps", Text("reps", "n", easier), "harder_reps", Text("reps", "n", harder))
		t := NewTable(w)
		Row(t, Text("joint"), c.Word(p.Baseline), c.Word(p.Challenge), Text("lost"), Text("interval"),
			Text("retained"), said.Capital(said.HeadAtBottom(c)), Text("verdict"))
		for _, j := range said.JointsIn(c) {
			ch := &p.Joints[j]
			rowIn(t, painted(color, ch.Verdict), j.Name(),
				degrees(ch.BaselineROMDeg), degrees(ch.ChallengeROMDeg), degrees(ch.LostDeg),
				Interval(ch.Interval95Deg, "°"), percent(ch.RetainedPct),
				bottomDegrees(ch.BaselineBottomDeg, ch.BaselineZeroKnown)+" → "+
					bottomDegrees(ch.ChallengeBottomDeg, ch.ChallengeZeroKnown),
				said.VerdictWord(ch.Verdict))
		}
		_ = t.Flush()
		if c.LacksZero(&p) {
			Say(w, "%s\n", said.NoZero())
		}
		fmt.Fprintln(w)
	}
	for _, h := range said.Headlines(c) {
		Say(w, "%s\n", h.Sentence)
		if h.Range != "" {
			Say(w, "  %s\n", h.Range)
		}
	}
	printLadder(w, c)
	if c.Fronts != nil {
		joinedFronts(w, c.Fronts)
	}
	Tell(w, "smallest", "deg", c.SmallestChangeDeg)
	if s := said.OwnSmallestChange(c); s != "" {
		Say(w, "%s\n", s)
	}
}

// printLadder prints each position through the conditions, at the bottom (of a jump: of
// the landing), and what it may point to.
func printLadder(w io.Writer, c *screening.Comparison) {
	l := &c.Ladder
	if len(l.Rungs) == 0 {
		return
	}
	Say(w, "\n%s\n", Text("positions_against", "turn", c.ShownTurn(), "easiest", c.Word(l.Rungs[0].Cells[0].Condition)))
	t := NewTable(w)
	head := []string{Text("position")}
	for _, cell := range l.Rungs[0].Cells {
		head = append(head, said.CellWord(c, &cell))
	}
	Row(t, append(head, Text("first_outside"))...)
	for _, r := range l.Rungs {
		unit := said.UnitSign(r.Unit)
		cells := []string{said.PositionWords(r.Position).Plain}
		first := Missing
		for k := range r.Cells {
			at := &r.Cells[k]
			text := Missing
			if !math.IsNaN(at.Value) {
				text = Whole(at.Value) + unit + said.ZeroMark(at.ZeroKnown)
			}
			if at.Change != nil {
				text += " " + said.PositionVerdict(r.Position, at.Change.Verdict)
			}
			if cells = append(cells, text); at.Condition == r.First {
				first = said.CellWord(c, at)
			}
		}
		Row(t, append(cells, first)...)
	}
	_ = t.Flush()
	for _, s := range append([]string{unzeroed(c), said.LandingNote(c)}, said.Times(c)...) {
		if s != "" {
			Say(w, "%s\n", s)
		}
	}
	marked := false
	for i := range l.Rungs {
		if s := said.RungSentence(&l.Rungs[i]); s != "" {
			marked = true
			Say(w, "%s\n", s)
		}
	}
	if marked {
		Say(w, "%s\n", words.Say("ladder.caution", nil))
	}
	fmt.Fprintln(w)
}

// unzeroed says what the mark of angles without a zero means, where the ladder has one and the tables of the pairs did
// not say so.
func unzeroed(c *screening.Comparison) string {
	if !c.TurnOnly && slices.ContainsFunc(c.Pairs, func(p kinematics.Pair) bool { return c.LacksZero(&p) }) {
		return ""
	}
	marked := func(at kinematics.Cell) bool { return !at.ZeroKnown }
	if slices.ContainsFunc(c.Ladder.Rungs, func(r kinematics.Rung) bool { return slices.ContainsFunc(r.Cells, marked) }) {
		return said.NoZero()
	}
	return ""
}

func Interval(v [2]float64, unit string) string {
	if math.IsNaN(v[0]) || math.IsNaN(v[1]) {
		return Missing
	}
	return words.Say("report.ends", words.Params{"lo": Whole(v[0]) + unit, "hi": Whole(v[1]) + unit})
}

func percent(n float64) string {
	if math.IsNaN(n) {
		return Missing
	}
	return Whole(n) + " %"
}

// painted returns the format of a verdict on a terminal. The word carries the meaning,
// the colour only helps to find it. It stands in a table's last column, whose width
// does not matter.
func painted(color bool, verdict stats.Verdict) string {
	codes := map[stats.Verdict]string{"lost": "1;33", "gained": "1;36", "unclear": "2"}
	code, ok := codes[verdict]
	if !color || !ok {
		return "%s"
	}
	return "\x1b[" + code + "m%s\x1b[0m"
}

// Warnings tells the user what must be known when reading the numbers.
func Warnings(w io.Writer, clip string, warnings []screening.Warning) {
	if clip != "" {
		clip += ": "
	}
	for _, found := range warnings {
		Tell(w, "warning", "text", clip+screening.SayAt("terminal", found))
	}
}
