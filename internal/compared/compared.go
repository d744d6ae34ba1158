// Package compared makes analyses and comparisons for the tests of reports: the shipped clips as a perfect tracker
// would see them, and what those do not hold invented.
package compared

import (
	"encoding/json"
	"image/color"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"gonum.org/v1/gonum/interp"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
	"holdfast/screening"
	"holdfast/screening/known"
	"holdfast/vision/media"
	"holdfast/vision/paint"
	"holdfast/vision/pose"
)

// keypointNames are the 33 points in the network's order.
var keypointNames = []string{
	"nose", "left_eye_inner", "left_eye", "left_eye_outer", "right_eye_inner", "right_eye", "right_eye_outer",
	"left_ear", "right_ear", "mouth_left", "mouth_right", "left_shoulder", "right_shoulder", "left_elbow", "right_elbow",
	"left_wrist", "right_wrist", "left_pinky", "right_pinky", "left_index", "right_index", "left_thumb", "right_thumb",
	"left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle", "left_heel", "right_heel",
	"left_foot_index", "right_foot_index",
}

// clipsDir is the folder of the shipped clips.
func clipsDir() string {
	_, here, _, _ := runtime.Caller(0)
	return filepath.Join(filepath.Dir(here), "..", "..", "testdata", "clips")
}

// Analysis makes an analysis and a track of a rendered clip from its known
// truth, as a perfect tracker would.
func Analysis(t testing.TB, name, tempo string) (*screening.Analysis, *pose.Track) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(clipsDir(), name+".json"))
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
		Clip: screening.ClipInfo{Name: name + ".mp4", Path: filepath.Join(clipsDir(), name+".mp4"), SHA256: "00",
			Frames: len(truth.Frames), WidthPx: truth.Width, HeightPx: truth.Height,
			FrameRateHz: truth.FPS, CaptureRateHz: truth.FPS, SlowMotionFactor: 1},
		Model:  screening.ModelInfo{Name: "truth", SHA256: "00"},
		Facing: "right", NearSide: "right", HeightCm: nan,
		View: screening.View{View: trace.View{YawDeg: -3, SDDeg: 4, RollDeg: 2, RollSource: "lines"}, CameraKnown: true},
	}
	tr := &pose.Track{KeypointNames: keypointNames, ModelName: "truth", PeopleSeen: 1}
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
		p := pose.Pose{Index: i, TimeS: f.T, Found: true, Score: 1}
		for _, n := range keypointNames {
			k := pose.Keypoint{X: math.NaN(), Y: math.NaN()}
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
			Quality: joints.Quality{Grade: "good", FramesInTurn: 20, Confidence: 0.9, WeakestPoint: body.Toe,
				FastestPxPerFrame: 12, BlurPx: 6}}
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
		known.Forget(&rep.Angles)
		for _, j := range body.LegJoints {
			series := s.AnglesDeg[j.Angle()]
			var vs []float64
			for k, tt := range s.TimeS {
				inFlight := rep.FlightS > 0 && tt > rep.TakeoffS-0.15 && tt < rep.ContactS+0.1
				if tt >= rep.StartS && tt <= rep.EndS && !inFlight {
					vs = append(vs, series[k])
				}
			}
			at := func(timeS float64) float64 {
				var line interp.PiecewiseLinear
				if err := line.Fit(s.TimeS, series); err != nil || math.IsNaN(timeS) {
					return math.NaN()
				}
				return line.Predict(timeS)
			}
			lo, hi := slices.Min(vs), slices.Max(vs)
			rep.Angles[j.Angle()] = joints.AngleMeasure{MinDeg: lo, MaxDeg: hi, ROMDeg: hi - lo,
				AtStandDeg: at(rep.StartS), AtBottomDeg: at(rep.BottomS),
				AtLandingBottomDeg: at(rep.LandingBottomS), SDDeg: 1.2, ZeroKnown: true, PeakVelocityDegS: 200,
				ROMInterval95Deg: [2]float64{hi - lo - 4, hi - lo + 5}}
		}
		a.Reps = append(a.Reps, rep)
	}
	return a, tr
}

