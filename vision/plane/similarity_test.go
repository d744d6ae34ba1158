package plane

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestSimilarity(t *testing.T) {
	any := func(t *rapid.T, name string) Similarity {
		return Similarity{
			Scale: rapid.Float64Range(0.5, 2).Draw(t, name+" scale"), AngleDeg: rapid.Float64Range(-179, 179).Draw(t,
				name+" angle"),
			DXPx: rapid.Float64Range(-1e3, 1e3).Draw(t, name+" dx"), DYPx: rapid.Float64Range(-1e3, 1e3).Draw(t, name+" dy"),
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		p := XY{rapid.Float64Range(-2e3, 2e3).Draw(t, "x"), rapid.Float64Range(-2e3, 2e3).Draw(t, "y")}
		s, u := any(t, "first"), any(t, "second")
		same := func(what string, got, want XY) {
			if math.Hypot(got.X-want.X, got.Y-want.Y) > 1e-8 {
				t.Fatalf("%s: got %v, want %v", what, got, want)
			}
		}
		same("there and back", s.Inverse().Apply(s.Apply(p)), p)
		same("one after the other", s.Then(u).Apply(p), u.Apply(s.Apply(p)))
		same("nothing", Similarity{}.Apply(p), p)
		same("nothing, back", Similarity{}.Inverse().Apply(p), p)
	})
	// A quarter turn clockwise leads right to down.
	q := Similarity{Scale: 2, AngleDeg: 90, DXPx: 5}.Apply(XY{1, 0})
	if math.Hypot(q.X-5, q.Y-2) > 1e-12 {
		t.Errorf("quarter turn: got %v, want (5, 2)", q)
	}
}
