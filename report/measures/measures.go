// Package measures writes what was measured as a table that spreadsheets and statistics programs read: one row a rep,
// joint and measure. The unit of a number is the end of its measure's name. A missing value is an empty cell, and a rep
// has no row for what was not measured in it.
package measures

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/frontal"
	"holdfast/kinematics/stats"
	"holdfast/printable"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/screening/history"
	"holdfast/screening/plain"
)

// columns are those of every table, in order; those of a kind that has nothing for one leave it out.
var columns = []string{"date", "visit_condition", "load_kg", "setting", "clip", "leg", "condition", "rep", "tempo",
	"whole", "joint", "measure", "value", "interval95_low", "interval95_high"}

// Clip writes the reps of one clip.
func Clip(w io.Writer, a *screening.Analysis) error {
	t := newTable(w, "load_kg", "setting", "clip", "leg", "rep", "tempo", "whole")
	t.reps(a, carried(a), nil)
	t.plain(a, carried(a))
	return t.end()
}

// plain writes how far each joint goes in a clip without reps.
func (t *table) plain(a *screening.Analysis, of row) {
	if a.Plain == nil {
		return
	}
	of["leg"] = Text(a.NearSide)
	for _, angle := range plain.Shown {
		r := &a.Plain.Angles[angle]
		joint, position := said.PlainJoint(angle), "_deg"
		if !r.ZeroKnown {
			position = "_without_zero_deg"
		}
		t.value(of, joint, "smallest"+position, r.MinDeg, r.MinInterval95Deg)
		t.value(of, joint, "largest"+position, r.MaxDeg, r.MaxInterval95Deg)
		t.value(of, joint, "rom_deg", r.ROMDeg, r.ROMInterval95Deg)
	}
	t.value(of, "body", "part_from_s", a.Plain.FromS, unknown)
	t.value(of, "body", "part_to_s", a.Plain.ToS, unknown)
}

// Comparison writes the reps of the clips compared, each with its condition, and after them what is lost from condition
// to condition, which belongs to no single rep.
func Comparison(w io.Writer, c *screening.Comparison) error {
	t := newTable(w, "load_kg", "setting", "clip", "leg", "condition", "rep", "tempo", "whole")
	t.compared(c)
	if c.Fronts != nil { // of the same sets
		t.compared(c.Fronts)
		t.fronts(c.Fronts)
	}
	t.fronts(c)
	for i := range c.Pairs {
		p := &c.Pairs[i]
		of := row{"condition": p.Baseline + ">" + p.Challenge}
		for j := range body.NumJoints {
			ch := &p.Joints[j]
			t.value(of, j.String(), "rom_lost_deg", ch.LostDeg, ch.Interval95Deg)
			t.value(of, j.String(), "bottom_lost_deg", ch.BottomLostDeg, ch.BottomInterval95Deg)
		}
	}
	for _, r := range c.Ladder.Rungs {
		for _, cell := range r.Cells {
			if cell.Change == nil || !cell.Landing {
				continue
			}
			of := row{"condition": r.Cells[0].Condition + ">" + cell.Condition}
			t.value(of, r.Position.String(), "landing_lost"+unit(r.Unit), cell.Change.Lost, cell.Change.Interval95)
		}
	}
	return t.end()
}

// compared writes the reps of the clips of a comparison.
func (t *table) compared(c *screening.Comparison) {
	for i, a := range c.Analyses {
		if a == nil {
			continue
		}
		t.reps(a, carried(a), func(r *kinematics.Rep) string {
			of, _ := c.ConditionOf(i, r.Tempo)
			return of.Key
		})
	}
}

// fronts writes what became of what the front shows.
func (t *table) fronts(c *screening.Comparison) {
	for i := range c.Pairs {
		p := &c.Pairs[i]
		of := row{"condition": p.Baseline + ">" + p.Challenge}
		for _, ch := range p.Front {
			joint, measure := frontNames(ch.Measure)
			t.value(of, joint, strings.Replace(measure, "front_", "front_change_", 1), ch.Change, ch.Interval95)
		}
	}
}

