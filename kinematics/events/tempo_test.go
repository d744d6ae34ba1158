package events

import (
	"math"
	"slices"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
)

func TestSetTempos(t *testing.T) {
	slow := RepTimes{Number: 1, DescentS: 2, PeakSpeed: 0.5}
	fast := RepTimes{Number: 2, DescentS: 0.5, PeakSpeed: 1.5}
	drop := RepTimes{Number: 2, DescentS: 1.2, PeakSpeed: 1.5}
	jump := RepTimes{Number: 3, DescentS: 0.5, FlightS: 0.4}
	cut := RepTimes{Number: 3, DescentS: 0.4, Partial: true, PartialWhy: notice.New("begins_inside", nil)}
	unseen := RepTimes{Number: 3, DescentS: 0.5, PeakSpeed: math.NaN()}
	nothing := RepTimes{Number: 3, DescentS: math.NaN(), PeakSpeed: math.NaN()}
	given := RepTimes{Number: 4, DescentS: 2, Tempo: TempoJump, TempoGiven: true}
	for _, c := range []struct {
		name    string
		reps    []RepTimes
		all     Tempo
		of      map[int]Tempo
		want    []Tempo
		hardest Tempo
	}{
		{"as found", []RepTimes{slow, fast, jump}, TempoUnknown, nil, []Tempo{TempoSlow, TempoFast, TempoJump}, TempoJump},
		{"a quick fall", []RepTimes{drop}, TempoUnknown, nil, []Tempo{TempoFast}, TempoFast},
		{"one that is cut is like the whole ones", []RepTimes{slow, slow, cut}, TempoUnknown, nil,
			[]Tempo{TempoSlow, TempoSlow, TempoSlow}, TempoSlow},
		{"one whose speed is not known goes by its time", []RepTimes{slow, slow, unseen}, TempoUnknown, nil,
			[]Tempo{TempoSlow, TempoSlow, TempoFast}, TempoFast},
		{"one of which neither is known is like the others", []RepTimes{fast, fast, nothing}, TempoUnknown, nil,
			[]Tempo{TempoFast, TempoFast, TempoFast}, TempoFast},
		{"one that is cut, alone", []RepTimes{cut}, TempoUnknown, nil, []Tempo{TempoFast}, TempoFast},
		{"the coach's for all", []RepTimes{slow, fast}, TempoFast, nil, []Tempo{TempoFast, TempoFast}, TempoFast},
		{"the coach's for a number", []RepTimes{slow, fast}, TempoFast, map[int]Tempo{2: TempoSlow},
			[]Tempo{TempoFast, TempoSlow}, TempoFast},
		{"the coach's for the rep itself", []RepTimes{given}, TempoFast, map[int]Tempo{4: TempoSlow},
			[]Tempo{TempoJump}, TempoJump},
		{"a flight asks for the jump's smoothing", []RepTimes{jump}, TempoSlow, nil, []Tempo{TempoSlow}, TempoJump},
	} {
		SetTempos(c.reps, shipped.Squat().Tempo, c.all, c.of)
		for i := range c.reps {
			if got := c.reps[i].Tempo; got != c.want[i] {
				t.Errorf("%s: rep %d is %v, want %v", c.name, i+1, got, c.want[i])
			}
		}
		if got := HardestTempo(c.reps, c.all); got != c.hardest {
			t.Errorf("%s: the hardest is %v, want %v", c.name, got, c.hardest)
		}
	}
}

