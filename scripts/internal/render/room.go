package render

import (
	"math"

	"holdfast/scripts/internal/render/body"
	"holdfast/scripts/internal/render/space"
)

// Room is what is behind and below the athlete.
type Room struct {
	// AtBack says that the wall is behind the athlete's back, for a camera at the front; else it is beyond the far side.
	AtBack bool
	// WallM is how far the wall is behind the athlete's middle.
	WallM                           float64
	Floor                           floorKind
	Wall                            wallKind
	FloorColour, WallColour, Second body.Colour
	Panels                          []Panel
	grain                           uint32
}

type floorKind int

const (
	planks floorKind = iota
	rubber
	tiles
	concrete
	turf
)

type wallKind int

const (
	plaster wallKind = iota
	bricks
	twoTone
	boards
	hedge
)

// Panel is a thing on or before the wall: a door, a window, a picture, a crate.
type Panel struct {
	FromZ, ToZ, FromY, ToY float64
	Frame, Inside          body.Colour
	FrameM                 float64
	Mottled                bool
}

// floorAt returns the colour of the floor.
func (r *Room) floorAt(x, z float64) body.Colour {
	s := r.grain
	switch r.Floor {
	case planks:
		const wide, long = 0.14, 1.6
		row := int(math.Floor(x / wide))
		shifted := z + body.Chance(row, 7, s)*long
		column := int(math.Floor(shifted / long))
		k := (0.75 + 0.35*body.Chance(row, column, s+3)) * (0.75 + 0.45*body.Rough(3*z+50*body.Chance(row, column, s+9), 40*x,
			s+5))
		if f := body.Fraction(x / wide); f < 0.03 || f > 0.97 {
			k *= 0.6
		}
		return body.Shade(r.FloorColour, k)
	case rubber:
		k := 0.8 + 0.4*body.Rough(30*x, 30*z, s)
		if body.Chance(int(math.Floor(150*x)), int(math.Floor(150*z)), s+4) > 0.96 {
			k *= 2
		}
		if body.Fraction(x) < 0.008 || body.Fraction(z) < 0.008 {
			k *= 0.55
		}
		return body.Shade(r.FloorColour, k)
	case tiles:
		const side = 0.4
		k := 0.85 + 0.2*body.Chance(int(math.Floor(x/side)), int(math.Floor(z/side)), s) + 0.1*(body.Rough(9*x, 9*z, s+2)-0.5)
		if body.Fraction(x/side) < 0.015 || body.Fraction(z/side) < 0.015 {
			k *= 0.6
		}
		return body.Shade(r.FloorColour, k)
	case turf:
		return body.Shade(r.FloorColour, 0.45+0.7*body.Rough(60*x, 60*z, s)+0.35*body.Rough(2*x, 2*z, s+7))
	default:
		return body.Shade(r.FloorColour, 0.75+0.35*body.Rough(2*x, 2*z, s)+0.2*body.Rough(25*x, 25*z, s+4))
	}
}

