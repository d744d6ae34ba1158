package kinematics

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// Set sums up the whole reps of one tempo in a clip.
type Set struct {
	Tempo events.Tempo `json:"tempo"`
	Reps  int          `json:"reps"`
	// BetweenRepsSDDeg is the spread of the range of motion between reps; NaN for
	// one rep.
	BetweenRepsSDDeg body.ByJoint[float64] `json:"between_reps_sd_deg"`
	// Drift is how the range of motion changes from the first rep to the last, as
	// with fatigue; nil with fewer than three reps.
	Drift *body.ByJoint[stats.Drift] `json:"drift"`
	// Positions are the readings that the ladder compares; for jumps those of the landing's
	// bottom.
	Positions []PositionReadings `json:"positions"`
	// Within are those positions over the reps, in order, where they are known of three reps or more; nil in results of
	// before it was read.
	Within []PositionWithin `json:"within"`
}

// PositionWithin is how one position goes over the whole reps of a set, in its unit.
type PositionWithin struct {
	Position Position `json:"position"`
	Unit     Unit     `json:"unit"`
	Reps     int      `json:"reps"` // of the set
	stats.Within
	// StaysFrom is the number of the rep from which on all lie outside of where the first third does; 0: none.
	StaysFrom int `json:"stays_outside_from_rep"`
}

// PositionReadings are the readings of one position in the reps of a set, in its unit.
type PositionReadings struct {
	Position Position `json:"position"`
	Unit     Unit     `json:"unit"`
	stats.Readings
}

// ladderWindowS is the time about the bottom over which support point and heel are read.
const ladderWindowS = 0.2

// setsOf sums up the whole reps of a clip, a set for each tempo; where none is whole, of
// those that there are only the readings.
func setsOf(s *Series, reps []Rep, sp *measure.Support) []Set {
	out := []Set{}
	for _, g := range ByTempo(wholeReps(reps)) {
		read := positionReader(s, sp)
		set := Set{Tempo: g.Reps[0].Tempo, Positions: positionsOf(s, g.Reps, read)}
		whole := slices.DeleteFunc(g.Reps, func(r Rep) bool { return !r.Counts() })
		set.Reps, set.Drift, set.Within = len(whole), driftOfSet(whole), withinSet(s, whole, read)
		for j := range body.NumJoints {
			set.BetweenRepsSDDeg[j] = spreadOfROM(whole, j.Angle())
		}
		out = append(out, set)
	}
	return out
}

// readPosition reads a position in a rep, with the standard deviation of what all reps of a set share.
type readPosition func(r *Rep) (value, sd float64)

// positionReader returns how every position is read, at the bottom of a rep or of its landing.
func positionReader(s *Series, sp *measure.Support) (of [movement.NumPositions]readPosition) {
	part := s.FootLengthPx / measure.ShodFootPx(&s.Motion)
	when := func(r *Rep) float64 {
		if r.HasFlight() {
			return r.LandingBottomS
		}
		return r.BottomS
	}
	of = [movement.NumPositions]readPosition{
		PositionHeel: func(r *Rep) (float64, float64) {
			best, atS := math.NaN(), math.NaN()
			for i := s.Index(when(r) - ladderWindowS/2); i <= s.Index(when(r)+ladderWindowS) && i < len(s.HeelRise); i++ {
				if v := 100 * part * s.HeelRise[i]; !math.IsNaN(v) && !(v <= best) {
					best, atS = v, s.TimeS[i]
				}
			}
			return best, math.Hypot(measure.HeelSEMPct, measure.HeelGuessPct(&s.Motion, atS, best))
		},
		PositionSupport: func(r *Rep) (float64, float64) {
			st := sp.Over(&s.Motion, trace.Span{FromS: when(r) - ladderWindowS/2, ToS: when(r) + ladderWindowS})
			return st.MeanPct.Value, measure.SupportSEMPct
		},
	}
	for p, k := range map[Position]body.Landmark{movement.HipOverFoot: body.Hip,
		movement.ShoulderOverFoot: body.Shoulder, movement.WristOverFoot: body.Wrist} {
		of[p] = func(r *Rep) (float64, float64) {
			if r.Stack == nil {
				return math.NaN(), math.NaN()
			}
			e := r.Stack.Of(k).ForwardPct
			return e.Value, e.SD
		}
	}
	for p := range of {
		if a, ok := angleOf(Position(p)); ok {
			of[p] = func(r *Rep) (float64, float64) {
				if r.HasFlight() {
					return r.Angles[a].AtLandingBottomDeg, r.Angles[a].SharedSDDeg()
				}
				return r.Angles[a].AtBottomDeg, r.Angles[a].SharedSDDeg()
			}
		}
	}
	return of
}

