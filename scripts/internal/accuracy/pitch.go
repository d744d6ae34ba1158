package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"holdfast/scripts/internal/accuracy/figures"
	"holdfast/vision/foot"
	"holdfast/vision/media"
)

// measurePitch prints how far the pitch of the near foot, read off the shoe's own picture,
// lies from the truth, in degrees: while the foot is flat and while its heel is up on the
// floor, and what is known of the flight. Where the foot is, stored tracks say, so that no
// network runs.
func measurePitch(ctx context.Context, w io.Writer, names []string, folder, tracks string) error {
	out := newTable(w)
	fmt.Fprintln(out, "clip\tflat: known\tmean\tSD\tworst\theel up: known\tmean\tmean abs\tworst\tbeyond 2 SD\t"+
		"in flight: known\tmean abs\tworst")
	for _, name := range names {
		t, err := readTruth(filepath.Join(folder, name+".json"))
		if err != nil {
			return err
		}
		clip, err := media.Open(ctx, filepath.Join(folder, name+".mp4"))
		if err != nil {
			return err
		}
		track, err := readTrack(tracks, name)
		if err != nil {
			return err
		}
		if err := foot.AddPitch(ctx, clip, track); err != nil {
			return err
		}
		var flat, up, flight figures.PitchErrors
		for i := range track.Poses {
			p := &track.Poses[i]
			f := t.nearest(p.TimeS)
			// The truth counts a heel that is up as positive.
			trueDeg, in := -f.Angles["foot_pitch"], &flat
			switch {
			case f.Phase == "flight":
				in = &flight
			case math.Abs(trueDeg) > flatToDeg:
				in = &up
			}
			in.Add(p.FootPitch, trueDeg)
		}
		fmt.Fprintf(out, "%s\t%s\t%+.2f\t%.2f\t%.1f\t", name, flat.Known(), flat.Mean, flat.SD(), flat.Worst)
		fmt.Fprintf(out, "%s\t%+.2f\t%.2f\t%.1f\t%d\t", up.Known(), up.Mean, up.MeanAbs, up.Worst, flat.Beyond+up.Beyond)
		fmt.Fprintf(out, "%s\t%.2f\t%.1f\n", flight.Known(), flight.MeanAbs, flight.Worst)
	}
	return out.Flush()
}

// flatToDeg is the largest pitch of a foot that counts as flat.
const flatToDeg = 0.3