// Truth compares the three truth clips: slow with fast, slow with
// jump, fast with jump. The intervals are invented.
func Truth(t testing.TB) *screening.Comparison {
	t.Helper()
	tempos := []string{"slow", "fast", "jump"}
	c := &screening.Comparison{Schema: screening.ComparisonSchema, Program: "holdfast test", Athlete: "Invented Athlete",
		SmallestChangeDeg: 5,
		Warnings: []screening.Warning{{Code: "frame_rate",
			Message: "fast.mp4 has 5 pictures through the turn of rep 2; film at 120 a second to know its bottom better."}}}
	for _, n := range tempos {
		a, _ := Analysis(t, n, n)
		c.Analyses = append(c.Analyses, a)
		c.Clips = append(c.Clips, screening.ClipRef{Name: a.Clip.Name, Path: a.Clip.Path, SHA256: a.Clip.SHA256, Analysis: n +
			"/analysis.json"})
	}
	mean := func(clip int, j body.Joint, of func(*joints.AngleMeasure) float64) float64 {
		sum := 0.0
		for i := range c.Analyses[clip].Reps {
			sum += of(&c.Analyses[clip].Reps[i].Angles[j.Angle()])
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
		p := kinematics.Pair{Baseline: tempos[pq[0]], Challenge: tempos[pq[1]], BaselineClip: pq[0], ChallengeClip: pq[1],
			BaselineRep: 2, ChallengeRep: 2}
		for j := range p.Joints { // of the arm nothing is known
			known.Forget(&p.Joints[j])
		}
		for _, j := range body.LegJoints {
			half := 2.5
			b, q := mean(pq[0], j, rom), mean(pq[1], j, rom)
			bb, qb := mean(pq[0], j, bottom), mean(pq[1], j, bottom)
			num := func(v float64) float64 { return v }
			p.Joints[j] = kinematics.JointChange{
				BaselineROMDeg: num(b), ChallengeROMDeg: num(q), LostDeg: num(b - q), Interval95Deg: [2]float64{num(b - q - half),
					num(b - q + half)},
				RetainedPct: num(q / b * 100), Verdict: verdict(b-q, half),
				BaselineZeroKnown: true, ChallengeZeroKnown: true, BaselineBottomDeg: num(bb), ChallengeBottomDeg: num(qb),
				BottomLostDeg:       num(bb - qb),
				BottomInterval95Deg: [2]float64{num(bb - qb - half), num(bb - qb + half)}, BottomVerdict: verdict(bb-qb, half),
				BaselineReps: 3, ChallengeReps: 3}
		}
		c.Pairs = append(c.Pairs, p)
	}
	fast := "fast"
	c.FirstLost = body.ByJoint[*string]{body.AnkleJoint: &fast, body.KneeJoint: &fast}
	c.Conclude()
	return c
}

// Full is a comparison of the truth clips with every part invented that
// they do not hold. The clips' files are not there.
func Full(t testing.TB) *screening.Comparison {
	t.Helper()
	c := Truth(t)
	nan := math.NaN()
	unknown := stats.Estimate{Value: nan, SD: nan}
	cell := func(tempo string, v float64, ch *stats.Change) kinematics.Cell {
		return kinematics.Cell{Condition: tempo, Value: v, Interval95: screening.Interval95(v, 1), ZeroKnown: true,
			Landing: tempo == "jump", Change: ch}
	}
	held, lost, more := Changed(28, 27, 3, "held"), Changed(28, 19, 4, "lost"), Changed(2, 11, 5, "gained")
	c.Ladder = kinematics.Ladder{Rungs: []kinematics.Rung{
		{Position: kinematics.PositionHeel, Unit: "% of foot", First: "fast", PointsTo: "control_at_speed",
			Cells: []kinematics.Cell{cell("slow", 2, nil), cell("fast", 11, &more), cell("jump", math.NaN(), nil)}},
		{Position: kinematics.PositionAnkle, Unit: "degrees", First: "jump",
			Cells: []kinematics.Cell{cell("slow", 28, nil), cell("fast", 27, &held), cell("jump", 19, &lost)}},
		{Position: kinematics.PositionHip, Unit: "degrees", Cells: []kinematics.Cell{cell("slow", math.NaN(), nil),
			cell("fast", math.NaN(), nil), cell("jump", math.NaN(), nil)}},
	}}
	bottoms := func(half float64) body.ByJoint[stats.Change] {
		return body.ByJoint[stats.Change]{body.KneeJoint: Changed(101, 84, half, "lost"),
			body.HipJoint: Changed(96, 96, half, "held"), body.AnkleJoint: Changed(28, 22, half, "unclear")}
	}
	slow, fast := bottoms(6), bottoms(5)
	c.Landing = &kinematics.LandingComparison{SlowReps: 3, Jumps: 3, SlowClip: 0, SlowRep: 2, JumpClip: 2, JumpRep: 2,
		AgainstSlow: &slow, AgainstFast: &fast, AgainstTakeoff: bottoms(7)}
	for k, a := range c.Analyses {
		a.Clip.Path = filepath.Join(t.TempDir(), a.Clip.Name)
		a.SupportBandPct = [2]float64{25, 75}
		a.MassModel = "invented masses"
		a.Scale = measure.Scale{MmPerPx: Estimate(3.1, 0.1), Known: true, Agree: true,
			Sources: []measure.ScaleSource{{Name: "height", MmPerPx: Estimate(3.1, 0.1)}}}
		a.Series.SupportPct, a.Series.SupportSDPct = nil, nil
		for i := range a.Series.TimeS {
			a.Series.SupportPct = append(a.Series.SupportPct, 45+20*math.Sin(float64(i)/30))
			a.Series.SupportSDPct = append(a.Series.SupportSDPct, 6)
		}
		tempo := a.Reps[0].Tempo
		for i := range a.Reps {
			r := &a.Reps[i]
			r.Foot = &measure.Foot{Heel: measure.FootRise{MaxPctFoot: Estimate(11.4, 1.5), MaxCm: Estimate(2.83, 0.4), Up: true,
				UpS: 0.37}, Toe: measure.FootRise{MaxPctFoot: unknown, MaxCm: unknown},
				SlidePctFoot: Estimate(2, 1), SlideCm: Estimate(0.5, 0.2), KneePastToePctFoot: Estimate(12,
					3), KneePastToeCm: Estimate(3.2, 0.6),
				ShankAtBottomDeg: Estimate(29, 1), ThighAtBottomDeg: Estimate(-15, 1.5), HipCreaseBelowKnee: "no"}
			r.Support = []measure.SupportSpan{{Phase: "whole", MeanPct: Estimate(43.6, 7), MinPct: 31, MaxPct: 58,
				OutsideS: 0.21, BehindS: 0.13, BeforeS: 0.08, KnownPart: 0.93}}
			if k == 2 {
				r.Jump = &measure.Jump{Kind: "countermovement", FlightS: 0.46, FlightInterval95S: [2]float64{0.43, 0.49},
					HeightFromFlightM: 0.257, HeightFromFlightInterval95M: [2]float64{0.22, 0.29},
					RiseM: 0.231 + 0.01*float64(i), RiseInterval95M: [2]float64{0.19,
						0.27}, TakeoffVelocityMS: 2.13, TakeoffVelocityInterval95MS: [2]float64{1.9, 2.3},
					ReactiveStrengthMS: nan, ReactiveStrengthInterval95MS: [2]float64{nan, nan}, RiseFromStandM: Estimate(0.28,
						0.01), LandsLowerM: unknown, ContactTimeS: unknown,
					Why: notice.New("lands_folded", notice.Params{"form": "clear", "centre_cm": 3, "height_cm": 2})}
				angles := body.ByAngle[stats.Estimate]{body.KneeFlexion: Estimate(21, 5), body.HipFlexion: Estimate(33, 5),
					body.AnkleDorsiflexion: Estimate(-9, 5), body.ShankAngle: unknown, body.TrunkLean: unknown}
				r.Landing = &measure.Landing{ContactToBottomS: Estimate(0.34, 0.02), AtContactDeg: angles, AtBottomDeg: angles,
					PeakVelocityDegS: body.ByJoint[float64]{body.KneeJoint: 517, body.HipJoint: 600, body.AnkleJoint: 390},
					SettleS:          0.31, ForwardDriftPctFoot: Estimate(1, 4), ForwardDriftCm: Estimate(0.3, 1), ToStandS: nan}
			}
		}
		a.Sets = []kinematics.Set{{Tempo: tempo, Reps: 3, BetweenRepsSDDeg: body.ByJoint[float64]{body.KneeJoint: 2.1,
			body.HipJoint: 1.3, body.AnkleJoint: 0.4},
			Drift: &body.ByJoint[stats.Drift]{body.KneeJoint: {Total: -6, Interval95: [2]float64{-9, -3}, Drifts: true},
				body.HipJoint:   {Total: nan, Interval95: [2]float64{nan, nan}},
				body.AnkleJoint: {Total: 0.4, Interval95: [2]float64{-8, 9}}},
			Positions: []kinematics.PositionReadings{{Position: kinematics.PositionAnkle, Unit: "degrees",
				Readings: stats.Readings{Values: Numbers(27, 28, 29), NoiseSD: 1.2}}}}}
	}
	line := func(top float64) (deg []float64, band [][2]float64) {
		for i := range 101 {
			v := top * float64(i) / 100
			deg, band = append(deg, v), append(band, [2]float64{v - 4, v + 4})
		}
		return deg, band
	}
	from := 73
	for i := range c.Pairs {
		p := &c.Pairs[i]
		cp := kinematics.CurvePair{Angle: body.KneeFlexion, Part: "descent", LostFromPct: &from}
		cp.BaselineDeg, cp.BaselineBand = line(100)
		cp.ChallengeDeg, cp.ChallengeBand = line(85)
		p.Curves = []kinematics.CurvePair{cp}
		shares := stats.CouplingShares{InPhase: 89, AntiPhase: 1, Proximal: 4, Distal: 6}
		over, _ := line(90)
		p.AngleAngle = []kinematics.AngleAngle{{Over: body.HipFlexion, Of: body.KneeFlexion, Part: "descent",
			Baseline: kinematics.AngleAngleCurve{Condition: p.Baseline, OverDeg: over, OfDeg: cp.BaselineDeg, Shares: shares,
				VariabilityDeg: 8.4},
			Challenge: &kinematics.AngleAngleCurve{Condition: p.Challenge, OverDeg: over, OfDeg: cp.ChallengeDeg, Shares: shares,
				VariabilityDeg: nan}}}
		p.Support = []kinematics.SupportChange{{Phase: "descent", Change: Changed(44, 61, 6, "gained")}}
	}
	c.Conclude()
	return c
}

func Numbers(vs ...float64) []float64 { return vs }

func Estimate(v, sd float64) stats.Estimate {
	return stats.Estimate{Value: v, SD: sd}
}

func Changed(from, to, half float64, verdict stats.Verdict) stats.Change {
	return stats.Change{Baseline: from, Challenge: to, Lost: from - to, Interval95: [2]float64{from - to - half,
		from - to + half},
		RetainedPct: 100 * to / from, Verdict: verdict}
}

// WithBody invents what a truth does not hold: centre of mass, support point, foot
// and jump.
func WithBody(a *screening.Analysis) {
	s := &a.Series
	hip := s.PointsPx["hip"]
	for i := range s.TimeS {
		s.MassCentrePx.X = append(s.MassCentrePx.X, hip.X[i]+3)
		s.MassCentrePx.Y = append(s.MassCentrePx.Y, hip.Y[i]-4)
		s.SupportPct = append(s.SupportPct, 40+10*math.Sin(s.TimeS[i]))
		s.SupportSDPct = append(s.SupportSDPct, 5)
	}
	a.SupportBandPct = [2]float64{25, 75}
	nan := math.NaN()
	for i := range a.Reps {
		r := &a.Reps[i]
		r.Foot = &measure.Foot{Heel: measure.FootRise{MaxPctFoot: Estimate(10, 2), MaxCm: Estimate(2.8, 0.6), AtS: r.BottomS,
			Up: true, UpS: 0.2,
			Spans: []trace.Span{{FromS: r.BottomS - 0.1, ToS: r.BottomS + 0.1}}}}
		if r.FlightS > 0 {
			r.Jump = &measure.Jump{RiseM: 0.224, RiseInterval95M: [2]float64{0.184, 0.261}, HeightFromFlightM: 0.255,
				HeightFromFlightInterval95M: [2]float64{nan, nan}}
		}
	}
}

// ShortClip makes a small grey clip with the given frame times: short enough
// for a test of every file.
func ShortClip(t *testing.T, timesS []float64) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "fast.mp4")
	c, err := paint.NewCanvas(320, 180, color.NRGBA{0x4A, 0x54, 0x61, 255})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	v, err := media.NewVideoWriter(t.Context(), path, 320, 180)
	if err != nil {
		t.Fatal(err)
	}
	defer v.Abort()
	for _, s := range timesS {
		if err := v.Write(c, s); err != nil {
			t.Fatal(err)
		}
	}
	if err := v.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// Short is the fast clip's truth with a picture file of 320 × 180 pixels
