package pose

import (
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"holdfast/vision/plane"
)

// TrackSchema is the name written into a stored track.
const TrackSchema = "holdfast/track/2"

// firstTrackSchema is the schema of tracks without foot pitches, which are still read.
const firstTrackSchema = "holdfast/track/1"

// ErrNotATrack: what was read is no stored track.
var ErrNotATrack = errors.New("this is no stored track")

// maxTrackBytes bounds what a stored track may unpack to.
const maxTrackBytes = 1 << 30

// trackFile is a track as JSON. A point is [x, y, z, visibility, presence, sd],
// pixels, null for what is missing. The network's metric guess is left out.
type trackFile struct {
	Schema    string     `json:"schema"`
	Keypoints []string   `json:"keypoints"`
	Model     string     `json:"model"`
	SHA256    string     `json:"model_sha256"`
	People    int        `json:"people_seen"`
	Known     bool       `json:"camera_known"`
	Moved     bool       `json:"camera_moved"`
	MotionPx  *float64   `json:"camera_motion_px"`
	RollDeg   *float64   `json:"roll_deg"`
	RollSD    *float64   `json:"roll_sd_deg"`
	RollFrom  string     `json:"roll_source"`
	ListedS   float64    `json:"listed_s,omitempty"`
	TurnedDeg int        `json:"turned_deg,omitempty"`
	Poses     []poseFile `json:"poses"`
}

type poseFile struct {
	Index      int           `json:"frame"`
	TimeS      float64       `json:"time_s"`
	Score      *float64      `json:"score,omitempty"`
	Points     [][6]*float64 `json:"points"` // null when the athlete was not found
	Redetected bool          `json:"redetected,omitempty"`
	Damaged    bool          `json:"damaged,omitempty"`
	Frozen     bool          `json:"frozen,omitempty"`
	Passed     bool          `json:"passed,omitempty"`
	Cut        bool          `json:"cut,omitempty"`
	Scene      int           `json:"scene,omitempty"`
	Repeats    int           `json:"repeats,omitempty"`
	Camera     *[4]*float64  `json:"camera,omitempty"` // scale, angle in degrees, dx, dy
	FootPitch  *pitchFile    `json:"foot_pitch,omitempty"`
}

// pitchFile is the pitch of the near foot in degrees.
type pitchFile struct {
	Deg         *float64        `json:"deg"`
	SDDeg       *float64        `json:"sd_deg"`
	Correlation *float64        `json:"correlation"`
	Source      FootPitchSource `json:"source"`
}

func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

