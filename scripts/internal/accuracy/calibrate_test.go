package main

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The parts of an error that many simulated athletes were given are found again.
func TestDecompose(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates hundreds of athletes")
	}
	for _, tt := range []struct{ clip, posture, lifted, rep float64 }{
		{2, 1, 3, 1}, {0, 2, 0, 0.2}, {4, 0.8, 1, 2},
	} {
		random := rand.New(rand.NewPCG(1, 2))
		var athletes [][][]rangeError
		for range 150 {
			shared := tt.clip * random.NormFloat64()
			var clips [][]rangeError
			for range 1 + random.IntN(2) { // of some athletes one clip was not measured
				up, noise := 45*max(0, random.Float64()-0.4), random.Float64()
				deg := shared + tt.posture*random.NormFloat64() + tt.lifted*up/15*random.NormFloat64()
				var reps []rangeError
				for range 3 {
					reps = append(reps, rangeError{deg + tt.rep*random.NormFloat64() + noise*random.NormFloat64(), noise, up})
				}
				clips = append(clips, reps)
			}
			athletes = append(athletes, clips)
		}
		got := decompose(athletes)
		for _, part := range []struct {
			name      string
			got, want float64
		}{
			{"clip", got.Clip, tt.clip}, {"posture", got.Posture, max(leastPostureDeg, tt.posture)},
			{"lifted", got.Lifted, tt.lifted}, {"rep", got.Rep, tt.rep},
		} {
			if math.Abs(part.got*part.got-part.want*part.want) > 0.6+0.3*part.want*part.want {
				t.Errorf("of %+v: %s is %g", tt, part.name, part.got)
			}
		}
	}
	if got := decompose(nil); got.Posture <= 0 {
		t.Errorf("of no athletes: %+v", got)
	}
}
