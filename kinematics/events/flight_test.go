package events

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
)

// A flight is both feet off the floor and hips that fall as a body in the air does.
func TestFindFlights(t *testing.T) {
	jump := flown(1, 1.5)
	lifted := func(from, to float64) func(float64) float64 {
		return func(t float64) float64 {
			if t > from && t < to {
				return 0.2
			}
			return 0
		}
	}
	for _, c := range []struct {
		name           string
		hip, lift      func(t float64) float64
		found, doubted int
	}{
		{"standing", standingStill, onTheFloor, 0, 0},
		{"a jump", over(standingStill, jump), jump, 1, 0},
		{"two jumps", over(over(standingStill, jump), flown(2, 2.4)), over(jump, flown(2, 2.4)), 2, 0},
		{"hanging on a bar", standingStill, lifted(1, 1.5), 0, 1},
		{"a bent body that falls", over(func(float64) float64 { return 0.6 }, jump), jump, 0, 0},
		{"a jump, and hanging on a bar twice", over(standingStill, jump), func(t float64) float64 {
			return max(jump(t), lifted(2, 2.5)(t), lifted(3, 3.5)(t))
		}, 0, 3},
		{"a hop of three frames", over(standingStill, flown(1, 1.05)), lifted(1, 1.05), 0, 0},
		{"off the floor for too long", standingStill, lifted(0.5, 2.5), 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			found, doubted := FindFlights(handTrace(60, 4, c.hip, c.lift))
			if len(found) != c.found || len(doubted) != c.doubted {
				t.Fatalf("found %v, doubted %v, want %d and %d", found, doubted, c.found, c.doubted)
			}
			if c.found > 0 && (math.Abs(found[0].FromS-1) > 0.03 || math.Abs(found[0].ToS-1.5) > 0.03) {
				t.Errorf("in the air from %.3f to %.3f s, want 1 to 1.5", found[0].FromS, found[0].ToS)
			}
		})
	}
}

// Toes that the picture's edge cuts off shake while they stand and hardly seem to leave the floor: where the hips are
// higher than any standing body brings them, and fall, the body flies all the same. One who is only tall does not, nor
// one whose picture moves up with the phone.
func TestFindFlightsCutOffToes(t *testing.T) {
	jump := flown(1, 1.4)
	for _, c := range []struct {
		name      string
		hip, lift func(t float64) float64
		found     int
	}{
		{"a jump", over(func(float64) float64 { return 1.08 }, jump), jump, 1},
		{"hips that stay low", over(func(float64) float64 { return 0.9 }, jump), jump, 0},
		{"a tall one", func(float64) float64 { return 1.3 }, onTheFloor, 0},
		{"a phone that is lifted", func(t float64) float64 { return 1.08 + max(0, t-3.4) }, func(t float64) float64 {
			return max(0, t-3.4)
		}, 0},
	} {
		tr := handTrace(60, 4, c.hip, c.lift)
		for i, at := range tr.TimeS {
			for side := range 2 {
				up := max(0, c.lift(at)-0.165)
				tr.Raw[side][body.Toe].Y[i] = 900 - 100*up
				if up == 0 {
					tr.Raw[side][body.Toe].Y[i] += 6 * math.Sin(float64(i))
				}
			}
		}
		tr.Quick = tr.Raw
		found, _ := FindFlights(tr)
		if len(found) != c.found {
			t.Errorf("%s: found %v, want %d", c.name, found, c.found)
		}
		if len(found) > 0 && (math.Abs(found[0].FromS-1) > 0.08 || math.Abs(found[0].ToS-1.4) > 0.08) {
			t.Errorf("%s: in the air from %.3f to %.3f s, want 1 to 1.4", c.name, found[0].FromS, found[0].ToS)
		}
	}
}

// A leg that is filled in all the time that it is off the floor was not seen to fly; frames that are missing now and
// then, as in a clip of a variable rate, hide no flight.
func TestFindFlightsFilledIn(t *testing.T) {
	jump := flown(1, 1.5)
	for _, c := range []struct {
		name   string
		filled func(i int, at float64) bool
		found  int
	}{
		{"three frames of four", func(i int, at float64) bool { return i%4 > 0 }, 1},
		{"all of the flight", func(_ int, at float64) bool { return at > 0.95 && at < 1.55 }, 0},
	} {
		tr := handTrace(60, 4, over(standingStill, jump), jump)
		for i, at := range tr.TimeS {
			tr.Filled[i] = c.filled(i, at)
		}
		if found, doubted := FindFlights(tr); len(found) != c.found || len(doubted) != 0 {
			t.Errorf("%s: found %v, doubted %v", c.name, found, doubted)
		}
	}
}

// Feet that nobody sees say nothing.
func TestFindFlightsWithoutFeet(t *testing.T) {
	tr := handTrace(60, 2, standingStill, flown(1, 1.5))
	for side := range 2 {
		for _, k := range []body.Landmark{body.Heel, body.Toe} {
			for i := range tr.TimeS {
				tr.Quick[side][k].Y[i] = math.NaN()
			}
		}
	}
	if found, doubted := FindFlights(tr); found != nil || doubted != nil {
		t.Errorf("found %v, doubted %v", found, doubted)
	}
}

// Hands that stay where they are while the body rises and sinks hold on to something; in a jump they go along.
func TestNoFlightWhileHandsHold(t *testing.T) {
	jump := flown(1, 1.5)
	for _, c := range []struct {
		name    string
		up      float64 // of the hand over the shoulder that stands, in leg lengths
		along   float64 // part of the way that the hands go along
		flights int
	}{
		{"a pull-up", 0.5, 0, 0},
		{"a jump with the arms up", 0.5, 1, 1},
		{"a jump with hands that stay low", -0.5, 0, 1},
	} {
		tr := handTrace(60, 4, over(standingStill, jump), jump)
		near := &tr.Quick[tr.NearSide]
		for i, at := range tr.TimeS {
			near[body.Shoulder].Y[i] = 740 - 100*jump(at)
			near[body.Wrist].Y[i] = 740 - 100*(c.up+c.along*jump(at))
		}
		if found, doubted := FindFlights(tr); len(found) != c.flights || len(doubted) > 0 {
			t.Errorf("%s: %v, doubted %v", c.name, found, doubted)
		}
	}
}
