// Package motion reads an analysis at any time of its movement: where a point is in the picture of that
// moment, an angle, the phase, the weight on the foot; and opens the clip that it is of.
package motion
