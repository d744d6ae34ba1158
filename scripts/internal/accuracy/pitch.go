package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"holdfast/vision/foot"
	"holdfast/vision/media"
	"holdfast/vision/pose"
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
		var flat, up, flight pitchErrors
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
			in.add(p.FootPitch, trueDeg)
		}
		fmt.Fprintf(out, "%s\t%s\t%+.2f\t%.2f\t%.1f\t", name, flat.known(), flat.mean, flat.sd(), flat.worst)
		fmt.Fprintf(out, "%s\t%+.2f\t%.2f\t%.1f\t%d\t", up.known(), up.mean, up.meanAbs, up.worst, flat.beyond+up.beyond)
		fmt.Fprintf(out, "%s\t%.2f\t%.1f\n", flight.known(), flight.meanAbs, flight.worst)
	}
	return out.Flush()
}

// flatToDeg is the largest pitch of a foot that counts as flat.
const flatToDeg = 0.3

// pitchErrors are those of the frames of one kind.
type pitchErrors struct {
	frames, n      int
	mean, square   float64
	meanAbs, worst float64
	beyond         int
}

func (e *pitchErrors) add(q *pose.FootPitch, trueDeg float64) {
	e.frames++
	if q == nil {
		return
	}
	e.n++
	d, part := q.Deg-trueDeg, 1/float64(e.n)
	e.mean += (d - e.mean) * part
	e.square += (d*d - e.square) * part
	e.meanAbs += (math.Abs(d) - e.meanAbs) * part
	e.worst = max(e.worst, math.Abs(d))
	if math.Abs(d) > 2*q.SDDeg {
		e.beyond++
	}
}

func (e *pitchErrors) known() string { return fmt.Sprintf("%d of %d", e.n, e.frames) }

func (e *pitchErrors) sd() float64 { return math.Sqrt(max(0, e.square-e.mean*e.mean)) }
