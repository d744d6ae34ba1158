package kinematics

import "holdfast/kinematics/stats"

// The words of [stats] that the records of this package are written in.
type (
	// Estimate is a number with its standard deviation.
	Estimate = stats.Estimate
	// Change compares one number of the baseline with the same of the challenge.
	Change = stats.Change
	// Verdict says what became of a number.
	Verdict = stats.Verdict
)

// The verdicts.
const (
	Held    = stats.Held
	Lost    = stats.Lost
	Gained  = stats.Gained
	Unclear = stats.Unclear
)

const noise95 = stats.Normal95
