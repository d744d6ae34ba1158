package losses

import (
	"holdfast/kinematics"
	"holdfast/kinematics/stats"
)

// Again is the answer to whether a position that was lost under a condition holds under it now.
type Again struct {
	Side      string              `json:"side"`
	Movement  int                 `json:"movement"`
	Turn      string              `json:"turn,omitempty"`
	Position  kinematics.Position `json:"position"`
	Baseline  Condition           `json:"baseline"`
	Challenge Condition           `json:"challenge"`
	// Then is the last visit that lost the position before Now, the last one that shows the condition.
	Then Point `json:"before"`
	Now  Point `json:"now"`
	// Against is the day of the easy reps that Now is compared with, where its own visit has none; empty: it has.
	Against string `json:"against,omitempty"`
}

// Holds says whether the position is there again.
func (a *Again) Holds() bool { return a.Now.Verdict == stats.Held || a.Now.Verdict == stats.Gained }

// AgainOf returns for each position that was lost from one condition to a harder one, and whose harder condition was
// measured again on a later day, what it does there now. A visit without easy reps of its own is compared with the
// last ones before it, and what readings of two days differ by is in its interval then.
func AgainOf(visits []Visit) []Again {
	out := []Again{}
	for _, s := range Of(visits) {
		easy, hard := stateOf(s.Baseline), stateOf(s.Challenge)
		of := func(at state, from string) (last *Visit) {
			for i := range visits {
				v := &visits[i]
				if v.state() == at && v.Side == s.Side && v.Movement == s.Movement && v.Date <= from &&
					len(v.At(s.Position).Values) > 0 && (last == nil || v.Date >= last.Date) {
					last = v
				}
			}
			return last
		}
		now := of(hard, lastDay)
		if now == nil {
			continue
		}
		var then *Point
		for k := range s.Points {
			if p := &s.Points[k]; p.Verdict == stats.Lost && p.Date < now.Date {
				then = p
			}
		}
		before := of(easy, now.Date)
		if then == nil || before == nil || before.ZeroKnown != now.ZeroKnown {
			continue
		}
		at, ok := lossOf(onItsDay(before), onItsDay(now), s.Position)
		if !ok {
			continue
		}
		a := Again{Side: s.Side, Movement: s.Movement, Turn: s.Turn, Position: s.Position, Baseline: s.Baseline,
			Challenge: s.Challenge, Then: *then, Now: at}
		if before.Date != now.Date {
			a.Against = before.Date
		}
		out = append(out, a)
	}
	return out
}

// lastDay is later than every date.
const lastDay = "9999-12-31"

// stateOf is a condition as a key again.
func stateOf(c Condition) state {
	s := state{tempo: c.Tempo, condition: c.Condition, setting: c.Setting}
	if c.LoadKg > 0 {
		s.loadKg = c.LoadKg
	}
	return s
}

// onItsDay returns a visit whose readings know on which day they were taken.
func onItsDay(v *Visit) *Visit {
	out := *v
	out.At = func(p kinematics.Position) stats.Readings {
		r := v.At(p)
		r.Occasion = v.Date
		return r
	}
	return &out
}
