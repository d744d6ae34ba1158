package screening

import (
	"context"
	"errors"

	"holdfast/kinematics"
	"holdfast/vision"
)

// The reasons for which clips are turned away after tracking.
var (
	// ErrNoReps: the athlete was tracked, but no repetition was found.
	ErrNoReps = errors.New("no repetition was found")
	// ErrCannotMeasure: the clip cannot carry the numbers that were asked for.
	ErrCannotMeasure = errors.New("the clip cannot be measured")
	// ErrDifferentMovement: the clips to compare show different movements.
	ErrDifferentMovement = errors.New("the clips show different movements")
)

// Options are the coach's choices for an analysis. The zero value finds
// everything by itself with the default network.
type Options struct {
	Athlete    string
	Tempo      kinematics.Tempo         // for every rep; TempoUnknown: found
	RepTempo   map[int]kinematics.Tempo // for single reps, by number from 1
	Facing     kinematics.Facing
	CaptureFPS float64 // 0: what the file says
	Model      string  // heavy or full; empty: heavy
	HeightCm   float64 // 0: not given
	Progress   vision.Progress
}

// Analyze tracks the athlete through a clip and measures every rep. The track
// is returned beside the analysis for those who want the network's own points.
func Analyze(ctx context.Context, clipPath string, opt Options) (*Analysis, *vision.Track, error) {
	return nil, nil, errors.New("not built yet")
}

// CompareOptions are the coach's choices for a comparison.
type CompareOptions struct {
	// SmallestChangeDeg is the smallest change that matters, degrees; 0: 5.
	SmallestChangeDeg float64
}

// Compare finds what was lost between tempos in one or more analyses.
func Compare(analyses []*Analysis, opt CompareOptions) (*Comparison, error) {
	return nil, errors.New("not built yet")
}

// LoadAnalysis reads an analysis from its JSON file or from its folder.
func LoadAnalysis(path string) (*Analysis, error) {
	return nil, errors.New("not built yet")
}
