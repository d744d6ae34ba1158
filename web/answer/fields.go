package answer

import "encoding/json"

// OptionalNumber tells a number that is absent from one that is null.
type OptionalNumber struct {
	Sent  bool
	Value *float64
}

func (n *OptionalNumber) UnmarshalJSON(b []byte) error {
	n.Sent = true
	return json.Unmarshal(b, &n.Value)
}

// Change returns what the desk is to make of it; nil: nothing was sent.
func (n *OptionalNumber) Change() **float64 {
	if !n.Sent {
		return nil
	}
	return &n.Value
}

// OrEmpty returns a list that is written as one, also when there is none.
func OrEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
