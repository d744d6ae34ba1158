package models

import (
	"errors"
	"slices"
	"strings"
	"testing"
)

func TestParts(t *testing.T) {
	for name, want := range map[string][]string{
		"heavy": {"heavy"}, "heavy+thunder": {"heavy", "thunder"}, "": {""}, "a+b+c": {"a", "b+c"}, "a+": {"a", ""},
	} {
		if got := Parts(name); !slices.Equal(got, want) {
			t.Errorf("%q: got %q, want %q", name, got, want)
		}
	}
}

// A pair is known by both its networks, and by which of them leads.
func TestSumOfAPair(t *testing.T) {
	heavy, err := SHA256Of("heavy")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]string{heavy: "heavy"}
	for _, name := range []string{"heavy+thunder", "thunder+heavy", "full+thunder"} {
		sum, err := SHA256Of(name)
		if err != nil || !validSum(sum) {
			t.Errorf("%s: got %q, %v", name, sum, err)
		}
		if other, known := seen[sum]; known {
			t.Errorf("%s and %s have the same sum", name, other)
		}
		seen[sum] = name
	}
	for _, name := range []string{"heavy+", "+heavy", "heavy+none", "none+heavy", "heavy+thunder+full"} {
		if sum, err := SHA256Of(name); !errors.Is(err, ErrUnknown) {
			t.Errorf("%s: got %q, %v, want %v", name, sum, err, ErrUnknown)
		}
	}
	if got := SumOf(strings.Repeat("0", 64)); got != strings.Repeat("0", 64) {
		t.Errorf("a network by itself has the sum %q", got)
	}
}
