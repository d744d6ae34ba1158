package kinematics

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// plateRateHz is the rate of the stored force records, and plateEmptyN the force below which nobody is on the
// plates: their noise stays under 6 N.
const (
	plateRateHz = 500.0
	plateEmptyN = 20.0
)

// forceJump is a jump as two force plates felt it. Times are seconds from the start of the record.
type forceJump struct {
	weightN            float64
	takeoffS, contactS float64
	takeoffMS          float64   // upward velocity at take-off by impulse
	centreM            []float64 // how far the centre of mass is over its place at the start; every 2 ms
}

// loadForceJump reads a record of kinematics/testdata/force (source and licence stand in the folder's README) and
// integrates it: the force beyond the weight over the mass is the acceleration of the centre of mass
// (Linthorne 2001, Analysis of standing vertical jumps using a force platform, Am. J. Phys. 69, 1198; from memory).
func loadForceJump(t *testing.T, name string) *forceJump {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "force", name+".txt"))
	if err != nil {
		t.Fatal(err)
	}
	var force []float64
	for _, line := range strings.Split(strings.TrimSpace(string(b)), "\n")[1:] {
		var left, right float64
		if _, err := fmt.Sscan(line, &left, &right); err != nil {
			t.Fatalf("row %d: %v", len(force)+1, err)
		}
		force = append(force, left+right)
	}
	j := &forceJump{}
	const quiet = 300
	for _, f := range force[100 : 100+quiet] {
		j.weightN += f / quiet
	}
	from, to := 0, 0
	for i, f := range force {
		if f < plateEmptyN {
			if from == 0 {
				from = i
			}
			to = i + 1
		}
	}
	j.takeoffS, j.contactS = float64(from)/plateRateHz, float64(to)/plateRateHz
	mass := j.weightN / trace.GravityMS2
	speed, height := 0.0, 0.0
	for i, f := range force {
		if f < plateEmptyN {
			f = 0
		}
		if i == from {
			j.takeoffMS = speed
		}
		speed += (f - j.weightN) / mass / plateRateHz
		height += speed / plateRateHz
		j.centreM = append(j.centreM, height)
	}
	return j
}

func (j *forceJump) heightByImpulseM() float64 {
	return j.takeoffMS * j.takeoffMS / (2 * trace.GravityMS2)
}

func (j *forceJump) centreAt(timeS float64) float64 {
	x := max(0, min(timeS*plateRateHz, float64(len(j.centreM)-2)))
	i := int(x)
	return j.centreM[i] + (x-float64(i))*(j.centreM[i+1]-j.centreM[i])
}

// startS returns when the record begins in the clip that was made of it.
func (j *forceJump) startS(c *simClip) float64 {
	return c.endS - restS - float64(len(j.centreM))/plateRateHz
}

// restS is how long a body stands after the record's end.
const restS = 0.5

// Flight time and impulse are two roads to the height of a jump. The countermovement jump lands as tall as it took
// off and reads the same on both; the squat jump lands folded and reads 1 to 3 cm too high by its flight.
func TestJumpHeightOfForcePlates(t *testing.T) {
	tests := []struct {
		name                      string
		weightN                   float64
		flightCm, impulseCm       float64
		flightCmTol, impulseCmTol float64
		moreLowest, moreMost      float64
	}{
		{"countermovement", 663, 32.0, 32.1, 0.3, 0.4, -0.5, 0.5},
		{"squat_jump", 662, 27.2, 25.8, 0.3, 1.0, 1, 3},
	}
	for _, tt := range tests {
		j := loadForceJump(t, tt.name)
		flight, impulse := 100*measure.JumpHeightM(j.contactS-j.takeoffS), 100*j.heightByImpulseM()
		t.Logf("%s: %.0f N, %.1f cm by flight, %.1f cm by impulse", tt.name, j.weightN, flight, impulse)
		if math.Abs(j.weightN-tt.weightN) > 2 || math.Abs(flight-tt.flightCm) > tt.flightCmTol ||
			math.Abs(impulse-tt.impulseCm) > tt.impulseCmTol {
			t.Errorf("%s: %.0f N, %.1f cm by flight, %.1f cm by impulse", tt.name, j.weightN, flight, impulse)
		}
		if more := flight - impulse; more < tt.moreLowest || more > tt.moreMost {
			t.Errorf("%s: %.1f cm more by flight than by impulse", tt.name, more)
		}
	}
}

