package main

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The parts of an error that many simulated athletes were given are found again.
func TestDecompose(t *testing.T) {
	for _, tt := range []struct{ clip, posture, lifted float64 }{
		{2, 1, 3}, {0, 2, 0}, {4, 0.8, 1},
	} {
		random := rand.New(rand.NewPCG(1, 2))
		var athletes [][]rangeError
		for range 600 {
			shared := tt.clip * random.NormFloat64()
			var of []rangeError
			for range 1 + random.IntN(2) { // of some athletes one clip was not measured
				up := 45 * max(0, random.Float64()-0.4)
				deg := shared + tt.posture*random.NormFloat64() + tt.lifted*up/15*random.NormFloat64()
				of = append(of, rangeError{deg, up})
			}
			athletes = append(athletes, of)
		}
		got := decompose(athletes)
		for _, part := range []struct {
			name      string
			got, want float64
		}{
			{"clip", got.Clip, tt.clip}, {"posture", got.Posture, max(leastPostureDeg, tt.posture)},
			{"lifted", got.Lifted, tt.lifted},
		} {
			if math.Abs(part.got-part.want) > 0.25+0.15*part.want {
				t.Errorf("of %+v: %s is %g", tt, part.name, part.got)
			}
		}
	}
	if got := decompose(nil); got.Posture <= 0 {
		t.Errorf("of no athletes: %+v", got)
	}
}