// wallAt returns the colour of the wall.
func (r *Room) wallAt(z, y float64) body.Colour {
	s := r.grain + 100
	for i := range r.Panels {
		if p := &r.Panels[i]; z > p.FromZ && z < p.ToZ && y > p.FromY && y < p.ToY {
			if z < p.FromZ+p.FrameM || z > p.ToZ-p.FrameM || y < p.FromY+p.FrameM || y > p.ToY-p.FrameM {
				return p.Frame
			}
			if p.Mottled {
				return body.Shade(p.Inside, 0.4+1.2*body.Rough(6*z, 6*y, s+41))
			}
			return body.Shade(p.Inside, 0.9+0.2*body.Rough(5*z, 2*y, s+43))
		}
	}
	uneven := 0.93 + 0.14*body.Rough(1.5*z, 1.5*y, s+21)
	if y < 0.1 && r.Wall != hedge {
		return body.Shade(r.Second, 0.9*uneven)
	}
	switch r.Wall {
	case bricks:
		const long, high = 0.22, 0.075
		row := int(math.Floor(y / high))
		along := z/long + 0.5*float64(row&1)
		if body.Fraction(along) < 0.05 || body.Fraction(y/high) < 0.13 {
			return body.Shade(r.Second, uneven)
		}
		return body.Shade(r.WallColour, (0.75+0.4*body.Chance(int(math.Floor(along)), row, s+3))*(0.8+0.35*body.Rough(20*z,
			20*y, s+8)))
	case twoTone:
		if y < 1.15 {
			return body.Shade(r.Second, uneven)
		}
	case boards:
		const wide = 0.18
		k := 0.85 + 0.25*body.Chance(int(math.Floor(z/wide)), 0, s)
		if body.Fraction(z/wide) < 0.04 {
			k *= 0.6
		}
		return body.Shade(r.WallColour, k*(0.85+0.3*body.Rough(30*z, 2*y, s+5)))
	case hedge:
		if high := 1.5 + 0.25*body.Rough(2*z, 0, s); y > high {
			return body.Shade(body.Colour{0.62, 0.72, 0.86}, 0.9+0.15*body.Rough(0.4*z, 0.6*y, s+6))
		}
		return body.Shade(r.Second, 0.35+0.9*body.Rough(12*z, 12*y, s+9))
	}
	return body.Shade(r.WallColour, uneven)
}

// ground is what the camera sees without the athlete, linear light, and where the floor is in it.
type ground struct {
	colours []body.Colour
	// floor lists the pixels that show the floor near the athlete, row by row, with the place there.
	floor []floorPixel
}

type floorPixel struct {
	pixel, cell int32
	x, z        float32 // how far it is beyond the middle of the cell, in cells
}

// seen returns the room as a camera sees it.
func (r *Room) seen(c *Camera, l *Light) *ground {
	v := c.view()
	g := &ground{colours: make([]body.Colour, c.Width*c.Height)}
	behind := -c.Near.Out() * r.WallM
	for y := range c.Height {
		for x := range c.Width {
			var sum body.Colour
			for k := range 2 { // two samples across the corner: enough for what the phone blurs anyway
				px, py := float64(x)+0.25+0.5*float64(k), float64(y)+0.75-0.5*float64(k)
				d := v.ray(px, py)
				far := math.Inf(1)
				switch {
				case r.AtBack && d.Z < 0:
					far = (-r.WallM - v.at.Z) / d.Z
				case !r.AtBack && d.X*behind > 0:
					far = (behind - v.at.X) / d.X
				}
				onFloor := false
				if d.Y < 0 {
					if t := -v.at.Y / d.Y; t < far {
						far, onFloor = t, true
					}
				}
				p := v.at.Add(d.Scale(min(far, 100)))
				var at body.Colour
				if onFloor {
					near := math.Abs(p.X - behind)
					if r.AtBack {
						near = p.Z + r.WallM
					}
					at = body.Shade(r.floorAt(p.X, p.Z), l.onFloor(p)*(0.75+0.25*min(1, near/0.4)))
				} else {
					along := p.Z
					if r.AtBack {
						along = p.X
					}
					at = body.Shade(r.wallAt(along, p.Y), l.onWall(p))
				}
				for i := range sum {
					sum[i] += at[i] / 2
				}
				if k == 0 && onFloor {
					i, j := cellOf(p.X-cellM/2), cellOf(p.Z-cellM/2)
					if inGrid(i, j) {
						left := space.Vec{X: (p.X+shadowHalfM)/cellM - 0.5, Y: 0, Z: (p.Z+shadowHalfM)/cellM - 0.5}
						g.floor = append(g.floor, floorPixel{
							int32(y*c.Width + x), int32(i*shadowCells + j), float32(body.Fraction(left.X)), float32(body.Fraction(left.Z)),
						})
					}
				}
			}
			g.colours[y*c.Width+x] = sum
		}
	}
	return g
}
