package kinematics

import (
	"slices"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/trace"
)

// What upright people read is no reason to doubt the zero, and what a bent or leaning
// athlete reads is.
func TestZeroDoubted(t *testing.T) {
	tests := []struct {
		name             string
		knee, hip, trunk float64
		want             []string // codes
	}{
		{"upright, as a phone saw it", 15.8, 16.2, 6.2, nil},
		{"upright from a little behind", 8.8, 16.7, 12.1, nil},
		{"upright, rendered", 3.0, -3.4, -2.9, nil},
		{"knees bent", 22, 12, 5, []string{"bent_knee_flexion"}},
		{"leaning on something", 8, 25, 21, []string{"bent_hip_flexion", "bent_trunk_lean"}},
		{"leaning back", 5, -12, -14, []string{"bent_hip_flexion", "bent_trunk_lean"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var got []string
			stand := body.StandAngles{body.KneeFlexion: tt.knee, body.HipFlexion: tt.hip, body.TrunkLean: tt.trunk}
			for _, n := range joints.ZeroNotices(&stand) {
				for _, bent := range n.Params["bent"].([]params) {
					got = append(got, bent["code"].(string))
				}
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("bent: %v, want %v", got, tt.want)
			}
		})
	}
}

// One flight that falls too slowly among others that do not fall at all says nothing of the clock.
func TestClockNotices(t *testing.T) {
	flight := trace.Span{FromS: 1, ToS: 1.3}
	tests := []struct {
		name    string
		flights int
		doubted []trace.Span
		want    []string
	}{
		{"nothing", 0, nil, nil},
		{"a jump in slow motion", 1, []trace.Span{flight}, []string{noticeWrongClock}},
		{"jumps in slow motion", 2, []trace.Span{flight, flight}, []string{noticeWrongClock}},
		{"a phone that is carried", 1, []trace.Span{flight, flight}, []string{NoticeFlightDoubted, NoticeFlightDoubted}},
	}
	for _, tt := range tests {
		var got []string
		for _, n := range clockNotices(2.4, tt.flights, tt.doubted) {
			got = append(got, n.Code)
		}
		if !slices.Equal(got, tt.want) {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
}

// A movement that nothing else in the clip looks like is not set against another one, however little shows it.
func TestMovementUnsure(t *testing.T) {
	squat, hinge := &movement.Movement{Key: "squat"}, &movement.Movement{Key: "hinge"}
	for _, tt := range []struct {
		sure   float64
		next   *movement.Movement
		shaken bool
		n      int
	}{{62, nil, false, 0}, {62, hinge, false, 1}, {91, hinge, false, 0}, {61, nil, true, 1}} {
		found := events.Found{Movement: squat, Next: tt.next, SurePct: tt.sure, Shaken: tt.shaken}
		if got := found.Unsure(); len(got) != tt.n {
			t.Errorf("%.0f %% sure: %v", tt.sure, got)
		}
	}
}
