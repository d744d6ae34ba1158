package kinematics

import (
	"fmt"
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// Step is the readings of one condition: a step of the ladder. For jumps they are those
// of the landing's bottom.
type Step struct {
	Condition Condition
	Readings  [NumPositions]stats.Readings
}

// ladderWindowS is the time about the bottom over which support point and heel are read.
const ladderWindowS = 0.2

// StepsOf returns the readings of the whole reps of one clip, a step for each tempo.
func StepsOf(s *Series, reps []Rep, sp *measure.Support) []Step {
	var out []Step
	part := s.FootLengthPx / measure.ShodFootPx(&s.Motion)
	for _, g := range ByTempo(wholeReps(reps)) {
		when := func(r *Rep) float64 {
			if r.HasFlight() {
				return r.LandingBottomS
			}
			return r.BottomS
		}
		angle := func(a body.Angle) stats.Readings {
			return readings(g.Reps, func(r *Rep) (float64, float64) {
				if r.HasFlight() {
					return r.Angles[a].AtLandingBottomDeg, r.Angles[a].SharedSDDeg()
				}
				return r.Angles[a].AtBottomDeg, r.Angles[a].SharedSDDeg()
			})
		}
		step := Step{g.Condition, [NumPositions]stats.Readings{
			PositionHeel: readings(g.Reps, func(r *Rep) (float64, float64) {
				best := math.NaN()
				for i := s.Index(when(r) - ladderWindowS/2); i <= s.Index(when(r)+ladderWindowS) && i < len(s.HeelRise); i++ {
					if v := 100 * part * s.HeelRise[i]; !math.IsNaN(v) && !(v <= best) {
						best = v
					}
				}
				return best, measure.HeelSEMPct
			}),
			PositionSupport: readings(g.Reps, func(r *Rep) (float64, float64) {
				if sp == nil {
					return math.NaN(), math.NaN()
				}
				st := sp.Over(&s.Motion, trace.Span{FromS: when(r) - ladderWindowS/2, ToS: when(r) + ladderWindowS})
				return st.MeanPct.Value, measure.SupportSEMPct
			}),
		}}
		for p := range NumPositions {
			if a, ok := p.angle(); ok {
				step.Readings[p] = angle(a)
			}
		}
		out = append(out, step)

	}
	return out
}

// PointsTo says what a rung of the ladder may mean.
type PointsTo string

// What it may point to; PointsToNothing where the numbers are unclear or nothing was
// lost.
const (
	PointsToNothing        PointsTo = ""
	PointsToRange          PointsTo = "range"
	PointsToControlAtSpeed PointsTo = "control_at_speed"
	PointsToControlAtTurn  PointsTo = "control_through_change_of_direction"
)

// Rung is one position through the conditions.
type Rung struct {
	Position Position
	Cells    []Cell // the easiest condition first
	// FirstOutside is the first condition in which the position is outside its interval;
	// not known when it is in none, or when that is not clear.
	FirstOutside Condition
	PointsTo     PointsTo
}

// Cell is a position in one condition.
type Cell struct {
	Condition Condition
	// Mean is the mean of the readings, see [stats.Readings.Mean]; unknown without one.
	Mean stats.Estimate
	// Change compares with the easiest condition of the axis; nil for itself, and where
	// one of the two has no readings.
	Change *stats.Change
}

// Wanted is what a position should be in the slow rep, when somebody says so: the
// coach, or an earlier visit. There is no normal value that fits all people.
type Wanted struct {
	Min, Max float64 // NaN or 0 both: not said
}

func (w Wanted) said() bool { return w.Min != 0 || w.Max != 0 }

// LadderOptions are the coach's choices for the ladder.
type LadderOptions struct {
	Compare CompareOptions
	// Wanted holds what slow reps should show, by position. Where nothing is said,
	// the heel should be down and the support point in the middle of the foot, and
	// nothing is wanted of the angles.
	Wanted [NumPositions]Wanted
	// BandPct is the middle of the foot; zero: 25 to 75 per cent.
	BandPct [2]float64
}

// Ladder follows each position from the easiest condition of an axis to the hardest. A
// step may be missing; steps of several clips of one athlete may be put together. What a
// rung points to is said of the axis tempo alone, and follows the trade's rule (common
// practice, no source): short already when slow points to range; there when slow and gone
// when fast, to control at speed; there when fast and gone in the landing, to control
// through a change of direction. Where the step before is unclear, nothing is said.
func Ladder(steps []Step, opt LadderOptions) []Rung {
	var joined []Step
	for _, st := range byRank(steps, func(s Step) Condition { return s.Condition }) {
		if n := len(joined); n == 0 || joined[n-1].Condition != st.Condition {
			joined = append(joined, Step{Condition: st.Condition})
		}
		whole := &joined[len(joined)-1]
		for p := range NumPositions {
			r := &whole.Readings[p]
			r.NoiseSD = max(noNaN(r.NoiseSD), noNaN(st.Readings[p].NoiseSD))
			r.Values = append(r.Values, st.Readings[p].Values...)
			r.Occasion = st.Readings[p].Occasion
		}
	}
	var out []Rung
	for _, p := range opt.Compare.movement().Positions {
		out = append(out, rungOf(p, joined, opt))
	}
	return out
}

func noNaN(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

// pointing is what a position points to that first goes in a tempo.
var pointing = map[events.Tempo]PointsTo{events.TempoSlow: PointsToRange, events.TempoFast: PointsToControlAtSpeed, events.TempoJump: PointsToControlAtTurn}

func rungOf(p Position, steps []Step, opt LadderOptions) Rung {
	r := Rung{Position: p}
	co := opt.Compare.ForPosition(p)
	goes := func(at Condition, clear bool) {
		r.FirstOutside = at
		if at.Axis == AxisTempo && clear {
			r.PointsTo = pointing[ParseTempo(at.Key)]
		}
	}
	var easiest stats.Readings
	settled := 0 // the rank up to which every step is there and clear
	for i := range steps {
		at, mine := steps[i].Condition, steps[i].Readings[p]
		alone := mine
		for k := range steps {
			if o := steps[k].Readings[p]; len(o.Values) > 0 && o.Occasion != mine.Occasion {
				alone = mine.Against(o, co)
				break
			}
		}
		cell := Cell{Condition: at, Mean: alone.Mean(co)}
		switch {
		case len(mine.Values) == 0:
		case at.Rank == 1:
			easiest, settled = mine, 1
			if shortOf(mine, opt.wanted(p), co) {
				goes(at, true)
			}
		case len(easiest.Values) > 0:
			c := stats.Compare(easiest, mine, co)
			cell.Change = &c
			worse := PositionQuantity(p).Worse
			outside := c.Verdict == stats.Lost && worse >= 0 || c.Verdict == stats.Gained && worse <= 0
			if outside && !r.FirstOutside.Known() {
				goes(at, settled == at.Rank-1)
			}
			if c.Verdict != stats.Unclear && settled == at.Rank-1 {
				settled = at.Rank
			}
		}
		r.Cells = append(r.Cells, cell)
	}
	return r
}

func (o LadderOptions) wanted(p Position) Wanted {
	if w := o.Wanted[p]; w.said() {
		return w
	}
	switch p {
	case PositionHeel:
		return Wanted{Min: math.Inf(-1), Max: heelSmallestPct}
	case PositionSupport:
		b := measure.SupportBand(o.BandPct)
		return Wanted{Min: b[0], Max: b[1]}
	}
	return Wanted{}
}

// shortOf says whether the mean of the readings lies outside what is wanted, with its
// whole 95 % interval.
func shortOf(r stats.Readings, w Wanted, opt stats.Options) bool {
	if !w.said() || len(r.Values) == 0 {
		return false
	}
	in := r.Mean(opt).Interval95()
	below := !math.IsNaN(w.Min) && in[1] < w.Min
	above := !math.IsNaN(w.Max) && w.Max != 0 && in[0] > w.Max
	return below || above
}

// LadderCaution goes with every ladder.
const LadderCaution = "This is what the clips point to, not a diagnosis. Pain, injury and return to sport belong to licensed practice."

// ladderWords are what is said of each position: its name, how it is when all is well,
// and what it does when it is not.
var ladderWords = [NumPositions]struct{ name, well, lost string }{
	PositionSupport: {"The weight over the foot", "in place", "moves"},
	PositionHeel:    {"The heel", "down", "comes up"},
	PositionAnkle:   {"The ankle's position", "there", "is gone"},
	PositionKnee:    {"The knee's position", "there", "is gone"},
	PositionHip:     {"The hip's position", "there", "is gone"},
	PositionTrunk:   {"The trunk's lean", "set", "changes"},
}

// Sentence returns what the rung may mean in plain words; empty where nothing is
// said. [LadderCaution] belongs beside it.
func (r Rung) Sentence() string {
	if r.Position < 0 || r.Position >= NumPositions {
		return ""
	}
	w := ladderWords[r.Position]
	switch r.PointsTo {
	case PointsToRange:
		return w.name + " is not as wanted already in the slow rep: that points to range."
	case PointsToControlAtSpeed:
		return fmt.Sprintf("%s is %s in the slow rep and %s in the fast one: that points to control at speed.", w.name, w.well, w.lost)
	case PointsToControlAtTurn:
		return fmt.Sprintf("%s is %s in the fast rep and %s in the landing: that points to control through a change of direction.", w.name, w.well, w.lost)
	}
	return ""
}
