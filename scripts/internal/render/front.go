package render

import (
	"math"

	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

// faceCamera puts the camera before the athlete, at 30 frames a second.
func (s *Scene) faceCamera() {
	s.Camera.YawDeg, s.Room.AtBack, s.RateHz = 90, true, 30
	s.Picture.ShutterS = math.Min(s.Picture.ShutterS, 0.01)
	// The light comes from where the camera is, not from behind the athlete.
	if s.Light.Toward.Z < 0 {
		s.Light.Toward.Z = -s.Light.Toward.Z
	}
}

// What a clip from the front aims at: how far each knee goes in at the bottom, degrees in the picture, and how far the
// pelvis goes to the athlete's left, metres.
var frontAims = map[motion.Kind]struct{ inDeg, shiftM float64 }{
	motion.Front:     {2, 0},
	motion.FastFront: {8, 0.03},
}

// kneesIn turns the thighs until each knee goes in as the kind aims at, at the first bottom.
func (s *Scene) kneesIn(kind motion.Kind) {
	m, aim := &s.Performer.Manner, frontAims[kind]
	r := s.Performer.Motion.Reps[0]
	at := (r.BottomS + r.UpStartS) / 2
	m.ShiftM = aim.shiftM / 0.8 // at a knee bent by 80 degrees
	for range 4 {               // each leg moves the pelvis a little
		for _, side := range motion.BothSides {
			low, high := -45.0, 45.0
			for range 30 {
				m.KneeOutDeg[side] = (low + high) / 2
				now := s.Performer.At(at)
				if s.frontOf(&now).KneeInDeg[side.String()] > aim.inDeg {
					low = m.KneeOutDeg[side]
				} else {
					high = m.KneeOutDeg[side]
				}
			}
		}
	}
}

// TruthFront is what only the front shows, read off the projected points.
type TruthFront struct {
	// KneeInDeg is by how much the line from knee to ankle turns away from that from hip to knee, by side, positive with
	// the knee inside the line from hip to ankle.
	KneeInDeg map[string]float64 `json:"knee_in_deg"`
	// ShiftPct is how far the middle of the hips is to the athlete's left of the middle of the ankles, per cent of the
	// ankles' distance, and HipTiltDeg how far the left hip is higher; against a level picture.
	ShiftPct   float64 `json:"shift_pct"`
	HipTiltDeg float64 `json:"hip_tilt_deg"`
}

// frontOf reads an instant from the front.
func (s *Scene) frontOf(now *motion.Instant) *TruthFront {
	v := s.Camera.view()
	flat := func(p space.Vec) space.Vec { // x to the athlete's left, y up
		x, y, _ := v.project(p)
		return space.Vec{X: x, Y: -y}
	}
	f := &TruthFront{KneeInDeg: map[string]float64{}}
	var hips, ankles [2]space.Vec
	for _, side := range motion.BothSides {
		l := &now.Figure.Sides[side]
		hip, knee, ankle := flat(l.Hip), flat(l.Knee), flat(l.Ankle)
		thigh, shank := knee.Sub(hip), ankle.Sub(knee)
		turn := math.Atan2(thigh.X*shank.Y-thigh.Y*shank.X, thigh.X*shank.X+thigh.Y*shank.Y)
		f.KneeInDeg[side.String()] = side.Out() * turn / space.Degree
		hips[side], ankles[side] = hip, ankle
	}
	between := ankles[motion.Left].Sub(ankles[motion.Right])
	off := hips[motion.Left].Toward(hips[motion.Right], 0.5).Sub(ankles[motion.Left].Toward(ankles[motion.Right], 0.5))
	f.ShiftPct = 100 * off.X / math.Hypot(between.X, between.Y)
	line := hips[motion.Left].Sub(hips[motion.Right])
	f.HipTiltDeg = math.Atan2(line.Y, line.X) / space.Degree
	return f
}
