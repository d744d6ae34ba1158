//go:build !race

package kinematics

const underRace = false
