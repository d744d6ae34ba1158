package foot

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"gocv.io/x/gocv"

	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// footNames are the points that a pitch needs.
var footNames = []string{
	"left_shoulder", "left_hip", "left_knee", "left_ankle", "left_heel", "left_foot_index",
	"right_shoulder", "right_hip", "right_knee", "right_ankle", "right_heel", "right_foot_index",
}

// stage is a drawn clip: a shoe of cloth of 90 pixels on a plain floor, which turns about
// its ball, and the points of a network that are off by noise.
type stage struct {
	facing float64
	cloth  *cloth
	noise  float64 // of the points, pixels
	// cameraDeg is by how much the camera is turned in a frame.
	cameraDeg func(i int) float64
	ballAt    func(i int) plane.XY // where the ball is, from where it is usually
	rng       *rand.Rand
}

const stageShoePx, stageW, stageH = 90.0, 260, 200

// frame draws a frame with the heel up by deg.
func (s *stage) frame(i int, deg float64) (*media.Frame, pose.Pose) {
	camera := 0.0
	if s.cameraDeg != nil {
		camera = s.cameraDeg(i)
	}
	ball := plane.XY{X: stageW/2 + s.facing*20, Y: 140}
	if s.ballAt != nil {
		ball = ball.Add(s.ballAt(i).X, s.ballAt(i).Y)
	}
	turn := (s.facing*deg - camera) * math.Pi / 180
	sin, cos := math.Sincos(turn)
	m := gocv.NewMatWithSize(stageH, stageW, gocv.MatTypeCV8UC3)
	pix, _ := m.DataPtrUint8() // a new picture has pixels
	for y := range stageH {
		for x := range stageW {
			dx, dy := float64(x)-ball.X, float64(y)-ball.Y
			// In the shoe's own axes, from its lower back end, parts of its length.
			u, v := cos*dx+sin*dy, -sin*dx+cos*dy
			along, up := ballAt+s.facing*u/stageShoePx, -v/stageShoePx
			grey := 150.0
			if along >= 0 && along <= 1 && up >= 0 && up <= 0.3 {
				grey = s.cloth.at(u, v)
			}
			grey += 2 * s.rng.NormFloat64()
			for c := range 3 {
				pix[3*(y*stageW+x)+c] = byte(max(0, min(255, grey)))
			}
		}
	}
	at := func(along, up float64) pose.Keypoint {
		u, v := s.facing*(along-ballAt)*stageShoePx, -up*stageShoePx
		x, y := ball.X+cos*u-sin*v, ball.Y+sin*u+cos*v
		return pose.Keypoint{X: x + s.noise*s.rng.NormFloat64(), Y: y + s.noise*s.rng.NormFloat64()}
	}
	between := 1 / shoeLength
	heel, toe := at(shoeBehindHeel*between, soleBelow*between), at((1+shoeBehindHeel)*between, soleBelow*between)
	ankle := at(0.3, 0.35)
	knee := pose.Keypoint{X: ankle.X, Y: ankle.Y - 140}
	hip := pose.Keypoint{X: ankle.X, Y: ankle.Y - 290, Z: -10}
	far := func(k pose.Keypoint) pose.Keypoint { k.Z += 20; return k }
	pose := pose.Pose{Index: i, TimeS: float64(i) / 30, Found: true,
		Keypoints: []pose.Keypoint{hip, hip, knee, ankle, heel, toe, far(hip), far(hip), far(knee), far(ankle), far(heel),
			far(toe)}}
	if s.cameraDeg != nil {
		pose.Camera = plane.Similarity{Scale: 1, AngleDeg: camera, Known: true}
		// The camera turns about the ball, which stays where it is in the picture.
		now := pose.Camera.Apply(ball)
		pose.Camera.DXPx, pose.Camera.DYPx = ball.X-now.X, ball.Y-now.Y
	}
	return &media.Frame{Index: i, TimeS: pose.TimeS, Mat: m, ScalePx: 1}, pose
}

// play draws a clip in which the heel is up by degs and returns its track.
func (s *stage) play(t *testing.T, degs []float64) *pose.Track {
	t.Helper()
	s.rng = rand.New(rand.NewPCG(4, 2))
	album, track := NewAlbum(footNames), &pose.Track{KeypointNames: footNames, CameraMoved: s.cameraDeg != nil}
	for i, deg := range degs {
		f, pose := s.frame(i, deg)
		album.Keep(f, i, &pose)
		f.Close()
		track.Poses = append(track.Poses, pose)
	}
	if err := album.Measure(t.Context(), track); err != nil {
		t.Fatal(err)
	}
	return track
}

