package pose

import "testing"

// A second one who is found in one look alone is the athlete found twice, as behind a plate; one who stays is a person.
func TestCrowd(t *testing.T) {
	for _, tt := range []struct {
		looks []int
		want  int
	}{
		{nil, 0},
		{[]int{0, 1, 1, 0}, 1},
		{[]int{1, 1, 2, 1, 1, 2, 0}, 1},
		{[]int{1, 2, 2, 1}, 2},
		{[]int{2, 2, 2}, 2},
		{[]int{0, 2, 0, 3, 2}, 2},
	} {
		var c Crowd
		for _, n := range tt.looks {
			c.Look(n)
		}
		if c.Most != tt.want {
			t.Errorf("%v: %d people, want %d", tt.looks, c.Most, tt.want)
		}
	}
}