// unit is how the name of a measure of the ladder ends.
func unit(u kinematics.Unit) string {
	switch u {
	case kinematics.PctOfFoot:
		return "_pct_foot"
	case kinematics.PctOfHeight:
		return "_pct_height"
	}
	return "_deg"
}

// History writes the reps of an athlete's clips over the visits.
func History(w io.Writer, dated []history.DatedAnalysis) error {
	t := newTable(w, "date", "visit_condition", "load_kg", "setting", "clip", "leg", "rep", "tempo", "whole")
	for _, d := range dated {
		if d.Analysis != nil {
			t.reps(d.Analysis, row{"date": Text(d.Date), "visit_condition": Text(d.Condition), "load_kg": Number(d.LoadKg),
				"setting": Text(d.Setting), "clip": Text(d.Analysis.Clip.Name)}, nil)
		}
	}
	return t.end()
}

// carried are the cells that say how the set of a clip was done.
func carried(a *screening.Analysis) row {
	of := row{"clip": Text(a.Clip.Name), "load_kg": Number(a.LoadKg)}
	if a.Setting != nil {
		of["setting"] = Text(a.Setting.Said())
	}
	return of
}

// row are the cells of a row by their column.
type row map[string]string

// table writes rows of some of the columns, and keeps the first error.
type table struct {
	out     *csv.Writer
	columns []string
	err     error
}

func newTable(w io.Writer, of ...string) *table {
	t := &table{out: csv.NewWriter(w), columns: append(of, columns[10:]...)}
	t.err = t.out.Write(t.columns)
	return t
}

func (t *table) end() error {
	if t.out.Flush(); t.err == nil {
		t.err = t.out.Error()
	}
	return t.err
}

// count writes how often something was, unless it is not known.
func (t *table) count(of row, joint, measure string, n *int) {
	if n != nil {
		t.value(of, joint, measure, float64(*n), unknown)
	}
}

// value writes one measure, unless it is not known.
func (t *table) value(of row, joint, measure string, v float64, interval [2]float64) {
	if math.IsNaN(v) || t.err != nil {
		return
	}
	cells := make([]string, 0, len(t.columns))
	for _, c := range t.columns {
		switch c {
		case "joint":
			cells = append(cells, joint)
		case "measure":
			cells = append(cells, measure)
		case "value":
			cells = append(cells, Number(v))
		case "interval95_low":
			cells = append(cells, Number(interval[0]))
		case "interval95_high":
			cells = append(cells, Number(interval[1]))
		default:
			cells = append(cells, of[c])
		}
	}
	t.err = t.out.Write(cells)
}

func (t *table) estimate(of row, joint, measure string, e stats.Estimate) {
	t.value(of, joint, measure, e.Value, e.Interval95())
}

// unknown is the interval of what has none.
var unknown = [2]float64{math.NaN(), math.NaN()}

