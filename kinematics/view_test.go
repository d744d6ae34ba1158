package kinematics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// across returns by how much the far side lies in front of the near one, in trunk
// lengths, for network points of rendered athletes turned by a known angle (large
// network: the median of half a second of standing).
//
// The numbers were read from clips of two rendered bodies, A and C, that are too
// large to keep here.
var turnedAthletes = []struct {
	body        string
	yaw, across float64
}{
	{"A", -45, -0.82}, {"A", -30, -0.59}, {"A", -20, -0.46}, {"A", -15, -0.41}, {"A", -10, -0.29}, {"A", 0, -0.04},
	{"A", 10, 0.16}, {"A", 15, 0.30}, {"A", 20, 0.39}, {"A", 30, 0.58}, {"A", 45, 0.80},
	{"C", -45, -0.81}, {"C", -30, -0.55}, {"C", -20, -0.34}, {"C", -15, -0.28}, {"C", -10, -0.18}, {"C", 0, -0.08},
	{"C", 10, 0.05}, {"C", 15, 0.26}, {"C", 20, 0.38}, {"C", 30, 0.60}, {"C", 45, 0.85},
}

func TestYawOfTurnedAthletes(t *testing.T) {
	var ss float64
	n := 0.0
	for _, a := range turnedAthletes {
		got, sd := yawOf(a.across, testNetwork().ViewSDDeg)
		v := View{Known: true, YawDeg: got, SDDeg: sd}
		t.Logf("%s turned by %+3.0f: %+5.1f (SD %.1f), surely %.0f", a.body, a.yaw, got, sd, v.SurelyDeg())
		if math.Abs(got-a.yaw) > 2.5*sd {
			t.Errorf("%s turned by %g: got %.1f, SD %.1f", a.body, a.yaw, got, sd)
		}
		if math.Abs(a.yaw) < NotSideOnDeg && v.SurelyDeg() >= NotSideOnDeg {
			t.Errorf("%s turned by %g: a notice without need", a.body, a.yaw)
		}
		if math.Abs(a.yaw) >= 30 && v.SurelyDeg() < NotSideOnDeg || math.Abs(a.yaw) >= 45 && v.SurelyDeg() < TooObliqueDeg {
			t.Errorf("%s turned by %g passes: surely %.1f", a.body, a.yaw, v.SurelyDeg())
		}
		if math.Abs(a.yaw) <= 30 {
			ss, n = ss+sq(got-a.yaw), n+1
		}
	}
	if rms := math.Sqrt(ss / n); rms > testNetwork().ViewSDDeg {
		t.Errorf("root mean square error of %.1f degrees, want less than %g", rms, testNetwork().ViewSDDeg)
	} else {
		t.Logf("root mean square error %.1f degrees up to 30", rms)
	}
}

// The rendered clips look exactly from the side.
func TestViewOfClips(t *testing.T) {
	for _, name := range []string{"slow_30", "fast_30", "jump_30", "left_fast"} {
		for _, facing := range []float64{1, -1} {
			t.Run(fmt.Sprint(name, " ", facing), func(t *testing.T) {
				obs := loadClip(t, name).observations(networkLike)
				for i := range obs {
					for s := range 2 {
						for k := range body.NumLandmarks {
							obs[i].Points[s][k].X *= facing
						}
					}
				}
				a := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: testNetwork()})
				v := a.series.View
				if !v.Known || math.Abs(v.YawDeg) > 8 || v.SurelyDeg() > 5 {
					t.Errorf("got %.1f, SD %.1f degrees (%v), want side-on", v.YawDeg, v.SDDeg, v.Known)
				}
				if hasNotice(a.notices, NoticeNotSideOn) {
					t.Error("a notice that the camera is not side-on")
				}
				for k, sd := range v.AngleSDDeg {
					if !(sd < 0.5) {
						t.Errorf("%v: SD of %.2f degrees from the view", body.Angle(k), sd)
					}
				}
			})
		}
	}
}

