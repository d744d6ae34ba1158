package main

import (
	"math"
	"path/filepath"
	"testing"
)

func readTestTruth(t *testing.T, name string) *truth {
	t.Helper()
	tr, err := readTruth(filepath.Join("..", "..", "..", clipFolder, name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// The truth of every shipped clip can be read.
func TestReadTruth(t *testing.T) {
	names, err := clipNames(nil, filepath.Join("..", "..", "..", clipFolder))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		if tr := readTestTruth(t, name); !(tr.HeightM > 1) {
			t.Errorf("%s: %.2f m high", name, tr.HeightM)
		}
	}
}

func TestOutside(t *testing.T) {
	for _, c := range []struct{ v, from, to, want float64 }{
		{1, 2, 3, -1}, {2, 2, 3, 0}, {2.5, 2, 3, 0}, {4, 2, 3, 1}, {math.NaN(), 2, 3, math.NaN()},
	} {
		if got := outside(c.v, c.from, c.to); got != c.want && !(math.IsNaN(got) && math.IsNaN(c.want)) {
			t.Errorf("%g is %g outside %g to %g, want %g", c.v, got, c.from, c.to, c.want)
		}
	}
}

func TestMeasureCounts(t *testing.T) {
	m := measured{aim: 1}
	for _, e := range []float64{0.5, -1.5, math.NaN()} {
		m.add(e)
	}
	if m.missing != 1 || len(m.errs) != 2 || m.worst() != 1.5 {
		t.Errorf("%+v, worst %g", m, m.worst())
	}
	in := []bool{m.holds(1, 2, 1.5), m.holds(1, 2, 2.5), m.holds(math.NaN(), 2, 1)}
	if !in[0] || in[1] || in[2] || m.inside != 1 || m.intervals != 2 {
		t.Errorf("%v, %d of %d", in, m.inside, m.intervals)
	}
}

// The hold of a squat is a plateau that its ends only widen a little; that of a landing
// begins well before the movement is over.
func TestPlateaus(t *testing.T) {
	for _, c := range []struct {
		clip             string
		least, mostEarly float64 // seconds by which a plateau begins before its instant
	}{{"fast", 0, 0.06}, {"slow", 0.1, 0.4}} {
		tr := readTestTruth(t, c.clip)
		for i := range tr.Reps {
			from, to := tr.plateau(i)
			softFrom, softTo := tr.within(from, to)
			if early := from - softFrom; early < c.least || early > c.mostEarly || softTo < to {
				t.Errorf("%s, rep %d: %.3f to %.3f s widens to %.3f to %.3f", c.clip, i+1, from, to, softFrom, softTo)
			}
		}
	}
	tr := readTestTruth(t, "jump")
	lands := tr.Reps[0].LandBottom - tr.originS()
	if from, to := tr.within(lands, tr.Reps[1].PushStart-tr.originS()); lands-from < 0.05 ||
		lands-from > 0.15 || to-from > 1.2 {
		t.Errorf("a landing bottom at %.3f s lasts from %.3f to %.3f s", lands, from, to)
	}
}

// Standing still nothing is accelerated; in the air everything is, at g.
func TestTrueAcceleration(t *testing.T) {
	tr := readTestTruth(t, "jump")
	flying := 0
	for i := range tr.Frames {
		before, after := max(0, i-4), min(len(tr.Frames)-1, i+4)
		if tr.Frames[before].Phase == "flight" && tr.Frames[after].Phase == "flight" {
			flying++
			if up, forward := tr.acceleration(i); math.Abs(up+gravityMS2) > 0.1 || math.Abs(forward) > 0.1 {
				t.Errorf("at %.2f s %.2f up and %.2f forward m/s^2 in the air", tr.Frames[i].TimeS, up, forward)
			}
		}
	}
	if up, forward := tr.acceleration(20); math.Abs(up) > 0.05 || math.Abs(forward) > 0.05 || flying < 10 {
		t.Errorf("standing: %.3f and %.3f m/s^2; %d frames in the air", up, forward, flying)
	}
	if squats := readTestTruth(t, "fast"); !squats.calmAt(0) || squats.calmAt(int(60*1.0)) {
		t.Error("standing is not calm, or dropping is")
	}
}
