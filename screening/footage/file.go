package footage

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"os"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
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

// SlowMotionFactor returns by how much the file plays slower than the movement
// was: 1 for an ordinary clip. captureHz is what the file says of the rate that it
// was filmed at, captureFPS what the user says.
func SlowMotionFactor(frameHz, captureHz, captureFPS float64) float64 {
	rate := captureFPS
	if rate <= 0 {
		rate = captureHz
	}
	// A file that plays at the rate it was filmed at is no slow motion; rates
	// that differ by less than a fifth are the same rate, measured differently.
	if rate <= 0 || math.Abs(math.Log(rate/frameHz)) < math.Log(1.2) {
		return 1
	}
	return rate / frameHz
}

// SHA256 returns the hash of a file.
func SHA256(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", fmt.Errorf("reading %s: %w", path, err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", fmt.Errorf("reading %s: %w", path, err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// RateWarnings tell of too few frames for a movement that is not slow.
func RateWarnings(track *pose.Track, reps []kinematics.Rep, frameHz, slow float64) []kinematics.Notice {
	quick := slices.ContainsFunc(reps, func(r kinematics.Rep) bool { return r.Tempo != events.TempoSlow })
	rateHz := frameHz / float64(StoredTimes(track))
	if slow != 1 || rateHz >= 45 || !quick {
		return nil
	}
	return notice.List("low_frame_rate", notice.Params{"rate_hz": rateHz})
}
