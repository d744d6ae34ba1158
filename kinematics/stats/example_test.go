package stats_test

import (
	"fmt"

	"holdfast/kinematics/stats"
)

// What five fast reps lost of five slow ones, in degrees.
func ExampleCompare() {
	c := stats.Compare(
		stats.Readings{Values: []float64{118.2, 116.9, 119.4, 117.5, 118.0}},
		stats.Readings{Values: []float64{108.4, 104.9, 110.1, 106.6, 107.0}},
		stats.Options{SmallestChange: 5})
	fmt.Printf("%.1f degrees slow, %.1f fast, %.1f lost (%.1f to %.1f): %s\n",
		c.Baseline, c.Challenge, c.Lost, c.Interval95[0], c.Interval95[1], c.Verdict)
	// Output: 118.0 degrees slow, 107.4 fast, 10.6 lost (8.2 to 13.0): lost
}
