package kinematics

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"holdfast/internal/handmade"
	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/trace"
)

// damaged returns the observations with some of their points missing, exchanged, jumped
// away, scaled, standing still or trembling for some of the time.
func damaged(rt *rapid.T, obs []trace.Observation) []trace.Observation {
	obs = slices.Clone(obs)
	n := len(obs)
	for range rapid.IntRange(1, 6).Draw(rt, "damages") {
		from := rapid.IntRange(0, n-1).Draw(rt, "from")
		to := min(n, from+rapid.IntRange(1, n).Draw(rt, "frames"))
		k := body.Landmark(rapid.IntRange(0, int(body.NumLandmarks)-1).Draw(rt, "point"))
		other := body.Landmark(rapid.IntRange(0, int(body.NumLandmarks)-1).Draw(rt, "other point"))
		side := rapid.IntRange(0, 1).Draw(rt, "side")
		by := rapid.Float64Range(-600, 600).Draw(rt, "by")
		frozen := obs[from]
		kind := rapid.SampledFrom([]string{
			"missing", "all missing", "sides", "points", "jump", "drift", "scaled", "wide", "frozen", "frozen point", "tremble",
		}).Draw(rt, "kind")
		for i := from; i < to; i++ {
			p := &obs[i].Points
			at := &p[side][k]
			switch kind {
			case "missing":
				*at = body.MissingPoint()
			case "all missing":
				for s := range p {
					for q := range p[s] {
						p[s][q] = body.MissingPoint()
					}
				}
			case "sides":
				p[0], p[1] = p[1], p[0]
			case "points":
				p[side][k], p[side][other] = p[side][other], p[side][k]
			case "jump":
				at.X, at.Y = at.X+by, at.Y-by/2
			case "drift":
				at.Y += by * float64(i-from) / float64(n)
			case "scaled", "wide":
				for s := range p {
					for q := range p[s] {
						if kind == "scaled" {
							p[s][q].Y *= 1 + by/1000
						}
						p[s][q].X *= 1 + by/1000
					}
				}
			case "frozen":
				*p = frozen.Points
			case "frozen point":
				*at = frozen.Points[side][k]
			case "tremble":
				at.X += by / 4 * math.Sin(float64(7*i))
				at.Y += by / 4 * math.Cos(float64(5*i))
			}
		}
	}
	return obs
}

// beyond collects what lies outside of its bounds. What is not known is within them.
type beyond []string

func (b *beyond) check(where string, value, low, high float64) {
	if math.IsInf(value, 0) || value < low || value > high {
		*b = append(*b, fmt.Sprintf("%s is %.4g", where, value))
	}
}

func (b *beyond) within(where string, value float64, is body.Bounds) {
	b.check(where, value, is.Low, is.High)
}

