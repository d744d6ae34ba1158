// Package losses follows over an athlete's visits what is lost at the bottom from an easy condition to a hard one.
//
// A loss is the difference of two means of one visit, so what is alike in all clips of a visit (camera, clothes, shoes)
// cancels in it; two visits are compared by the difference of their losses, whose interval joins those of both:
//
//	half^2 = half1^2 + half2^2
//
// What is told of two visits has the names of [stats.Verdict]: gained when more is kept, lost when less is.
package losses

import (
	"cmp"
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/stats"
)

// Visit is the reps of one condition on one day.
type Visit struct {
	Date     string // YYYY-MM-DD
	Side     string
	Movement int
	// Turn is what the turn of the movement is called; empty: the bottom. Positions are those that count at it.
	Turn      string
	Positions []kinematics.Position
	// Tempo and State are how the reps were done and in which state of the athlete; LoadKg what was carried, 0: nothing.
	Tempo, State kinematics.Condition
	LoadKg       float64
	// Setting is how else the set was done, in words.
	Setting string
	// ZeroKnown says that the angles are counted from the athlete's own standing.
	ZeroKnown bool
	// At returns the readings of a position.
	At func(kinematics.Position) stats.Readings
}

// Series is what one position loses from one condition to another, a point a visit.
type Series struct {
	Side     string              `json:"side"`
	Movement int                 `json:"movement"`
	Turn     string              `json:"turn,omitempty"`
	Position kinematics.Position `json:"position"`
	// Baseline and Challenge are two tempos in one state, or two states in one tempo.
	Baseline  Condition `json:"baseline"`
	Challenge Condition `json:"challenge"`
	Points    []Point   `json:"points"`
}

// Condition is a tempo and the state of the athlete.
type Condition struct {
	Tempo     string  `json:"tempo"`
	Condition string  `json:"condition"`
	LoadKg    float64 `json:"load_kg"` // null: none
	Setting   string  `json:"setting,omitempty"`
}

// Point is the loss of one visit.
type Point struct {
	Date string `json:"date"`
	// LostDeg is how much less of the position there is; of a joint that is to be straight, how much more it bends.
	LostDeg       float64       `json:"lost_deg"`
	Interval95Deg [2]float64    `json:"interval95_deg"`
	Verdict       stats.Verdict `json:"verdict"`
	// SinceFirst and SincePrevious compare with those visits; null at the first.
	SinceFirst    *Change `json:"since_first"`
	SincePrevious *Change `json:"since_previous"`
}

// Change is what became of a loss from an earlier visit to this one.
type Change struct {
	Since string `json:"since"` // date
	// KeptDeg is how much more of the position is kept, negative when less is.
	KeptDeg       float64    `json:"kept_deg"`
	Interval95Deg [2]float64 `json:"interval95_deg"`
	// SmallestDetectableDeg is the smallest change that these visits would show.
	SmallestDetectableDeg float64       `json:"smallest_detectable_deg"`
	Verdict               stats.Verdict `json:"verdict"`
}

// series is what must be alike for losses to be followed.
type series struct {
	side                string
	movement            int
	baseline, challenge state
}

// state is a condition as a key.
type state struct {
	tempo, condition string
	loadKg           float64
	setting          string
}

func (v *Visit) state() state { return state{v.Tempo.Key, v.State.Key, v.LoadKg, v.Setting} }

func (s state) asCondition() Condition {
	load := math.NaN()
	if s.loadKg > 0 {
		load = s.loadKg
	}
	return Condition{s.tempo, s.condition, load, s.setting}
}

// ofJoints returns those of some positions that are of a joint, in the joints' order.
func ofJoints(among []kinematics.Position) []kinematics.Position {
	var out []kinematics.Position
	for j := range body.NumJoints {
		for _, p := range among {
			if kinematics.IsOf(p, j) {
				out = append(out, p)
			}
		}
	}
	return out
}

// lossOf compares two visits at a position. What is lost is positive whichever way is the worse one.
func lossOf(easy, hard *Visit, p kinematics.Position) (at Point, ok bool) {
	c := stats.Compare(easy.At(p), hard.At(p), kinematics.CompareOptions{}.ForPosition(p))
	at = Point{Date: hard.Date, LostDeg: c.Lost, Interval95Deg: c.Interval95, Verdict: c.Verdict}
	if q := kinematics.PositionQuantity(p); q.Worse < 0 {
		at.LostDeg, at.Interval95Deg = -c.Lost, [2]float64{-c.Interval95[1], -c.Interval95[0]}
		at.Verdict = stats.Verdict(q.Look(c.Verdict))
	}
	return at, !math.IsNaN(c.Lost)
}

// Of returns the losses of every joint over the visits, in the order in which their conditions were first met.
func Of(visits []Visit) []Series {
	visits = slices.Clone(visits)
	slices.SortStableFunc(visits, func(a, b Visit) int { return cmp.Compare(a.Date, b.Date) })
	type pair struct{ easy, hard *Visit }
	by := map[series][]pair{}
	var order []series
	for i := range visits {
		for k := range visits {
			easy, hard := &visits[i], &visits[k]
			if easy.Date != hard.Date || easy.Side != hard.Side || easy.Movement != hard.Movement || !harder(easy, hard) ||
				easy.ZeroKnown != hard.ZeroKnown {
				continue
			}
			key := series{easy.Side, easy.Movement, easy.state(), hard.state()}
			if by[key] == nil {
				order = append(order, key)
			}
			by[key] = append(by[key], pair{easy, hard})
		}
	}
	out := []Series{}
	for _, key := range order {
		of := by[key][0].easy
		for _, p := range ofJoints(of.Positions) {
			opt := kinematics.CompareOptions{}.ForPosition(p)
			s := Series{Side: key.side, Movement: key.movement, Turn: of.Turn, Position: p,
				Baseline: key.baseline.asCondition(), Challenge: key.challenge.asCondition(), Points: []Point{}}
			for _, of := range by[key] {
				at, ok := lossOf(of.easy, of.hard, p)
				if !ok {
					continue
				}
				if n := len(s.Points); n > 0 {
					at.SinceFirst, at.SincePrevious = changeOf(&s.Points[0], &at, opt), changeOf(&s.Points[n-1], &at, opt)
				}
				s.Points = append(s.Points, at)
			}
			if len(s.Points) > 0 {
				out = append(out, s)
			}
		}
	}
	return out
}

// harder says whether one of two conditions is compared with the other as the harder: the easiest tempo of a state with
// its other tempos, or the fresh athlete with the same tempo in another state
// or setting.
func harder(easy, hard *Visit) bool {
	if easy.State.Key == hard.State.Key && easy.LoadKg == hard.LoadKg && easy.Setting == hard.Setting {
		return easy.Tempo.Rank == 1 && hard.Tempo.Rank > 1
	}
	return easy.Tempo.Key == hard.Tempo.Key && easy.State.Rank == 1 &&
		(hard.State.Rank > 1 || easy.Setting == "" && hard.Setting != "")
}

// changeOf compares the losses of two visits.
func changeOf(then, now *Point, opt stats.Options) *Change {
	half := func(p *Point) float64 { return (p.Interval95Deg[1] - p.Interval95Deg[0]) / 2 }
	kept, width := then.LostDeg-now.LostDeg, math.Hypot(half(then), half(now))
	return &Change{Since: then.Date, KeptDeg: kept, Interval95Deg: [2]float64{kept - width, kept + width},
		SmallestDetectableDeg: math.Max(width, opt.SmallestChange),
		Verdict:               stats.VerdictOf(-kept, [2]float64{-kept - width, -kept + width}, opt)}
}
