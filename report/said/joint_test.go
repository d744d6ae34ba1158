package said

import (
	"slices"
	"testing"
)

// However many joints count, none is lost, and the knee comes first of the leg's.
func TestLegsFirst(t *testing.T) {
	for _, tt := range []struct{ of, want []Joint }{
		{[]Joint{Ankle, Knee, Hip}, []Joint{Knee, Hip, Ankle}},
		{[]Joint{Ankle, Knee, Hip, Shoulder, Elbow}, []Joint{Knee, Hip, Ankle, Shoulder, Elbow}},
		{[]Joint{Shoulder, Elbow}, []Joint{Shoulder, Elbow}},
	} {
		if got := LegsFirst(tt.of); !slices.Equal(got, tt.want) {
			t.Errorf("%v: %v, want %v", tt.of, got, tt.want)
		}
	}
}