func orNaN(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

// WriteTrack writes a track as gzipped JSON, all that [ReadTrack] needs to measure
// a clip again without its pictures. Pose.World is not kept.
func WriteTrack(w io.Writer, t *Track) error {
	if t == nil {
		return errors.New("writing a track: there is none")
	}
	f := trackFile{
		Schema: TrackSchema, Keypoints: t.KeypointNames, Model: t.ModelName, SHA256: t.ModelSHA256, People: t.PeopleSeen,
		Known: t.CameraKnown, Moved: t.CameraMoved, MotionPx: known(t.CameraMotionPx),
		RollDeg: known(t.RollDeg), RollSD: known(t.RollSDDeg), RollFrom: t.RollSource,
		ListedS: t.ListedS, TurnedDeg: t.TurnedDeg, Poses: make([]poseFile, len(t.Poses)),
	}
	for i := range t.Poses {
		p := &t.Poses[i]
		out := poseFile{Index: p.Index, TimeS: p.TimeS, Score: known(p.Score), Redetected: p.Redetected, Damaged: p.Damaged,
			Frozen: p.Frozen, Passed: p.Passed, Cut: p.Cut, Scene: p.Scene, Repeats: p.Repeats}
		if p.Found {
			out.Points = make([][6]*float64, len(p.Keypoints))
			for k, q := range p.Keypoints {
				out.Points[k] = [6]*float64{known(q.X), known(q.Y), known(q.Z), known(q.Visibility), known(q.Presence),
					known(q.SDPx)}
			}
		}
		if p.Camera.Known {
			out.Camera = &[4]*float64{known(p.Camera.Scale), known(p.Camera.AngleDeg), known(p.Camera.DXPx),
				known(p.Camera.DYPx)}
		}
		if q := p.FootPitch; q != nil {
			out.FootPitch = &pitchFile{known(q.Deg), known(q.SDDeg), known(q.Correlation), q.Source}
		}
		f.Poses[i] = out
	}
	z := gzip.NewWriter(w)
	if err := json.NewEncoder(z).Encode(&f); err != nil {
		return fmt.Errorf("writing a track: %w", err)
	}
	if err := z.Close(); err != nil {
		return fmt.Errorf("writing a track: %w", err)
	}
	return nil
}

// ReadTrack reads what WriteTrack wrote. Its error wraps ErrNotATrack when the data
// are something else, damaged, or too large.
func ReadTrack(r io.Reader) (*Track, error) {
	bad := func(err error) (*Track, error) { return nil, fmt.Errorf("reading a track: %w: %w", ErrNotATrack, err) }
	z, err := gzip.NewReader(r)
	if err != nil {
		return bad(err)
	}
	defer z.Close()
	var f trackFile
	limited := &io.LimitedReader{R: z, N: maxTrackBytes}
	if err := json.NewDecoder(limited).Decode(&f); err != nil {
		return bad(err)
	}
	if f.Schema != TrackSchema && f.Schema != firstTrackSchema {
		return bad(fmt.Errorf("its schema is %q, want %q", f.Schema, TrackSchema))
	}
	// To the end, so that gzip's check sum is compared.
	if _, err := io.Copy(io.Discard, limited); err != nil {
		return bad(err)
	}
	t := &Track{
		KeypointNames: f.Keypoints, ModelName: f.Model, ModelSHA256: f.SHA256, PeopleSeen: f.People,
		CameraKnown: f.Known, CameraMoved: f.Moved, CameraMotionPx: orNaN(f.MotionPx),
		RollDeg: orNaN(f.RollDeg), RollSDDeg: orNaN(f.RollSD), RollSource: f.RollFrom,
		ListedS: f.ListedS, TurnedDeg: f.TurnedDeg, Poses: make([]Pose, len(f.Poses)),
	}
	for i := range f.Poses {
		p := &f.Poses[i]
		if i > 0 && !(p.TimeS > f.Poses[i-1].TimeS) {
			return bad(fmt.Errorf("the time of frame %d does not come after that of the frame before", p.Index))
		}
		out := Pose{Index: p.Index, TimeS: p.TimeS, Score: orNaN(p.Score), Redetected: p.Redetected, Damaged: p.Damaged,
			Frozen: p.Frozen, Passed: p.Passed && p.Points == nil, Cut: p.Cut, Scene: p.Scene,
			Repeats: max(0, min(p.Repeats, i))}
		if p.Points != nil {
			if len(p.Points) != len(f.Keypoints) {
				return bad(fmt.Errorf("frame %d has %d points, want %d", p.Index, len(p.Points), len(f.Keypoints)))
			}
			out.Found = true
			out.Keypoints = make([]Keypoint, len(p.Points))
			for k, q := range p.Points {
				out.Keypoints[k] = Keypoint{X: orNaN(q[0]), Y: orNaN(q[1]), Z: orNaN(q[2]), Visibility: orNaN(q[3]),
					Presence: orNaN(q[4]), SDPx: orNaN(q[5])}
			}
		}
		if c := p.Camera; c != nil {
			out.Camera = plane.Similarity{Scale: orNaN(c[0]), AngleDeg: orNaN(c[1]), DXPx: orNaN(c[2]), DYPx: orNaN(c[3]),
				Known: true}
		}
		if q := p.FootPitch; q != nil {
			out.FootPitch = &FootPitch{orNaN(q.Deg), orNaN(q.SDDeg), orNaN(q.Correlation), q.Source}
		}
		t.Poses[i] = out
	}
	return t, nil
}
