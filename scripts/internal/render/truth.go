package render

import (
	"math"

	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

// Truth is what is known of a clip: the document beside it. Lengths are metres, times seconds, angles degrees.
type Truth struct {
	Clip       string      `json:"clip"`
	RateHz     int         `json:"fps"`
	Width      int         `json:"width"`
	Height     int         `json:"height"`
	FrameCount int         `json:"frames_n"`
	Facing     string      `json:"facing"`
	Near       string      `json:"near_side"`
	HeightM    float64     `json:"body_height_m"`
	Seed       uint64      `json:"seed"`
	Kind       motion.Kind `json:"kind"`
	Camera     TruthCamera `json:"camera"`
	// BoxM is how high the box is that the athlete stands on.
	BoxM        float64           `json:"box_m,omitempty"`
	Segments    TruthSegments     `json:"segments_m"`
	Definitions map[string]string `json:"definitions"`
	Reps        []TruthRep        `json:"reps"`
	// UsualROMDeg is the mean range of motion of many repetitions of the same movement: from the lowest value, standing
	// counted in, to the highest.
	UsualROMDeg map[string]float64 `json:"usual_rom_deg,omitempty"`
	Frames      []TruthFrame       `json:"frames"`
}

// TruthCamera is where the camera is and how it looks.
type TruthCamera struct {
	DistanceM  float64    `json:"distance_m"`
	HeightM    float64    `json:"height_m"`
	ForwardM   float64    `json:"forward_m"`
	FieldDeg   float64    `json:"vfov_deg"`
	FocalPx    float64    `json:"focal_px"`
	Principal  [2]float64 `json:"principal"`
	SideOn     bool       `json:"exactly_side_on"`
	YawDeg     float64    `json:"yaw_deg"`
	PitchDeg   float64    `json:"pitch_deg"`
	RollDeg    float64    `json:"roll_deg"`
	ShutterS   float64    `json:"shutter_s"`
	BlurPx     float64    `json:"blur_px"`
	NoiseLevel float64    `json:"noise_level"`
	CRF        int        `json:"crf"`
}

// TruthSegments are lengths as seen from the side.
type TruthSegments struct {
	Shank float64 `json:"shank"`
	Thigh float64 `json:"thigh"`
	Trunk float64 `json:"trunk_hip_shoulder"`
}

// TruthRep is one repetition. A jump has push_start and what follows it, the others start, bottom, up_start, end.
type TruthRep struct {
	Number         int             `json:"rep"`
	StartS         *float64        `json:"start,omitempty"`
	BottomS        *float64        `json:"bottom,omitempty"`
	UpStartS       *float64        `json:"up_start,omitempty"`
	EndS           *float64        `json:"end,omitempty"`
	Peaks          map[string]Peak `json:"peaks,omitempty"`
	PushStartS     *float64        `json:"push_start,omitempty"`
	TakeoffS       *float64        `json:"takeoff,omitempty"`
	TouchdownS     *float64        `json:"touchdown,omitempty"`
	LandBottomS    *float64        `json:"land_bottom,omitempty"`
	FlightS        *float64        `json:"flight_s,omitempty"`
	TakeoffSpeedMS *float64        `json:"takeoff_speed_mps,omitempty"`
	RiseM          *float64        `json:"com_rise_after_takeoff_m,omitempty"`
	SquatBefore    map[string]Peak `json:"squat_before,omitempty"`
	Landing        map[string]Peak `json:"landing,omitempty"`
	// Steps is how often a foot is put down after the first one, StepsEndS when the last one is.
	Steps     int      `json:"steps,omitempty"`
	StepsEndS *float64 `json:"steps_end,omitempty"`
}

// Peak is the largest value of an angle of the near side, and when it is taken.
type Peak struct {
	Peak  float64 `json:"peak"`
	TimeS float64 `json:"t"`
}

// TruthFrame is one frame: pixels from the picture's top left corner, the middle of the first pixel at 0.5.
type TruthFrame struct {
	Number       int                           `json:"i"`
	TimeS        float64                       `json:"t"`
	Phase        string                        `json:"phase"`
	Points       map[string][2]float64         `json:"points"`
	Angles       map[string]float64            `json:"angles"`
	InPicture    map[string]float64            `json:"angles_image_near_side"`
	Legs         map[string]map[string]float64 `json:"legs"`
	HeelRiseM    float64                       `json:"heel_rise_m"`
	ClearanceM   float64                       `json:"foot_clearance_m"`
	MassUpM      float64                       `json:"com_y_m"`
	MassForwardM float64                       `json:"com_z_m"`
	MassPx       [2]float64                    `json:"com_px"`
	Front        *TruthFront                   `json:"front,omitempty"`
}

var definitions = map[string]string{
	"points": "pixel x,y (origin top-left, pixel centres at +0.5) of the joints' centres; heel and big_toe are " +
		"points 3 cm above the sole, 1.2 cm in from the back and 1.5 cm in from the tip of the shoe",
	"angles": "of the near side, projected on the athlete's own sagittal plane, degrees: knee_flexion = 180 - " +
		"hip-knee-ankle; ankle_dorsiflexion = shank tilt forward of vertical minus the pitch of the rigid " +
		"foot (0 = shank perpendicular to a flat foot); ..._heel_toe_line takes the line from heel to " +
		"big_toe instead, which differs while the heel is up, as the toes bend; hip_flexion = trunk (hip " +
		"to shoulder) against thigh, 0 = in line; trunk_lean = line from hip to shoulder forward of " +
		"vertical; foot_pitch = heel up",
	"legs": "the same angles of each leg by itself, and the rise of its heel",
	"angles_image_near_side": "the same angles from the projected points of the near side, with perspective, yaw and " +
		"roll of the camera",
	"t": "seconds, middle of the exposure",
	"camera": "looks at the vertical line forward_m forward of the athlete's origin from distance_m; yaw_deg: " +
		"toward the athlete's front, 0 is exactly side-on; pitch_deg: up; roll_deg: the picture's horizon " +
		"turned clockwise",
	"com_px": "the centre of mass in the picture",
	"front": "of clips from the front, in the picture: knee_in_deg = turn of knee-ankle against hip-knee, positive with " +
		"the knee inside the line from hip to ankle; shift_pct = middle of the hips beside the middle of the ankles, to " +
		"the athlete's left, % of the ankles' distance; hip_tilt_deg = left hip higher",
}

// rounded keeps what a document needs of a number.
func rounded(v, steps float64) float64 { return math.Round(v*steps) / steps }

func deg3(v float64) float64 { return rounded(v, 1e3) }

// tilt is how far the line from a up to b leans forward, as seen from the side.
func tilt(a, b space.Vec) float64 { return math.Atan2(b.Z-a.Z, b.Y-a.Y) / space.Degree }

// anglesOf returns the angles of one side.
func anglesOf(now *motion.Instant, side motion.Side) map[string]float64 {
	l, pitch := &now.Figure.Sides[side], now.Pose.Legs[side].FootPitchDeg
	shank, thigh, trunk := tilt(l.Ankle, l.Knee), tilt(l.Knee, l.Hip), tilt(l.Hip, l.Shoulder)
	line := math.Atan2(l.Heel.Y-l.Toe.Y, l.Toe.Z-l.Heel.Z) / space.Degree
	return map[string]float64{
		"knee_flexion": shank - thigh, "hip_flexion": trunk - thigh, "ankle_dorsiflexion": shank - pitch,
		"ankle_dorsiflexion_heel_toe_line": shank - line, "shank_tilt": shank, "thigh_tilt": thigh,
		"trunk_lean": trunk, "foot_pitch": pitch,
	}
}

func (s *Scene) heelRiseM(now *motion.Instant, side motion.Side) float64 {
	return now.Figure.Sides[side].Heel.Y - s.Body.Skeleton.Sides[side].Heel.Y - now.ClearanceM
}

// frameAt returns the truth of a frame.
func (s *Scene) frameAt(number int, timeS float64) TruthFrame {
	now := s.Performer.At(timeS)
	v := s.Camera.view()
	px := func(p space.Vec) [2]float64 {
		x, y, _ := v.project(p)
		return [2]float64{rounded(x, 100), rounded(y, 100)}
	}
	near := s.Camera.Near
	f := TruthFrame{
		Number: number, TimeS: rounded(timeS, 1e5), Phase: now.Phase, Points: map[string][2]float64{},
		Angles: anglesOf(&now, near), Legs: map[string]map[string]float64{},
		HeelRiseM: rounded(s.heelRiseM(&now, near), 1e5), ClearanceM: rounded(now.ClearanceM, 1e5),
		MassUpM: rounded(now.Mass.Y, 1e5), MassForwardM: rounded(now.Mass.Z, 1e5), MassPx: px(now.Mass),
	}
	for _, side := range motion.BothSides {
		l := &now.Figure.Sides[side]
		for name, p := range map[string]space.Vec{
			"shoulder": l.Shoulder, "elbow": l.Elbow, "wrist": l.Wrist, "hip": l.Hip, "knee": l.Knee,
			"ankle": l.Ankle, "heel": l.Heel, "big_toe": l.Toe,
		} {
			f.Points[side.String()+"_"+name] = px(p)
		}
		leg := anglesOf(&now, side)
		leg["hip_abduction"], leg["heel_rise_m"] = now.Pose.Legs[side].HipAbductionDeg, s.heelRiseM(&now, side)
		f.Legs[side.String()] = leg
	}
	f.InPicture = s.inPicture(&now, &v)
	if s.Performer.Motion.Kind.FromFront() {
		f.Front = s.frontOf(&now)
		f.Front.ShiftPct, f.Front.HipTiltDeg = deg3(f.Front.ShiftPct), deg3(f.Front.HipTiltDeg)
		for side, deg := range f.Front.KneeInDeg {
			f.Front.KneeInDeg[side] = deg3(deg)
		}
	}
	for _, angles := range []map[string]float64{f.Angles, f.InPicture, f.Legs["left"], f.Legs["right"]} {
		for name, a := range angles {
			angles[name] = deg3(a)
			if name == "heel_rise_m" {
				angles[name] = rounded(a, 1e5)
			}
		}
	}
	return f
}

// inPicture returns the near side's angles as they look in the picture.
func (s *Scene) inPicture(now *motion.Instant, v *view) map[string]float64 {
	l := &now.Figure.Sides[s.Camera.Near]
	facing := 1.0
	if s.Camera.Near == motion.Left {
		facing = -1
	}
	// Forward and up in the picture take the places of Z and Y.
	flat := func(p space.Vec) space.Vec {
		x, y, _ := v.project(p)
		return space.Vec{X: 0, Y: -y, Z: facing * x}
	}
	ankle, knee, hip, shoulder := flat(l.Ankle), flat(l.Knee), flat(l.Hip), flat(l.Shoulder)
	heel, toe := flat(l.Heel), flat(l.Toe)
	shank, thigh, trunk := tilt(ankle, knee), tilt(knee, hip), tilt(hip, shoulder)
	pitch := math.Atan2(heel.Y-toe.Y, toe.Z-heel.Z) / space.Degree
	return map[string]float64{
		"knee_flexion": shank - thigh, "hip_flexion": trunk - thigh, "shank_tilt": shank, "trunk_lean": trunk,
		"foot_pitch":         pitch,
		"ankle_dorsiflexion": shank - pitch,
	}
}

// peaked are the values whose peaks a repetition tells.
var peaked = []string{"knee_flexion", "hip_flexion", "ankle_dorsiflexion", "shank_tilt", "trunk_lean", "heel_rise_m"}

// peakStepS is how closely peaks are looked for.
const peakStepS = 0.004

// peaks returns the largest values between two times.
func (s *Scene) peaks(fromS, toS float64) map[string]Peak {
	best := map[string]Peak{}
	for t := fromS; t <= toS; t += peakStepS {
		now := s.Performer.At(t)
		values := anglesOf(&now, s.Camera.Near)
		values["heel_rise_m"] = s.heelRiseM(&now, s.Camera.Near)
		for _, name := range peaked {
			if p, known := best[name]; !known || values[name] > p.Peak {
				best[name] = Peak{rounded(values[name], 1e4), rounded(t, 1e3)}
			}
		}
	}
	return best
}

// Truth returns what is known of the clip of a scene that is kept under a name.
func (s *Scene) Truth(name string) *Truth {
	c, k := &s.Camera, &s.Body.Skeleton.Sides[motion.Left]
	t := &Truth{
		Clip: name, RateHz: s.RateHz, Width: c.Width, Height: c.Height, FrameCount: s.Frames(),
		Facing: c.Facing(), Near: c.Near.String(), BoxM: rounded(s.Performer.Motion.BoxM, 1e4),
		HeightM: rounded(s.Body.HeightM, 1e4), Seed: s.Seed, Kind: s.Performer.Motion.Kind,
		Camera: TruthCamera{
			DistanceM: rounded(c.DistanceM, 1e4), HeightM: rounded(c.HeightM, 1e4), ForwardM: c.ForwardM,
			FieldDeg: deg3(2 * math.Atan(float64(c.Height)/2/c.FocalPx) / space.Degree), FocalPx: deg3(c.FocalPx),
			Principal: [2]float64{float64(c.Width) / 2, float64(c.Height) / 2}, SideOn: c.YawDeg == 0,
			YawDeg: deg3(c.YawDeg), PitchDeg: deg3(c.PitchDeg), RollDeg: deg3(c.RollDeg),
			ShutterS: rounded(s.Picture.ShutterS, 1e5), BlurPx: deg3(s.Picture.BlurPx),
			NoiseLevel: deg3(s.Picture.Noise), CRF: s.Picture.CRF,
		},
		Segments: TruthSegments{
			rounded(motion.Sagittal(k.Ankle, k.Knee), 1e4), rounded(motion.Sagittal(k.Knee, k.Hip), 1e4),
			rounded(motion.Sagittal(k.Hip, k.Shoulder), 1e4),
		},
		Definitions: definitions,
	}
	for i := range s.Performer.Motion.Reps {
		t.Reps = append(t.Reps, s.truthRep(i))
	}
	t.UsualROMDeg = s.usualROM()
	for i := range s.Frames() {
		t.Frames = append(t.Frames, s.frameAt(i, s.frameTimeS(i)))
	}
	return t
}

func (s *Scene) truthRep(i int) TruthRep {
	r := &s.Performer.Motion.Reps[i]
	at := func(v float64) *float64 {
		v = rounded(v, 1e5)
		return &v
	}
	if r.FlightS > 0 {
		rep := TruthRep{
			Number: i + 1, PushStartS: at(r.PushStartS), TakeoffS: at(r.TakeoffS), TouchdownS: at(r.TouchdownS),
			LandBottomS: at(r.LandBottomS),
			FlightS:     at(r.FlightS), TakeoffSpeedMS: at(r.TakeoffSpeedMS),
			RiseM:       at(r.TakeoffSpeedMS * r.TakeoffSpeedMS / 2 / space.GravityMS2),
			SquatBefore: s.peaks(r.PushStartS-0.3, r.PushStartS), Landing: s.peaks(r.TouchdownS+0.001, r.LandBottomS+0.3),
		}
		if r.BottomS > 0 { // a drop, which ends in its landing
			rep.StartS, rep.BottomS, rep.UpStartS, rep.EndS = at(r.StartS), at(r.BottomS), at(r.UpStartS), at(r.EndS)
			rep.Peaks = s.peaks(r.TouchdownS, r.EndS)
		}
		return rep
	}
	rep := TruthRep{
		Number: i + 1, StartS: at(r.StartS), BottomS: at(r.BottomS), UpStartS: at(r.UpStartS), EndS: at(r.EndS),
		Peaks: s.peaks(r.StartS, r.EndS), Steps: r.Steps,
	}
	if r.Steps > 0 {
		rep.StepsEndS = at(r.StepsEndS)
	}
	return rep
}

// habitStepS is how closely the many repetitions are looked at: peaks are flat.
const habitStepS = 0.02

// usualROM returns the mean range of motion of each angle over the many repetitions.
func (s *Scene) usualROM() map[string]float64 {
	if s.habit == nil {
		return nil
	}
	p := s.Performer
	p.Motion = s.habit
	var standing int
	stand, lowest, highest := map[string]float64{}, map[string][]float64{}, map[string][]float64{}
	for i := range p.Motion.Reps {
		r := &p.Motion.Reps[i]
		for t := r.StartS - 0.3; t < r.EndS; t += habitStepS {
			now := p.At(t)
			if now.Phase == "stand" {
				standing++
			}
			for name, v := range anglesOf(&now, s.Camera.Near) {
				switch {
				case now.Phase == "stand":
					stand[name] += v
				case len(highest[name]) == i:
					lowest[name], highest[name] = append(lowest[name], v), append(highest[name], v)
				default:
					lowest[name][i], highest[name][i] = math.Min(lowest[name][i], v), math.Max(highest[name][i], v)
				}
			}
		}
	}
	usual := map[string]float64{}
	for name, of := range highest {
		var sum float64
		for i, high := range of {
			sum += high - math.Min(lowest[name][i], stand[name]/float64(standing))
		}
		usual[name] = deg3(sum / float64(len(of)))
	}
	return usual
}

// Frames returns how many frames the clip has.
func (s *Scene) Frames() int { return int(s.Performer.Motion.DurationS * float64(s.RateHz)) }

func (s *Scene) frameTimeS(i int) float64 { return float64(i) / float64(s.RateHz) }
