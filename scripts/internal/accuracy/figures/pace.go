package figures

import (
	"fmt"
	"io"
	"math"

	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// Looks counts the frames of a track in which the athlete was looked for.
func Looks(t *pose.Track) int {
	n := 0
	for i := range t.Poses {
		if !t.Poses[i].Passed {
			n++
		}
	}
	return n
}

// Pace prints how results change when the frames in which the athlete hardly moves are passed over.
func Pace(w io.Writer, names []string, looked map[string]int, analyses, every map[string]*screening.Analysis) {
	fmt.Fprintln(w, `What passing over frames in which the athlete hardly moves changes, against looking at every frame:
mean over the reps of the range of motion and of the angle at the bottom, degrees; in brackets half the 95 % interval
of the range in one rep.`)
	t := Table(w)
	fmt.Fprint(t, "clip\tlooked at\ta second")
	joints := []body.Angle{body.AnkleDorsiflexion, body.KneeFlexion, body.HipFlexion}
	for _, name := range []string{"ankle", "knee", "hip"} {
		fmt.Fprintf(t, "\t%s, range\tat the bottom", name)
	}
	fmt.Fprintln(t)
	var sum [6]float64
	clips := 0.0
	for _, name := range names {
		a, b := analyses[name], every[name]
		if a == nil || b == nil || len(a.Reps) != len(b.Reps) {
			continue
		}
		perS := float64(looked[name]) / a.Clip.DurationS
		fmt.Fprintf(t, "%s\t%d of %d\t%.0f", name, looked[name], a.Clip.Frames, perS)
		clips++
		for j, joint := range joints {
			var rom, bottom, half float64
			for i := range a.Reps {
				m, n := &a.Reps[i].Angles[joint], &b.Reps[i].Angles[joint]
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

// Outside returns how far a value lies outside an interval, signed.
func Outside(v, from, to float64) float64 {
	switch {
	case v < from:
		return v - from
	case v > to:
		return v - to
	}
	return v - v // 0, or NaN
}

// Decimal prints a number with one decimal and no negative zero.
func Decimal(v float64) string { return fmt.Sprintf("%.1f", math.Round(v*10)/10+0) }
