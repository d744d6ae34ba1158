package footage

import (
	"math"

	"holdfast/kinematics"
	"holdfast/kinematics/notice"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// FileWarnings tell of what is wrong with the file of a clip; times are those of the
// movement.
func FileWarnings(track *pose.Track, slow float64) []kinematics.Notice {
	var out []kinematics.Notice
	warn := func(code string, params notice.Params) { out = append(out, notice.New(code, params)) }
	damaged, first := 0, 0
	for i, p := range track.Poses {
		if p.Damaged {
			if damaged == 0 {
				first = i
			}
			damaged++
		}
	}
	if damaged > 0 {
		warn("damaged_frames", notice.Params{"damaged": damaged, "frames": len(track.Poses),
			"first_s": track.Poses[first].TimeS / slow})
	}
	if n := len(track.Poses); track.ListedS > 0 && n > 0 {
		warn("clip_cut_short", notice.Params{"ends_s": track.Poses[n-1].TimeS / slow, "listed_s": track.ListedS / slow})
	}
	if track.TurnedDeg != 0 {
		form := "on_its_side"
		if track.TurnedDeg == 180 {
			form = "upside_down"
		}
		warn("clip_turned", notice.Params{"form": form, "turned_deg": track.TurnedDeg})
	}
	return out
}

// CameraAlong returns the place of the camera at each sample, nil when it stood
// still. Between frames it goes straight from one place to the next; a sample
// beside a frame whose place is not known has none.
func CameraAlong(track *pose.Track, timesS []float64, slow float64) []*plane.Similarity {
	if !track.CameraMoved || len(track.Poses) == 0 {
		return nil
	}
	out := make([]*plane.Similarity, len(timesS))
	j := 0
	for i, t := range timesS {
		for j+1 < len(track.Poses)-1 && track.Poses[j+1].TimeS/slow <= t {
			j++
		}
		a, b := &track.Poses[j], &track.Poses[min(j+1, len(track.Poses)-1)]
		part := 0.0
		if d := b.TimeS - a.TimeS; d > 0 {
			part = math.Max(0, math.Min(1, (t*slow-a.TimeS)/d))
		}
		if s := a.Camera.Toward(b.Camera, part); s.Known {
			out[i] = &s
		}
	}
	return out
}
