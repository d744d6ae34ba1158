package kinematics

import (
	"fmt"
	"testing"
)

func TestChooseCutoffBounds(t *testing.T) {
	still := make([]float64, 100)
	for _, c := range []struct {
		tempo      Tempo
		rate, want float64
	}{
		{TempoSlow, 60, 3}, {TempoFast, 60, 4}, {TempoJump, 60, 6}, {TempoJump, 20, 5},
	} {
		near(t, fmt.Sprintf("%v at %g", c.tempo, c.rate), chooseCutoff([][]float64{still}, c.rate, c.tempo), c.want, 1e-12)
	}
}
