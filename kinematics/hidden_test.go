package kinematics

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
)

// A point that the network guesses in many frames of a rep takes its angles with it, and
// where the weight acts; a hip that is hardly ever seen takes the rep. A network that never
// says how sure it is of a place hides nothing.
func TestHiddenPoints(t *testing.T) {
	guess := func(every int, points ...body.Landmark) map[body.Landmark]int {
		out := map[body.Landmark]int{}
		for _, k := range points {
			out[k] = every
		}
		return out
	}
	var all []body.Landmark
	for k := range body.NumLandmarks {
		all = append(all, k)
	}
	tests := []struct {
		name    string
		guessed map[body.Landmark]int // in every so many frames
		knows   []body.Angle
		not     []body.Angle
		whole   bool
		weight  bool // where it acts is known
	}{
		{"nothing", nil, []body.Angle{body.KneeFlexion, body.HipFlexion, body.AnkleDorsiflexion}, nil, true, true},
		{"shoulder now and then", guess(10, body.Shoulder),
			[]body.Angle{body.KneeFlexion, body.HipFlexion, body.TrunkLean}, nil, true, true},
		{"shoulder", guess(3, body.Shoulder), []body.Angle{body.KneeFlexion, body.AnkleDorsiflexion},
			[]body.Angle{body.HipFlexion, body.TrunkLean}, true, false},
		{"knee in loose trousers", guess(3, body.Knee),
			[]body.Angle{body.KneeFlexion, body.HipFlexion, body.AnkleDorsiflexion}, nil, true, true},
		{"knee", guess(1, body.Knee), []body.Angle{body.TrunkLean},
			[]body.Angle{body.KneeFlexion, body.HipFlexion, body.AnkleDorsiflexion}, true, true},
		{"shoulder and hip", guess(3, body.Shoulder, body.Hip), []body.Angle{body.AnkleDorsiflexion},
			[]body.Angle{body.KneeFlexion, body.HipFlexion}, true, false},
		{"hip throughout", guess(1, body.Hip), nil,
			[]body.Angle{body.KneeFlexion, body.HipFlexion, body.AnkleDorsiflexion}, false, false},
		{"a network that tells nothing", guess(1, all...),
			[]body.Angle{body.KneeFlexion, body.HipFlexion, body.AnkleDorsiflexion}, nil, true, true},
	}
	clip := loadClip(t, "slow_30")
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			obs := clip.observations(networkLike)
			for i := range obs {
				for s := range 2 {
					for k, every := range tt.guessed {
						if i%every == 0 {
							obs[i].Points[s][k].SDPx = math.NaN()
						}
					}
				}
			}
			a := analyze(t, obs, Options{Smoother: body.SmootherFilter})
			b, _ := MeasureBody(a.series, a.reps, BodyOptions{Masses: body.DeLevaMean()})
			if hides := len(tt.not) > 0; a.has(NoticePointHidden) != hides {
				t.Errorf("notices %v", a.notices)
			}
			if len(a.reps) != 3 {
				t.Fatalf("%d reps", len(a.reps))
			}
			for i := range a.reps {
				r := &a.reps[i]
				if r.Partial == tt.whole {
					t.Errorf("rep %d: partial %v (%v)", r.Number, r.Partial, r.PartialWhy)
				}
				for _, j := range tt.knows {
					if math.IsNaN(float64(r.Angles[j].ROMDeg)) {
						t.Errorf("rep %d: %v is not known", r.Number, j)
					}
				}
				for _, j := range tt.not {
					if !math.IsNaN(float64(r.Angles[j].ROMDeg)) || !math.IsNaN(float64(r.Angles[j].AtBottomDeg)) {
						t.Errorf("rep %d: %v is %.0f degrees", r.Number, j, r.Angles[j].ROMDeg)
					}
				}
				at := a.series.Index(r.BottomS)
				if known := !math.IsNaN(b.CentreOfMass.Path.X[at]); known != tt.weight {
					t.Errorf("rep %d: centre of mass known: %v", r.Number, known)
				}
				if !tt.weight && (!math.IsNaN(b.Support.Pct[at]) || r.Support[0].MeanPct.Known()) {
					t.Errorf("rep %d: support point %v", r.Number, r.Support[0].MeanPct)
				}
			}
		})
	}
}

