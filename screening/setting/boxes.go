package setting

import (
	"math"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/stats"
	"holdfast/words"
)

// Boxes names sets of drops by how high the boxes are that they drop from. It is nil where a set drops from nothing, or
// from a height that is not known, or where two heights cannot be told apart.
func Boxes(sets int, repsOf func(i int) []kinematics.Rep) (names []string) {
	var heights []stats.Estimate
	for i := range sets {
		reps := repsOf(i)
		n, of := float64(len(reps)), stats.Estimate{}
		for i := range reps {
			if reps[i].Drop == nil {
				return nil
			}
			of.Value += reps[i].Drop.HeightM.Value / n
			of.SD += reps[i].Drop.HeightM.SD / n // the scale's error is alike in all
		}
		for _, other := range heights {
			if !(math.Abs(of.Value-other.Value) > stats.Normal95*math.Hypot(of.SD, other.SD)) {
				return nil
			}
		}
		heights = append(heights, of)
		names = append(names, words.Say("condition.from_box", words.Params{"cm": math.Round(100 * of.Value)}))
	}
	return names
}

// ClipNames names sets by the files of their clips, or where these are called alike by their numbers.
func ClipNames(sets int, fileOf func(i int) string) []string {
	names := make([]string, sets)
	for i := range names {
		names[i] = strings.TrimSuffix(fileOf(i), filepath.Ext(fileOf(i)))
	}
	if !AllDiffer(names) {
		for i := range names {
			names[i] = words.Say("condition.clip", words.Params{"form": [...]string{"first", "second", "third"}[min(i, 2)]})
		}
	}
	return names
}

// AllDiffer says whether all names are given and no two are alike.
func AllDiffer(names []string) bool {
	for i, name := range names {
		if name == "" || slices.Contains(names[:i], name) {
			return false
		}
	}
	return true
}
