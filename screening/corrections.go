package screening

// Corrections are what a coach changed by hand in a clip. They are kept apart from
// what was tracked: measuring again with the zero value gives the first result.
type Corrections struct {
	Points []PointCorrection `json:"points,omitempty"`
	Reps   []RepCorrection   `json:"reps,omitempty"`
	// VerticalDeg is by how much the picture is turned clockwise against the true
	// vertical; nil: as found.
	VerticalDeg *float64 `json:"vertical_deg,omitempty"`
	// Floor is a line along the floor under the athlete's feet; nil: as found.
	Floor *FloorLine `json:"floor,omitempty"`
	// Facing is left, right, or empty: as found.
	Facing string `json:"facing,omitempty"`
}

// PointCorrection puts one point of the body where the coach saw it: pixels of the
// upright frame itself.
type PointCorrection struct {
	Frame int     `json:"frame"` // number of the frame, from 0
	Point string  `json:"point"` // ear, shoulder, elbow, wrist, hip, knee, ankle, heel, toe
	Side  string  `json:"side"`  // near, left or right
	XPx   float64 `json:"x_px"`
	YPx   float64 `json:"y_px"`
}

// RepCorrection changes one rep, the one that lasts at clip time AtS. What is nil
// stays as found.
type RepCorrection struct {
	AtS     float64  `json:"at_s"`
	Tempo   string   `json:"tempo,omitempty"` // slow, fast or jump
	LeftOut bool     `json:"left_out,omitempty"`
	StartS  *float64 `json:"start_s,omitempty"`
	BottomS *float64 `json:"bottom_s,omitempty"`
	EndS    *float64 `json:"end_s,omitempty"`
}

// FloorLine is a line in the picture, from one place to another, pixels.
type FloorLine struct {
	X1Px float64 `json:"x1_px"`
	Y1Px float64 `json:"y1_px"`
	X2Px float64 `json:"x2_px"`
	Y2Px float64 `json:"y2_px"`
}

// Empty says whether nothing was corrected.
func (c *Corrections) Empty() bool {
	return c == nil || len(c.Points) == 0 && len(c.Reps) == 0 && c.VerticalDeg == nil && c.Floor == nil && c.Facing == ""
}
