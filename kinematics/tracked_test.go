package kinematics

import (
	"compress/gzip"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// trackedPoint is ten times x, y and standard deviation in pixels, and a hundred
// times the confidence.
type trackedPoint [4]float64

// loadTracked returns what a network saw in a rendered clip; see testdata/tracks.
func loadTracked(t *testing.T, name string) []trace.Observation {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "tracks", name+".json.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var frames []struct {
		T     float64
		Depth [2]float64
		P     []*trackedPoint
	}
	if err := json.NewDecoder(z).Decode(&frames); err != nil {
		t.Fatal(err)
	}
	obs := make([]trace.Observation, len(frames))
	for i, fr := range frames {
		obs[i].TimeS, obs[i].Depth = fr.T, fr.Depth
		for j, p := range fr.P {
			at := body.MissingPoint()
			if p != nil {
				at = body.Point{X: p[0] / 10, Y: p[1] / 10, SDPx: p[2] / 10, Confidence: p[3] / 100}
			}
			obs[i].Points[j/int(body.NumLandmarks)][j%int(body.NumLandmarks)] = at
		}
	}
	return obs
}

// holds says whether a 95 % interval holds a value.
func holds(e stats.Estimate, want float64) bool {
	iv := e.Interval95()
	return iv[0] <= want && want <= iv[1]
}

// What physics demands of a body in the air, asked of tracked jumps: it falls at g by
// the scale of the athlete's height, it does not speed up forward, and its energy does
// not change, all within the intervals that are given. Its angular momentum is no test
// here: the limbs of the rendered athlete turn in the air as an animator wished.
func TestTrackedJumpsObeyPhysics(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"jump", "left_jump"} {
		t.Run(name, func(t *testing.T) {
			truth := loadBodyTruth(t, name)
			a := analyze(t, loadTracked(t, name), Options{})
			s := a.series
			c := massCentreOf(s, a.reps, body.DeLevaMean())
			sc, notices := findScale(s, a.reps, &c, measure.ScaleOptions{HeightM: truth.Height})
			if !sc.Agree || len(notices) > 0 {
				t.Errorf("height and flights do not agree on the scale: %+v, %v", sc, notices)
			}
			if mpp := truth.Camera.Distance / truth.Camera.Focal; !holds(sc.MmPerPx, 1000*mpp) {
				t.Errorf("%.3f ± %.3f mm/px, true %.3f", sc.MmPerPx.Value, sc.MmPerPx.SD, 1000*mpp)
			}
			jumps := jumpsOf(s, a.reps, &c, sc)
			if len(jumps) != len(truth.Reps) {
				t.Fatalf("%d jumps, want %d", len(jumps), len(truth.Reps))
			}
			for i, j := range jumps {
				want := truth.Reps[i]
				if !holds(j.FallMS2, trace.GravityMS2) {
					t.Errorf("jump %d falls at %.2f ± %.2f m/s^2", i+1, j.FallMS2.Value, j.FallMS2.SD)
				}
				if !holds(j.ForwardAccMS2, 0) {
					t.Errorf("jump %d speeds up forward at %.2f ± %.2f m/s^2 in the air", i+1,
						j.ForwardAccMS2.Value, j.ForwardAccMS2.SD)
				}
				// The energy at the top less that near both ends: g z + v^2/2 of the samples.
				r := &a.reps[i]
				// A quarter of one over the cut-off is left out at both ends, where smoothing
				// mixes the flight with the floor.
				fromS, toS := r.TakeoffS+0.25/s.CutoffHz, r.ContactS-0.25/s.CutoffHz
				var top, ends, highTop, highEnds, rows, ups []float64
				third := (toS - fromS) / 3
				for k, tm := range s.TimeS {
					if tm < fromS || tm > toS {
						continue
					}
					u := tm - (fromS+toS)/2
					rows, ups = append(rows, 1, u, u*u), append(ups, c.UpPx[k])
					m := sc.MetresPerPx()
					e := trace.GravityMS2*m*c.UpPx[k] + m*m*(sq(c.VelUpPxS[k])+sq(c.VelFwdPxS[k]))/2
					if tm > fromS+third && tm < toS-third {
						top, highTop = append(top, e), append(highTop, m*c.UpPx[k])
					} else {
						ends, highEnds = append(ends, e), append(highEnds, m*c.UpPx[k])
					}
				}
				mean := func(x []float64) (sum float64) {
					for _, v := range x {
						sum += v / float64(len(x))
					}
					return sum
				}
				// A fall that is off by dg changes the energy by dg over the height fallen;
				// speeds of rough points add their noise.
				fallen := mean(highTop) - mean(highEnds)
				parabola, ok := signal.LeastSquares(rows, ups)
				if !ok {
					t.Fatalf("jump %d: no parabola", i+1)
				}
				speed := sc.MetresPerPx() * max(0.3, parabola.Noise) * s.RateHz / math.Sqrt2 * trace.GravityMS2 * (toS - fromS) / 2
				// Smoothed samples are not independent: there are two to a cycle of the cut-off.
				apart := max(1, s.RateHz/(2*s.CutoffHz))
				sd := math.Hypot(j.FallMS2.SD*fallen, speed*math.Sqrt(apart/float64(len(ends))))
				if d := mean(top) - mean(ends); math.Abs(d) > stats.Normal95*sd {
					t.Errorf("jump %d: the energy changes by %.2f ± %.2f J/kg in the air", i+1, d, sd)
				}
				for _, v := range []struct {
					name string
					got  stats.Estimate
					want float64
					aim  float64
				}{
					{"flight", stats.Estimate{Value: j.FlightS, SD: sdOf(j.FlightInterval95S)}, want.FlightS, 1 / s.RateHz},
					{"height by flight time", stats.Estimate{Value: j.HeightFromFlightM, SD: sdOf(j.HeightFromFlightInterval95M)},
						measure.JumpHeightM(want.FlightS), 0.02},
					{"rise", stats.Estimate{Value: j.RiseM, SD: sdOf(j.RiseInterval95M)}, want.RiseM, 0.02},
					{"take-off", j.TakeoffS, *want.Takeoff, 1 / s.RateHz},
					{"contact", j.ContactS, *want.Touchdown, 1 / s.RateHz},
				} {
					if math.Abs(v.got.Value-v.want) > v.aim || !holds(v.got, v.want) {
						t.Errorf("jump %d: %s %.4f ± %.4f, true %.4f", i+1, v.name, v.got.Value, v.got.SD, v.want)
					}
				}
			}
		})
	}
}

