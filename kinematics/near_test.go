package kinematics

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g (within %g)", what, got, want, tol)
	}
}

func sq(x float64) float64 { return x * x }
