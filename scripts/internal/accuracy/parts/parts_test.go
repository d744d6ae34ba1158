package parts

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The parts of an error that many simulated athletes were given are found again.
func TestOf(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates hundreds of athletes")
	}
	for _, tt := range []struct{ clip, posture, lifted, rep float64 }{
		{2, 1, 3, 1}, {0, 2, 0, 0.2}, {4, 0.8, 1, 2},
	} {
		random := rand.New(rand.NewPCG(1, 2))
		var athletes [][][]Error
		for range 150 {
			shared := tt.clip * random.NormFloat64()
			var clips [][]Error
			for range 1 + random.IntN(2) { // of some athletes one clip was not measured
				up, noise := 45*max(0, random.Float64()-0.4), random.Float64()
				deg := shared + tt.posture*random.NormFloat64() + tt.lifted*up/15*random.NormFloat64()
				var reps []Error
				for range 3 {
					reps = append(reps, Error{deg + tt.rep*random.NormFloat64() + noise*random.NormFloat64(), noise, up})
				}
				clips = append(clips, reps)
			}
			athletes = append(athletes, clips)
		}
		got := Of(athletes)
		for _, part := range []struct {
			name      string
			got, want float64
		}{
			{"clip", got.Clip, tt.clip}, {"posture", got.Posture, max(LeastPostureDeg, tt.posture)},
			{"lifted", got.Lifted, tt.lifted}, {"rep", got.Rep, tt.rep},
		} {
			if math.Abs(part.got*part.got-part.want*part.want) > 0.6+0.3*part.want*part.want {
				t.Errorf("of %+v: %s is %g", tt, part.name, part.got)
			}
		}
	}
	if got := Of(nil); got.Posture <= 0 {
		t.Errorf("of no athletes: %+v", got)
	}
}
