package figures

import (
	"math"
	"strings"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/screening"
)

func TestKnown(t *testing.T) {
	var whole, part kinematics.Rep
	part.Angles[body.KneeFlexion].ROMDeg = math.NaN()
	var out strings.Builder
	Known(&out, "two clips", []*screening.Analysis{{Reps: []kinematics.Rep{whole, part}},
		{Reps: []kinematics.Rep{whole}}})
	for _, want := range []string{"knee, range            2 of 3   67 %", "knee, at the bottom    3 of 3   100 %",
		"support point          0 of 3   0 %"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q is missing in\n%s", want, out.String())
		}
	}
}
