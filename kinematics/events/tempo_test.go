package events

import "testing"

func TestSetTempos(t *testing.T) {
	slow := RepTimes{Number: 1, DescentS: 2, PeakDescentSpeed: 0.5}
	fast := RepTimes{Number: 2, DescentS: 0.5, PeakDescentSpeed: 1.5}
	drop := RepTimes{Number: 2, DescentS: 1.2, PeakDescentSpeed: 1.5}
	jump := RepTimes{Number: 3, DescentS: 0.5, FlightS: 0.4}
	cut := RepTimes{Number: 3, DescentS: 0.4, Partial: true, PartialWhy: "the clip begins inside it"}
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
		{"one that is cut is like the whole ones", []RepTimes{slow, slow, cut}, TempoUnknown, nil, []Tempo{TempoSlow, TempoSlow, TempoSlow}, TempoSlow},
		{"one that is cut, alone", []RepTimes{cut}, TempoUnknown, nil, []Tempo{TempoFast}, TempoFast},
		{"the coach's for all", []RepTimes{slow, fast}, TempoFast, nil, []Tempo{TempoFast, TempoFast}, TempoFast},
		{"the coach's for a number", []RepTimes{slow, fast}, TempoFast, map[int]Tempo{2: TempoSlow}, []Tempo{TempoFast, TempoSlow}, TempoFast},
		{"the coach's for the rep itself", []RepTimes{given}, TempoFast, map[int]Tempo{4: TempoSlow}, []Tempo{TempoJump}, TempoJump},
		{"a flight asks for the jump's smoothing", []RepTimes{jump}, TempoSlow, nil, []Tempo{TempoSlow}, TempoJump},
	} {
		SetTempos(c.reps, c.all, c.of)
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