// clip has an athlete's centre of mass go the way that the plates felt: from a stand, or out of a squat of which
// the record begins, with the feet on the floor until take-off and again from contact.
func (j *forceJump) clip(a *simAthlete) *simClip {
	model := body.DeLevaMean()
	centre := func(p simPose) float64 {
		f := a.figure(p, 0)
		var up float64
		for _, s := range model.Segments {
			up += s.Mass * s.Sides() * (f[s.From].Up + s.Centre*(f[s.To].Up-f[s.From].Up))
		}
		return a.legM * up / model.TotalMass()
	}
	low := simPose{a.stand.shank + 28, a.stand.thigh + 80, a.stand.trunk + 40, 0}
	tall := centre(a.stand)
	// pose returns the position with the given pitch whose centre of mass is up metres over that of standing.
	pose := func(up, pitchDeg float64) (simPose, float64) {
		lo, hi := -0.1, 1.3
		for range 40 {
			mid := (lo + hi) / 2
			p := a.stand.toward(low, mid)
			p.pitch = pitchDeg
			if centre(p)-tall > up {
				lo = mid
			} else {
				hi = mid
			}
		}
		p := a.stand.toward(low, lo)
		p.pitch = pitchDeg
		return p, max(0, lo)
	}
	const toes = -50.0
	onToes := a.stand
	onToes.pitch = toes
	tiptoe := centre(onToes) - tall
	takeoff, contact := int(j.takeoffS*plateRateHz), int(j.contactS*plateRateHz)
	bottomAt := 0
	for i, c := range j.centreM[:takeoff] {
		if c < j.centreM[bottomAt] {
			bottomAt = i
		}
	}
	bottomS, end := float64(bottomAt)/plateRateHz, float64(len(j.centreM))/plateRateHz
	// The record's own zero is its first row. The body goes down before that, so far that it is on tiptoe with legs
	// that still stretch at take-off.
	const downS = 1.5
	startUp := tiptoe - j.takeoffMS*a.gatherS - j.centreAt(j.takeoffS)
	rise := func(t float64) float64 { return startUp + j.centreAt(t) }
	offUp, downUp := rise(j.takeoffS), rise(j.contactS)
	pitchAt := func(up float64) float64 { return toes * signal.MinJerk((up+0.12)/(offUp+0.12)) }
	landed := 0.0
	for i := contact; i < len(j.centreM) && landed == 0; i++ {
		if t := float64(i) / plateRateHz; rise(t) < -0.12 {
			landed = t
		}
	}
	drift := rise(end) // of the integration; taken off after the landing, so that the end is a stand again
	unbent := tiptoe - offUp
	const leadS = 1.0
	at := func(t float64) simSample {
		t = min(t-leadS-downS, end)
		up, pitch := rise(t), 0.0
		switch {
		case t < -downS:
			return simSample{pose: a.stand}
		case t < 0:
			up = startUp * signal.MinJerk((t+downS)/downS)
		case t > j.takeoffS && t < j.contactS:
			// The legs still stretch as the foot leaves the floor, as those of every simulated jump do.
			u := (t - j.takeoffS) / (j.contactS - j.takeoffS)
			stretched := unbent * (1 - math.Exp(-(t-j.takeoffS)/a.gatherS))
			p, bend := pose(offUp+stretched+(downUp-offUp-unbent)*signal.MinJerk(2*u-1), toes+(pitchAt(downUp)-toes)*u)
			return simSample{pose: p, ballUp: max(0, up-(centre(p)-tall)) / a.legM, bend: bend, speed: 2}
		case t > bottomS && t < landed:
			pitch = pitchAt(up)
		case t >= landed:
			up -= drift * signal.MinJerk((t-landed)/(end-landed))
		}
		p, bend := pose(up, pitch)
		return simSample{pose: p, bend: bend, speed: 1}
	}
	return &simClip{at: at, endS: leadS + downS + end + restS, athlete: a}
}

// The whole way from forces to heights: bodies that move as the plates felt, filmed by the simulated network. The rise
// of the centre of mass agrees with the impulse within its interval. The flight of these simulated
// bodies reads some 20 ms longer than that of the plates, which is 2 to 3 cm of height.
func TestForcePlateJumpsFilmed(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it simulates sixteen clips")
	}
	t.Parallel()
	const athletes, rateHz = 8, 60
	var clips, flightHeld, riseHeld int
	var flightCm, riseCm float64
	within := func(v float64, interval [2]float64) int {
		if interval[0] <= v && v <= interval[1] {
			return 1
		}
		return 0
	}
	for _, name := range []string{"countermovement", "squat_jump"} {
		j := loadForceJump(t, name)
		byFlight, byImpulse := measure.JumpHeightM(j.contactS-j.takeoffS), j.heightByImpulseM()
		for seed := range uint64(athletes) {
			a := newSimAthlete(seed)
			c := j.clip(a)
			got := analyze(t, c.film(rateHz, false), Options{})
			scale := measure.ScaleOptions{MarkPx: a.legPx, MarkM: a.legM}
			MeasureBody(got.series, got.reps, BodyOptions{Masses: body.DeLevaMean(), Scale: scale})
			if len(got.reps) != 1 || got.reps[0].Jump == nil {
				t.Errorf("%s, athlete %d: %d reps, no jump", name, seed, len(got.reps))
				continue
			}
			jump := got.reps[0].Jump
			takeoff, contact := jump.TakeoffS.Value-j.startS(c)-j.takeoffS, jump.ContactS.Value-j.startS(c)-j.contactS
			t.Logf("%s, athlete %d: take-off %+.0f ms, contact %+.0f; %.1f cm by flight (force %.1f), rise %.1f (impulse %.1f)",
				name, seed, 1000*takeoff, 1000*contact, 100*jump.HeightFromFlightM, 100*byFlight, 100*jump.RiseM, 100*byImpulse)
			if math.Abs(takeoff) > 0.025 || math.Abs(contact) > 0.03 {
				t.Errorf("%s, athlete %d: take-off %+.3f s off, contact %+.3f", name, seed, takeoff, contact)
			}
			clips++
			flightHeld += within(byFlight, jump.HeightFromFlightInterval95M)
			riseHeld += within(byImpulse, jump.RiseInterval95M)
			flightCm += 100 * (jump.HeightFromFlightM - byFlight)
			riseCm += 100 * (jump.RiseM - byImpulse)
		}
	}
	n := float64(clips)
	said := fmt.Sprintf("height by flight %+.1f cm off, interval holds %d of %d; rise %+.1f cm off, %d",
		flightCm/n, flightHeld, clips, riseCm/n, riseHeld)
	t.Log(said)
	if clips != 2*athletes || math.Abs(flightCm/n) > 3 || math.Abs(riseCm/n) > 1.5 || flightHeld < 11 || riseHeld < 15 {
		t.Error(said)
	}
}
