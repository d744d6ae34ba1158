package render

import (
	"math"

	"holdfast/scripts/internal/render/body"
	"holdfast/scripts/internal/render/space"
)

// Light is how the scene is lit: one lamp or sun, and light from everywhere.
type Light struct {
	// Toward is where the lamp is.
	Toward space.Vec
	// Key, Sky and Fill are the strengths of the lamp, of what comes from above, and of what comes from the camera's
	// side.
	Key, Sky, Fill float64
	// Exposure scales everything; Warm is what red gains and blue loses.
	Exposure, Warm float64
	// SoftCells is how blurred the shadow on the floor is.
	SoftCells int
}

const (
	// The lamp's shadows are kept in cells of cellM: those on the floor, and the depth of the body as the lamp sees it.
	cellM       = 0.025
	shadowHalfM = 1.7
	shadowCells = 136
)

// onFloor is how bright the floor is at a place, without the athlete.
func (l *Light) onFloor(p space.Vec) float64 {
	away := math.Hypot(p.X-0.5*l.Toward.X, p.Z-0.5*l.Toward.Z)
	return (0.55*l.Key + l.Sky) * (1.05 - 0.05*min(away, 6))
}

func (l *Light) onWall(p space.Vec) float64 {
	k := (0.4*l.Key + 0.8*l.Sky) * (0.85 + 0.1*min(p.Y, 3)) * (1 - 0.03*min(math.Abs(p.Z), 6))
	return k * (0.8 + 0.2*min(1, math.Max(0, p.Y)/0.25))
}

// shadows are what the body keeps from the floor and from itself.
type shadows struct {
	light         Light
	across, along space.Vec
	// depth is how far toward the lamp the nearest part of the body is; lamp and contact are what the floor loses.
	depth         [shadowCells * shadowCells]float32
	lamp, contact [shadowCells * shadowCells]float32
	scratch       [shadowCells * shadowCells]float32
	floor         [shadowCells * shadowCells]float32 // how much light is left
}

func newShadows(l *Light) *shadows {
	s := &shadows{light: *l}
	s.across = l.Toward.Cross(space.Vec{X: 0, Y: 0, Z: 1}).Unit()
	s.along = l.Toward.Cross(s.across).Unit()
	return s
}

func cellOf(a float64) int { return int(math.Floor((a + shadowHalfM) / cellM)) }

// cast takes the shadows of a bent body.
func (s *shadows) cast(pieces []*body.Bent) {
	for i := range s.depth {
		s.depth[i], s.lamp[i], s.contact[i] = -1e9, 0, 0
	}
	toward := s.light.Toward
	for _, b := range pieces {
		if b.Of.Name == "brows" || b.Of.Name == "eyes" {
			continue
		}
		for _, at := range b.At {
			v := space.Vec{X: float64(at[0]), Y: float64(at[1]), Z: float64(at[2])}
			if i, j := cellOf(v.X), cellOf(v.Z); inGrid(i, j) && v.Y < 0.45 {
				low := float32(1 - math.Max(0, v.Y)/0.45)
				k := &s.contact[i*shadowCells+j]
				*k = max(*k, low*low)
			}
			fall := math.Max(0, v.Y) / toward.Y
			if i, j := cellOf(v.X-toward.X*fall), cellOf(v.Z-toward.Z*fall); inGrid(i, j) {
				for di := range 2 {
					for dj := range 2 {
						s.lamp[(i+di)*shadowCells+j+dj] = 1
					}
				}
			}
			i, j, d := s.lampCell(v)
			if inGrid(i, j) {
				for di := range 2 {
					for dj := range 2 {
						k := &s.depth[(i+di)*shadowCells+j+dj]
						*k = max(*k, d)
					}
				}
			}
		}
	}
	s.blur(&s.contact, 2)
	s.blur(&s.contact, 2)
	s.blur(&s.lamp, s.light.SoftCells)
	s.blur(&s.lamp, s.light.SoftCells)
	s.darken()
}

func inGrid(i, j int) bool { return i >= 0 && j >= 0 && i < shadowCells-1 && j < shadowCells-1 }

func (s *shadows) lampCell(v space.Vec) (i, j int, depth float32) {
	middle := v.Sub(space.Vec{X: 0, Y: 0.9, Z: 0})
	return cellOf(middle.Dot(s.across)), cellOf(middle.Dot(s.along)), float32(middle.Dot(s.light.Toward))
}

// blur takes the mean over a square of 2 half + 1 cells.
func (s *shadows) blur(grid *[shadowCells * shadowCells]float32, half int) {
	for _, by := range []struct{ line, step int }{{shadowCells, 1}, {1, shadowCells}} { // rows, then columns
		s.scratch = *grid
		for n := range shadowCells {
			start, step := n*by.line, by.step
			var sum float32
			for k := range min(half, shadowCells) {
				sum += s.scratch[start+k*step]
			}
			for k := range shadowCells {
				if k+half < shadowCells {
					sum += s.scratch[start+(k+half)*step]
				}
				if k-half-1 >= 0 {
					sum -= s.scratch[start+(k-half-1)*step]
				}
				grid[start+k*step] = max(0, sum/float32(2*half+1))
			}
		}
	}
}

// darken finds how much light is left on every cell of the floor.
func (s *shadows) darken() {
	key, sky := float32(0.55*s.light.Key), float32(s.light.Sky)
	for n := range s.floor {
		s.floor[n] = (key*(1-min(1, s.lamp[n])) + sky) / (key + sky) * (1 - 0.7*min(1, s.contact[n]))
	}
}

// illuminate sets the light on every vertex.
func (s *shadows) illuminate(pieces []*body.Bent, camera space.Vec) {
	fillFrom := camera.Unit()
	toward := [3]float32{float32(s.light.Toward.X), float32(s.light.Toward.Y), float32(s.light.Toward.Z)}
	fill := [3]float32{float32(fillFrom.X), float32(fillFrom.Y), float32(fillFrom.Z)}
	key, sky, fillBy := float32(s.light.Key), float32(s.light.Sky), float32(s.light.Fill)
	for _, b := range pieces {
		for i, n := range b.Normals {
			if b.Of.Hair {
				if n[0]*fill[0]+n[1]*fill[1]+n[2]*fill[2] < 0 {
					n = [3]float32{-n[0], -n[1], -n[2]}
				}
			}
			lit := n[0]*toward[0] + n[1]*toward[1] + n[2]*toward[2]
			var direct float32
			if lit > -0.1 {
				at := b.At[i]
				v := space.Vec{X: float64(at[0] + 0.012*n[0]), Y: float64(at[1] + 0.012*n[1]), Z: float64(at[2] + 0.012*n[2])}
				direct = (lit + 0.1) / 1.1 * s.reaches(v)
			}
			up := 0.5 + 0.5*n[1]
			low := min(1, 0.7+0.6*b.At[i][1])
			b.Light[i] = key*direct + sky*low*(0.45+0.55*up) + fillBy*max(0, n[0]*fill[0]+n[1]*fill[1]+n[2]*fill[2])
		}
	}
}

// reaches returns how much of the lamp a point sees, from four cells about it.
func (s *shadows) reaches(v space.Vec) float32 {
	i, j, d := s.lampCell(v)
	if !inGrid(i, j) || !inGrid(i-1, j-1) {
		return 1
	}
	const nearM = 0.045
	var open float32
	for _, n := range [4]int{i*shadowCells + j, (i-1)*shadowCells + j, i*shadowCells + j - 1, (i-1)*shadowCells + j - 1} {
		if s.depth[n] < d+nearM {
			open += 0.25
		}
	}
	return open
}
