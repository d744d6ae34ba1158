package kinematics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"holdfast/internal/handmade"
	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

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
				a := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: handmade.Network()})
				v := a.series.View
				if !v.Known || math.Abs(v.YawDeg) > 8 || v.SurelyDeg() > 5 {
					t.Errorf("got %.1f, SD %.1f degrees (%v), want side-on", v.YawDeg, v.SDDeg, v.Known)
				}
				if hasNotice(a.notices, noticeNotSideOn) {
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
			trunk := math.Hypot(p[body.Right][body.Shoulder].X-p[body.Right][body.Hip].X,
				p[body.Right][body.Shoulder].Y-p[body.Right][body.Hip].Y)
			shift := trace.ViewWidth * math.Sin(yaw/body.DegPerRad) * trunk / 2
			for k := range body.NumLandmarks {
				p[body.Left][k].X += shift // the clip's athlete faces right, its left side far
			}
		}
		a := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: handmade.Network()})
		v := a.series.View
		if math.Abs(v.YawDeg-yaw) > 6 || !hasNotice(a.notices, noticeNotSideOn) {
			t.Errorf("turned by %g: got %.1f (SD %.1f), notices %v", yaw, v.YawDeg, v.SDDeg, a.notices)
		}
		if (v.SurelyDeg() >= trace.TooObliqueDeg) != (math.Abs(yaw) > 40) {
			t.Errorf("turned by %g: surely %.1f", yaw, v.SurelyDeg())
		}
		MeasureBody(a.series, a.reps, BodyOptions{Masses: body.DeLevaMean()})
		for _, r := range a.reps {
			if r.Foot.Heel.MaxPctFoot.Known() || r.Foot.Heel.Up || r.Foot.Toe.MaxPctFoot.Known() {
				t.Errorf("turned by %g: rep %d tells of heel %v and toes %v", yaw, r.Number,
					r.Foot.Heel.MaxPctFoot, r.Foot.Toe.MaxPctFoot)
			}
		}
		if sd := v.AngleSDDeg[body.KneeFlexion]; sd < 2 {
			t.Errorf("turned by %g: SD of the knee %.2f degrees", yaw, sd)
		}
	}
}

func hasNotice(notices []Notice, code string) bool {
	return slices.ContainsFunc(notices, func(n Notice) bool { return n.Code == code })
}

// A phone that is turned changes no joint angle; told how far, nothing else.
func TestRollGiven(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it measures clips again and again")
	}
	t.Parallel()
	for _, name := range []string{"fast_30", "left_slow"} {
		clip := loadClip(t, name)
		want := analyze(t, clip.observations(networkLike), Options{})
		for _, roll := range []float64{-7, 3} {
			obs := clip.observations(networkLike)
			trace.TurnUpright(obs, -roll)
			got := analyze(t, obs, Options{RollDeg: roll, RollKnown: true})
			if got.series.View.RollDeg != roll || got.series.View.RollSource != trace.RollGiven ||
				len(got.reps) != len(want.reps) {
				t.Fatalf("%s turned by %g: roll %.2f %s, %d reps", name, roll, got.series.View.RollDeg,
					got.series.View.RollSource, len(got.reps))
			}
			for i := range want.series.TimeS {
				for a := range body.NumAngles {
					for _, s := range [][2][]float64{{got.series.AnglesDeg[a], want.series.AnglesDeg[a]},
						{got.series.RawAnglesDeg[a], want.series.RawAnglesDeg[a]}} {
						if d := math.Abs(s[0][i] - s[1][i]); d > 0.05 {
							t.Fatalf("%s turned by %g, %v at %.2f s: differs by %.3f degrees", name, roll, a, want.series.TimeS[i], d)
						}
					}
				}
			}
			knee := got.series.InPicture(got.series.Points[got.series.NearSide][body.Knee])
			near(t, "knee on the screen", knee.X[100], obsNear(obs, got.series, 100), 8)
		}
	}
}

