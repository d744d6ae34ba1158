package vision

import (
	"math"

	"holdfast/models"
)

// decodeCentred reads the points of the body in the middle of the picture from heat
// maps, as [models.Centred] says. All four hold rows*cols cells; heat has points values
// a cell, centre one, regress and offset two a point, y then x, in cells. A point's
// visibility is its heat; depth and spread are NaN, as these networks give none.
func decodeCentred(heat, centre, regress, offset []float32, points, rows, cols int, softening float64) []landmark {
	middle := 0
	for i, v := range centre {
		if v > centre[middle] {
			middle = i
		}
	}
	out := make([]landmark, points)
	for k := range out {
		guess := 2 * (middle*points + k)
		y, x := float64(middle/cols)+float64(regress[guess]), float64(middle%cols)+float64(regress[guess+1])
		best, most := 0, math.Inf(-1)
		for row := range rows {
			for col := range cols {
				cell := row*cols + col
				near := float64(heat[cell*points+k]) / (math.Hypot(float64(row)-y, float64(col)-x) + softening)
				if near > most {
					best, most = cell, near
				}
			}
		}
		within := 2 * (best*points + k)
		out[k] = landmark{
			u: (float64(best%cols) + float64(offset[within+1])) / float64(cols),
			v: (float64(best/cols) + float64(offset[within])) / float64(rows),
			z: math.NaN(), spread: math.NaN(), visibility: float64(heat[best*points+k]), presence: 1,
		}
	}
	return out
}

// centred decodes what a network whose points are read round the middle of the body said of
// the region it was run on.
func (n *network) centred() []landmark {
	m, rule := &n.manifest, n.manifest.Centred
	shape := m.Output(rule.Centre).Shape
	return decodeCentred(n.output(rule.Heatmap), n.output(rule.Centre), n.output(rule.Regress), n.output(rule.Offset),
		len(m.Keypoints), shape[1], shape[2], rule.SofteningCells)
}

func meanVisibility(points []landmark) float64 {
	sum := 0.0
	for _, p := range points {
		sum += p.visibility
	}
	return sum / float64(len(points))
}

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
func (r *reach) seen(points []landmark) bool {
	count := func(places []int) (n int) {
		for _, i := range places {
			if points[i].visibility >= r.rule.MinScore {
				n++
			}
		}
		return n
	}
	centre := count(r.centre)
	return centre > 0 && count(r.torso) > centre
}

// region returns the region for the following frame from the points seen in this one.
func (r *reach) region(points []landmark, in Region) Region {
	var next Region
	for _, i := range r.centre {
		x, y := in.toPicture(points[i].u, points[i].v)
		next.CX += x / float64(len(r.centre))
		next.CY += y / float64(len(r.centre))
	}
	half := 0.0
	farthest := func(i int, factor float64) {
		x, y := in.toPicture(points[i].u, points[i].v)
		half = max(half, factor*math.Abs(x-next.CX), factor*math.Abs(y-next.CY))
	}
	for _, i := range r.torso {
		farthest(i, r.rule.TorsoFactor)
	}
	for i, p := range points {
		if p.visibility >= r.rule.MinScore {
			farthest(i, r.rule.BodyFactor)
		}
	}
	next.SizePx = 2 * half
	return next
}