// whose frames come at a varying rate.
func Short(t *testing.T) (*screening.Analysis, *pose.Track, []float64) {
	t.Helper()
	a, full := Analysis(t, "fast", "fast")
	tr := *full
	tr.Poses = nil
	var times []float64
	for i := 0; i < len(full.Poses) && full.Poses[i].TimeS < 3; i += 3 + i%4 {
		p := full.Poses[i]
		p.Index = len(tr.Poses)
		tr.Poses = append(tr.Poses, p)
		times = append(times, p.TimeS)
	}
	a.Clip.Path = ShortClip(t, times)
	a.Clip.WidthPx, a.Clip.HeightPx, a.Clip.VariableRate, a.Clip.Frames = 320, 180, true, len(times)
	a.Reps = a.Reps[:1]
	for name, xy := range a.Series.PointsPx {
		for i := range xy.X {
			xy.X[i] /= 4
			xy.Y[i] /= 4
		}
		a.Series.PointsPx[name] = xy
	}
	for i := 20; i < 30; i++ {
		a.Series.Filled[i] = true
		a.Series.Missing[i+20] = true
	}
	return a, &tr, times
}

// grainyClip writes a clip whose every picture is full of detail, with notes in the
// file that must not go along.
func grainyClip(t *testing.T, name string, w, h int, timesS []float64) string {
	t.Helper()
	dir := t.TempDir()
	bare, path := filepath.Join(dir, "bare.mp4"), filepath.Join(dir, name)
	c, err := paint.NewCanvas(w, h, color.NRGBA{0x4A, 0x54, 0x61, 255})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	r := rand.New(rand.NewPCG(3, 4))
	for y := 0; y < h; y += 2 {
		for x := 0; x < w; x += 2 {
			v := uint8(50 + r.IntN(156))
			c.Rect(x, y, 2, 2, color.NRGBA{v, v, v, 255})
		}
	}
	v, err := media.NewVideoWriter(t.Context(), bare, w, h)
	if err != nil {
		t.Fatal(err)
	}
	defer v.Abort()
	for _, s := range timesS {
		if err := v.Write(c, s); err != nil {
			t.Fatal(err)
		}
	}
	if err := v.Close(); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("ffmpeg", "-v", "error", "-y", "-nostdin", "-i", bare, "-c", "copy", "-metadata",
		"location=+59.3293+018.0686/",
		"-metadata", "creation_time=2031-02-03T04:05:06Z", "-metadata", "model=SecretPhone 9",
		"-movflags", "use_metadata_tags", path).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return path
}

