package kinematics

import (
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
)

// testNetwork is the calibration of a network whose points err as those that the tests
// make up do.
func testNetwork() body.Calibration {
	foot := body.Displacement{UpPerRad: -0.006}
	c := body.Calibration{
		Offsets: [body.NumLandmarks]body.PointOffset{
			body.Shoulder: {Mean: body.Displacement{Fwd: 0.0075}, SD: body.Displacement{Fwd: 0.010, Up: 0.020, FwdPerRad: 0.007, UpPerRad: 0.009}},
			body.Hip:      {Mean: body.Displacement{Fwd: 0.021}, SD: body.Displacement{Fwd: 0.012, Up: 0.020, FwdPerRad: 0.006, UpPerRad: 0.009}},
			body.Knee:     {SD: body.Displacement{Fwd: 0.008, Up: 0.008, FwdPerRad: 0.006, UpPerRad: 0.005}},
			body.Ankle:    {Mean: foot, SD: body.Displacement{Fwd: 0.008, Up: 0.015, FwdPerRad: 0.012, UpPerRad: 0.006}},
			body.Heel:     {Mean: foot, SD: body.Displacement{Fwd: 0.008, Up: 0.010, FwdPerRad: 0.007, UpPerRad: 0.0035}},
			body.Toe:      {Mean: foot, SD: body.Displacement{Fwd: 0.020, Up: 0.010, FwdPerRad: 0.012, UpPerRad: 0.006}},
		},
		HeelLag: 0.33, HeelLagToDeg: 12, FootSinkLegsPerDeg: 0.0015,
		ErrorTimeS: 0.09, WanderFloorLegs: 0.001, WanderLegs: 0.006,
		FlatFootSDDeg: 1, LiftedFootSDDeg: 1.8, AirFootSDDeg: 6, ViewSDDeg: 4,
		Confidence: body.ConfidenceLimits{Good: 0.7, Low: 0.5, Lost: 0.3},
	}
	c.Errors[body.SmootherFilter] = [body.NumAngles]body.AngleError{
		body.KneeFlexion: {ClipDeg: 2.8, PostureDeg: 1.4, LiftedDeg: 0}, body.HipFlexion: {ClipDeg: 4.3, PostureDeg: 1.8, LiftedDeg: 0}, body.AnkleDorsiflexion: {ClipDeg: 3.0, PostureDeg: 1.2, LiftedDeg: 2.9}, body.ShankAngle: {ClipDeg: 1.8, PostureDeg: 1.0, LiftedDeg: 0},
		body.TrunkLean: {ClipDeg: 0.6, PostureDeg: 0.9, LiftedDeg: 0}, body.ThighAngle: {ClipDeg: 3.7, PostureDeg: 1.4, LiftedDeg: 0}, body.FootPitch: {ClipDeg: 0, PostureDeg: 1.0, LiftedDeg: 2.9},
	}
	c.Errors[body.SmootherBody] = [body.NumAngles]body.AngleError{
		body.KneeFlexion: {ClipDeg: 3.0, PostureDeg: 1.7, LiftedDeg: 0}, body.HipFlexion: {ClipDeg: 2.7, PostureDeg: 1.6, LiftedDeg: 0}, body.AnkleDorsiflexion: {ClipDeg: 2.6, PostureDeg: 1.2, LiftedDeg: 3.3}, body.ShankAngle: {ClipDeg: 1.8, PostureDeg: 1.0, LiftedDeg: 0},
		body.TrunkLean: {ClipDeg: 0.8, PostureDeg: 0.9, LiftedDeg: 0}, body.ThighAngle: {ClipDeg: 3.0, PostureDeg: 1.4, LiftedDeg: 0}, body.FootPitch: {ClipDeg: 0, PostureDeg: 1.0, LiftedDeg: 3.3},
	}
	return c
}

// width returns how wide the interval of a range is.
func width(am *joints.AngleMeasure) float64 { return am.ROMInterval95Deg[1] - am.ROMInterval95Deg[0] }

// A network of which nothing is known gets a notice and wider intervals in every rep, at
// every joint and under either smoother; the reps themselves are the same.
func TestUncalibratedIsWide(t *testing.T) {
	obs := loadClip(t, "slow_30").observations(networkLike)
	for _, smoother := range []body.Smoother{body.SmootherBody, body.SmootherFilter} {
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
		if !hasNotice(notices, NoticeUncalibrated) || s.Calibration != body.Uncalibrated() {
			t.Errorf("%s: nothing is said of a network without a calibration: %v", smoother, notices)
		}
		if len(known) != len(unknown) || len(known) == 0 {
			t.Fatalf("%s: %d reps with a calibration, %d without", smoother, len(known), len(unknown))
		}
		for i := range known {
			for j := range body.NumJoints {
				a, b := &known[i].Angles[j.Angle()], &unknown[i].Angles[j.Angle()]
				if !(width(b) > 1.5*width(a)) || !(b.SystematicSDDeg > 1.5*a.SystematicSDDeg) {
					t.Errorf("%s, rep %d, %s: %.1f degrees wide with a calibration, %.1f without", smoother, i+1, j, width(a), width(b))
				}
			}
		}
	}
}

// What is assumed of an unknown network is nowhere surer than what a measured one showed.
func TestUncalibratedIsNeverSurer(t *testing.T) {
	known, wide := testNetwork(), body.Uncalibrated()
	for smoother := range known.Errors {
		for a := range body.NumAngles {
			k, w := known.Errors[smoother][a], wide.Errors[smoother][a]
			if w.PostureDeg < k.PostureDeg || w.LiftedDeg < k.LiftedDeg || w.ClipDeg < k.ClipDeg {
				t.Errorf("%s, %s: %+v is surer than %+v", body.Smoother(smoother), a, w, k)
			}
		}
	}
	if wide.ErrorTimeS < known.ErrorTimeS || wide.WanderLegs < known.WanderLegs || wide.WanderFloorLegs < known.WanderFloorLegs ||
		wide.FlatFootSDDeg < known.FlatFootSDDeg || wide.LiftedFootSDDeg < known.LiftedFootSDDeg ||
		wide.AirFootSDDeg < known.AirFootSDDeg || wide.ViewSDDeg < known.ViewSDDeg {
		t.Errorf("%+v is surer than %+v", wide, known)
	}
	for p, o := range wide.Offsets {
		if o.Mean != (body.Displacement{}) {
			t.Errorf("the %s of an unknown network is taken to lie at %+v", body.Landmark(p), o.Mean)
		}
	}
}