// A set is named against itself: reps of one tempo have one name, however near to the bound
// they lie, and two clear groups have two.
func TestTempoOfASet(t *testing.T) {
	set := func(descentsS ...float64) []RepTimes {
		reps := make([]RepTimes, len(descentsS))
		for i, s := range descentsS {
			reps[i] = RepTimes{Number: i + 1, DescentS: s, PeakSpeed: 0.9 / s}
		}
		return reps
	}
	for _, c := range []struct {
		name      string
		descentsS []float64
		want      string // the first letters of the tempos
	}{
		{"slow", []float64{1.5, 1.8, 1.6}, "sss"},
		{"fast", []float64{0.4, 0.5, 0.45}, "fff"},
		{"one tempo about the bound", []float64{0.76, 0.84, 0.79, 0.81, 0.9}, "bbbbb"},
		{"the same a little quicker", []float64{0.74, 0.82, 0.77, 0.79, 0.88}, "bbbbb"},
		{"one that grows tired", []float64{0.6, 0.7, 0.8, 0.95, 1.1}, "bbbbb"},
		{"one tempo clearly beyond", []float64{0.6, 0.62, 0.66, 0.64}, "ffff"},
		{"one tempo clearly before", []float64{1.0, 1.05, 0.98, 1.1}, "ssss"},
		{"two tempos", []float64{1.6, 1.5, 0.5, 0.45}, "ssff"},
		{"two tempos, the slow one near the bound", []float64{0.78, 0.76, 0.4, 0.42}, "ssff"},
		{"two tempos, the quick one near the bound", []float64{1.6, 1.7, 0.84, 0.82}, "ssff"},
		{"two that are both slow", []float64{3, 3.2, 1.4, 1.5}, "ssss"},
		{"one of each", []float64{1.5, 0.5}, "sf"},
		{"two about the bound", []float64{0.75, 0.85}, "bb"},
	} {
		reps := set(c.descentsS...)
		SetTempos(reps, shipped.Squat().Tempo, TempoUnknown, nil)
		got := ""
		for i := range reps {
			got += reps[i].TempoWord()[:1]
			if reps[i].Between && reps[i].Tempo != TempoSlow {
				t.Errorf("%s: rep %d is between and counts as %s", c.name, i+1, reps[i].Tempo)
			}
		}
		if got != c.want {
			t.Errorf("%s: %v are %s, want %s", c.name, c.descentsS, got, c.want)
		}
		said := slices.Clone(reps)
		for i := range said {
			said[i].Tempo, said[i].Between = TempoUnknown, false
		}
		if SetTempos(said, shipped.Squat().Tempo, TempoFast, nil); said[0].TempoWord() != "fast" {
			t.Errorf("%s: the coach says fast, and it is %s", c.name, said[0].TempoWord())
		}
		slices.Reverse(reps)
		for i := range reps {
			reps[i].Tempo, reps[i].Between = TempoUnknown, false
		}
		SetTempos(reps, shipped.Squat().Tempo, TempoUnknown, nil)
		for i := range reps {
			if want := c.want[len(reps)-1-i]; reps[i].TempoWord()[0] != want {
				t.Errorf("%s: reversed, rep %d is %v", c.name, i+1, reps[i].Tempo)
			}
		}
	}
}

// Of hops the time on the floor tells slow from fast; a single one has none.
func TestTempoOfContact(t *testing.T) {
	hop := func(takeoffS, contactS, endS float64) RepTimes {
		return RepTimes{StartS: takeoffS - 0.1, TakeoffS: takeoffS, ContactS: contactS, LandingBottomS: contactS + 0.1,
			EndS: endS, FlightS: contactS - takeoffS, DescentS: math.NaN()}
	}
	row := func(onFloorS float64) []RepTimes {
		var out []RepTimes
		for i := range 4 {
			at := float64(i) * (0.3 + onFloorS)
			r := hop(at, at+0.3, at+0.3+onFloorS/2)
			if i > 0 {
				r.StartS = out[i-1].EndS
			}
			out = append(out, r)
		}
		return out
	}
	how := movement.Tempo{FastS: 0.25, FastSpeed: 1, OfContact: true}
	for want, reps := range map[Tempo][]RepTimes{TempoFast: row(0.18), TempoSlow: row(0.35)} {
		SetTempos(reps, how, TempoUnknown, nil)
		for i, r := range reps {
			if r.Tempo != want || r.Between {
				t.Errorf("hop %d: %s, between %v, want %s", i+1, r.Tempo, r.Between, want)
			}
		}
	}
	if s := onFloorS([]RepTimes{hop(1, 1.3, 2)}, 0); !math.IsNaN(s) {
		t.Errorf("a single hop: %.2f s", s)
	}
}