// heelWay stands, rises to most and comes back.
func heelWay(most float64) []float64 {
	degs := make([]float64, 30)
	for i := range degs {
		if i >= 8 && i <= 24 {
			degs[i] = most * (1 - math.Cos(float64(i-8)/16*2*math.Pi)) / 2
		}
	}
	return degs
}

// The heel's rise is read off the shoe's picture, whichever way the athlete looks and
// however the camera turns, though the network's points jump by pixels.
func TestFootPitchOfADrawnShoe(t *testing.T) {
	pan := func(i int) float64 { return -3 + 0.2*float64(i) }
	tests := []struct {
		name   string
		facing float64
		camera func(i int) float64
		most   float64
	}{
		{"flat", 1, nil, 0},
		{"to the right", 1, nil, 12},
		{"to the left", -1, nil, 12},
		{"calf raise", 1, nil, 45},
		{"calf raise to the left", -1, nil, 45},
		{"toes up", 1, nil, -15},
		{"camera turns", 1, pan, 12},
		{"camera turns, to the left", -1, pan, 12},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			degs := heelWay(tt.most)
			s := stage{facing: tt.facing, cloth: newCloth(11), noise: 3, cameraDeg: tt.camera}
			for i, p := range s.play(t, degs).Poses {
				switch q := p.FootPitch; {
				case q == nil:
					t.Errorf("frame %d: not known, want %.1f", i, -degs[i])
				case math.Abs(q.Deg+degs[i]) > 0.9+0.03*math.Abs(degs[i]) || math.Abs(q.Deg+degs[i]) > 3*q.SDDeg:
					t.Errorf("frame %d: %.2f, want %.2f within three times %.2f", i, q.Deg, -degs[i], q.SDDeg)
				case q.Source != pose.FootPitchOfPicture || !(q.Correlation > leastAlike && q.Correlation <= 1):
					t.Errorf("frame %d: %+v", i, q)
				}
			}
		})
	}
}

// What shows no shoe to go by has no pitch: it is never made up, and nothing ends.
func TestFootPitchIsNotKnown(t *testing.T) {
	degs := heelWay(12)
	nan := math.NaN()
	unseen := pose.Keypoint{X: nan, Y: nan}
	tests := []struct {
		name   string
		change func(track *pose.Track, album *Album)
	}{
		{"nothing", func(track *pose.Track, album *Album) { *track, album.kept = pose.Track{KeypointNames: footNames}, nil }},
		{"nobody found", func(track *pose.Track, _ *Album) {
			for i := range track.Poses {
				track.Poses[i] = pose.Pose{Index: i, TimeS: track.Poses[i].TimeS}
			}
		}},
		{"no feet", func(track *pose.Track, _ *Album) {
			for i := range track.Poses {
				for _, k := range []int{4, 5, 10, 11} {
					track.Poses[i].Keypoints[k] = unseen
				}
			}
		}},
		{"dark", func(_ *pose.Track, album *Album) {
			for _, p := range album.kept {
				clear(pixels(t, &p))
			}
		}},
		{"plain shoe", func(_ *pose.Track, album *Album) {
			rng := rand.New(rand.NewPCG(1, 1))
			for _, p := range album.kept {
				for i, grey := 0, pixels(t, &p); i < len(grey); i++ {
					grey[i] = byte(120 + rng.IntN(3))
				}
			}
		}},
		{"feet cut off", func(track *pose.Track, _ *Album) {
			for i := range track.Poses {
				for k := range track.Poses[i].Keypoints {
					track.Poses[i].Keypoints[k].Y += 80
				}
			}
		}},
		{"no side is nearer", func(track *pose.Track, _ *Album) {
			for i := range track.Poses {
				for k := range track.Poses[i].Keypoints {
					track.Poses[i].Keypoints[k].Z = 0
				}
			}
		}},
		{"points at one place", func(track *pose.Track, _ *Album) {
			for i := range track.Poses {
				for k := range track.Poses[i].Keypoints {
					track.Poses[i].Keypoints[k] = pose.Keypoint{X: 100, Y: 100}
				}
			}
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := stage{facing: 1, cloth: newCloth(11), noise: 3, rng: rand.New(rand.NewPCG(4, 2))}
			album, track := NewAlbum(footNames), &pose.Track{KeypointNames: footNames}
			for i, deg := range degs {
				f, pose := s.frame(i, deg)
				album.Keep(f, i, &pose)
				f.Close()
				track.Poses = append(track.Poses, pose)
			}
			tt.change(track, album)
			if err := album.Measure(t.Context(), track); err != nil {
				t.Fatal(err)
			}
			for i, p := range track.Poses {
				if p.FootPitch != nil {
					t.Errorf("frame %d: %+v", i, *p.FootPitch)
				}
			}
		})
	}
	t.Run("network without feet", func(t *testing.T) {
		track := &pose.Track{KeypointNames: footNames[:3],
			Poses: []pose.Pose{{Found: true, Keypoints: make([]pose.Keypoint, 3)}}}
		err := NewAlbum(track.KeypointNames).Measure(t.Context(), track)
		if err != nil || track.Poses[0].FootPitch != nil {
			t.Errorf("%v, %v", track.Poses[0].FootPitch, err)
		}
	})
}

