package web

import (
	"context"
	"math"

	"holdfast/archive"
	"holdfast/screening"
	"holdfast/vision"
)

// missing is a number that is not known.
var missing = math.NaN()

// measureAgain measures a stored track with corrections, without the network.
func measureAgain(info screening.ClipInfo, track *vision.Track, opt screening.Options, c *screening.Corrections) (*screening.Analysis, error) {
	if !c.Empty() {
		opt.Corrections = c
	}
	return screening.MeasureAgain(info, track, opt)
}

// summary returns a clip's analysis without its series, which are large and which
// no history needs.
func (d *desk) summary(ctx context.Context, clip archive.Clip) (*screening.Analysis, error) {
	key := fileOf(clip.Result.Files, "analysis.json").SHA256
	return d.summaries.get(key, func() (*screening.Analysis, error) {
		a, err := d.analysis(ctx, clip)
		if err != nil {
			return nil, err
		}
		small := *a
		small.Series = screening.Series{}
		return &small, nil
	})
}
