package events

import (
	"math"
	"testing"

	"holdfast/kinematics/trace"
)

// dropped returns how high the feet of one are who stands on something of so many leg lengths until a time, and falls.
func dropped(legs, leavesS float64) (lift func(t float64) float64, landsS float64) {
	const fall = trace.GravityMS2 / trace.UsualLegM
	return func(t float64) float64 {
		since := max(0, t-leavesS)
		return max(0, legs-fall/2*since*since)
	}, leavesS + math.Sqrt(2*legs/fall)
}

// A drop from a box is found from when the feet leave it to the first contact, and is no flight; one who stands on
// something to the end of the clip, and one who jumps, does not drop.
func TestFindDrops(t *testing.T) {
	for _, legs := range []float64{0.2, 0.35, 0.6} {
		lift, landsS := dropped(legs, 1.5)
		tr := handTrace(60, 5.5, over(standingStill, lift), lift)
		got := FindDrops(tr)
		if flights, _ := FindFlights(tr); len(got) != 1 || len(flights) > 0 || !(math.Abs(got[0].FromS-1.5) < 0.12) ||
			!(math.Abs(got[0].ToS-landsS) < 0.03) {
			t.Errorf("from %.2f legs: drops %v, flights %v, want 1.5 to %.3f", legs, got, flights, landsS)
		}
	}
	onBox := func(t float64) float64 { return 0.35 * min(1, max(0, 4*(t-4))) }
	for name, lift := range map[string]func(float64) float64{"a step onto a box": onBox, "a jump": flown(2, 2.5),
		"standing": onTheFloor} {
		if got := FindDrops(handTrace(60, 6.5, over(standingStill, lift), lift)); len(got) > 0 {
			t.Errorf("%s: %v", name, got)
		}
	}
}