// Moving the far side to the front, as a turn of the body does, must be seen and
// its sign be the same for both facings.
func TestViewOfTurnedPoints(t *testing.T) {
	clip := loadClip(t, "fast_30")
	for _, yaw := range []float64{-45, -30, 30, 45} {
		obs := clip.observations(networkLike)
		for i := range obs {
			p := &obs[i].Points
			trunk := math.Hypot(p[body.Right][body.Shoulder].X-p[body.Right][body.Hip].X, p[body.Right][body.Shoulder].Y-p[body.Right][body.Hip].Y)
			shift := viewWidth * math.Sin(yaw/body.DegPerRad) * trunk / 2
			for k := range body.NumLandmarks {
				p[body.Left][k].X += shift // the clip's athlete faces right, its left side far
			}
		}
		a := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: testNetwork()})
		v := a.series.View
		if math.Abs(v.YawDeg-yaw) > 6 || !hasNotice(a.notices, NoticeNotSideOn) {
			t.Errorf("turned by %g: got %.1f (SD %.1f), notices %v", yaw, v.YawDeg, v.SDDeg, a.notices)
		}
		if (v.SurelyDeg() >= TooObliqueDeg) != (math.Abs(yaw) > 40) {
			t.Errorf("turned by %g: surely %.1f", yaw, v.SurelyDeg())
		}
		if sd := v.AngleSDDeg[body.KneeFlexion]; sd < 2 {
			t.Errorf("turned by %g: SD of the knee %.2f degrees", yaw, sd)
		}
	}
}

func hasNotice(notices []Notice, code NoticeCode) bool {
	return slices.ContainsFunc(notices, func(n Notice) bool { return n.Code == code })
}

// What foreshortening does to the angles undoes YawedDeg; the values are those of
// a plane turned by 20 degrees with thigh 70, shank 35 and trunk 40 from the
// vertical (orthographic projection).
func TestForeshortened(t *testing.T) {
	var seen [body.NumAngles]float64
	seen[body.ThighAngle], seen[body.ShankAngle], seen[body.TrunkLean] = 68.8272-90, 33.3441, 38.2556
	e := foreshortened(&seen, 20)
	near(t, "thigh", e[body.ThighAngle], 68.8272-70, 1e-3)
	near(t, "shank", e[body.ShankAngle], 33.3441-35, 1e-3)
	near(t, "trunk", e[body.TrunkLean], 38.2556-40, 1e-3)
	near(t, "knee", e[body.KneeFlexion], 102.1713-105, 1e-3)
	near(t, "hip", e[body.HipFlexion], 107.0828-110, 1e-3)
	rapid.Check(t, func(t *rapid.T) {
		deg, yaw := rapid.Float64Range(-80, 80).Draw(t, "angle"), rapid.Float64Range(-60, 60).Draw(t, "yaw")
		var seen [body.NumAngles]float64
		seen[body.ThighAngle] = -90
		seen[body.ShankAngle] = body.YawedDeg(deg, yaw)
		if e := foreshortened(&seen, yaw); math.Abs(e[body.ShankAngle]-(body.YawedDeg(deg, yaw)-deg)) > 1e-9 || math.Abs(e[body.KneeFlexion]-e[body.ShankAngle]) > 1e-9 {
			t.Fatalf("%g turned by %g: %v", deg, yaw, e)
		}
	})
}

// A phone that is turned changes no joint angle; told how far, nothing else.
func TestRollGiven(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"fast_30", "left_slow"} {
		clip := loadClip(t, name)
		want := analyze(t, clip.observations(networkLike), Options{})
		for _, roll := range []float64{-7, 3} {
			obs := clip.observations(networkLike)
			turnUpright(obs, -roll)
			got := analyze(t, obs, Options{RollDeg: roll, RollKnown: true})
			if got.series.RollDeg != roll || got.series.RollSource != RollGiven || len(got.reps) != len(want.reps) {
				t.Fatalf("%s turned by %g: roll %.2f %s, %d reps", name, roll, got.series.RollDeg, got.series.RollSource, len(got.reps))
			}
			for i := range want.series.TimeS {
				for a := range body.NumAngles {
					for _, s := range [][2][]float64{{got.series.AnglesDeg[a], want.series.AnglesDeg[a]}, {got.series.RawAnglesDeg[a], want.series.RawAnglesDeg[a]}} {
						if d := math.Abs(s[0][i] - s[1][i]); d > 0.05 {
							t.Fatalf("%s turned by %g, %v at %.2f s: differs by %.3f degrees", name, roll, a, want.series.TimeS[i], d)
						}
					}
				}
			}
			// The points stay those of the turned picture.
			near(t, "knee on the screen", got.series.Points[got.series.NearSide][body.Knee].X[100], obsNear(obs, got.series, 100), 8)
		}
	}
}

// obsNear returns where the near knee was seen at a sample.
func obsNear(obs []Observation, s *Series, sample int) float64 {
	best := 0
	for i := range obs {
		if math.Abs(obs[i].TimeS-s.TimeS[sample]) < math.Abs(obs[best].TimeS-s.TimeS[sample]) {
			best = i
		}
	}
	return obs[best].Points[s.NearSide][body.Knee].X
}

