package device

import (
	"math"
	"slices"
	"testing"

	_ "holdfast/models/testruntime"
)

// The library of the tests has no part for a graphics card: what is asked for falls back to the processor, and says so.
func TestUseFallsBack(t *testing.T) {
	t.Cleanup(func() { state.used = "" })
	for _, name := range Names() {
		used, err := Use(name)
		if err != nil || used != CPU || Used() != CPU {
			t.Errorf("%s: %q and %q are used, %v", name, used, Used(), err)
		}
	}
	if !slices.Equal(Names(), []string{"auto", "cpu", "cuda", "coreml", "directml", "openvino"}) {
		t.Errorf("what can be asked for: %v", Names())
	}
}

// What a device says counts only where it is what the processor says.
func TestTrial(t *testing.T) {
	if err := Start(); err != nil {
		t.Fatal(err)
	}
	want, err := trial(CPU)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := trial(CPU); err != nil || !alike(again, want) {
		t.Errorf("the processor is not like itself: %v", err)
	}
	spread := float64(slices.Max(want)) - float64(slices.Min(want))
	for name, change := range map[string]func(float32) float32{
		"off by a fiftieth": func(v float32) float32 { return v + float32(spread/50) },
		"no number":         func(float32) float32 { return float32(math.NaN()) },
		"all alike":         func(float32) float32 { return 0 },
	} {
		got := slices.Clone(want)
		for i, v := range got {
			got[i] = change(v)
		}
		if alike(got, want) {
			t.Errorf("%s passes", name)
		}
	}
	if alike(nil, want) || alike(nil, nil) {
		t.Error("nothing passes")
	}
}
