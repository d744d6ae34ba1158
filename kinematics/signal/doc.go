// Package signal holds what is done to plain courses of numbers: smoothing them without
// shifting an event in time, carrying them to a uniform time base, medians and quantiles,
// peaks and what filter and frame rate take from them, and fits of movements from rest to
// rest. It knows nothing of bodies.
//
// A course is a slice of float64, one value a sample; a value that is missing is NaN. No
// function changes its input.
package signal
