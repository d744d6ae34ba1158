package main

import (
	"fmt"
	"io"
	"math"

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
	for j := range body.NumJoints {
		a := j.Angle()
		out = append(out,
			asked{j.String() + ", range", func(r *kinematics.Rep) bool { return !math.IsNaN(r.Angles[a].ROMDeg) }},
			asked{j.String() + ", at the bottom", func(r *kinematics.Rep) bool { return !math.IsNaN(r.Angles[a].AtBottomDeg) }})
	}
	return append(out,
		asked{"heel rise", func(r *kinematics.Rep) bool { return r.Foot != nil && r.Foot.Heel.MaxPctFoot.Known() }},
		asked{"support point", func(r *kinematics.Rep) bool { return len(r.Support) > 0 && r.Support[0].MeanPct.Known() }})
}

// printKnown says which part of the readings of all reps is known. Reps that are not whole count
// as well.
func printKnown(w io.Writer, what string, analyses []*screening.Analysis) {
	fmt.Fprintf(w, "Readings that are known, of all reps in %s.\n", what)
	t := newTable(w)
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
