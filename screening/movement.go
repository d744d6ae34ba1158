package screening

import (
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/movements"
	"holdfast/words"
)

// Movement says which movement a clip shows, and what of it is compared, so that a result can be read without the
// movement's file.
type Movement struct {
	Key string `json:"key"`
	// Given says that the coach said so; else it was found, SurePct sure against the next one.
	Given   bool    `json:"given"`
	SurePct float64 `json:"sure_pct"`
	// Joints are those whose ranges are compared, what is told first before the others; Positions are followed from
	// condition to condition.
	Joints    []body.Joint          `json:"joints"`
	Positions []kinematics.Position `json:"positions"`
	// Turn is what the turn is called, a code of the catalogue or the coach's words; empty: the bottom.
	Turn string `json:"turn,omitempty"`
}

// movementOf returns the movement that was measured.
func movementOf(s *kinematics.Series, opt Options) Movement {
	m := s.Movement
	return Movement{Key: m.Key, Given: opt.Movement != "", SurePct: s.SurePct, Joints: list(m.Joints),
		Positions: list(m.Positions), Turn: m.Turn.Called}
}

// lookedFor returns the movements that a clip may show: the one of the key, or all.
func lookedFor(key string) ([]*movement.Movement, error) {
	if key == "" {
		if all := movements.Known().All(); len(all) > 0 {
			return all, nil
		}
	}
	if m, known := movements.Known().Of(key); known {
		return []*movement.Movement{m}, nil
	}
	return nil, words.Because(ErrCannotMeasure, "no_such_movement", words.Params{
		"given": key, "known": movements.Known().Keys()})
}

// ofMovement leaves out the notices that are no word on a movement: where no rep leaves the floor no jump is missed by
// feet that only seem to, be they behind a plate, and who kneels does not stand first. Who hangs does not stand either.
func ofMovement(m *movement.Movement, notices []kinematics.Notice) []kinematics.Notice {
	notices = slices.Clone(notices)
	for i := range notices {
		if n := &notices[i]; m.Feet.Stance == movement.Hanging && n.Code == "zero_doubted" {
			n.Code = "zero_doubted_hanging"
		}
	}
	return slices.DeleteFunc(notices, func(n kinematics.Notice) bool {
		return !m.Feet.Leave && n.Code == kinematics.NoticeFlightDoubted ||
			m.Feet.Stance == movement.Kneeling && n.Code == "no_stand"
	})
}

// OnItsFeet says whether the feet carry the body in a rep, so that something is told of them.
func (a *Analysis) OnItsFeet() bool {
	return slices.ContainsFunc(a.Reps, func(r kinematics.Rep) bool { return r.Foot != nil })
}

// Shows returns the movement of a result; one of before names none, and one that fits none has none.
func (a *Analysis) Shows() Movement {
	m := a.Movement
	if m.Key != "" || a.Plain != nil {
		return m
	}
	if of, known := movements.Known().Of(""); known {
		m.Key, m.Joints, m.Positions = of.Key, of.Joints, of.Positions
	}
	return m
}

// sharedTurn returns what clips of several movements can be compared by: the positions that all of them share at the
// turn, by their files. ok is false where they share none, or all show one movement.
func sharedTurn(analyses []*Analysis) (of movement.Movement, ok bool) {
	var all []*movement.Movement
	several := false
	for _, a := range analyses {
		m, known := movements.Known().Of(a.Shows().Key)
		if !known {
			return of, false
		}
		all = append(all, m)
		several = several || m.Key != all[0].Key
	}
	positions := movement.Shared(all)
	if !several || len(positions) == 0 {
		return of, false
	}
	of = movement.Movement{Key: all[0].Share.Name, Positions: positions, Turn: movement.Turn{Called: all[0].Turn.Called}}
	for _, j := range all[0].Joints {
		if slices.ContainsFunc(positions, func(p kinematics.Position) bool { return kinematics.IsOf(p, j) }) {
			of.Joints = append(of.Joints, j)
		}
	}
	return of, len(of.Joints) > 0
}

// compared returns what is compared of the movement.
func (m Movement) compared() movement.Movement {
	return movement.Movement{Key: m.Key, Joints: m.Joints, Positions: m.Positions, Turn: movement.Turn{Called: m.Turn}}
}
