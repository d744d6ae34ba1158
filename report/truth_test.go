package report

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
	"holdfast/screening"
	"holdfast/vision"
)

// keypointNames are the 33 points in the network's order.
var keypointNames = []string{
	"nose", "left_eye_inner", "left_eye", "left_eye_outer", "right_eye_inner", "right_eye", "right_eye_outer",
	"left_ear", "right_ear", "mouth_left", "mouth_right", "left_shoulder", "right_shoulder", "left_elbow", "right_elbow",
	"left_wrist", "right_wrist", "left_pinky", "right_pinky", "left_index", "right_index", "left_thumb", "right_thumb",
	"left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle", "left_heel", "right_heel",
	"left_foot_index", "right_foot_index",
}

const clipsDir = "../testdata/clips"

// truthAnalysis makes an analysis and a track of a rendered clip from its known
// truth, as a perfect tracker would.
func truthAnalysis(t testing.TB, name, tempo string) (*screening.Analysis, *vision.Track) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(clipsDir, name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var truth struct {
		Width, Height int
		FPS           float64
		Frames        []struct {
			T      float64
			Phase  string
			Points map[string][2]float64
			Angles map[string]float64
			Heel   float64 `json:"heel_rise_m"`
		}
		Reps []struct {
			Start      *float64
			Bottom     float64
			End        float64
			UpStart    float64 `json:"up_start"`
			PushStart  float64 `json:"push_start"`
			Takeoff    float64
			Touchdown  float64
			LandBottom float64 `json:"land_bottom"`
		}
	}
	if err := json.Unmarshal(b, &truth); err != nil {
		t.Fatal(err)
	}
	nan := math.NaN()
	a := &screening.Analysis{
		Schema: screening.AnalysisSchema, Program: "holdfast test", Athlete: "Invented Athlete",
		Clip: screening.ClipInfo{Name: name + ".mp4", Path: filepath.Join(clipsDir, name+".mp4"), SHA256: "00",
			Frames: len(truth.Frames), WidthPx: truth.Width, HeightPx: truth.Height,
			FrameRateHz: truth.FPS, CaptureRateHz: truth.FPS, SlowMotionFactor: 1},
		Model:  screening.ModelInfo{Name: "truth", SHA256: "00"},
		Facing: "right", NearSide: "right", HeightCm: nan,
		View: screening.View{View: trace.View{YawDeg: -3, SDDeg: 4, RollDeg: 2, RollSource: "lines"}, CameraKnown: true},
	}
	tr := &vision.Track{KeypointNames: keypointNames, ModelName: "truth", PeopleSeen: 1}
	s := &a.Series
	s.RateHz, s.CutoffHz, s.StandFound = truth.FPS, 6, true
	s.FootPitchSource, s.AngleConventions = "truth", "flexion positive"
	s.PointsPx = map[string]body.Path{}
	add := func(list *[]float64, v float64) { *list = append(*list, v) }
	for i, f := range truth.Frames {
		add(&s.TimeS, f.T)
		s.Filled, s.Missing = append(s.Filled, false), append(s.Missing, false)
		add(&s.AnglesDeg[body.KneeFlexion], f.Angles["knee_flexion"])
		add(&s.AnglesDeg[body.HipFlexion], f.Angles["hip_flexion"])
		add(&s.AnglesDeg[body.AnkleDorsiflexion], f.Angles["ankle_dorsiflexion"])
		add(&s.AnglesDeg[body.ShankAngle], f.Angles["shank_tilt"])
		add(&s.AnglesDeg[body.TrunkLean], f.Angles["trunk_lean"])
		add(&s.AnglesDeg[body.ThighAngle], -90-f.Angles["thigh_tilt"])
		add(&s.AnglesDeg[body.FootPitch], f.Angles["foot_pitch"])
		add(&s.HeelRisePctFoot, f.Heel/0.27*100)
		add(&s.HipHeightLeg, 1)
		p := vision.Pose{Index: i, TimeS: f.T, Found: true, Score: 1}
		for _, n := range keypointNames {
			k := vision.Keypoint{X: math.NaN(), Y: math.NaN()}
			key := n
			if n == "left_foot_index" || n == "right_foot_index" {
				key = n[:len(n)-len("foot_index")] + "big_toe"
			}
			if q, ok := f.Points[key]; ok {
				k.X, k.Y, k.Visibility, k.Presence = q[0], q[1], 0.99, 1
			}
			p.Keypoints = append(p.Keypoints, k)
		}
		tr.Poses = append(tr.Poses, p)
		set := func(landmark string, x, y float64) {
			xy := s.PointsPx[landmark]
			add(&xy.X, x)
			add(&xy.Y, y)
			s.PointsPx[landmark] = xy
		}
		for _, l := range []string{"shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel"} {
			q := f.Points["right_"+l]
			set(l, q[0], q[1])
		}
		toe := f.Points["right_big_toe"]
		set("toe", toe[0], toe[1])
		// The rig has no ear: the neck goes on a third of the trunk.
		sh, hp := f.Points["right_shoulder"], f.Points["right_hip"]
		set("ear", sh[0]+0.35*(sh[0]-hp[0]), sh[1]+0.35*(sh[1]-hp[1]))
	}
	s.RawAnglesDeg, s.SDDeg, s.VelocityDegS = s.AnglesDeg, s.AnglesDeg, s.AnglesDeg
	n := len(truth.Frames)
	a.Clip.DurationS = truth.Frames[n-1].T + 1/truth.FPS
	end := truth.Frames[n-1].T
	for i, r := range truth.Reps {
		rep := kinematics.Rep{RepTimes: events.RepTimes{Number: i + 1, Tempo: events.Tempo(tempo),
			TakeoffS: nan, ContactS: nan, LandingBottomS: nan, Depth: 0.5, TimeSDS: events.TimeSDs{BottomS: 0.02}},
			Quality: joints.Quality{Grade: "good", FramesInTurn: 20, Confidence: 0.9, WeakestPoint: body.Toe, FastestPxPerFrame: 12, BlurPx: 6}}
		if tempo == "fast" {
			rep.Quality.Grade, rep.Quality.Advice = "fair", notice.New("film_at_120", nil)
		}
		phase := func(name events.PhaseName, from, to float64) {
			rep.Phases = append(rep.Phases, events.Phase{Name: name, StartS: from, EndS: to})
		}
		if tempo == "jump" {
			start, bottom, stop := 0.0, 1.9, end
			if i > 0 {
				start = truth.Reps[i-1].LandBottom
				bottom = start + 0.2
			}
			if i+1 < len(truth.Reps) {
				stop = r.LandBottom
			}
			rep.StartS, rep.BottomS, rep.BottomEndS, rep.EndS = start, bottom, r.PushStart, stop
			rep.TakeoffS, rep.ContactS, rep.LandingBottomS = r.Takeoff, r.Touchdown, r.LandBottom
			rep.FlightS = rep.ContactS - rep.TakeoffS
			phase("descent", start, bottom)
			phase("bottom", bottom, r.PushStart)
			phase("take-off", r.PushStart, r.Takeoff)
			phase("flight", r.Takeoff, r.Touchdown)
			phase("landing", r.Touchdown, r.LandBottom)
			if stop > r.LandBottom {
				phase("recovery", r.LandBottom, stop)
			}
		} else {
			rep.StartS, rep.BottomS, rep.BottomEndS, rep.EndS = *r.Start, r.Bottom, r.UpStart, r.End
			phase("descent", *r.Start, r.Bottom)
			phase("bottom", r.Bottom, r.UpStart)
			phase("ascent", r.UpStart, r.End)
		}
		rep.DescentS, rep.AscentS = rep.BottomS-rep.StartS, rep.EndS-rep.BottomEndS
		rep.Loaded = []trace.Span{{FromS: rep.StartS, ToS: rep.EndS}}
		m := newMotion(a)
		for j := range numJoints {
			series := s.AnglesDeg[j.angle()]
			var vs []float64
			for k, tt := range m.t {
				inFlight := rep.FlightS > 0 && tt > rep.TakeoffS-0.15 && tt < rep.ContactS+0.1
				if tt >= rep.StartS && tt <= rep.EndS && !inFlight {
					vs = append(vs, series[k])
				}
			}
			lo, hi := slices.Min(vs), slices.Max(vs)
			rep.Angles[j.angle()] = joints.AngleMeasure{MinDeg: lo, MaxDeg: hi, ROMDeg: hi - lo,
				AtStandDeg: m.value(series, rep.StartS), AtBottomDeg: m.value(series, rep.BottomS),
				AtLandingBottomDeg: m.value(series, rep.LandingBottomS), SDDeg: 1.2, ZeroKnown: true, PeakVelocityDegS: 200,
				ROMInterval95Deg: [2]float64{hi - lo - 4, hi - lo + 5}}
		}
		a.Reps = append(a.Reps, rep)
	}
	return a, tr
}

