package kinematics

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"holdfast/internal/handmade"
	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// truthClip is what a rendered clip really shows.
type truthClip struct {
	Frames []truthFrame
	Reps   []truthRep
	Facing string
	Near   string `json:"near_side"`
}

type truthFrame struct {
	T          float64
	TContainer *float64 `json:"t_container"`
	Phase      string
	Angles     struct {
		Knee  float64 `json:"knee_flexion"`
		Hip   float64 `json:"hip_flexion"`
		Ankle float64 `json:"ankle_dorsiflexion"`
		Shank float64 `json:"shank_tilt"`
		Pitch float64 `json:"foot_pitch"`
	}
	Points map[string][2]float64
}

type truthRep struct {
	Bottom     *float64
	UpStart    *float64 `json:"up_start"`
	PushStart  *float64 `json:"push_start"`
	Takeoff    *float64
	Touchdown  *float64
	LandBottom *float64 `json:"land_bottom"`
}

var (
	clipsMu sync.Mutex
	clips   = map[string]*truthClip{}
)

func loadClip(t testing.TB, name string) *truthClip {
	t.Helper()
	clipsMu.Lock()
	defer clipsMu.Unlock()
	if c := clips[name]; c != nil {
		return c
	}
	b, err := os.ReadFile(filepath.Join("..", "testdata", "clips", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	c := &truthClip{}
	if err := json.Unmarshal(b, c); err != nil {
		t.Fatal(err)
	}
	clips[name] = c
	return c
}

// rough is how a pose network spoils the true points: constant offsets of single
// points and an error that wanders from frame to frame (first-order
// autoregressive). The sizes are those seen with a large network on these clips.
type rough struct {
	noisePx float64 // standard deviation
	wander  float64 // correlation from frame to frame
	seed    uint64
}

var networkLike = rough{noisePx: 1.5, wander: 0.7, seed: 1}

// offsetPx is where the network puts a point, forward and down from the truth.
var offsetPx = map[body.Landmark][2]float64{body.Hip: {8, 2}, body.Knee: {-4, 0},
	body.Toe: {-19, 0}, body.Heel: {6, -4}}

func (c *truthClip) observations(r rough) []trace.Observation {
	rng := rand.New(rand.NewPCG(r.seed, 7))
	names := [body.NumLandmarks]string{"", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "big_toe"}
	var e [2][body.NumLandmarks][2]float64
	obs := make([]trace.Observation, len(c.Frames))
	for i, f := range c.Frames {
		o := &obs[i]
		o.TimeS = f.T
		if f.TContainer != nil {
			o.TimeS = *f.TContainer
		}
		forward := 1.0
		near := body.Right
		o.Depth = [2]float64{30, -30}
		if c.Facing == "left" {
			forward = -1
		}
		if c.Near == "left" {
			near = body.Left
			o.Depth = [2]float64{-30, 30}
		}
		for s, side := range []string{"left_", "right_"} {
			for k := range body.NumLandmarks {
				name := names[k]
				if k == body.Ear {
					name = "shoulder"
				}
				p, ok := f.Points[side+name]
				if !ok {
					o.Points[s][k] = body.MissingPoint()
					continue
				}
				if k == body.Ear {
					p[1] -= 80
				}
				for d := range 2 {
					n := &e[s][k][d]
					*n = r.wander**n + math.Sqrt(1-sq(r.wander))*r.noisePx*rng.NormFloat64()
					if r.noisePx > 0 {
						p[d] += *n + offsetPx[k][d]*[2]float64{forward, 1}[d]
					}
				}
				o.Points[s][k] = body.Point{X: p[0], Y: p[1], SDPx: 12, Confidence: 0.6}
				if body.Side(s) == near {
					o.Points[s][k].Confidence = 0.9
				}
			}
		}
	}
	return obs
}

// standing is the truth of the first frame, in which the athlete stands.
func (c *truthClip) standing() truthFrame { return c.Frames[0] }

// errors returns the mean absolute errors of knee, hip and ankle in degrees
// against the truth less the standing, out of flight.
func (c *truthClip) errors(s *Series, obs []trace.Observation) (knee, hip, ankle float64) {
	n := 0.0
	st := c.standing().Angles
	for i, f := range c.Frames {
		if f.Phase == "flight" {
			continue
		}
		j := s.Index(obs[i].TimeS)
		n++
		knee += math.Abs(s.AnglesDeg[body.KneeFlexion][j] - (f.Angles.Knee - st.Knee))
		hip += math.Abs(s.AnglesDeg[body.HipFlexion][j] - (f.Angles.Hip - st.Hip))
		ankle += math.Abs(s.AnglesDeg[body.AnkleDorsiflexion][j] - (f.Angles.Ankle - st.Ankle))
	}
	return knee / n, hip / n, ankle / n
}

// trueROM returns the mean range of each joint over the loaded parts of reps.
func (c *truthClip) trueROM(reps []Rep) (rom [body.NumJoints]float64) {
	st := c.standing().Angles
	for _, r := range reps {
		lo := [body.NumJoints]float64{st.Ankle, st.Knee, st.Hip}
		hi := lo
		for _, f := range c.Frames {
			for _, sp := range r.Loaded {
				if sp.Contains(f.T) {
					for j, v := range [body.NumJoints]float64{f.Angles.Ankle, f.Angles.Knee, f.Angles.Hip} {
						lo[j], hi[j] = min(lo[j], v), max(hi[j], v)
					}
				}
			}
		}
		for j := range rom {
			rom[j] += (hi[j] - lo[j]) / float64(len(reps))
		}
	}
	return rom
}

func meanROM(reps []Rep) (rom [body.NumJoints]float64) {
	for _, r := range reps {
		for _, j := range body.LegJoints {
			rom[j] += r.Angles[j.Angle()].ROMDeg / float64(len(reps))
		}
	}
	return rom
}

// analyzed is the result of one clip.
type analyzed struct {
	series  *Series
	reps    []Rep
	notices []Notice
}

// analyze analyses what the test's network saw.
func analyze(t testing.TB, obs []trace.Observation, opt Options) analyzed {
	t.Helper()
	opt.Calibration, opt.Movements = handmade.Network(), shipped.Squats()
	s, reps, notices, err := Analyze(obs, opt)
	if err != nil {
		t.Fatalf("analysing: %v", err)
	}
	return analyzed{s, reps, notices}
}

func (a analyzed) has(code string) bool {
	for _, n := range a.notices {
		if n.Code == code {
			return true
		}
	}
	return false
}