// obsNear returns where the near knee was seen at a sample.
func obsNear(obs []trace.Observation, s *Series, sample int) float64 {
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
	if testing.Short() {
		t.Skip("left to the full run: it measures twenty-five clips")
	}
	t.Parallel()
	for _, name := range []string{"jump", "jump_30", "jump_120", "jump_vfr", "left_jump"} {
		for _, roll := range []float64{-7, -3, 0, 3, 7} {
			obs := loadClip(t, name).observations(networkLike)
			trace.TurnUpright(obs, -roll)
			a := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: handmade.Network()})
			got := a.series.View.RollDeg
			// A turn that its own doubt covers is left alone.
			near := func(got, want float64) bool {
				return math.Abs(got-want) <= 1 || got == 0 && math.Abs(want) <= 3
			}
			t.Logf("%s turned by %g: %.2f", name, roll, got)
			if a.series.View.RollSource != trace.RollFlight || !near(got, roll) {
				t.Errorf("%s turned by %g: got %.2f %s", name, roll, got, a.series.View.RollSource)
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
		whole := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: handmade.Network()})
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
		got := analyze(t, obs, Options{Smoother: body.SmootherFilter, Calibration: handmade.Network()}).series.View.RollDeg
		if math.Abs(got-whole.series.View.RollDeg) > 1 {
			t.Errorf("%s: the vertical is turned by %.1f degrees instead of %.1f", name, got, whole.series.View.RollDeg)
		}
	}
}

// A clip whose container plays slow motion at an ordinary rate: its times are
// stretched, and the body falls too slowly.
func TestWrongClock(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it measures twenty clips")
	}
	t.Parallel()
	for _, name := range []string{"jump", "jump_120", "left_jump"} {
		for _, factor := range []float64{0.5, 1, 2, 4, 8} {
			t.Run(fmt.Sprint(name, " ", factor), func(t *testing.T) {
				obs := loadClip(t, name).observations(networkLike)
				for i := range obs {
					obs[i].TimeS *= factor
				}
				s, _, notices, _ := Analyze(obs, Options{Movements: shipped.Squats(), Smoother: body.SmootherFilter,
					Calibration: handmade.Network()})
				t.Logf("factor %.2f from %d flights", s.ClockFactor, s.ClockFlights)
				if told := hasNotice(notices, noticeWrongClock); told != (factor != 1) {
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
		s, _, _, err := Analyze(loadClip(t, name).observations(networkLike),
			Options{Movements: shipped.Squats(), Smoother: body.SmootherFilter,
				Calibration: handmade.Network()})
		if err != nil || s.ClockFactor != 1 {
			t.Errorf("%s: factor %.2f, %v", name, s.ClockFactor, err)
		}
	}
	opt := Options{Movements: shipped.Squats(), Smoother: body.SmootherFilter, Calibration: handmade.Network()}
	if s, _, notices, _ := Analyze(pullUps(), opt); s.ClockFactor != 1 {
		t.Errorf("pull-ups: factor %.2f of %d flights, %v", s.ClockFactor, s.ClockFlights, notices)
	}
}

// pullUps are a stand, then four pull-ups of the whole body with the feet off the
// floor for two seconds each.
func pullUps() []trace.Observation {
	rng := rand.New(rand.NewPCG(1, 1))
	var obs []trace.Observation
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
		o := trace.Observation{TimeS: t, Depth: [2]float64{1, 0}}
		for s := range 2 {
			for k, at := range [body.NumLandmarks][2]float64{{5, 500}, {0, 420}, {10, 480}, {20, 540}, {0, 280}, {8, 150},
				{0, 20}, {-20, 0}, {40, 0}} {
				o.Points[s][k] = body.Point{X: 300 + at[0] + rng.NormFloat64(), Y: 900 - at[1] - up + rng.NormFloat64(),
					SDPx: 3, Confidence: 0.9}
			}
		}
		obs = append(obs, o)
	}
	return obs
}

// What was turned upright lies in the picture again where it was seen.
func TestInPicture(t *testing.T) {
	for _, rollDeg := range []float64{0, 7, -12} {
		o := []trace.Observation{{}}
		o[0].Points[body.Left][body.Knee] = body.Point{X: 300, Y: 500}
		trace.TurnUpright(o, rollDeg)
		p := o[0].Points[body.Left][body.Knee]
		s := Series{View: trace.View{RollDeg: rollDeg}}
		back := s.InPicture(body.Path{X: []float64{p.X}, Y: []float64{p.Y}, SDPx: []float64{1}})
		near(t, "x", back.X[0], 300, 1e-9)
		near(t, "y", back.Y[0], 500, 1e-9)
	}
}