// Which side is nearer is told by the frames that were looked at, however few they are.
func TestNearSideOfFewLooks(t *testing.T) {
	a, track := NewAlbum(footNames), &pose.Track{KeypointNames: footNames}
	for i := range 100 {
		p := pose.Pose{Index: i, Passed: i%10 != 0}
		if p.Found = !p.Passed; p.Found {
			p.Keypoints = make([]pose.Keypoint, len(footNames))
			p.Keypoints[a.index[1].hip].Z = -50
		}
		track.Poses = append(track.Poses, p)
	}
	if got := a.nearSide(track); got != 1 {
		t.Errorf("side %d, want 1", got)
	}
}

// pixels returns those of a picture that is in memory.
func pixels(t *testing.T, p *footPicture) []byte {
	t.Helper()
	grey, err := p.grey.Bytes(nil)
	if err != nil {
		t.Fatal(err)
	}
	return grey
}

// A long clip keeps every second picture rather than ever more memory.
func TestFootAlbumIsThinned(t *testing.T) {
	a := Album{every: 1}
	for i := range 10 {
		a.kept = append(a.kept, footPicture{pose: i, grey: a.shelf.Put(make([]byte, 7))})
	}
	a.thin()
	if len(a.kept) != 5 || a.kept[4].pose != 8 || a.every != 2 || a.bytes != 35 {
		t.Errorf("kept %d up to frame %d, every %d, %d bytes", len(a.kept), a.kept[len(a.kept)-1].pose, a.every, a.bytes)
	}
}

// On a rendered athlete whose heels rise in a fast squat: from the points of the stored
// track, against the clip's truth.
func TestFootPitchOfARenderedAthlete(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it decodes a clip and looks through all of it")
	}
	const name = "fast_30"
	raw, err := os.ReadFile(filepath.Join("../../testdata/clips", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var truth struct {
		Frames []struct {
			Angles struct {
				FootPitch float64 `json:"foot_pitch"`
			} `json:"angles"`
		} `json:"frames"`
	}
	if err := json.Unmarshal(raw, &truth); err != nil {
		t.Fatal(err)
	}
	stored, err := os.Open(filepath.Join("../../testdata/tracks", name+".track.json.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer stored.Close()
	track, err := pose.ReadTrack(stored)
	if err != nil {
		t.Fatal(err)
	}
	clip, err := media.Open(t.Context(), filepath.Join("../../testdata/clips", name+".mp4"))
	if err != nil {
		t.Fatal(err)
	}
	if err := AddPitch(t.Context(), clip, track); err != nil {
		t.Fatal(err)
	}
	var flat, up []float64 // squares, absolute values
	for i, p := range track.Poses {
		if p.Passed {
			continue
		}
		if p.FootPitch == nil {
			t.Fatalf("frame %d: not known", i)
		}
		off := p.FootPitch.Deg + truth.Frames[i].Angles.FootPitch
		if truth.Frames[i].Angles.FootPitch < 0.3 {
			flat = append(flat, off*off)
		} else {
			up = append(up, math.Abs(off))
		}
	}
	if rms, mean := math.Sqrt(meanOf(flat)), meanOf(up); rms > 0.3 || mean > 0.6 {
		t.Errorf("%.2f degrees rms while the foot is flat, %.2f mean while the heel is up", rms, mean)
	}
}

func meanOf(v []float64) float64 { mean, _ := meanAndSD(v); return mean }