// truthComparison compares the three truth clips: slow with fast, slow with
// jump, fast with jump. The intervals are invented.
func truthComparison(t testing.TB) *screening.Comparison {
	t.Helper()
	tempos := []string{"slow", "fast", "jump"}
	c := &screening.Comparison{Schema: screening.ComparisonSchema, Program: "holdfast test", Athlete: "Invented Athlete", SmallestChangeDeg: 5,
		Warnings: []screening.Warning{{Code: "frame_rate", Message: "fast.mp4 has 5 pictures through the turn of rep 2; film at 120 a second to know its bottom better."}}}
	for _, n := range tempos {
		a, _ := truthAnalysis(t, n, n)
		c.Analyses = append(c.Analyses, a)
		c.Clips = append(c.Clips, screening.ClipRef{Name: a.Clip.Name, Path: a.Clip.Path, SHA256: a.Clip.SHA256, Analysis: n + "/analysis.json"})
	}
	mean := func(clip int, j joint, of func(*joints.AngleMeasure) float64) float64 {
		sum := 0.0
		for i := range c.Analyses[clip].Reps {
			sum += of(&c.Analyses[clip].Reps[i].Angles[j.angle()])
		}
		return sum / float64(len(c.Analyses[clip].Reps))
	}
	rom := func(m *joints.AngleMeasure) float64 { return m.ROMDeg }
	bottom := func(m *joints.AngleMeasure) float64 { return m.AtBottomDeg }
	verdict := func(lost, half float64) stats.Verdict {
		switch {
		case lost-half > 5:
			return "lost"
		case lost+half < -5:
			return "gained"
		case lost-half > -5 && lost+half < 5:
			return "held"
		}
		return "unclear"
	}
	for _, pq := range [][2]int{{0, 1}, {0, 2}, {1, 2}} {
		p := kinematics.Pair{Baseline: tempos[pq[0]], Challenge: tempos[pq[1]], BaselineClip: pq[0], ChallengeClip: pq[1], BaselineRep: 2, ChallengeRep: 2}
		for j := range numJoints {
			half := 2.5
			b, q := mean(pq[0], j, rom), mean(pq[1], j, rom)
			bb, qb := mean(pq[0], j, bottom), mean(pq[1], j, bottom)
			num := func(v float64) float64 { return v }
			p.Joints[j] = kinematics.JointChange{
				BaselineROMDeg: num(b), ChallengeROMDeg: num(q), LostDeg: num(b - q), Interval95Deg: [2]float64{num(b - q - half), num(b - q + half)},
				RetainedPct: num(q / b * 100), Verdict: verdict(b-q, half),
				BaselineZeroKnown: true, ChallengeZeroKnown: true, BaselineBottomDeg: num(bb), ChallengeBottomDeg: num(qb), BottomLostDeg: num(bb - qb),
				BottomInterval95Deg: [2]float64{num(bb - qb - half), num(bb - qb + half)}, BottomVerdict: verdict(bb-qb, half),
				BaselineReps: 3, ChallengeReps: 3}
		}
		c.Pairs = append(c.Pairs, p)
	}
	fast := "fast"
	c.FirstLost = body.ByJoint[*string]{body.AnkleJoint: &fast, body.KneeJoint: &fast}
	return c
}
