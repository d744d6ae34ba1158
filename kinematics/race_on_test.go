//go:build race

package kinematics

// underRace says that the race detector slows the sums down several times; tests
// that count many simulated athletes then count fewer.
const underRace = true
