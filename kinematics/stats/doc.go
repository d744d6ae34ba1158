// Package stats turns a handful of readings into what can be said of them: a mean with
// its interval, a change with its verdict, the smallest change that a repeated test can
// tell from chance, how two angles share a movement, and whether a number drifts. It knows
// numbers and their units' names alone; what was read, and in which unit, the caller knows.
//
// A missing value is NaN. All numbers of one call are in one unit.
package stats

func sq(x float64) float64 { return x * x }
