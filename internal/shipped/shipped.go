// Package shipped hands tests of the sums the movements that are shipped.
package shipped

import (
	"holdfast/kinematics/movement"
	"holdfast/movements"
)

// Squat returns the squat.
func Squat() *movement.Movement { return Movement("squat") }

// Squats returns the squat alone, for those who look for several.
func Squats() []*movement.Movement { return []*movement.Movement{Squat()} }

// Movement returns the movement of a key.
func Movement(key string) *movement.Movement {
	m, ok := movements.Known().Of(key)
	if !ok {
		panic("there is no movement " + key)
	}
	return m
}
