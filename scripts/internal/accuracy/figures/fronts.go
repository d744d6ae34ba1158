package figures

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"

	"holdfast/kinematics/frontal"
	"holdfast/screening"
)

// frontTruth is what the front shows in each frame of a rendered clip.
type frontTruth struct {
	RateHz float64 `json:"fps"`
	Frames []struct {
		Front struct {
			KneeInDeg  map[string]float64 `json:"knee_in_deg"`
			ShiftPct   float64            `json:"shift_pct"`
			HipTiltDeg float64            `json:"hip_tilt_deg"`
		} `json:"front"`
	} `json:"frames"`
}

// at returns the truth of each measure at a time, weight and hips counted from standing.
func (t *frontTruth) at(timeS float64) [frontal.NumMeasures]float64 {
	k := max(0, min(len(t.Frames)-1, int(math.Round(timeS*t.RateHz))))
	f, stand := t.Frames[k].Front, t.Frames[0].Front
	left, right := f.KneeInDeg["left"], f.KneeInDeg["right"]
	return [...]float64{left, right, left - right, f.ShiftPct - stand.ShiftPct, f.HipTiltDeg - stand.HipTiltDeg}
}

// Fronts prints what is read in each rep of clips from the front, with the truth in brackets, and whether its interval
// holds it; truths are files by the names of the clips.
func Fronts(w io.Writer, names []string, analyses map[string]*screening.Analysis, truths map[string]string) error {
	fmt.Fprintln(w, "From the front: read (truth). Knees in degrees, in positive; weight in % of the ankles' distance, "+
		"to the left positive; hips in degrees, left higher positive.")
	t := Table(w)
	fmt.Fprintln(t, "clip\trep\tleft knee\tright knee\tleft less right\tweight\thips\tintervals that hold it")
	for _, name := range names {
		text, err := os.ReadFile(truths[name])
		var truth frontTruth
		if err == nil {
			err = json.Unmarshal(text, &truth)
		}
		if err != nil || len(truth.Frames) == 0 {
			return fmt.Errorf("reading the truth of %s: %w", name, err)
		}
		for i := range analyses[name].Reps {
			r := &analyses[name].Reps[i]
			fmt.Fprintf(t, "%s\t%d", name, r.Number)
			hold := 0
			for m, want := range truth.at(r.Front.AtS) {
				e := r.Front.Of(frontal.Measure(m))
				if in := e.Interval95(); in[0] <= want && want <= in[1] {
					hold++
				}
				fmt.Fprintf(t, "\t%+.1f (%+.1f)", e.Value, want)
			}
			fmt.Fprintf(t, "\t%d of %d\n", hold, frontal.NumMeasures)
		}
	}
	err := t.Flush()
	fmt.Fprintln(w)
	return err
}
