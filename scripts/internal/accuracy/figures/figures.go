// Package figures is what the tables of errors share: how they are set, how a series is read between its frames, and
// which part of the readings is known.
package figures

import (
	"fmt"
	"io"
	"math"
	"slices"
	"text/tabwriter"

	"gonum.org/v1/gonum/stat"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/screening"
)

// asked is something that a rep is measured for; known says of a rep whether it was.
type asked struct {
	name  string
	known func(r *kinematics.Rep) bool
}

// askedOfReps are those whose share of known ones is printed: a refused number is no right one.
func askedOfReps() []asked {
	var out []asked
	for _, j := range body.LegJoints {
		a := j.Angle()
		out = append(out,
			asked{j.String() + ", range", func(r *kinematics.Rep) bool { return !math.IsNaN(r.Angles[a].ROMDeg) }},
			asked{j.String() + ", at the bottom", func(r *kinematics.Rep) bool { return !math.IsNaN(r.Angles[a].AtBottomDeg) }})
	}
	return append(out,
		asked{"heel rise", func(r *kinematics.Rep) bool { return r.Foot != nil && r.Foot.Heel.MaxPctFoot.Known() }},
		asked{"support point", func(r *kinematics.Rep) bool { return len(r.Support) > 0 && r.Support[0].MeanPct.Known() }})
}

// Known says which part of the readings of all reps is known. Reps that are not whole count
// as well.
func Known(w io.Writer, what string, analyses []*screening.Analysis) {
	fmt.Fprintf(w, "Readings that are known, of all reps in %s.\n", what)
	t := Table(w)
	fmt.Fprintln(t, "reading\tknown\tshare")
	for _, read := range askedOfReps() {
		known, all := 0, 0
		for _, a := range analyses {
			for i := range a.Reps {
				all++
				if read.known(&a.Reps[i]) {
					known++
				}
			}
		}
		if all > 0 {
			fmt.Fprintf(t, "%s\t%d of %d\t%.0f %%\n", read.name, known, all, 100*float64(known)/float64(all))
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// Table returns a table whose columns stand three spaces apart.
func Table(w io.Writer) *tabwriter.Writer { return tabwriter.NewWriter(w, 0, 0, 3, ' ', 0) }

// At interpolates a series linearly; NaN outside it.
func At(times, values []float64, timeS float64) float64 {
	const slackS = 1e-3
	i, exact := slices.BinarySearch(times, timeS)
	switch {
	case exact:
		return values[i]
	case i == 0 && len(values) > 0 && times[0]-timeS < slackS:
		return values[0]
	case i == len(times) && i > 0 && timeS-times[i-1] < slackS:
		return values[i-1]
	case i == 0 || i == len(times):
		return math.NaN()
	}
	part := (timeS - times[i-1]) / (times[i] - times[i-1])
	return values[i-1] + part*(values[i]-values[i-1])
}

// Mean returns the mean of what is known, of clips that tell it.
func Mean(of []float64) float64 { return stat.Mean(slices.DeleteFunc(of, math.IsNaN), nil) }
