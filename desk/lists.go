package desk

import (
	"context"
	"math"
	"slices"

	"holdfast/archive"
	"holdfast/desk/given"
	"holdfast/kinematics/joints"
	"holdfast/screening/history"
)

// History follows an athlete's measured clips over the visits.
func (d *Desk) History(ctx context.Context, athleteID string) (history.History, error) {
	dated, err := d.Dated(ctx, athleteID)
	if err != nil {
		return history.History{}, err
	}
	return history.Of(dated), nil
}

// Dated lists the analyses of an athlete's measured clips with their visits.
func (d *Desk) Dated(ctx context.Context, athleteID string) (dated []history.DatedAnalysis, err error) {
	clips, err := d.archive.ClipsOf(ctx, athleteID)
	if err != nil {
		return nil, err
	}
	visits, err := d.archive.Visits(ctx, athleteID)
	if err != nil {
		return nil, err
	}
	for _, c := range clips {
		i := slices.IndexFunc(visits, func(v archive.Visit) bool { return v.ID == c.VisitID })
		if c.Result == nil || i < 0 {
			continue
		}
		a, err := d.Summary(c)
		if err != nil {
			return nil, err
		}
		one := history.DatedAnalysis{Date: visits[i].Date, Condition: visits[i].Condition, ClipID: c.ID, Analysis: a,
			LoadKg: math.NaN(), Setting: c.Setting.Said()}
		if l := visits[i].LoadKg; l != nil {
			one.LoadKg = *l
		}
		dated = append(dated, one)
	}
	return dated, nil
}

// Sum is what a list shows of a clip's numbers.
type Sum struct {
	Tempos []string // of its whole reps, the easiest first; the one given where it has none
	Reps   int
	Grade  joints.Grade // the poorest
	Doubts int          // warnings
}

var grades = []joints.Grade{"good", "fair", "poor"}

// SumOf sums up a clip. What cannot be read of its analysis is left out.
func (d *Desk) SumOf(c archive.Clip) Sum {
	var s Sum
	if c.Tempo != "" {
		s.Tempos = []string{c.Tempo}
	}
	if c.Result == nil {
		return s
	}
	a, err := d.Summary(c)
	if err != nil {
		return s
	}
	s.Tempos, s.Doubts = nil, len(a.Warnings)
	for i := range a.Reps {
		rep := &a.Reps[i]
		if rep.Partial {
			continue
		}
		s.Reps++
		if tempo := string(rep.Tempo); !slices.Contains(s.Tempos, tempo) {
			s.Tempos = append(s.Tempos, tempo)
		}
		if slices.Index(grades, rep.Quality.Grade) > slices.Index(grades, s.Grade) {
			s.Grade = rep.Quality.Grade
		}
	}
	slices.SortFunc(s.Tempos, func(a, b string) int {
		return slices.Index(given.Tempos, a) - slices.Index(given.Tempos, b)
	})
	return s
}

// Suggestion is a comparison that can be made at once.
type Suggestion struct {
	Clips  []string // ids
	Tempos []string
}

// Suggest looks for two or three tempos of one visit among clips and what they sum up to,
// in the order of the clips; ok is false when there are none.
func Suggest(clips []archive.Clip, sums []Sum) (s Suggestion, ok bool) {
	of := map[string]map[string]string{} // by visit and tempo
	var order []string
	for i, c := range clips {
		if c.Result == nil || sums[i].Reps == 0 {
			continue
		}
		if of[c.VisitID] == nil {
			of[c.VisitID] = map[string]string{}
			order = append(order, c.VisitID)
		}
		for _, t := range sums[i].Tempos {
			if _, have := of[c.VisitID][t]; !have {
				of[c.VisitID][t] = c.ID
			}
		}
	}
	for _, visit := range order {
		if len(of[visit]) < 2 {
			continue
		}
		for _, t := range given.Tempos {
			id, have := of[visit][t]
			if !have {
				continue
			}
			s.Tempos = append(s.Tempos, t)
			if !slices.Contains(s.Clips, id) {
				s.Clips = append(s.Clips, id)
			}
		}
		return s, true
	}
	return Suggestion{}, false
}
