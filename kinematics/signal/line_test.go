package signal

import "testing"

// The worked example of Anscombe's first set: slope 0.5001, level 3.0001 (Anscombe 1973).
func TestLine(t *testing.T) {
	var l Line
	y := []float64{8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68}
	for i, x := range []float64{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5} {
		l.Add(1, x, y[i])
	}
	slope := l.Slope()
	level := l.Level(slope)
	near(t, "slope", slope, 0.5001, 5e-5)
	near(t, "level", level, 3.0001, 5e-5)
	near(t, "squares left", l.Squares(level, slope), 13.763, 5e-4)
	near(t, "weight", l.Weight(), 11, 0)

	// A point with twice the weight is that point twice.
	var once, twice Line
	for i := range y {
		w := float64(1 + i%2)
		once.Add(w, float64(i), y[i])
		for range 1 + i%2 {
			twice.Add(1, float64(i), y[i])
		}
	}
	near(t, "weighted slope", once.Slope(), twice.Slope(), 1e-12)
	near(t, "weighted level", once.Level(0), twice.Level(0), 1e-12)
	var still Line
	still.Add(1, 2, 3)
	still.Add(1, 2, 5)
	near(t, "no spread", still.Spread(), 0, 0)
}