// positionsOf reads every position in the reps.
func positionsOf(s *Series, reps []Rep, of [movement.NumPositions]readPosition) []PositionReadings {
	var out []PositionReadings
	for p, read := range of {
		if p := Position(p); p.OfArm() && !slices.Contains(s.Movement.Positions, p) {
			continue
		}
		r := readings(reps, read)
		r.Values = append([]float64{}, r.Values...) // an empty list, not none, is written
		out = append(out, PositionReadings{Position(p), PositionQuantity(Position(p)).Unit, r})
	}
	return out
}

// withinSet follows every position over the whole reps of a set.
func withinSet(s *Series, reps []Rep, of [movement.NumPositions]readPosition) []PositionWithin {
	out := []PositionWithin{}
	for p, read := range of {
		if p := Position(p); p.OfArm() && !slices.Contains(s.Movement.Positions, p) {
			continue
		}
		var values []float64
		for i := range reps {
			v, _ := read(&reps[i])
			values = append(values, v)
		}
		w, ok := stats.WithinSet(values, CompareOptions{}.ForPosition(Position(p)))
		if !ok {
			continue
		}
		one := PositionWithin{Position: Position(p), Unit: PositionQuantity(Position(p)).Unit, Reps: len(reps), Within: w}
		if w.Stays >= 0 {
			one.StaysFrom = reps[w.Stays].Number
		}
		out = append(out, one)
	}
	return out
}

// PointsTo says what a rung of the ladder may mean.
type PointsTo string

// What it may point to; PointsToNothing where the numbers are unclear or nothing was
// lost.
const (
	PointsToRange          PointsTo = "range"
	PointsToControlAtSpeed PointsTo = "control_at_speed"
	PointsToControlAtTurn  PointsTo = "control_through_change_of_direction"
)

// Ladder follows each position from the easiest condition of an axis to the hardest.
type Ladder struct {
	Rungs []Rung `json:"rungs"`
}

// AtLanding says whether positions of a condition were read in its landings.
func (l Ladder) AtLanding(condition string) bool {
	return slices.ContainsFunc(l.Rungs, func(r Rung) bool {
		return slices.ContainsFunc(r.Cells, func(c Cell) bool { return c.Condition == condition && c.Landing })
	})
}

// Rung is one position through the conditions, which are named by their keys.
type Rung struct {
	Position Position `json:"position"`
	Unit     Unit     `json:"unit"`
	Cells    []Cell   `json:"cells"` // the easiest condition first
	// First is the first condition in which the position is outside its interval; empty
	// when it is in none, or when that is not clear.
	First    string   `json:"first_outside"`
	PointsTo PointsTo `json:"points_to"`
}

// Cell is a position in one condition.
type Cell struct {
	Condition string `json:"tempo"`
	// Value is the mean of the readings, see [stats.Readings.Mean]; NaN without one.
	Value float64 `json:"value"`
	// Interval95 is that of Value; in a comparison of before it was kept both ends are 0.
	Interval95 [2]float64 `json:"interval95"`
	// Landing says that it was read at the lowest point of landings, as that of jumps is.
	Landing bool `json:"landing"`
	// ZeroKnown says that an angle is counted from the athlete's own standing, see
	// [joints.AngleMeasure]; it is true of all else.
	ZeroKnown bool `json:"zero_known"`
	// Change compares with the easiest condition that was filmed; nil for itself, and where
	// one of the two has no readings.
	Change *stats.Change `json:"change"`
	// RepsToTell is how many reps of each would make an unclear change clear, see [stats.RepsToTell].
	RepsToTell int `json:"reps_to_tell"`
}