// Grainy is the truth of a clip, a quarter of its size, over pictures full of
// detail. Frames come at a varying rate, from fromS to toS.
func Grainy(t *testing.T, name, tempo string, fromS, toS float64) (*screening.Analysis, *pose.Track) {
	t.Helper()
	a, full := Analysis(t, name, tempo)
	tr := *full
	tr.Poses = nil
	const k = 4
	var times []float64
	for i := 0; i < len(full.Poses) && full.Poses[i].TimeS <= toS; i += 3 + i%3 {
		p := full.Poses[i]
		if p.TimeS < fromS && i > 0 {
			continue
		}
		p.Index = len(tr.Poses)
		p.Keypoints = append([]pose.Keypoint{}, p.Keypoints...)
		for j := range p.Keypoints {
			p.Keypoints[j].X /= k
			p.Keypoints[j].Y /= k
		}
		tr.Poses = append(tr.Poses, p)
		times = append(times, p.TimeS)
	}
	for _, xy := range a.Series.PointsPx {
		for i := range xy.X {
			xy.X[i] /= k
			xy.Y[i] /= k
		}
	}
	a.Clip.WidthPx, a.Clip.HeightPx = a.Clip.WidthPx/k, a.Clip.HeightPx/k
	a.Clip.VariableRate, a.Clip.Frames = true, len(times)
	a.Clip.Path = grainyClip(t, name+".mp4", a.Clip.WidthPx, a.Clip.HeightPx, times)
	WithBody(a)
	return a, &tr
}

// Sized returns an analysis whose points lie k times as far from the corner of the picture.
func Sized(a *screening.Analysis, k float64) *screening.Analysis {
	out := *a
	out.Series.PointsPx = map[string]body.Path{}
	for name, p := range a.Series.PointsPx {
		q := body.Path{SDPx: p.SDPx}
		for i := range p.X {
			q.X, q.Y = append(q.X, k*p.X[i]), append(q.Y, k*p.Y[i])
		}
		out.Series.PointsPx[name] = q
	}
	return &out
}

// MovedBy returns the analysis with every point scaled and then moved.
func MovedBy(a *screening.Analysis, scale, dx, dy float64) *screening.Analysis {
	b := *a
	b.Series.PointsPx = maps.Clone(a.Series.PointsPx)
	for name, xy := range a.Series.PointsPx {
		xy.X, xy.Y = slices.Clone(xy.X), slices.Clone(xy.Y)
		for i := range xy.X {
			xy.X[i] = xy.X[i]*scale + dx
			xy.Y[i] = xy.Y[i]*scale + dy
		}
		b.Series.PointsPx[name] = xy
	}
	return &b
}
