package vision

import (
	"math"
	"testing"

	"holdfast/models"
	"holdfast/vision/media"
)

// The leading network looks where it would if it followed the athlete through every frame, though the scout finds the
// athlete a little beside.
func TestLeaderLooksAsThroughEveryFrame(t *testing.T) {
	m := &models.Manifest{Region: models.Region{ScaleFactor: 1.25,
		Smoothing: &models.Smoothing{MinCutoffHz: 0.01, Beta: 10, SpeedCutoffHz: 1}}}
	own := func(timeS float64) Region {
		return Region{CX: 300 + 20*math.Sin(2*timeS), CY: 400 + 120*math.Sin(5*timeS), SizePx: 700 + 40*math.Cos(5*timeS),
			AngleRad: 0.3 * math.Sin(5*timeS)}
	}
	follow := func(every int) (aims []Region) {
		l := leader{smooth: newSteady(m)}
		for i := range 300 {
			timeS := float64(i) / 60
			way := own(timeS).plus(Region{CX: 4, CY: -3, SizePx: 30 + 15*math.Sin(5*timeS), AngleRad: 0.05})
			s := &sight{way: &way}
			s.Frame = &media.Frame{TimeS: timeS}
			if i == 0 {
				l.steady, l.next = l.smooth, way
			}
			aims = append(aims, l.next)
			if i%every == 0 {
				l.beside = way.to(own(timeS))
			}
			l.goOn(s)
		}
		return aims
	}
	all, some := follow(1), follow(5)
	for i := range all {
		off := all[i].to(some[i])
		if math.Hypot(off.CX, off.CY) > 1 || math.Abs(off.SizePx) > 5 || math.Abs(off.AngleRad) > 0.01 {
			t.Errorf("frame %d: looked at in %+v, with a look at every frame in %+v", i, some[i], all[i])
		}
	}
}