// A jump shows how the phone is turned: in the air the body speeds up straight
// down.
func TestRollFromFlight(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"jump", "jump_30", "jump_120", "jump_vfr", "left_jump"} {
		for _, roll := range []float64{-7, -3, 0, 3, 7} {
			obs := loadClip(t, name).observations(networkLike)
			turnUpright(obs, -roll)
			a := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: testNetwork()})
			got := a.series.RollDeg
			// A turn that its own doubt covers is left alone.
			near := func(got, want float64) bool {
				return math.Abs(got-want) <= 1 || got == 0 && math.Abs(want) <= 3
			}
			t.Logf("%s turned by %g: %.2f", name, roll, got)
			if a.series.RollSource != RollFlight || !near(got, roll) {
				t.Errorf("%s turned by %g: got %.2f %s", name, roll, got, a.series.RollSource)
			}
			if len(a.reps) != 3 {
				t.Errorf("%s turned by %g: %d reps", name, roll, len(a.reps))
			}
		}
	}
}

// A head and shoulders that leave the picture at the top of a jump do not turn the
// vertical: what is not seen is left out of the path, not put where it is not.
func TestRollWithoutAHead(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"jump", "jump_120", "left_jump"} {
		obs := loadClip(t, name).observations(networkLike)
		whole := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: testNetwork()})
		r := whole.reps[0]
		top := (r.TakeoffS + r.ContactS) / 2
		for i := range obs {
			if math.Abs(obs[i].TimeS-top) > 0.1 {
				continue
			}
			for side := range obs[i].Points {
				for _, k := range []body.Landmark{body.Ear, body.Shoulder, body.Elbow} {
					obs[i].Points[side][k] = body.MissingPoint()
				}
			}
		}
		if got := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: testNetwork()}).series.RollDeg; math.Abs(got-whole.series.RollDeg) > 1 {
			t.Errorf("%s: the vertical is turned by %.1f degrees instead of %.1f", name, got, whole.series.RollDeg)
		}
	}
}

// A clip whose container plays slow motion at an ordinary rate: its times are
// stretched, and the body falls too slowly.
func TestWrongClock(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"jump", "jump_120", "left_jump"} {
		for _, factor := range []float64{0.5, 1, 2, 4, 8} {
			t.Run(fmt.Sprint(name, " ", factor), func(t *testing.T) {
				obs := loadClip(t, name).observations(networkLike)
				for i := range obs {
					obs[i].TimeS *= factor
				}
				s, _, notices, _ := Analyze(obs, Options{Smoother: body.SmootherFilter, Calibration: testNetwork()})
				t.Logf("factor %.2f from %d flights", s.ClockFactor, s.ClockFlights)
				if told := hasNotice(notices, NoticeWrongClock); told != (factor != 1) {
					t.Errorf("notice %v, want %v: %v", told, factor != 1, notices)
				}
				if r := s.ClockFactor / factor; r < 0.8 || r > 1.25 {
					t.Errorf("factor %.2f, want %g", s.ClockFactor, factor)
				}
			})
		}
	}
	// Squats say nothing of the clock, and neither does a body that hangs by its
	// hands and is pulled up.
	for _, name := range []string{"slow_30", "fast_30"} {
		s, _, _, err := Analyze(loadClip(t, name).observations(networkLike), Options{Smoother: body.SmootherFilter, Calibration: testNetwork()})
		if err != nil || s.ClockFactor != 1 {
			t.Errorf("%s: factor %.2f, %v", name, s.ClockFactor, err)
		}
	}
	if s, _, notices, _ := Analyze(pullUps(), Options{Smoother: body.SmootherFilter, Calibration: testNetwork()}); s.ClockFactor != 1 {
		t.Errorf("pull-ups: factor %.2f of %d flights, %v", s.ClockFactor, s.ClockFlights, notices)
	}
}

// pullUps are a stand, then four pull-ups of the whole body with the feet off the
// floor for two seconds each.
func pullUps() []Observation {
	rng := rand.New(rand.NewPCG(1, 1))
	var obs []Observation
	for i := range 400 {
		t := float64(i) / 30
		up := 0.0
		if t > 2 && t < 12 {
			u := math.Mod(t-2, 2.5) / 1.25
			if u > 1 {
				u = 2 - u
			}
			up = 20 + 120*signal.MinJerk(u)
		}
		o := Observation{TimeS: t, Depth: [2]float64{1, 0}}
		for s := range 2 {
			for k, at := range [body.NumLandmarks][2]float64{{5, 500}, {0, 420}, {10, 480}, {20, 540}, {0, 280}, {8, 150}, {0, 20}, {-20, 0}, {40, 0}} {
				o.Points[s][k] = body.Point{X: 300 + at[0] + rng.NormFloat64(), Y: 900 - at[1] - up + rng.NormFloat64(), SDPx: 3, Confidence: 0.9}
			}
		}
		obs = append(obs, o)
	}
	return obs
}
