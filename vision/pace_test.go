package vision

import (
	"math"
	"testing"
	"testing/quick"

	"holdfast/vision/pose"
)

// walker is an athlete of points whose hips go up and down as a function of time says, metres.
type walker struct {
	names   []string
	legPx   float64
	heightM func(timeS float64) float64
	jumps   bool // and the legs with them
}

func newWalker(height func(float64) float64) walker {
	return walker{names: []string{"left_shoulder", "right_shoulder", "left_hip", "right_hip", "left_knee", "right_knee",
		"left_ankle", "right_ankle"}, legPx: 400, heightM: height}
}

func (w walker) at(timeS float64) *pose.Pose {
	px := w.legPx / usualLegM
	down := w.heightM(timeS) * px
	p := &pose.Pose{TimeS: timeS, Found: true}
	for i := range w.names {
		y := []float64{200, 400, 600, 800}[i/2]
		if i < 4 || w.jumps {
			y += down
		}
		p.Keypoints = append(p.Keypoints, pose.Keypoint{X: 300, Y: y})
	}
	return p
}

// looks returns the times at which the athlete is looked at, in a clip of that many frames a second.
func (w walker) looks(rateHz, forS float64) []float64 {
	f := scout{tracker: &Tracker{}, have: true, pace: newPace(w.names), frameS: 1 / rateHz}
	var out []float64
	for i := 0; float64(i)/rateHz < forS; i++ {
		if t := float64(i) / rateHz; !f.passes(t) {
			f.saw(w.at(t))
			f.have = true
			out = append(out, t)
		}
	}
	return out
}

func TestPace(t *testing.T) {
	squat := func(depthM, downS float64) func(float64) float64 { // a second of stand, down and up again, and on
		return func(timeS float64) float64 {
			return depthM * (1 - math.Cos(2*math.Pi*math.Max(0, timeS-1)/(2*downS))) / 2
		}
	}
	tests := []struct {
		name            string
		height          func(float64) float64
		rateHz          float64
		leastHz, mostHz float64
	}{
		{"stands, 60 frames a second", func(float64) float64 { return 0 }, 60, 6, 9},
		{"stands, 30 frames a second", func(float64) float64 { return 0 }, 30, 6, 9},
		{"slow squats", squat(0.5, 2), 60, 6, 10},
		{"fast squats", squat(0.5, 0.5), 60, 14, 25},
		{"fast squats, 24 frames a second", squat(0.5, 0.5), 24, 12, 24},
		{"as fast as nobody is", squat(0.5, 0.1), 60, 40, 60},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			const forS = 9.0
			n := float64(len(newWalker(tt.height).looks(tt.rateHz, forS))) / forS
			if n < tt.leastHz || n > tt.mostHz {
				t.Errorf("%.1f looks a second, want %v to %v", n, tt.leastHz, tt.mostHz)
			}
		})
	}
}

// Whatever squats an athlete does, no point goes much further unseen than it may, or the frames are all looked at.
// Nobody drops faster than he falls.
func TestPaceKeepsUp(t *testing.T) {
	keeps := func(depth, down, rate uint8) bool {
		depthM, downS := 0.2+0.5*float64(depth)/255, 0.25+2*float64(down)/255
		downS = max(downS, math.Pi*math.Sqrt(depthM/2/9.81))
		rateHz := []float64{24, 30, 60, 120}[rate%4]
		w := newWalker(func(timeS float64) float64 {
			return depthM * (1 - math.Cos(math.Pi*math.Max(0, timeS-1)/downS)) / 2
		})
		looks := w.looks(rateHz, 8)
		for i := 1; i < len(looks); i++ {
			gapS := looks[i] - looks[i-1]
			if gapS < 1.5/rateHz {
				continue
			}
			way := math.Abs(w.heightM(looks[i]) - w.heightM(looks[i-1]))
			if way > 2.4*passedWayM || gapS > longestPassS+1/rateHz {
				t.Logf("%.2f m in %.2f s at %v frames a second: %.3f m unseen for %.3f s", depthM, downS, rateHz, way, gapS)
				return false
			}
		}
		return true
	}
	if err := quick.Check(keeps, nil); err != nil {
		t.Error(err)
	}
}

// A cut, damage or an athlete who was lost makes the next frames be looked at all.
func TestPaceForgets(t *testing.T) {
	w := newWalker(func(float64) float64 { return 0 })
	f := scout{tracker: &Tracker{}, have: true, pace: newPace(w.names), frameS: 1.0 / 60}
	for i := range 60 {
		f.saw(w.at(float64(i) / 60))
	}
	if f.have = true; !f.passes(1.0) {
		t.Error("one who stands is looked at in the next frame")
	}
	f.lost()
	if f.have = true; f.passes(1.0) {
		t.Error("the frame after a cut is passed over")
	}
	f.saw(&pose.Pose{TimeS: 1})
	if f.have {
		t.Error("one who was not found is followed")
	}
	if f.tracker.opt.EveryFrame, f.have, f.nextS = true, true, 9; f.passes(1) {
		t.Error("every frame was asked for")
	}
}
