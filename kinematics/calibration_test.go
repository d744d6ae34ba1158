package kinematics

import "testing"

// testNetwork is the calibration of a network whose points err as those that the tests
// make up do.
func testNetwork() Calibration {
	foot := Displacement{UpPerRad: -0.006}
	c := Calibration{
		Offsets: [NumLandmarks]PointOffset{
			Shoulder: {Mean: Displacement{Fwd: 0.0075}, SD: Displacement{0.010, 0.020, 0.007, 0.009}},
			Hip:      {Mean: Displacement{Fwd: 0.021}, SD: Displacement{0.012, 0.020, 0.006, 0.009}},
			Knee:     {SD: Displacement{0.008, 0.008, 0.006, 0.005}},
			Ankle:    {Mean: foot, SD: Displacement{0.008, 0.015, 0.012, 0.006}},
			Heel:     {Mean: foot, SD: Displacement{0.008, 0.010, 0.007, 0.0035}},
			Toe:      {Mean: foot, SD: Displacement{0.020, 0.010, 0.012, 0.006}},
		},
		HeelLag: 0.33, HeelLagToDeg: 12, FootSinkLegsPerDeg: 0.0015,
		ErrorTimeS: 0.09, WanderFloorLegs: 0.001, WanderLegs: 0.006,
		FlatFootSDDeg: 1, LiftedFootSDDeg: 1.8, AirFootSDDeg: 6, ViewSDDeg: 4,
		Confidence: ConfidenceLimits{Good: 0.7, Low: 0.5, Lost: 0.3},
	}
	c.Errors[SmootherFilter] = [NumAngles]AngleError{
		KneeFlexion: {2.8, 1.4, 0}, HipFlexion: {4.3, 1.8, 0}, AnkleDorsiflexion: {3.0, 1.2, 2.9}, ShankAngle: {1.8, 1.0, 0},
		TrunkLean: {0.6, 0.9, 0}, ThighAngle: {3.7, 1.4, 0}, FootPitch: {0, 1.0, 2.9},
	}
	c.Errors[SmootherBody] = [NumAngles]AngleError{
		KneeFlexion: {3.0, 1.7, 0}, HipFlexion: {2.7, 1.6, 0}, AnkleDorsiflexion: {2.6, 1.2, 3.3}, ShankAngle: {1.8, 1.0, 0},
		TrunkLean: {0.8, 0.9, 0}, ThighAngle: {3.0, 1.4, 0}, FootPitch: {0, 1.0, 3.3},
	}
	return c
}

// width returns how wide the interval of a range is.
func (m *AngleMeasure) width() float64 { return m.ROMInterval95Deg[1] - m.ROMInterval95Deg[0] }

// A network of which nothing is known gets a notice and wider intervals in every rep, at
// every joint and under either smoother; the reps themselves are the same.
func TestUncalibratedIsWide(t *testing.T) {
	obs := loadClip(t, "slow_30").observations(networkLike)
	for _, smoother := range []Smoother{SmootherBody, SmootherFilter} {
		_, known, notices, err := Analyze(obs, Options{Smoother: smoother, Calibration: testNetwork()})
		if err != nil {
			t.Fatal(err)
		}
		if hasNotice(notices, NoticeUncalibrated) {
			t.Errorf("%s: a calibrated network is called uncalibrated", smoother)
		}
		s, unknown, notices, err := Analyze(obs, Options{Smoother: smoother})
		if err != nil {
			t.Fatal(err)
		}
		if !hasNotice(notices, NoticeUncalibrated) || s.Calibration != Uncalibrated() {
			t.Errorf("%s: nothing is said of a network without a calibration: %v", smoother, notices)
		}
		if len(known) != len(unknown) || len(known) == 0 {
			t.Fatalf("%s: %d reps with a calibration, %d without", smoother, len(known), len(unknown))
		}
		for i := range known {
			for j := range NumJoints {
				a, b := &known[i].Angles[j.Angle()], &unknown[i].Angles[j.Angle()]
				if !(b.width() > 1.5*a.width()) || !(b.SystematicSDDeg > 1.5*a.SystematicSDDeg) {
					t.Errorf("%s, rep %d, %s: %.1f degrees wide with a calibration, %.1f without", smoother, i+1, j, a.width(), b.width())
				}
			}
		}
	}
}

// What is assumed of an unknown network is nowhere surer than what a measured one showed.
func TestUncalibratedIsNeverSurer(t *testing.T) {
	known, wide := testNetwork(), Uncalibrated()
	for smoother := range known.Errors {
		for a := range NumAngles {
			k, w := known.Errors[smoother][a], wide.Errors[smoother][a]
			if w.PostureDeg < k.PostureDeg || w.LiftedDeg < k.LiftedDeg || w.ClipDeg < k.ClipDeg {
				t.Errorf("%s, %s: %+v is surer than %+v", Smoother(smoother), a, w, k)
			}
		}
	}
	if wide.ErrorTimeS < known.ErrorTimeS || wide.WanderLegs < known.WanderLegs || wide.WanderFloorLegs < known.WanderFloorLegs ||
		wide.FlatFootSDDeg < known.FlatFootSDDeg || wide.LiftedFootSDDeg < known.LiftedFootSDDeg ||
		wide.AirFootSDDeg < known.AirFootSDDeg || wide.ViewSDDeg < known.ViewSDDeg {
		t.Errorf("%+v is surer than %+v", wide, known)
	}
	for p, o := range wide.Offsets {
		if o.Mean != (Displacement{}) {
			t.Errorf("the %s of an unknown network is taken to lie at %+v", Landmark(p), o.Mean)
		}
	}
}