// impossible returns what is beyond anatomy and physics in what was measured.
func impossible(s *Series, reps []Rep, whole *Body) []string {
	var b beyond
	for a := range body.NumAngles {
		p := body.Possible[a]
		for i := range s.TimeS {
			b.within(a.String(), s.AnglesDeg[a][i], p.Deg)
			b.check(a.String()+" velocity", s.VelocityDegS[a][i], -p.MostDegS, p.MostDegS)
		}
	}
	for _, h := range s.HeelRise {
		b.within("heel", 100*h, body.HeelOverFloorPct)
	}
	for i, v := range whole.Support.Pct {
		b.within("support", v, body.SupportPct)
		b.check("support interval", 1.96*whole.Support.SDPct[i], 0, 25.1)
	}
	if whole.Scale.Known {
		b.within("leg", whole.Scale.MetresPerPx()*s.LegPx, body.LegM)
	}
	for i := range reps {
		r := &reps[i]
		for a := range body.NumAngles {
			m, p, name := &r.Angles[a], body.Possible[a], fmt.Sprintf("rep %d %v ", r.Number, a)
			for _, x := range []float64{m.MinDeg, m.MaxDeg, m.AtStandDeg, m.AtBottomDeg, m.AtLandingBottomDeg} {
				b.within(name, x, p.Deg)
			}
			b.check(name+"range", m.ROMDeg, 0, p.MostRangeDeg)
			b.check(name+"interval", m.ROMInterval95Deg[1]-m.ROMInterval95Deg[0], 0, 2*p.MostHalfDeg)
			b.check(name+"velocity", m.PeakVelocityDegS, -p.MostDegS, p.MostDegS)
			if r.Landing != nil {
				b.within(name+"at contact", r.Landing.AtContactDeg[a].Value, p.Deg)
				b.within(name+"at the landing's bottom", r.Landing.AtBottomDeg[a].Value, p.Deg)
			}
		}
		b.check("time", r.EndS-r.StartS, 0, math.Inf(1))
		if j := r.Jump; j != nil {
			b.within("flight", j.FlightS, body.FlightS)
			for name, v := range map[string]struct {
				value    float64
				interval [2]float64
			}{
				"height": {j.HeightFromFlightM, j.HeightFromFlightInterval95M}, "rise": {j.RiseM, j.RiseInterval95M},
				"over the stand": {j.RiseFromStandM.Value, j.RiseFromStandM.Interval95()},
			} {
				b.within(name, v.value, body.RiseM)
				b.check(name+"'s interval", v.interval[1]-v.interval[0], 0, math.Abs(v.value))
			}
			b.check("take-off velocity", j.TakeoffVelocityMS, 0, 5)
		}
		if f := r.Foot; f != nil {
			b.within("heel's rise", f.Heel.MaxPctFoot.Value, body.FootRisePct)
			b.within("toe's rise", f.Toe.MaxPctFoot.Value, body.FootRisePct)
			b.within("slide", f.SlidePctFoot.Value, body.FootWayPct)
			b.within("knee past toe", f.KneePastToePctFoot.Value, body.FootWayPct)
			b.check("heel's rise in cm", f.Heel.MaxCm.Value, 0, 40)
			b.within("shank at the bottom", f.ShankAtBottomDeg.Value, body.Possible[body.ShankAngle].Deg)
			b.within("thigh at the bottom", f.ThighAtBottomDeg.Value, body.Possible[body.ThighAngle].Deg)
		}
		for _, sp := range r.Support {
			for _, x := range []float64{sp.MeanPct.Value, sp.MinPct, sp.MaxPct} {
				b.within("support of a phase", x, body.SupportPct)
			}
		}
	}
	return b
}

// Nothing impossible comes out, however the tracking went wrong: a reading lies within
// what anatomy and physics allow, or is not known.
func TestNothingImpossible(t *testing.T) {
	rounds := 20 // of a hundred tracks
	if testing.Short() {
		rounds = 1
	}
	squat, jump := newSimAthlete(11), newSimAthlete(12)
	tracks := [][]trace.Observation{
		squat.squats(simPose{25, 75, 35, 0}, 1, 0.6, 0.2, 0.6).film(20, false),
		squat.cosines(simPose{5, 5, 5, 0}, simPose{30, 70, 35, 0}, 3, 0.8, 0, 1).film(20, false),
		jump.jumps(simPose{25, 70, 30, 0}, 1, 0.5, 0.45).film(24, false),
	}
	cases, measured := 0, 0
	for range rounds {
		rapid.Check(t, func(rt *rapid.T) {
			obs := damaged(rt, rapid.SampledFrom(tracks).Draw(rt, "track"))
			opt := Options{Movements: shipped.Squats(), Calibration: handmade.Network(), Smoother: body.SmootherFilter}
			if rapid.IntRange(0, 4).Draw(rt, "smoother") == 0 { // the slower one
				opt.Smoother = body.SmootherBody
			}
			s, reps, notices, err := Analyze(obs, opt)
			cases++
			if errors.Is(err, trace.ErrTooFewFrames) {
				return
			}
			if err != nil && !errors.Is(err, ErrNoReps) {
				rt.Fatal(err)
			}
			how := BodyOptions{Masses: body.DeLevaMean()}
			how.Scale = measure.ScaleOptions{HeightM: rapid.SampledFrom([]float64{0, 1.8}).Draw(rt, "height")}
			whole, _ := MeasureBody(s, reps, how)
			if found := impossible(s, reps, &whole); len(found) > 0 {
				rt.Fatalf("%d: %s", len(found), strings.Join(found[:min(5, len(found))], "; "))
			}
			for i := range reps {
				r := &reps[i]
				said := slices.ContainsFunc(notices, func(n Notice) bool { return n.Code == noticeImpossible })
				if len(r.Impossible) > 0 && len(r.Hidden) == 0 && !said {
					rt.Fatalf("rep %d: nothing is said of its %v", r.Number, r.Impossible)
				}
				if r.Counts() {
					measured++
				}
			}
		})
	}
	if cases > 0 && measured < cases/10 {
		t.Errorf("only %d reps measured of %d damaged tracks", measured, cases)
	}
}

