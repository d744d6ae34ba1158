package kinematics

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
)

// Reps that lack frames of their turn, or too many, are not measured; the others are
// measured as without the damage.
func TestDamagedReps(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it measures clips again and again")
	}
	whole := analyze(t, loadClip(t, "slow").observations(networkLike), Options{})
	if len(whole.reps) != 3 {
		t.Fatalf("%d reps, want 3", len(whole.reps))
	}
	r := &whole.reps[1]
	middle := (r.StartS + r.BottomS) / 2
	tests := []struct {
		name     string
		from, to float64 // damaged, seconds
		measured bool
	}{
		{"one frame on the way down", middle, middle + 0.01, true},
		{"one frame of the turn", r.BottomS, r.BottomS + 0.01, false},
		{"many frames on the way down", middle, middle + 0.3, false},
		{"between two reps", whole.reps[0].EndS + 0.2, min(whole.reps[0].EndS+0.5, r.StartS-0.2), true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			obs := loadClip(t, "slow").observations(networkLike)
			for i := range obs {
				if obs[i].TimeS >= tt.from && obs[i].TimeS <= tt.to {
					obs[i].Damaged = true
					for side := range 2 {
						for k := range body.NumLandmarks {
							obs[i].Points[side][k] = body.MissingPoint()
						}
					}
				}
			}
			a := analyze(t, obs, Options{})
			for i := range a.reps {
				got := &a.reps[i]
				damaged := i == 1 && !tt.measured
				if got.Damaged != damaged || got.Partial != damaged {
					t.Errorf("rep %d: damaged %v, partial %v (%v)", got.Number, got.Damaged, got.Partial, got.PartialWhy)
				}
				rom, want := got.Angles[body.AnkleDorsiflexion].ROMDeg, whole.reps[i].Angles[body.AnkleDorsiflexion].ROMDeg
				switch {
				case damaged && (!math.IsNaN(rom) || got.PartialWhy.Code != "damaged_at"):
					t.Errorf("rep %d: ankle %.1f degrees, because %v", got.Number, rom, got.PartialWhy)
				case !damaged && !(math.Abs(rom-want) < 2):
					t.Errorf("rep %d: ankle %.1f degrees, %.1f in the whole clip", got.Number, rom, want)
				}
			}
		})
	}
}