// The centre of mass of tracked clips within 2 cm in the picture, the support point
// within 8 % of the foot in slow parts, and most of both inside their intervals. The
// table of masses is the truth's own, so that only the tracking is at fault.
func TestTrackedMassAndSupport(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"slow_30", "fast_30", "jump", "left_jump"} {
		t.Run(name, func(t *testing.T) {
			truth := loadBodyTruth(t, name)
			mpp := truth.Camera.Distance / truth.Camera.Focal
			a := analyze(t, loadTracked(t, name), Options{})
			s := a.series
			const massWanderLegs = 0.01 // what measure takes for an error that stays in a position
			for _, table := range []body.MassModel{truthMasses(), body.DeLevaMean()} {
				c := massCentreOf(s, a.reps, table)
				var sum, n, inside float64
				for _, f := range truth.Frames {
					i := s.Index(f.T)
					x := truth.Camera.Principal[0] + s.Facing.Sign()*(f.ComFwd-cameraForwardM)/mpp
					y := truth.Camera.Principal[1] - (f.ComUp-truth.Camera.Height)/mpp
					dx, dy := c.Path.X[i]-x, c.Path.Y[i]-y
					sum, n = sum+math.Hypot(dx, dy)*mpp, n+1
					sd := math.Sqrt(sq(c.Path.SDPx[i]) + sq(c.TableSDPx[i]) + sq(massWanderLegs*s.LegPx))
					for _, d := range []float64{dx, dy} {
						if math.Abs(d) <= stats.Normal95*sd {
							inside += 0.5
						}
					}
				}
				t.Logf("%s: %.1f mm off, %.0f %% inside", table.Name, 1000*sum/n, 100*inside/n)
				if !(sum/n < 0.02) || inside < 0.9*n {
					t.Errorf("%s: %.1f mm off, %.0f %% inside", table.Name, 1000*sum/n, 100*inside/n)
				}
			}
			if name == "slow_30" {
				checkSupportPoint(t, truth, a, mpp)
			}
		})
	}
}