// What no body can show makes its joint unknown and leaves the others; with two of them
// the rep is not measured.
func TestImpossibleJointsAreUnknown(t *testing.T) {
	tests := []struct {
		name  string
		spoil func(p *[body.NumLandmarks]body.Point)
		want  []body.Joint
		hard  body.Landmark
	}{
		{"as it was", func(*[body.NumLandmarks]body.Point) {}, nil, 0},
		{"a plate before the shoulder", func(p *[body.NumLandmarks]body.Point) {
			p[body.Shoulder] = body.Point{X: p[body.Knee].X, Y: p[body.Hip].Y + 60, SDPx: 12, Confidence: 0.3}
		}, []body.Joint{body.HipJoint}, body.Shoulder},
		{"a foot without length", func(p *[body.NumLandmarks]body.Point) {
			p[body.Toe] = p[body.Heel]
			p[body.Toe].Confidence = 0.2
		}, []body.Joint{body.AnkleJoint}, body.Toe},
		{"a knee at the hip", func(p *[body.NumLandmarks]body.Point) {
			p[body.Knee].X, p[body.Knee].Y = p[body.Hip].X+5, p[body.Hip].Y+30
			p[body.Knee].Confidence = 0.2
		}, []body.Joint{body.AnkleJoint, body.KneeJoint, body.HipJoint}, body.Knee},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := newSimAthlete(21)
			obs := a.squats(simPose{25, 75, 35, 0}, 1, 0.8, 0.2, 0.8).film(30, false)
			for i := range obs {
				if obs[i].TimeS > 0.8 {
					tt.spoil(&obs[i].Points[body.Right])
				}
			}
			got := analyze(t, obs, Options{Smoother: body.SmootherFilter})
			if len(got.reps) != 1 {
				t.Fatalf("%d reps", len(got.reps))
			}
			r := &got.reps[0]
			if !slices.Equal(r.Impossible, tt.want) || r.HardestToSee != tt.hard {
				t.Fatalf("impossible: %v, hard to see: %v, want %v and %v", r.Impossible, r.HardestToSee, tt.want, tt.hard)
			}
			if said := impossibleNotices(got.reps); len(tt.want) > 0 &&
				(len(said) != 1 || said[0].Params["hardest"] != tt.hard.String()) {
				t.Errorf("said: %v, want the %v named", said, tt.hard)
			}
			for _, j := range body.LegJoints {
				known := !math.IsNaN(r.Angles[j.Angle()].ROMDeg)
				if want := len(tt.want) < unmeasurable && !slices.Contains(tt.want, j); known != want {
					t.Errorf("%v known: %v, want %v", j, known, want)
				}
			}
			if r.Partial != (len(tt.want) >= unmeasurable) || len(tt.want) > 0 && r.Quality.Grade != joints.GradePoor {
				t.Errorf("partial %v (%v), %s", r.Partial, r.PartialWhy, r.Quality.Grade)
			}
		})
	}
}