// A rep of which nothing was measured is named by its time alone: where a plate hides the hip the points that are
// guessed fall quickly.
func TestTempoOfAHiddenRep(t *testing.T) {
	clip := loadClip(t, "slow_30")
	obs := clip.observations(networkLike)
	rep := analyze(t, clip.observations(networkLike), Options{Smoother: body.SmootherFilter}).reps[1]
	seen := rep.PeakSpeed
	drop := -1
	for i := range obs {
		if at := obs[i].TimeS; rep.StartS <= at && at <= rep.EndS {
			if drop < 0 && at > (rep.StartS+rep.BottomS)/2 {
				drop = i
			}
			for s := range 2 {
				for _, k := range []body.Landmark{body.Hip, body.Shoulder} {
					p := &obs[i].Points[s][k]
					p.SDPx = math.NaN()
					if drop >= 0 && i < drop+6 { // it hangs behind and catches up
						p.Y -= 10 * float64(i-drop+1)
					}
				}
			}
		}
	}
	a := analyze(t, obs, Options{Smoother: body.SmootherFilter})
	if len(a.reps) != 3 {
		t.Fatalf("%d reps", len(a.reps))
	}
	for i := range a.reps {
		r := &a.reps[i]
		if r.Tempo != events.TempoSlow {
			t.Errorf("rep %d is %v", r.Number, r.Tempo)
		}
		if hidden := i == 1; math.IsNaN(r.Angles[body.KneeFlexion].ROMDeg) != hidden || math.IsNaN(r.PeakSpeed) != hidden {
			t.Errorf("rep %d: knee %g, speed %g for %g", r.Number, r.Angles[body.KneeFlexion].ROMDeg, r.PeakSpeed, seen)
		}
	}
}

// What hides a shoulder in a rep was not seen to leave beside it: a trunk and an arm were drawn over the plate of a
// real clip, and their angles told, in the moments between the reps in which the network took the plate for a shoulder.
func TestHiddenBesideTheRep(t *testing.T) {
	clip := loadClip(t, "slow_30")
	obs := clip.observations(networkLike)
	reps := analyze(t, clip.observations(networkLike), Options{Smoother: body.SmootherFilter}).reps
	for i := range obs {
		if t := obs[i].TimeS; reps[1].StartS <= t && t <= reps[1].EndS {
			obs[i].Points[body.Right][body.Shoulder].SDPx = math.NaN()
		}
	}
	a := analyze(t, obs, Options{Smoother: body.SmootherFilter})
	b, _ := MeasureBody(a.series, a.reps, BodyOptions{Masses: body.DeLevaMean()})
	a.series.LeaveOutHidden(a.reps)
	for _, at := range []struct {
		what  string
		timeS float64
		known bool
	}{
		{"before the first rep", 0, true},
		{"in the first rep", reps[0].BottomS, true},
		{"between first and second", (reps[0].EndS + reps[1].StartS) / 2, false},
		{"in the second", reps[1].BottomS, false},
		{"between second and third", (reps[1].EndS + reps[2].StartS) / 2, false},
		{"in the third", reps[2].BottomS, true},
	} {
		i := a.series.Index(at.timeS)
		for what, x := range map[string]float64{
			"hip": a.series.AnglesDeg[body.HipFlexion][i], "trunk": a.series.AnglesDeg[body.TrunkLean][i],
			"shoulder": a.series.Points[body.Right][body.Shoulder].X[i],
			"elbow":    a.series.Points[body.Right][body.Elbow].X[i], "centre of mass": b.CentreOfMass.Path.X[i],
		} {
			if known := !math.IsNaN(x); known != at.known {
				t.Errorf("%s: %s known: %v", at.what, what, known)
			}
		}
		if math.IsNaN(a.series.AnglesDeg[body.KneeFlexion][i]) {
			t.Errorf("%s: the knee is not known", at.what)
		}
	}
}

