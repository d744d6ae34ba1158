package pose

import (
	"math"
	"slices"

	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// Keypoint is one body point in one frame, in pixels of the upright picture:
// x to the right, y down, the centre of the top-left pixel at (0.5, 0.5).
// A point that was not seen has X and Y NaN.
type Keypoint struct {
	X, Y float64
	// Z is the network's depth estimate in pixels of the picture's scale,
	// negative toward the camera, relative to the mid-hip. It tells near from
	// far; it is not a measurement.
	Z float64
	// Visibility is the network's probability that the point is in the picture
	// and not hidden, 0 to 1.
	Visibility float64
	// Presence is the network's probability that the point lies inside the
	// region it looked at, 0 to 1.
	Presence float64
	// SDPx is the spread of the network's heat map around the point, in pixels;
	// NaN where the network has no heat map.
	SDPx float64
}

// Missing says whether the point was not seen.
func (k Keypoint) Missing() bool { return math.IsNaN(k.X) || math.IsNaN(k.Y) }

// Pose is the athlete in one frame.
type Pose struct {
	// Index is the number of the frame in the clip, from 0 in order of
	// presentation.
	Index int
	// TimeS is the frame's own presentation time in seconds, from the first
	// frame of the clip.
	TimeS float64
	// Found says whether the athlete was found in this frame; when false,
	// Keypoints is nil.
	Found bool
	// Damaged says that the picture could not be decoded as it was filmed: nobody was
	// looked for in it.
	Damaged bool
	// Frozen says that the picture is that of an earlier frame shown again in the
	// middle of a motion: nobody was looked for in it.
	Frozen bool
	// Passed says that the frame was passed over: the athlete moved so little since the
	// frame before that was looked at that nobody was looked for in it.
	Passed bool
	// Outside says that the frame lies before or after the part of the clip that the coach
	// wants measured.
	Outside bool
	// Cut says that the clip was cut between this frame and the one before; Scene is
	// the number, from 0, of the place from which the frame was filmed.
	Cut   bool
	Scene int
	// Repeats is how many frames before this one the same picture was shown, in a stretch
	// that the clip shows again, as where it was looped; 0: it was not.
	Repeats int
	// Score is the network's probability that a person fills the region.
	Score float64
	// Keypoints holds one entry for each name of Track.KeypointNames.
	Keypoints []Keypoint
	// World holds the network's metric guess of the same points, in metres,
	// origin at the mid-hip, x right, y down, z away from the camera. It is a
	// guess from one picture, used for the view angle only.
	World [][3]float64
	// Redetected says that the athlete was searched for anew in this frame
	// rather than followed from the frame before.
	Redetected bool
	// Camera leads from this frame's picture to that of the first frame of its scene,
	// in pixels of the clip; it maps nothing while Track.CameraMoved is false.
	Camera plane.Similarity
	// FootPitch is the pitch of the near foot where something else than its points
	// told it; nil: nothing did.
	FootPitch *FootPitch
}

// FootPitch is how far the near foot is turned in one frame.
type FootPitch struct {
	// Deg is the turn against the flat foot of the athlete's standing in degrees: 0
	// flat, negative while the heel is up. The camera's own turn is taken off.
	Deg float64
	// SDDeg is its standard deviation in degrees.
	SDDeg float64
	// Correlation is how alike the foot and what it was compared with are, up to 1;
	// NaN where the source compares nothing.
	Correlation float64
	Source      FootPitchSource
}

// FootPitchSource says what told the pitch of a foot.
type FootPitchSource string

// FootPitchOfPicture: the shoe's own picture was laid over that of the flat foot.
const FootPitchOfPicture FootPitchSource = "picture"

// Track is the athlete followed through a whole clip: one Pose a frame.
type Track struct {
	KeypointNames []string
	ModelName     string
	ModelSHA256   string
	Poses         []Pose
	// PeopleSeen is the largest number of people found in one frame.
	PeopleSeen int
	// CameraKnown says that the background told whether the camera moved. When
	// false, for instance before a plain wall, it is taken to have stood still.
	CameraKnown bool
	// CameraMoved says that the camera did not stand still. Keypoints are pixels
	// of their own frame all the same; Pose.Camera leads to the first frame's.
	CameraMoved bool
	// CameraMotionPx is how far the camera moved the middle of the picture from
	// where it was in the first frame, at most, in pixels of the clip.
	CameraMotionPx float64
	// RollDeg is by how much the first frame is turned clockwise against the true
	// vertical, in degrees, RollSDDeg its standard deviation; NaN when not known.
	// RollSource is RollLines, or empty when not known.
	RollDeg, RollSDDeg float64
	RollSource         string
	// ListedS is how long the container says that the clip lasts where the file ends
	// before that, else 0.
	ListedS float64
	// TurnedDeg is how far the pictures were turned clockwise, beyond what the file
	// asks for, for the athlete to stand upright: 0, 90, 180 or 270.
	TurnedDeg int
}

// KeypointIndex returns the position of a keypoint's name in the track, or -1.
func (t *Track) KeypointIndex(name string) int {
	for i, n := range t.KeypointNames {
		if n == name {
			return i
		}
	}
	return -1
}

// PointsAt returns the points of a frame: those that were seen in it, and in one that was passed over what
// lies on a straight line between the frames beside it that were looked at. nil: nobody was found.
func (t *Track) PointsAt(i int) []Keypoint {
	p := &t.Poses[i]
	if p.Found || !p.Passed {
		return p.Keypoints
	}
	a, b := i-1, i+1
	for a >= 0 && t.Poses[a].Passed {
		a--
	}
	for b < len(t.Poses) && t.Poses[b].Passed {
		b++
	}
	if a < 0 || b >= len(t.Poses) || len(t.Poses[a].Keypoints) == 0 ||
		len(t.Poses[a].Keypoints) != len(t.Poses[b].Keypoints) {
		return nil
	}
	before, after := &t.Poses[a], &t.Poses[b]
	part := (p.TimeS - before.TimeS) / (after.TimeS - before.TimeS)
	toward := func(x, y float64) float64 { return x + part*(y-x) }
	// The camera may have moved in between, and tells by how much.
	place := func(q *Pose, k int) plane.XY {
		at := plane.XY{X: q.Keypoints[k].X, Y: q.Keypoints[k].Y}
		if t.CameraMoved && q.Camera.Known && p.Camera.Known {
			return q.Camera.Then(p.Camera.Inverse()).Apply(at)
		}
		return at
	}
	points := make([]Keypoint, len(before.Keypoints))
	for k := range points {
		q, r := before.Keypoints[k], after.Keypoints[k]
		u, v := place(before, k), place(after, k)
		points[k] = Keypoint{X: toward(u.X, v.X), Y: toward(u.Y, v.Y), Z: toward(q.Z, r.Z),
			Visibility: toward(q.Visibility, r.Visibility), Presence: toward(q.Presence, r.Presence),
			SDPx: toward(q.SDPx, r.SDPx)}
	}
	return points
}

// Heads finds the head of the track's athlete in every frame of a clip of the given
// size in pixels.
func (t *Track) Heads(widthPx, heightPx int) *paint.Heads {
	var ears, face, shoulders, hips []int
	for i, name := range t.KeypointNames {
		switch name {
		case "left_ear", "right_ear":
			ears = append(ears, i)
		case "nose", "left_eye_inner", "left_eye", "left_eye_outer", "right_eye_inner", "right_eye", "right_eye_outer",
			"mouth_left", "mouth_right":
			face = append(face, i)
		case "left_shoulder", "right_shoulder":
			shoulders = append(shoulders, i)
		case "left_hip", "right_hip":
			hips = append(hips, i)
		}
	}
	samples := make([]paint.HeadSample, len(t.Poses))
	for i := range t.Poses {
		p := &t.Poses[i]
		s := paint.HeadSample{TimeS: p.TimeS}
		if points := t.PointsAt(i); points != nil {
			at := func(list []int) (out []plane.XY) {
				for _, k := range list {
					if k < len(points) && !points[k].Missing() {
						out = append(out, plane.XY{X: points[k].X, Y: points[k].Y})
					}
				}
				return out
			}
			s.Ears, s.Face, s.Shoulders, s.Hips = at(ears), at(face), at(shoulders), at(hips)
			sure := 0.0
			for _, k := range append(slices.Clone(ears), face...) {
				if k < len(points) && !points[k].Missing() {
					sure = math.Max(sure, points[k].Visibility)
				}
			}
			s.Unsure = sure < 0.5
		}
		samples[i] = s
	}
	return paint.NewHeads(samples, widthPx, heightPx)
}

// RollLines is the Track.RollSource of a roll that was read from the background.
const RollLines = "lines"
