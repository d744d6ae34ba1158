package vision

import (
	"math"
	"slices"
	"testing"
	"testing/quick"

	"gocv.io/x/gocv"

	"holdfast/vision/media"
)

// walk lets a scout follow the walker through a clip and returns the frames as they were settled.
func (w walker) walk(t testing.TB, rateHz, forS float64, change func(s *sight)) []*sight {
	t.Helper()
	f := scout{tracker: &Tracker{}, pace: newPace(w.names), frameS: 1 / rateHz}
	clip := &media.Clip{WidthPx: 1280, HeightPx: 720}
	p := newPlan(clip, f.pace, false)
	var out []*sight
	n := int(math.Round(rateHz * forS))
	for i := range n {
		s := &sight{}
		s.Frame = &media.Frame{Index: i, TimeS: float64(i) / rateHz, ScalePx: 1}
		if change != nil {
			change(s)
		}
		if s.ended {
			f.lost()
		} else if at := w.at(s.Frame.TimeS); !f.passes(at.TimeS) {
			s.began = !f.have
			f.have = true
			s.spot = &spot{at.TimeS, Region{CX: 300, CY: at.Keypoints[2].Y, SizePx: 1000}, f.saw(at)}
		}
		out = append(out, p.take(s)...)
		if len(p.waiting) > p.most {
			t.Fatalf("%d frames wait", len(p.waiting))
		}
	}
	out = append(out, p.end()...)
	if len(out) != n {
		t.Fatalf("%d frames settled of %d", len(out), n)
	}
	for i, s := range out {
		if s.Frame.Index != i {
			t.Fatalf("frame %d is settled as the %dth", s.Frame.Index, i)
		}
	}
	return out
}

func looked(frames []*sight) (timesS []float64) {
	for _, s := range frames {
		if s.looked {
			timesS = append(timesS, s.Frame.TimeS)
		}
	}
	return timesS
}

func TestPlan(t *testing.T) {
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
		{"stands, 60 frames a second", func(float64) float64 { return 0 }, 60, 5, 7},
		{"stands, 30 frames a second", func(float64) float64 { return 0 }, 30, 5, 7},
		{"slow squats", squat(0.5, 2), 60, 5, 8},
		{"fast squats", squat(0.5, 0.5), 60, 9, 16},
		{"fast squats, 24 frames a second", squat(0.5, 0.5), 24, 9, 16},
		{"as fast as nobody is", squat(0.5, 0.1), 60, 30, 60},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			const forS = 9.0
			n := float64(len(looked(newWalker(tt.height).walk(t, tt.rateHz, forS, nil)))) / forS
			if n < tt.leastHz || n > tt.mostHz {
				t.Errorf("%.1f looks a second, want %v to %v", n, tt.leastHz, tt.mostHz)
			}
		})
	}
}

// Whatever squats an athlete does, a straight way between two looks leads past where he was by a few centimetres at
// most. Nobody drops faster than he falls.
func TestPlanTellsTheWay(t *testing.T) {
	tells := func(depth, down, rate uint8) bool {
		depthM, downS := 0.2+0.5*float64(depth)/255, 0.25+2*float64(down)/255
		downS = max(downS, math.Pi*math.Sqrt(depthM/2/9.81))
		rateHz := []float64{24, 30, 60, 120}[rate%4]
		w := newWalker(func(timeS float64) float64 {
			return depthM * (1 - math.Cos(math.Pi*math.Max(0, timeS-1)/downS)) / 2
		})
		looks := looked(w.walk(t, rateHz, 8, nil))
		for i := 1; i < len(looks); i++ {
			from, to := looks[i-1], looks[i]
			off := math.Abs((w.heightM(from)+w.heightM(to))/2 - w.heightM((from+to)/2))
			if to-from > 1.5/rateHz && off > 3*bodyOffM || to-from > longestGapS+1/rateHz {
				t.Logf("%.2f m in %.2f s at %v frames a second: %.3f m off in %.3f s", depthM, downS, rateHz, off, to-from)
				return false
			}
		}
		return true
	}
	if err := quick.Check(tells, nil); err != nil {
		t.Error(err)
	}
}

// Every frame about a take-off and a contact is looked at, and not every one between, where the body but falls.
func TestPlanOfAJump(t *testing.T) {
	const off, flight = 2.0, 0.45
	w := newWalker(func(timeS float64) float64 {
		u := timeS - off
		if u < 0 || u > flight {
			return 0
		}
		return -9.81 / 2 * u * (flight - u)
	})
	w.jumps = true
	frames := w.walk(t, 60, 5, nil)
	for _, at := range []float64{off, off + flight} {
		for _, s := range frames {
			if d := s.Frame.TimeS - at; math.Abs(d) < 0.025 && !s.looked {
				t.Errorf("the frame %.3f s from the edge of a flight is passed over", d)
			}
		}
	}
	if n := len(looked(frames)); n > 80 {
		t.Errorf("%d looks of 300", n)
	}
}

// A frame that is lost says nothing of those before it, nor of those after, and its own place is kept.
func TestPlanBeginsAnew(t *testing.T) {
	w := newWalker(func(float64) float64 { return 0 })
	lost := func(s *sight) {
		s.Frame.Mat = gocv.NewMat()
		s.ended = s.Frame.Index >= 100 && s.Frame.Index < 110
	}
	frames := w.walk(t, 60, 4, lost)
	if slices.ContainsFunc(frames[100:110], func(s *sight) bool { return s.looked || s.pose.Passed }) {
		t.Error("frames without an athlete are looked at or passed over")
	}
	for _, s := range frames {
		if (s.Frame.Mat.Ptr() != nil) != s.looked {
			t.Errorf("frame %d, looked at: %v, has a picture: %v", s.Frame.Index, s.looked, !s.looked)
		}
		s.Frame.Close()
	}
	if !frames[110].looked || !frames[110].began {
		t.Error("the athlete is found anew without a look")
	}
}

// The way leads to where the athlete is, whichever frames the scout saw.
func TestPlanAimsAtTheAthlete(t *testing.T) {
	w := newWalker(func(timeS float64) float64 { return 0.3 * math.Sin(3*timeS) })
	px := w.legPx / usualLegM
	for i, s := range w.walk(t, 60, 6, nil) {
		if i < 3 || !s.looked { // nothing is known of before the clip
			continue
		}
		want := 400 + px*w.heightM(s.Frame.TimeS)
		if math.Abs(s.way.CY-want) > 3 || math.Abs(s.way.SizePx-1000) > 1e-6 {
			t.Errorf("at %.2f s the region is %+v, want its middle at %.1f", s.Frame.TimeS, s.way, want)
		}
	}
}
