package kinematics

import (
	"math"
	"math/rand/v2"
	"testing"

	"holdfast/internal/handmade"
	"holdfast/kinematics/body"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// The same movement filmed at 120, 60 and 30 frames a second, and with frames
// lost, gives ranges that agree within their intervals.
func TestFrameRatesAgree(t *testing.T) {
	for _, names := range [][]string{{"jump_120", "jump", "jump_30", "jump_vfr"}, {"slow", "slow_30"},
		{"fast", "fast_30", "fast_vfr"}} {
		var reps [][]Rep
		for i, name := range names {
			// Each film has its own noise, as long in time at any rate.
			obs := loadClip(t, name).seen(uint64(40 + i))
			reps = append(reps, analyze(t, obs, Options{Smoother: body.SmootherFilter}).reps)
		}
		for i := range reps {
			for k := range reps[0] {
				for _, j := range body.LegJoints {
					a, b := reps[0][k].Angles[j.Angle()], reps[i][k].Angles[j.Angle()]
					d, sd := b.ROMDeg-a.ROMDeg, math.Hypot(a.SDDeg, b.SDDeg)
					t.Logf("%s rep %d %v: %.1f degrees, %s %.1f", names[0], k+1, j, a.ROMDeg, names[i], b.ROMDeg)
					if math.Abs(d) > stats.Normal95*sd {
						t.Errorf("%s and %s, rep %d %v: %.1f and %.1f degrees, further apart than %.1f", names[0], names[i], k+1, j,
							a.ROMDeg, b.ROMDeg, stats.Normal95*sd)
					}
				}
			}
		}
	}
}

// seen returns the clip's true points with a network's noise as measured: wander
// of 0.003 leg lengths with a correlation time of 0.09 s, and constant offsets.
func (c *truthClip) seen(seed uint64) []trace.Observation {
	clean := c.observations(rough{})
	rng := rand.New(rand.NewPCG(seed, 3))
	leg := trace.RoughLegLengthPx(clean)
	var e [2][body.NumLandmarks][2]float64
	for i := range clean {
		phi := 0.0
		if i > 0 {
			phi = math.Exp(-(clean[i].TimeS - clean[i-1].TimeS) / handmade.Network().ErrorTimeS)
		}
		for s := range 2 {
			for k := range body.NumLandmarks {
				for d := range 2 {
					e[s][k][d] = phi*e[s][k][d] + math.Sqrt(1-phi*phi)*0.003*leg*rng.NormFloat64()
				}
				p := &clean[i].Points[s][k]
				p.X += e[s][k][0] + offsetPx[k][0]
				p.Y += e[s][k][1] + offsetPx[k][1]
			}
		}
	}
	return clean
}
