package vision

import (
	"math"

	"holdfast/models"
	"holdfast/vision/decode"
)

// reach is a rule of [models.Reach] with the places of its points in the output.
type reach struct {
	rule          *models.Reach
	centre, torso []int
}

func newReach(m *models.Manifest) *reach {
	rule := m.Region.Reach
	return &reach{rule: rule, centre: m.KeypointIndices(rule.Centre), torso: m.KeypointIndices(rule.Torso)}
}

// seen says whether the points are of a person: one in the middle of the body is seen,
// and another one of the trunk.
func (r *reach) seen(points []decode.Landmark) bool {
	count := func(places []int) (n int) {
		for _, i := range places {
			if points[i].Visibility >= r.rule.MinScore {
				n++
			}
		}
		return n
	}
	centre := count(r.centre)
	return centre > 0 && count(r.torso) > centre
}

// region returns the region for the following frame from the points seen in this one.
func (r *reach) region(points []decode.Landmark, in Region) Region {
	var next Region
	for _, i := range r.centre {
		x, y := in.toPicture(points[i].U, points[i].V)
		next.CX += x / float64(len(r.centre))
		next.CY += y / float64(len(r.centre))
	}
	half := 0.0
	farthest := func(i int, factor float64) {
		x, y := in.toPicture(points[i].U, points[i].V)
		half = max(half, factor*math.Abs(x-next.CX), factor*math.Abs(y-next.CY))
	}
	for _, i := range r.torso {
		farthest(i, r.rule.TorsoFactor)
	}
	for i, p := range points {
		if p.Visibility >= r.rule.MinScore {
			farthest(i, r.rule.BodyFactor)
		}
	}
	next.SizePx = 2 * half
	return next
}

// centred decodes what a network whose points are read round the middle of the body said of
// the region it was run on.
func (n *network) centred() []decode.Landmark {
	m, rule := &n.manifest, n.manifest.Centred
	shape := m.Output(rule.Centre).Shape
	return decode.Centred(n.output(rule.Heatmap), n.output(rule.Centre), n.output(rule.Regress), n.output(rule.Offset),
		len(m.Keypoints), shape[1], shape[2], rule.SofteningCells)
}
