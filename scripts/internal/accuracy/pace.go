package main

import (
	"context"
	"fmt"
	"io"
	"math"

	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// everyFrame measures a clip with each of its frames looked at: from a folder of such tracks, or with the network
// where there is none.
func everyFrame(ctx context.Context, clip *media.Clip, name, folder string,
	opt screening.Options) (*screening.Analysis, error) {
	if folder == "" {
		opt.EveryFrame = true
		a, _, err := screening.Analyze(ctx, clip.Path, opt)
		return a, err
	}
	track, err := readTrack(folder, name)
	if err != nil {
		return nil, err
	}
	return screening.Measure(clip, track, opt)
}

// looksOf counts the frames of a track in which the athlete was looked for.
func looksOf(t *pose.Track) int {
	n := 0
	for i := range t.Poses {
		if !t.Poses[i].Passed {
			n++
		}
	}
	return n
}

// printPace prints how results change when the frames in which the athlete hardly moves are passed over.
func printPace(w io.Writer, names []string, looked map[string]int, analyses, every map[string]*screening.Analysis) {
	fmt.Fprintln(w, `What passing over the frames in which the athlete hardly moves changes, against looking at every frame: mean over the
reps of the range of motion and of the angle at the bottom, degrees; in brackets half the 95 % interval of one rep.`)
	t := newTable(w)
	fmt.Fprintln(t, "clip\tlooked at\ta second\tankle, range\tat the bottom\tknee, range\tat the bottom\thip, range\tat the bottom")
	var sum [6]float64
	clips := 0.0
	for _, name := range names {
		a, b := analyses[name], every[name]
		if a == nil || b == nil || len(a.Reps) != len(b.Reps) {
			continue
		}
		fmt.Fprintf(t, "%s\t%d of %d\t%.0f", name, looked[name], a.Clip.Frames, float64(looked[name])/a.Clip.DurationS)
		clips++
		for j, joint := range perJoint {
			var rom, bottom, half float64
			for i := range a.Reps {
				m, n := measureOf(&a.Reps[i].Angles, joint.name), measureOf(&b.Reps[i].Angles, joint.name)
				reps := float64(len(a.Reps))
				rom += (m.ROMDeg - n.ROMDeg) / reps
				bottom += (m.AtBottomDeg - n.AtBottomDeg) / reps
				half += (n.ROMInterval95Deg[1] - n.ROMInterval95Deg[0]) / 2 / reps
			}
			fmt.Fprintf(t, "\t%+.1f (%.1f)\t%+.1f", rom, half, bottom)
			sum[2*j] += rom * rom
			sum[2*j+1] += bottom * bottom
		}
		fmt.Fprintln(t)
	}
	fmt.Fprint(t, "rms\t\t")
	for _, s := range sum {
		fmt.Fprintf(t, "\t%.1f", math.Sqrt(s/clips))
	}
	fmt.Fprintln(t)
	_ = t.Flush() // a table for reading
	fmt.Fprintln(w)
}