// Nothing is told of a foot that is hardly to be seen: a flat one would read as a heel that is up.
func TestHiddenFoot(t *testing.T) {
	tests := []struct {
		name  string
		spoil func(foot *[body.NumLandmarks]body.Point, i int)
		known bool
	}{
		{"seen", func(*[body.NumLandmarks]body.Point, int) {}, true},
		{"toe out of the picture now and then", func(p *[body.NumLandmarks]body.Point, i int) {
			if i%10 == 0 {
				p[body.Toe] = body.MissingPoint()
			}
		}, true},
		{"toe out of the picture", func(p *[body.NumLandmarks]body.Point, i int) {
			if i%3 == 0 {
				p[body.Toe] = body.MissingPoint()
			}
		}, false},
		{"foot taken for the shank now and then", func(p *[body.NumLandmarks]body.Point, i int) {
			if i%40 < 3 {
				for _, k := range []body.Landmark{body.Ankle, body.Heel, body.Toe} {
					p[k].Y -= 60
				}
			}
		}, false},
		{"heel guessed, high up", func(p *[body.NumLandmarks]body.Point, i int) {
			if i%40 < 6 {
				p[body.Heel].Y, p[body.Heel].SDPx = p[body.Heel].Y-40, math.NaN()
			}
		}, false},
	}
	clip := loadClip(t, "slow_30")
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			obs := clip.observations(networkLike)
			for i := range obs {
				tt.spoil(&obs[i].Points[body.Right], i)
			}
			a := analyze(t, obs, Options{Smoother: body.SmootherFilter})
			MeasureBody(a.series, a.reps, BodyOptions{Masses: body.DeLevaMean()})
			for i := range a.reps {
				r := &a.reps[i]
				for what, x := range map[string]float64{
					"range of the ankle":  r.Angles[body.AnkleDorsiflexion].ROMDeg,
					"ankle at the bottom": r.Angles[body.AnkleDorsiflexion].AtBottomDeg,
					"rise of the heel":    r.Foot.Heel.MaxPctFoot.Value, "support point": r.Support[0].MeanPct.Value,
				} {
					if known := !math.IsNaN(x); known != tt.known {
						t.Errorf("rep %d: %s is %.1f", r.Number, what, x)
					}
				}
				a.series.LeaveOutHidden(a.reps)
				if known := !math.IsNaN(a.series.AnglesDeg[body.AnkleDorsiflexion][a.series.Index(r.BottomS)]); known != tt.known {
					t.Errorf("rep %d: the curve shows the ankle: %v", r.Number, known)
				}
				if math.IsNaN(r.Angles[body.KneeFlexion].ROMDeg) || r.Partial {
					t.Errorf("rep %d: the knee is not known, partial: %v", r.Number, r.PartialWhy)
				}
			}
		})
	}
}

// A phone that is picked up after the set lifts the floor in the picture: over that floor a flat foot would seem to
// turn, up to 65 degrees in a real clip. What a curve shows outside of reps rests on no floor either then.
func TestFootOverAMovingFloor(t *testing.T) {
	clip := loadClip(t, "slow_30")
	for _, moves := range []bool{false, true} {
		obs := clip.observations(networkLike)
		last := obs[len(obs)-1].TimeS
		for i := range obs {
			lifted := 600 * max(0, obs[i].TimeS-last+0.4)
			for s := range 2 {
				for k := range body.NumLandmarks {
					obs[i].Points[s][k].Y -= lifted
				}
			}
		}
		a := analyze(t, obs, Options{Smoother: body.SmootherFilter})
		MeasureBody(a.series, a.reps, BodyOptions{Masses: body.DeLevaMean(), FloorMoves: moves})
		for i, at := range a.series.TimeS {
			ankle, pitch := a.series.AnglesDeg[body.AnkleDorsiflexion][i], a.series.AnglesDeg[body.FootPitch][i]
			if moves && !(math.IsNaN(ankle) && math.IsNaN(pitch)) {
				t.Errorf("%.2f s: ankle %.0f and foot %.0f degrees over a floor that moves", at, ankle, pitch)
			}
		}
		ankle := a.series.AnglesDeg[body.AnkleDorsiflexion][a.series.Index(a.reps[0].BottomS)]
		if math.IsNaN(ankle) != moves {
			t.Errorf("floor moves %v, the ankle at the first bottom: %.0f", moves, ankle)
		}
	}
}

// A foot that the picture's edge cuts off tells nothing before, between and after the reps either.
func TestFootCutOffBesideReps(t *testing.T) {
	clip := loadClip(t, "slow_30")
	obs := clip.observations(networkLike)
	a := analyze(t, obs, Options{Smoother: body.SmootherFilter})
	fromS := a.reps[len(a.reps)-1].EndS + 0.2
	for i := range obs {
		if obs[i].TimeS > fromS && i%3 != 0 {
			obs[i].Points[body.Right][body.Toe] = body.MissingPoint()
		}
	}
	a = analyze(t, obs, Options{Smoother: body.SmootherFilter})
	a.series.LeaveOutGuessed(obs)
	ankle := a.series.AnglesDeg[body.AnkleDorsiflexion]
	if at := a.series.Index(a.reps[0].BottomS); math.IsNaN(ankle[at]) {
		t.Error("the ankle of the first rep, whose foot is seen, is not known")
	}
	for i := a.series.Index(fromS + 0.2); i < len(ankle); i++ {
		if !math.IsNaN(ankle[i]) {
			t.Fatalf("%.2f s: ankle %.0f degrees of a foot that is cut off", a.series.TimeS[i], ankle[i])
		}
	}
}
