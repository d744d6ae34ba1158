package known

import (
	"math"
	"testing"
)

type sample struct {
	Name  string
	Ends  [2]float64
	Below struct{ Deg float64 }
	Count int
	List  []float64
	First *string
}

func TestKnown(t *testing.T) {
	at := "fast"
	for _, tt := range []struct {
		name string
		make func(*sample)
		want bool
	}{
		{"nothing", func(*sample) {}, false},
		{"a count and a name", func(s *sample) { s.Name, s.Count = "shoulder", 3 }, false},
		{"a number", func(s *sample) { s.Below.Deg = 0 }, true},
		{"an end", func(s *sample) { s.Ends[1] = 2 }, true},
		{"a series without a value", func(s *sample) { s.List = []float64{math.NaN()} }, false},
		{"a series", func(s *sample) { s.List = []float64{math.NaN(), 1} }, true},
		{"a name that is pointed to", func(s *sample) { s.First = &at }, true},
	} {
		var s sample
		Forget(&s)
		tt.make(&s)
		if In(&s) != tt.want {
			t.Errorf("%s: known %v", tt.name, In(&s))
		}
	}
}
