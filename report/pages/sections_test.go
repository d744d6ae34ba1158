package pages

import (
	"math"
	"strings"
	"testing"

	"holdfast/internal/compared"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
	"holdfast/screening"
)

func TestFromWords(t *testing.T) {
	at := func(v int) *int { return &v }
	for _, tc := range []struct {
		angle        body.Angle
		part         kinematics.Part
		lost, gained *int
		want         string
	}{
		{body.KneeFlexion, "descent", at(70), nil, "Knee flexion, fast: lost from 70 % of the descent."},
		{body.KneeFlexion, "ascent", at(0), at(38),
			"Knee flexion, fast: less from the start of the ascent, more from 38 % of the ascent."},
		{body.HipFlexion, "descent", at(92), at(28),
			"Hip flexion, fast: gained from 28 % of the descent, lost from 92 % of the descent."},
		{body.TrunkLean, "landing", nil, at(5), "Trunk lean, fast: more from 5 % of the landing."},
		{body.AnkleDorsiflexion, "descent", nil, nil, ""},
	} {
		line := curveLine{of: kinematics.Condition{Words: "fast"}, lostFrom: tc.lost, gained: tc.gained}
		if got := fromWords("", tc.angle, tc.part, line); got != tc.want {
			t.Errorf("%q, want %q", got, tc.want)
		}
	}
}

func TestLookOf(t *testing.T) {
	toes := compared.Changed(40, 62, 5, "gained")
	rung := func(position kinematics.Position, first string, points kinematics.PointsTo,
		ch *stats.Change) *screening.Comparison {
		return &screening.Comparison{Comparison: kinematics.Comparison{Ladder: kinematics.Ladder{Rungs: []kinematics.Rung{
			{Position: kinematics.PositionHip}, // nothing is said of it
			{Position: position, First: first, PointsTo: points,
				Cells: []kinematics.Cell{{Condition: "slow"}, {Condition: first, Change: ch}}},
			{Position: kinematics.PositionTrunk, PointsTo: "range"}}}}}
	}
	lost := compared.Changed(100, 80, 5, "lost")
	for _, tc := range []struct {
		c           *screening.Comparison
		title, part string
	}{
		{rung(kinematics.PositionSupport, "fast", "control_at_speed", &toes), "Weight on the foot",
			"it moves toward the toes. That points to control at speed"},
		{rung(kinematics.PositionKnee, "jump", "control_through_change_of_direction", &lost), "Knee bend",
			"When you land, it bends less. That points to control when you change direction"},
		{rung(kinematics.PositionHeel, "slow", "range", nil), "Heel on the floor",
			"It comes up even when you go slowly. That points to range"},
		{rung(kinematics.PositionAnkle, "slow", "range", nil), "Ankle bend", "That points to range: how far you can move"},
	} {
		if got := lookOf(tc.c); got == nil || got.Title != tc.title || !strings.Contains(got.Text, tc.part) {
			t.Errorf("%+v", got)
		}
	}
	if lookOf(&screening.Comparison{}) != nil {
		t.Error("something to look at in nothing")
	}
}

func TestBestJump(t *testing.T) {
	nan := math.NaN()
	jump := func(rise, flight float64) kinematics.Rep {
		return kinematics.Rep{RepTimes: events.RepTimes{Tempo: events.TempoJump},
			Jump: &measure.Jump{RiseM: rise, RiseInterval95M: [2]float64{rise - 0.03, rise + 0.03},
				HeightFromFlightM: flight, HeightFromFlightInterval95M: [2]float64{nan, nan}}}
	}
	partial := jump(0.9, 0.9)
	partial.Partial = true
	for _, tc := range []struct {
		reps        []kinematics.Rep
		height, how string
	}{
		{nil, "", ""},
		{[]kinematics.Rep{jump(0.2, 0.25), jump(0.24, 0.3), partial}, "24 cm (21 to 27)",
			"the best of 2 jumps: how far your body rises after you leave the floor"},
		{[]kinematics.Rep{jump(math.NaN(), 0.25)}, "25 cm", "from your time in the air"},
	} {
		height, how := bestJump(&screening.Comparison{Analyses: []*screening.Analysis{nil, {Reps: tc.reps}}})
		if height != tc.height || how != tc.how {
			t.Errorf("%q, %q", height, how)
		}
	}
}

func TestViewWords(t *testing.T) {
	n := math.NaN()
	for _, tc := range []struct {
		view screening.View
		want string
	}{
		{screening.View{View: trace.View{YawDeg: n, SDDeg: n}},
			"How far the camera stood from side-on is not known; phone taken to be upright; " +
				"the background does not show whether the camera moved."},
		{screening.View{View: trace.View{YawDeg: -12.3, SDDeg: 4, RollDeg: -3.2, RollSource: "flight"}, CameraKnown: true,
			CameraMoved: true, CameraMotionPx: 41.3},
			"Camera 12° ± 8° from side-on; phone's picture turned 3° anticlockwise (from the flight of a jump), " +
				"which is taken out; the camera moved by up to 41 pixels, which is taken out."},
		{screening.View{View: trace.View{YawDeg: 2, SDDeg: 4, RollDeg: 0.1, RollSource: "given"}, CameraKnown: true},
			"Camera 2° ± 8° from side-on; phone upright (as given); the camera stood still."},
	} {
		if got := viewWords(&tc.view); got != tc.want {
			t.Errorf("%q, want %q", got, tc.want)
		}
	}
}
