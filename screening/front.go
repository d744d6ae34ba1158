package screening

import (
	"fmt"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
)

// ErrDifferentViews: some of the clips to compare are filmed from the front, others from the side; it wraps
// ErrCannotMeasure.
var ErrDifferentViews = fmt.Errorf("%w: different views", ErrCannotMeasure)

// beFromFront makes an analysis one of a clip from the front: it holds the legs of both sides, and nothing that only
// the side shows.
func (a *Analysis) beFromFront(s *kinematics.Series) {
	a.View.Front = true
	a.Movement.Joints, a.Movement.Positions = []body.Joint{}, []kinematics.Position{}
	points := pointsOf(s)
	a.Series.PointsPx = map[string]body.Path{}
	for _, k := range []body.Landmark{body.Ear, body.Shoulder} { // where the head is
		a.Series.PointsPx[k.String()] = points[k.String()]
	}
	for side := range 2 {
		for _, k := range []body.Landmark{body.Hip, body.Knee, body.Ankle} {
			a.Series.PointsPx[body.Side(side).String()+"_"+k.String()] = s.InPicture(s.Points[side][k])
		}
	}
	a.withoutBody()
}

// differentViews refuses clips of which some are filmed from the front and others from the side.
func differentViews(analyses []*Analysis) error {
	var front, side *Analysis
	for _, a := range analyses {
		if a.View.Front {
			front = a
		} else {
			side = a
		}
	}
	if front == nil || side == nil {
		return nil
	}
	return &refusal{ErrDifferentViews, notice.List("saw_two_views",
		notice.Params{"front": front.Clip.Name, "side": side.Clip.Name})}
}

// InLandings says that every position was read in a landing, as those of hops are.
func (c *Comparison) InLandings() bool {
	some := false
	for i := range c.Ladder.Rungs {
		for k := range c.Ladder.Rungs[i].Cells {
			if !c.Ladder.Rungs[i].Cells[k].Landing {
				return false
			}
			some = true
		}
	}
	return some
}

// ShownTurn is what the moment is called in which positions are shown: the landing where all are read in one, else the
// movement's own turn.
func (c *Comparison) ShownTurn() string {
	if c.InLandings() {
		return "landing"
	}
	return c.Turn
}

// FromFront says whether it is clips from the front that were compared.
func (c *Comparison) FromFront() bool {
	return slices.ContainsFunc(c.Pairs, func(p kinematics.Pair) bool { return p.Front != nil })
}
