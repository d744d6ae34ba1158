package joints

import (
	"fmt"
	"testing"

	"holdfast/kinematics/events"
)

func TestChooseCutoffBounds(t *testing.T) {
	still := make([]float64, 100)
	for _, c := range []struct {
		tempo      events.Tempo
		rate, want float64
	}{
		{events.TempoSlow, 60, 3}, {events.TempoFast, 60, 4}, {events.TempoJump, 60, 6}, {events.TempoJump, 20, 5},
	} {
		near(t, fmt.Sprintf("%v at %g", c.tempo, c.rate), chooseCutoff([][]float64{still}, c.rate, c.tempo), c.want, 1e-12)
	}
}
