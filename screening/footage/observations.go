package footage

import (
	"math"
	"strings"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// networkName is the network's name of a point, without its side.
func networkName(l body.Landmark) string {
	if l == body.Toe {
		return "foot_index"
	}
	return l.String()
}

// NoFeet says that the network of a track places no heel and no toe.
func NoFeet(track *pose.Track) bool {
	for _, name := range track.KeypointNames {
		if strings.HasSuffix(name, "_"+networkName(body.Heel)) || strings.HasSuffix(name, "_"+networkName(body.Toe)) {
			return false
		}
	}
	return true
}

// Observations turns a track into what kinematics takes, with the times of the
// movement itself: those of the file divided by the slow-motion factor. A point
// that the network puts outside the picture was guessed, not seen, and is left out.
// The points are those of the first frame's picture: where the camera moved, its
// motion is taken off, and a frame whose place is not known has no points.
func Observations(track *pose.Track, widthPx, heightPx, slow float64) []trace.Observation {
	var index [2][body.NumLandmarks]int
	for side := range index {
		for l := range body.NumLandmarks {
			index[side][l] = track.KeypointIndex(body.Side(side).String() + "_" + networkName(l))
		}
	}
	obs := make([]trace.Observation, len(track.Poses))
	for i, pose := range track.Poses {
		o := &obs[i]
		o.TimeS, o.Damaged, o.Frozen, o.Cut = pose.TimeS/slow, pose.Damaged, pose.Frozen, pose.Cut
		o.Passed = pose.Passed
		if p := pose.FootPitch; p != nil {
			o.FootPitch = trace.FootPitch{Deg: p.Deg, SDDeg: p.SDDeg}
		}
		placed := !track.CameraMoved || pose.Camera.Known
		for side := range index {
			o.Depth[side] = math.NaN()
			for l, k := range index[side] {
				p := body.MissingPoint()
				if pose.Found && placed && k >= 0 && k < len(pose.Keypoints) {
					q := pose.Keypoints[k]
					if q.X < 0 || q.Y < 0 || q.X > widthPx || q.Y > heightPx {
						o.Points[side][l] = p
						continue
					}
					at := pose.Camera.Apply(plane.XY{X: q.X, Y: q.Y})
					p = body.Point{X: at.X, Y: at.Y, SDPx: q.SDPx, Confidence: q.Visibility * q.Presence}
				}
				o.Points[side][l] = p
			}
			if h, s := index[side][body.Hip], index[side][body.Shoulder]; pose.Found && h >= 0 && s >= 0 &&
				max(h, s) < len(pose.Keypoints) {
				o.Depth[side] = (pose.Keypoints[h].Z + pose.Keypoints[s].Z) / 2
			}
		}
	}
	return obs
}

// Inside returns the observations of the part of the clip that is measured.
func Inside(obs []trace.Observation, track *pose.Track) []trace.Observation {
	from, to := 0, len(obs)
	for from < to && track.Poses[from].Outside {
		from++
	}
	for from < to && track.Poses[to-1].Outside {
		to--
	}
	return obs[from:to]
}