// reps writes what was measured in each rep of an analysis.
func (t *table) reps(a *screening.Analysis, of row, condition func(*kinematics.Rep) string) {
	for i := range a.Reps {
		r := &a.Reps[i]
		of["leg"], of["rep"], of["tempo"] = Text(a.NearSide), strconv.Itoa(r.Number), Text(string(r.Tempo))
		if of["whole"] = "yes"; a.View.Front {
			of["leg"] = ""
		}
		if r.Partial {
			of["whole"] = "no"
		}
		if condition != nil {
			of["condition"] = condition(r)
		}
		t.joints(r, of)
		if r.Front != nil {
			for _, reading := range r.Front.Readings {
				joint, measure := frontNames(reading.Measure)
				t.estimate(of, joint, measure, reading.Read)
			}
		}
		if f := r.Foot; f != nil {
			t.estimate(of, "heel", "rise_max_pct_foot", f.Heel.MaxPctFoot)
			t.estimate(of, "heel", "rise_max_cm", f.Heel.MaxCm)
		}
		if len(r.Support) > 0 {
			t.estimate(of, "foot", "support_point_mean_pct_foot", r.Support[0].MeanPct)
		}
		if s := r.Stack; s != nil {
			for _, k := range []body.Landmark{body.Hip, body.Shoulder, body.Wrist} {
				at := s.Of(k)
				t.estimate(of, k.String(), "over_foot_pct_height", at.ForwardPct)
				t.estimate(of, k.String(), "over_foot_lean_deg", at.LeanDeg)
			}
			t.estimate(of, "wrist", "path_front_pct_height", s.HandFrontPct)
			t.estimate(of, "wrist", "path_back_pct_height", s.HandBackPct)
		}
		if u := r.Rise; u != nil {
			t.estimate(of, "body", "to_feet_s", u.ToFeetS)
			t.value(of, "body", "still_s", u.StillS, unknown)
			t.count(of, "body", "steps_n", u.Steps)
		}
		if d := r.Drop; d != nil {
			t.estimate(of, "body", "drop_height_m", d.HeightM)
			t.value(of, "body", "still_s", d.StillS, unknown)
			t.count(of, "body", "steps_n", d.Steps)
		}
		t.value(of, "body", "duration_s", r.EndS-r.StartS, unknown)
		if j := r.Jump; j != nil {
			t.value(of, "body", "flight_s", j.FlightS, j.FlightInterval95S)
			t.value(of, "body", "jump_height_m", j.HeightFromFlightM, j.HeightFromFlightInterval95M)
		}
		if l := r.Landing; l != nil {
			t.value(of, "body", "settle_s", l.SettleS, unknown)
		}
	}
}

// frontNames returns the joint and the name of a measure of the front.
func frontNames(m frontal.Measure) (joint, measure string) {
	return [...]string{"knee_left", "knee_right", "knee", "hip", "hip"}[m], [...]string{"front_in_deg", "front_in_deg",
		"front_left_less_right_deg", "front_shift_left_pct_stance", "front_tilt_left_up_deg"}[m]
}

// joints writes the angles of a rep.
func (t *table) joints(r *kinematics.Rep, of row) {
	for _, j := range []struct {
		name string
		of   body.Angle
	}{{"ankle", body.AnkleDorsiflexion}, {"knee", body.KneeFlexion}, {"hip", body.HipFlexion}, {"trunk", body.TrunkLean},
		{"shoulder", body.ShoulderFlexion}, {"elbow", body.ElbowFlexion}} {
		m := &r.Angles[j.of]
		t.value(of, j.name, "rom_deg", m.ROMDeg, m.ROMInterval95Deg)
		position := "_deg"
		if !m.ZeroKnown {
			position = "_without_zero_deg" // 12 to 19 degrees too high in bent joints: no column of the others
		}
		t.value(of, j.name, "at_bottom"+position, m.AtBottomDeg, screening.Interval95(m.AtBottomDeg, m.SDDeg))
		t.value(of, j.name, "at_landing_bottom"+position, m.AtLandingBottomDeg,
			screening.Interval95(m.AtLandingBottomDeg, m.SDDeg))
		t.value(of, j.name, "peak_velocity_deg_s", m.PeakVelocityDegS, unknown)
	}
}

// Number writes a number as the documents do; a missing one is an empty cell.
func Number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	b, err := screening.EncodeJSON(v)
	if err != nil {
		return ""
	}
	return string(b)
}

// Text returns words for a table: one line that no spreadsheet takes for a formula (OWASP, "CSV Injection").
func Text(words string) string {
	words = printable.Line(words)
	if strings.ContainsRune("=+-@", []rune(words + " ")[0]) {
		return "'" + words
	}
	return words
}
