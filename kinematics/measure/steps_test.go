package measure

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
)

// walked is a way of a foot to another place along the floor, in leg lengths, between two times.
type walked struct {
	side       body.Side
	fromS, toS float64
	legs       float64
}

// walks returns a motion of 5 s whose feet go those ways, each at rest at either end.
func walks(ways ...walked) *joints.Motion {
	m := &joints.Motion{LegPx: 100}
	m.RateHz = 30
	for side := range 2 {
		m.Points[side][body.Ankle].X = make([]float64, 151)
	}
	for i := range 151 {
		m.TimeS = append(m.TimeS, float64(i)/30)
		for _, w := range ways {
			s := math.Min(1, math.Max(0, (m.TimeS[i]-w.fromS)/(w.toS-w.fromS)))
			m.Points[w.side][body.Ankle].X[i] += 100 * w.legs * s * s * (3 - 2*s)
		}
	}
	return m
}

// Steps are counted after the first foot that comes under the body, of either foot and in either direction, until both
// stay. Two feet at once are a jump, and put down together; what is not seen is not counted.
func TestSteps(t *testing.T) {
	near, far := body.Left, body.Right
	first := walked{side: near, fromS: 1, toS: 1.4, legs: 0.9}
	rear := walked{side: far, fromS: 1.8, toS: 2.2, legs: 0.9}
	for _, tt := range []struct {
		name string
		of   *joints.Motion
		want int // -1: unknown
	}{
		{"one foot beside the other", walks(first, rear), 1},
		{"past it, and the other beside", walks(first, rear, walked{side: near, fromS: 2.3, toS: 2.6, legs: 0.25}), 2},
		{"back again with both", walks(first, rear, walked{side: near, fromS: 2.3, toS: 2.6, legs: -0.25},
			walked{side: far, fromS: 2.7, toS: 3, legs: -0.25}), 3},
		{"both feet at once", walks(first, walked{side: far, fromS: 1.02, toS: 1.42, legs: 0.9}), 0},
		{"a pause on one knee is none in standing", walks(first, walked{side: far, fromS: 2.4, toS: 2.8, legs: 0.9}), 1},
		{"steps after both have stayed", walks(first, rear, walked{side: near, fromS: 3, toS: 3.4, legs: 0.4}), 1},
		{"a foot that shifts first", walks(walked{side: far, fromS: 0.9, toS: 1, legs: 0.12}, first, rear), 1},
		{"a foot that turns", walks(first, rear, walked{side: near, fromS: 2.3, toS: 2.6, legs: 0.05}), 1},
		{"no foot comes under the body", walks(), -1},
		{"the clip ends too soon", walks(first, walked{side: far, fromS: 4.4, toS: 4.9, legs: 0.9}), -1},
	} {
		uprightS := 2.2
		if tt.want < 0 {
			uprightS = 4.9
		}
		got := -1
		if n := stepsUp(tt.of, 0.8, uprightS, 5); n != nil {
			got = *n
		}
		if got != tt.want {
			t.Errorf("%s: %d steps, want %d", tt.name, got, tt.want)
		}
	}
	hidden := walks(first, rear)
	hidden.Points[far][body.Ankle].X = signal.NaNs(151)
	if n := stepsUp(hidden, 0.8, 2.2, 5); n != nil {
		t.Errorf("a foot that is not seen took %d steps", *n)
	}

	// After a landing, until its rep is over: the slide of the impact is no step.
	for name, tt := range map[string]struct {
		of   *joints.Motion
		want int
	}{
		"the feet stay":              {walks(walked{side: near, fromS: 0.9, toS: 1.15, legs: 0.3}), 0},
		"one foot is put down again": {walks(walked{side: near, fromS: 1.3, toS: 1.6, legs: 0.3}), 1},
		"both, one after the other": {walks(walked{side: near, fromS: 1.3, toS: 1.6, legs: 0.3},
			walked{side: far, fromS: 1.7, toS: 2, legs: 0.3}), 2},
		"walks away later": {walks(walked{side: near, fromS: 3.5, toS: 3.8, legs: 0.3}), 0},
	} {
		if n := stepsDown(tt.of, 1, 3); n == nil || *n != tt.want {
			t.Errorf("%s: %v steps, want %d", name, n, tt.want)
		}
	}
}

// A body is beyond its feet ahead of the foremost one, or behind the rearmost one: not over one knee.
func TestBeyondFeet(t *testing.T) {
	m := walks()
	m.Facing = body.FacingRight
	hip := make([]float64, 151)
	for i := range hip {
		hip[i] = 40
		m.Points[body.Right][body.Ankle].X[i] = 90 // over one knee
	}
	m.Points[m.NearSide][body.Hip].X = hip
	if ahead, behind := beyondFeet(m, 0, 3); ahead[0] != -50 || behind[0] != -40 {
		t.Errorf("over one knee %.0f ahead, %.0f behind", ahead[0], behind[0])
	}
	m.Points[body.Right][body.Ankle].X = make([]float64, 151)
	if ahead, behind := beyondFeet(m, 0, 3); ahead[0] != 40 || behind[0] != -40 {
		t.Errorf("on both knees %.0f ahead, %.0f behind", ahead[0], behind[0])
	}

	// It leaves the floor when it comes back for good: what lies between two rests of it is none.
	apart := []float64{0, 60, 100, 100, 70, 100, 100, 99, 90, 60, 20, 0, -40, 0, 10, 0}
	if at := leavesFloor(apart, 100, 9); at != 7 {
		t.Errorf("leaves at %d", at)
	}
	if at := leavesFloor([]float64{math.NaN(), 80, 80, math.NaN(), 78, 20, 0}, 80, 9); at != 4 {
		t.Errorf("lost for a moment: leaves at %d", at)
	}
}
