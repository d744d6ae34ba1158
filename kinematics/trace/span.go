package trace

// Span is a stretch of time of a clip, in seconds.
type Span struct {
	FromS float64 `json:"from_s"`
	ToS   float64 `json:"to_s"`
}

// DurationS returns the length of the span in seconds.
func (s Span) DurationS() float64 { return s.ToS - s.FromS }

// Contains says whether the time lies in the span, ends included.
func (s Span) Contains(timeS float64) bool { return timeS >= s.FromS && timeS <= s.ToS }

// Parts returns those parts of some spans that lie within another.
func (s Span) Parts(of []Span) (parts []Span) {
	for _, o := range of {
		if p := (Span{FromS: max(s.FromS, o.FromS), ToS: min(s.ToS, o.ToS)}); p.FromS < p.ToS {
			parts = append(parts, p)
		}
	}
	return parts
}
