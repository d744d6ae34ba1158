package kinematics

import (
	"errors"
	"math"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/trace"
)

func TestRepChangesRefused(t *testing.T) {
	obs := loadClip(t, "fast_30").observations(networkLike)
	five, hundred := 5.0, 100.0
	for _, ch := range []correct.RepChange{
		{AtS: -1}, {AtS: math.NaN()}, {AtS: 1.2, StartS: &five}, {AtS: 1.2, EndS: &hundred},
	} {
		opt := Options{Movements: shipped.Squats(), RepChanges: []correct.RepChange{ch}, Smoother: body.SmootherFilter}
		if _, _, _, err := Analyze(obs, opt); !errors.Is(err, correct.ErrRepChange) {
			t.Errorf("%+v: %v", ch, err)
		}
	}
}

// A frame whose time lies far off must not fill the memory.
func TestTimesFarApart(t *testing.T) {
	obs := loadClip(t, "fast_30").observations(rough{})
	obs[len(obs)-1].TimeS = 1e12
	if _, _, _, err := Analyze(obs, Options{Movements: shipped.Squats()}); !errors.Is(err, trace.ErrTooFewFrames) {
		t.Errorf("got %v", err)
	}
}
