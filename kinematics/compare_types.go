package kinematics

import "holdfast/kinematics/body"

// Verdict says what became of a range of motion.
type Verdict string

// The verdicts, with s the smallest change that matters (5 degrees by default)
// and a 95 % interval about the estimated loss:
//
//	lost     the loss is s or more, and its interval lies wholly above 0
//	gained   the gain is s or more, and its interval lies wholly below 0
//	held     the interval lies wholly inside -s to +s
//	unclear  all else
//
// Where the smallest change that can be told from chance is known and larger than s,
// lost and gained need that much; held does not become easier by it.
//
// So a loss that noise alone could have made is never called lost, and neither
// is one too small to matter. Asking for the whole interval beyond s instead
// would leave most true losses of one and a half times s unclear with the three reps that
// coaches film.
const (
	Held    Verdict = "held"
	Lost    Verdict = "lost"
	Gained  Verdict = "gained"
	Unclear Verdict = "unclear"
)

// Change compares one number of the baseline with the same of the challenge, in the unit
// of what is compared.
type Change struct {
	Baseline  float64 `json:"baseline"`
	Challenge float64 `json:"challenge"`
	// Lost is baseline minus challenge.
	Lost float64 `json:"lost"`
	// Interval95 holds the 95 % interval of Lost: what the athlete usually
	// loses, not only in the reps that were filmed. It joins the spread between
	// reps and the part of the network's error that differs between positions.
	Interval95 [2]float64 `json:"interval95"`
	// RetainedPct is challenge over baseline in per cent.
	RetainedPct float64 `json:"retained_pct"`
	Verdict     Verdict `json:"verdict"`
}

// JointComparison compares one joint in two conditions.
type JointComparison struct {
	ROM    Change
	Bottom Change
	// BaselineROMDeg and ChallengeROMDeg are the means of the two ranges, each with its
	// own interval, see [MeanROM].
	BaselineROMDeg, ChallengeROMDeg Estimate
	// BaselineReps and ChallengeReps count the reps that went into the means.
	BaselineReps, ChallengeReps int
}

// Pair compares two conditions.
type Pair struct {
	Baseline, Challenge Condition
	Joints              [body.NumJoints]JointComparison
}

// Comparison holds every pair of conditions that was compared and, for each joint, the
// easiest condition in which range of motion was lost against the easiest of all (not
// known: in none).
type Comparison struct {
	Pairs     []Pair
	FirstLost [body.NumJoints]Condition
}
