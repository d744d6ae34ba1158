package screening_test

import (
	"errors"
	"math"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/screening/plain"
)

// trueRange returns how far an angle goes between two times in a rendered clip.
func trueRange(limbs []body.Limb, fps float64, facing body.Facing, a body.Angle, fromS, toS float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range limbs {
		if at := float64(i) / fps; at >= fromS && at <= toS {
			v := body.AnglesOf(&limbs[i], facing)[a]
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	return hi - lo
}

// Clips that fit no movement, and an odd press on the knees: how far each joint goes in the whole clip and in a marked
// part is within its interval in nineteen of twenty readings, and what is read is no further off than is bearable.
func TestPlainAgainstTruth(t *testing.T) {
	held, read := 0, 0
	for _, name := range append(tracks.NoReps(t), tracks.Unshipped(t)...) {
		clip, track := tracks.Load(t, name)
		folder := "../testdata/movements/"
		if name[:2] != "no" {
			folder = "../testdata/kneeling/"
		}
		limbs, _ := trueLimbs(t, folder+name+".json")
		for _, part := range []*screening.Part{nil, {FromS: 0.3 * clip.DurationS, ToS: 0.7 * clip.DurationS}} {
			a, err := screening.Measure(clip, track, screening.Options{Corrections: &screening.Corrections{Part: part}})
			if err != nil {
				t.Fatalf("%s %+v: %v", name, part, err)
			}
			if a.Plain.Marked != (part != nil) || part != nil && math.Abs(a.Plain.FromS-part.FromS) > 0.1 {
				t.Errorf("%s: %+v of %+v", name, a.Plain, part)
			}
			facing := body.FacingRight
			if a.Facing == "left" {
				facing = body.FacingLeft
			}
			for _, angle := range plain.Shown {
				r := &a.Plain.Angles[angle]
				if !r.Known() {
					continue
				}
				want := trueRange(limbs, clip.FrameRateHz, facing, angle, a.Plain.FromS, a.Plain.ToS)
				if read++; r.ROMInterval95Deg[0] <= want && want <= r.ROMInterval95Deg[1] {
					held++
				}
				if math.Abs(r.ROMDeg-want) > 18 || !(r.ROMInterval95Deg[0] <= r.ROMDeg && r.ROMDeg < r.ROMInterval95Deg[1]) {
					t.Errorf("%s %v: %.0f (%.0f), truth %.0f", name, angle, r.ROMDeg, r.ROMInterval95Deg, want)
				}
			}
		}
	}
	t.Logf("%d of %d intervals held the truth", held, read)
	if read < 70 || float64(held) < 0.95*float64(read) {
		t.Errorf("%d of %d intervals held the truth", held, read)
	}
}

// A part that is marked in a clip of a known movement is measured without it; one that makes no sense is refused.
func TestMarkedPart(t *testing.T) {
	clip, track := tracks.Load(t, "slow_30")
	a, err := screening.Measure(clip, track, screening.Options{Corrections: &screening.Corrections{
		Part: &screening.Part{FromS: 2, ToS: 5}}})
	if err != nil {
		t.Fatal(err)
	}
	if a.Plain == nil || len(a.Plain.Why) > 0 || len(a.Reps) > 0 || a.Corrections == nil ||
		a.Plain.Angles[body.KneeFlexion].ROMDeg < 50 {
		t.Errorf("%+v, %d reps", a.Plain, len(a.Reps))
	}
	for _, part := range []screening.Part{{FromS: 5, ToS: 2}, {FromS: -1, ToS: 2}, {FromS: 2, ToS: 2.1},
		{FromS: 1, ToS: 500}, {FromS: math.NaN(), ToS: 2}} {
		_, err := screening.Measure(clip, track, screening.Options{Corrections: &screening.Corrections{Part: &part}})
		if !errors.Is(err, screening.ErrBadCorrection) {
			t.Errorf("%+v: %v", part, err)
		}
	}
}
