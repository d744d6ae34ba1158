package frontal

// Measure numbers what is measured of a rep.
type Measure int

// The measures.
const (
	KneeInLeft Measure = iota
	KneeInRight
	KneeDifference
	WeightShift
	HipTilt
	NumMeasures
)

// Unit is what a measure is counted in, as the documents name it.
type Unit string

// The units.
const (
	Degrees     Unit = "degrees"
	PctOfStance Unit = "% of stance"
)

// row is what is known of a measure beforehand, in its unit: clipSD is the part of the network's error that all reps of
// an athlete share, repSD what differs from rep to rep, occasionSD what differs from one occasion to another, and
// smallest the smallest change that matters.
type row struct {
	name                                string
	unit                                Unit
	clipSD, repSD, occasionSD, smallest float64
}

// rows are the measures. Munro et al. 2012 found a smallest detectable difference of the knee's angle of some 8 degrees
// between days (from memory), which is 1.96 sqrt(2) times 3. clipSD is of rendered clips of four athletes; all else is
// common practice, no source.
var rows = [NumMeasures]row{
	KneeInLeft:     {"knee_in_left", Degrees, 3, 1.5, 3, 5},
	KneeInRight:    {"knee_in_right", Degrees, 3, 1.5, 3, 5},
	KneeDifference: {"knee_difference", Degrees, 2.5, 1.5, 3, 5},
	WeightShift:    {"weight_shift", PctOfStance, 3, 2, 5, 10},
	HipTilt:        {"hip_tilt", Degrees, 1, 0.7, 2, 5},
}

// Smallest returns the smallest change that matters, in the measure's unit.
func (m Measure) Smallest() float64 { return rows[m].smallest }

// String returns the measure's name in snake case.
func (m Measure) String() string {
	if m < 0 || m >= NumMeasures {
		return "unknown"
	}
	return rows[m].name
}

// MarshalText returns the measure's name.
func (m Measure) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText sets the measure of a name; one that nobody knows is NumMeasures.
func (m *Measure) UnmarshalText(name []byte) error {
	for *m = 0; *m < NumMeasures && m.String() != string(name); *m++ {
		continue
	}
	return nil
}

// Unit returns what the measure is counted in.
func (m Measure) Unit() Unit {
	if m < 0 || m >= NumMeasures {
		return ""
	}
	return rows[m].unit
}
