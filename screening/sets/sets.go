// Package sets compares sets that were filmed from the side and from the front: side with side, front with front.
package sets

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/notice"
	"holdfast/screening"
	"holdfast/words"
)

// ErrNotOneSet: two clips cannot be of one set, as both are filmed from one view; it wraps screening.ErrCannotMeasure.
var ErrNotOneSet = words.Because(screening.ErrCannotMeasure, "both_views", nil)

// errFronts: some clip has none of the same set from the front.
var errFronts = words.Because(screening.ErrCannotMeasure, "fronts_missing", nil)

// FitTogether says whether a clip from the side and one from the front may show one set: an error wraps ErrNotOneSet
// where both are of one view. Reps that differ in number are told of.
func FitTogether(side, front *screening.Analysis) ([]screening.Warning, error) {
	if side.View.Front || !front.View.Front {
		return nil, ErrNotOneSet
	}
	count := func(a *screening.Analysis) (n int) {
		for i := range a.Reps {
			if a.Reps[i].Counts() {
				n++
			}
		}
		return n
	}
	n, m := count(side), count(front)
	if n == m {
		return nil, nil
	}
	return notice.List("joined_reps", notice.Params{"side": side.Clip.Name, "side_reps": n, "front": front.Clip.Name,
		"front_reps": m}), nil
}

// Compare is screening.Compare of clips from the side with, where there are any, those of the same sets from the front,
// one a clip in their order: nothing of one view is held against the other. Where the fronts cannot be compared a
// warning says why.
func Compare(sides, fronts []*screening.Analysis, how screening.CompareOptions) (*screening.Comparison, error) {
	c, err := screening.Compare(sides, how)
	if err == nil {
		err = Add(c, sides, fronts, how)
	}
	if err != nil {
		return nil, err
	}
	return c, nil
}

// Add adds to a comparison of clips from the side what the front shows of the same sets.
func Add(c *screening.Comparison, sides, fronts []*screening.Analysis, how screening.CompareOptions) error {
	if len(fronts) == 0 {
		return nil
	}
	if len(fronts) != len(sides) {
		return errFronts
	}
	var alike []*screening.Analysis
	for i, side := range sides {
		told, err := FitTogether(side, fronts[i])
		if err != nil {
			return err
		}
		c.Warnings = append(c.Warnings, told...)
		alike = append(alike, withTempoOf(fronts[i], side))
	}
	how.Retest = nil
	of, err := screening.Compare(alike, how)
	if errors.Is(err, screening.ErrCannotMeasure) {
		c.Warnings = append(c.Warnings, notice.New("fronts_not_compared", notice.Params{"why": err.Error()}))
		return nil
	}
	if err != nil {
		return err
	}
	for _, w := range of.Warnings {
		if !slices.ContainsFunc(c.Warnings, func(old screening.Warning) bool {
			return screening.Say(old) == screening.Say(w)
		}) {
			c.Warnings = append(c.Warnings, w)
		}
	}
	of.Warnings = []screening.Warning{}
	c.Fronts = of
	return nil
}

// Load reads the comparison of these analyses from its file, as Compare made it but for its Axis, with those of the
// clips from the front where it has any.
func Load(path string, sides, fronts []*screening.Analysis) (*screening.Comparison, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("reading a comparison: %w", err)
	}
	c := &screening.Comparison{Analyses: sides}
	if err := json.Unmarshal(data, c); err != nil {
		return nil, fmt.Errorf("reading the comparison %s: %w", path, err)
	}
	if len(c.Clips) != len(sides) {
		return nil, fmt.Errorf("reading the comparison %s: it is of %d clips, not of %d", path, len(c.Clips), len(sides))
	}
	if c.Fronts == nil {
		return c, nil
	}
	if len(c.Fronts.Clips) != len(fronts) {
		return nil, fmt.Errorf("reading the comparison %s: it is of %d clips from the front, not of %d", path,
			len(c.Fronts.Clips), len(fronts))
	}
	ShowFronts(c, fronts)
	return c, nil
}

// ShowFronts gives a comparison that was read the analyses of its clips from the front, in the order of its own, which
// it has by then.
func ShowFronts(c *screening.Comparison, fronts []*screening.Analysis) {
	for i, f := range fronts {
		if f != nil && i < len(c.Analyses) && c.Analyses[i] != nil {
			f = withTempoOf(f, c.Analyses[i])
		}
		c.Fronts.Analyses = append(c.Fronts.Analyses, f)
	}
}

// withTempoOf returns a clip from the front with the tempos of its set, which the side tells: rep by rep where both
// show as many, else where all are alike.
func withTempoOf(front, side *screening.Analysis) *screening.Analysis {
	var whole []kinematics.Rep
	tempos := map[events.Tempo]bool{}
	for _, r := range side.Reps {
		if r.Counts() {
			whole = append(whole, r)
			tempos[r.Tempo] = true
		}
	}
	of := *front
	of.Reps = slices.Clone(front.Reps)
	var counted []*kinematics.Rep
	for i := range of.Reps {
		if of.Reps[i].Counts() {
			counted = append(counted, &of.Reps[i])
		}
	}
	if len(whole) == 0 || len(tempos) > 1 && len(counted) != len(whole) {
		return front
	}
	for i, r := range counted {
		told := &whole[min(i, len(whole)-1)]
		r.Tempo, r.Between = told.Tempo, told.Between
	}
	return &of
}