// ladderOf follows each position through the groups, the easiest first, by their readings;
// without readings of two groups there are no rungs. What a rung points to is said of the
// axis tempo alone, and follows the trade's rule (common practice, no source): short already
// when slow points to range; there when slow and gone when fast, to control at speed; there
// when fast and gone in the landing, to control through a change of direction. Where the
// condition before is unclear, nothing is said.
func ladderOf(groups []Group, opt CompareOptions) Ladder {
	out := Ladder{Rungs: []Rung{}}
	read := 0
	for i := range groups {
		if groups[i].Positions != nil {
			read++
		}
	}
	if read < 2 {
		return out
	}
	for _, p := range opt.Movement.Positions {
		out.Rungs = append(out.Rungs, rungOf(p, groups, opt))
	}
	return out
}

// at returns the readings of a position.
func (g *Group) at(p Position) (out stats.Readings) {
	for i := range g.Positions {
		if g.Positions[i].Position == p {
			out = g.Positions[i].Readings
		}
	}
	if len(g.Reps) > 0 {
		out.Occasion = g.Reps[0].Occasion
	}
	return out
}

// zeroKnownAt says whether a position of the group's reps is counted from the athlete's
// standing, as far as it is an angle.
func (g *Group) zeroKnownAt(p Position) bool {
	a, isAngle := angleOf(p)
	return !isAngle || g.zeroKnown(a)
}

// pointing is what a position points to that first goes in a tempo.
var pointing = map[events.Tempo]PointsTo{events.TempoSlow: PointsToRange, events.TempoFast: PointsToControlAtSpeed,
	events.TempoJump: PointsToControlAtTurn}

func rungOf(p Position, groups []Group, opt CompareOptions) Rung {
	r := Rung{Position: p, Unit: PositionQuantity(p).Unit, Cells: []Cell{}}
	co := opt.ForPosition(p)
	goes := func(at Condition, clear bool) {
		r.First = at.Key
		if at.Axis == axisTempo && clear {
			r.PointsTo = pointing[events.ParseTempo(at.Key)]
		}
	}
	var easiest stats.Readings
	settled := 0 // the rank up to which every group is there and clear
	for i := range groups {
		at, mine := groups[i].Condition, groups[i].at(p)
		alone := mine
		for k := range groups {
			if o := groups[k].at(p); len(o.Values) > 0 && o.Occasion != mine.Occasion {
				alone = mine.Against(o, co)
				break
			}
		}
		mean := alone.Mean(co)
		cell := Cell{Condition: at.Key, Value: mean.Value, Interval95: mean.Interval95(),
			Landing:   slices.ContainsFunc(groups[i].Reps, func(r Rep) bool { return r.HasFlight() }),
			ZeroKnown: groups[i].zeroKnownAt(p)}
		switch {
		case len(mine.Values) == 0 || 2*len(mine.Values) < len(groups[i].Reps): // hardly known: points to nothing
		case i == 0:
			easiest = mine
			if at.Rank != 1 {
				break // that nothing is short there says nothing of easier ones
			}
			settled = 1
			if opt.short(p, mine.Mean(co)) {
				goes(at, true)
			}
		case len(easiest.Values) > 0:
			c := stats.Compare(easiest, mine, co)
			if cell.ZeroKnown != r.Cells[0].ZeroKnown {
				c = c.NotComparable()
			}
			if cell.Change = &c; !math.IsNaN(c.Lost) {
				cell.RepsToTell = stats.RepsToTell(easiest, mine, co)
			}
			worse := PositionQuantity(p).Worse
			outside := c.Verdict == stats.Lost && worse >= 0 || c.Verdict == stats.Gained && worse <= 0
			if outside && r.First == "" {
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

// short says whether a mean of the easiest condition lies outside what is wanted of the
// position, with its whole 95 % interval: the heel down, the support point in the middle of
// the foot. Of the angles nothing is wanted: no value is normal for all people.
func (o CompareOptions) short(p Position, mean stats.Estimate) bool {
	in := mean.Interval95()
	switch p {
	case PositionHeel:
		return in[0] > heelSmallestPct
	case PositionSupport:
		band := measure.SupportBand(o.SupportBandPct)
		return in[1] < band[0] || in[0] > band[1]
	}
	return false
}
