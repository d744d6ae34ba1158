package kinematics

import (
	"testing"

	"holdfast/internal/handmade"
	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
)

// width returns how wide the interval of a range is.
func width(am *joints.AngleMeasure) float64 { return am.ROMInterval95Deg[1] - am.ROMInterval95Deg[0] }

// A network of which nothing is known gets a notice and wider intervals in every rep, at
// every joint and under either smoother; the reps themselves are the same.
func TestUncalibratedIsWide(t *testing.T) {
	obs := loadClip(t, "slow_30").observations(networkLike)
	for _, smoother := range []body.Smoother{body.SmootherBody, body.SmootherFilter} {
		_, known, notices, err := Analyze(obs, Options{Movements: shipped.Squats(), Smoother: smoother,
			Calibration: handmade.Network()})
		if err != nil {
			t.Fatal(err)
		}
		if hasNotice(notices, NoticeUncalibrated) {
			t.Errorf("%s: a calibrated network is called uncalibrated", smoother)
		}
		s, unknown, notices, err := Analyze(obs, Options{Movements: shipped.Squats(), Smoother: smoother})
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
			for _, j := range body.LegJoints {
				a, b := &known[i].Angles[j.Angle()], &unknown[i].Angles[j.Angle()]
				if !(width(b) > 1.5*width(a)) || !(b.SystematicSDDeg > 1.5*a.SystematicSDDeg) {
					t.Errorf("%s, rep %d, %s: %.1f degrees wide with a calibration, %.1f without", smoother,
						i+1, j, width(a), width(b))
				}
			}
		}
	}
}

// What is assumed of an unknown network is nowhere surer than what a measured one showed.
func TestUncalibratedIsNeverSurer(t *testing.T) {
	known, wide := handmade.Network(), body.Uncalibrated()
	for smoother := range known.Errors {
		for a := range body.NumAngles {
			k, w := known.Errors[smoother][a], wide.Errors[smoother][a]
			if w.PostureDeg < k.PostureDeg || w.LiftedDeg < k.LiftedDeg || w.ClipDeg < k.ClipDeg {
				t.Errorf("%s, %s: %+v is surer than %+v", body.Smoother(smoother), a, w, k)
			}
		}
	}
	if wide.ErrorTimeS < known.ErrorTimeS || wide.WanderLegs < known.WanderLegs ||
		wide.WanderFloorLegs < known.WanderFloorLegs ||
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
