package render

import "math"

// Room is what is behind and below the athlete.
type Room struct {
	// WallM is how far the wall is behind the athlete's middle.
	WallM                           float64
	Floor                           floorKind
	Wall                            wallKind
	FloorColour, WallColour, Second colour
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
	Frame, Inside          colour
	FrameM                 float64
	Mottled                bool
}

// chance returns a number from 0 to 1 that belongs to a place on a grid.
func chance(x, y int, salt uint32) float64 {
	h := uint32(x)*374761393 + uint32(y)*668265263 + salt*2246822519
	h = (h ^ (h >> 13)) * 1274126177
	h ^= h >> 16
	return float64(h&0xffffff) / (1 << 24)
}

// cloudy is smooth noise about 0.5 with features of size 1.
func cloudy(x, y float64, salt uint32) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int(fx), int(fy)
	x, y = x-fx, y-fy
	x, y = x*x*(3-2*x), y*y*(3-2*y)
	return mix(mix(chance(i, j, salt), chance(i+1, j, salt), x), mix(chance(i, j+1, salt), chance(i+1, j+1, salt), x), y)
}

// rough is noise with features of three sizes.
func rough(x, y float64, salt uint32) float64 {
	return (cloudy(x, y, salt) + 0.5*cloudy(2.1*x, 2.1*y, salt+1) + 0.25*cloudy(4.3*x, 4.3*y, salt+2)) / 1.75
}

func shade(c colour, by float64) colour {
	k := float32(by)
	return colour{c[0] * k, c[1] * k, c[2] * k}
}

func fraction(v float64) float64 { return v - math.Floor(v) }

// floorAt returns the colour of the floor.
func (r *Room) floorAt(x, z float64) colour {
	s := r.grain
	switch r.Floor {
	case planks:
		const wide, long = 0.14, 1.6
		row := int(math.Floor(x / wide))
		shifted := z + chance(row, 7, s)*long
		column := int(math.Floor(shifted / long))
		k := (0.75 + 0.35*chance(row, column, s+3)) * (0.75 + 0.45*rough(3*z+50*chance(row, column, s+9), 40*x, s+5))
		if f := fraction(x / wide); f < 0.03 || f > 0.97 {
			k *= 0.6
		}
		return shade(r.FloorColour, k)
	case rubber:
		k := 0.8 + 0.4*rough(30*x, 30*z, s)
		if chance(int(math.Floor(150*x)), int(math.Floor(150*z)), s+4) > 0.96 {
			k *= 2
		}
		if fraction(x) < 0.008 || fraction(z) < 0.008 {
			k *= 0.55
		}
		return shade(r.FloorColour, k)
	case tiles:
		const side = 0.4
		k := 0.85 + 0.2*chance(int(math.Floor(x/side)), int(math.Floor(z/side)), s) + 0.1*(rough(9*x, 9*z, s+2)-0.5)
		if fraction(x/side) < 0.015 || fraction(z/side) < 0.015 {
			k *= 0.6
		}
		return shade(r.FloorColour, k)
	case turf:
		return shade(r.FloorColour, 0.45+0.7*rough(60*x, 60*z, s)+0.35*rough(2*x, 2*z, s+7))
	default:
		return shade(r.FloorColour, 0.75+0.35*rough(2*x, 2*z, s)+0.2*rough(25*x, 25*z, s+4))
	}
}

// wallAt returns the colour of the wall.
func (r *Room) wallAt(z, y float64) colour {
	s := r.grain + 100
	for i := range r.Panels {
		if p := &r.Panels[i]; z > p.FromZ && z < p.ToZ && y > p.FromY && y < p.ToY {
			if z < p.FromZ+p.FrameM || z > p.ToZ-p.FrameM || y < p.FromY+p.FrameM || y > p.ToY-p.FrameM {
				return p.Frame
			}
			if p.Mottled {
				return shade(p.Inside, 0.4+1.2*rough(6*z, 6*y, s+41))
			}
			return shade(p.Inside, 0.9+0.2*rough(5*z, 2*y, s+43))
		}
	}
	uneven := 0.93 + 0.14*rough(1.5*z, 1.5*y, s+21)
	if y < 0.1 && r.Wall != hedge {
		return shade(r.Second, 0.9*uneven)
	}
	switch r.Wall {
	case bricks:
		const long, high = 0.22, 0.075
		row := int(math.Floor(y / high))
		along := z/long + 0.5*float64(row&1)
		if fraction(along) < 0.05 || fraction(y/high) < 0.13 {
			return shade(r.Second, uneven)
		}
		return shade(r.WallColour, (0.75+0.4*chance(int(math.Floor(along)), row, s+3))*(0.8+0.35*rough(20*z, 20*y, s+8)))
	case twoTone:
		if y < 1.15 {
			return shade(r.Second, uneven)
		}
	case boards:
		const wide = 0.18
		k := 0.85 + 0.25*chance(int(math.Floor(z/wide)), 0, s)
		if fraction(z/wide) < 0.04 {
			k *= 0.6
		}
		return shade(r.WallColour, k*(0.85+0.3*rough(30*z, 2*y, s+5)))
	case hedge:
		if high := 1.5 + 0.25*rough(2*z, 0, s); y > high {
			return shade(colour{0.62, 0.72, 0.86}, 0.9+0.15*rough(0.4*z, 0.6*y, s+6))
		}
		return shade(r.Second, 0.35+0.9*rough(12*z, 12*y, s+9))
	}
	return shade(r.WallColour, uneven)
}

// ground is what the camera sees without the athlete, linear light, and where the floor is in it.
type ground struct {
	colours []colour
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
	g := &ground{colours: make([]colour, c.Width*c.Height)}
	behind := -c.Near.out() * r.WallM
	for y := range c.Height {
		for x := range c.Width {
			var sum colour
			for k := range 2 { // two samples across the corner: enough for what the phone blurs anyway
				px, py := float64(x)+0.25+0.5*float64(k), float64(y)+0.75-0.5*float64(k)
				d := v.ray(px, py)
				far := math.Inf(1)
				if d.X*behind > 0 {
					far = (behind - v.at.X) / d.X
				}
				onFloor := false
				if d.Y < 0 {
					if t := -v.at.Y / d.Y; t < far {
						far, onFloor = t, true
					}
				}
				p := v.at.add(d.scale(min(far, 100)))
				var at colour
				if onFloor {
					near := math.Abs(p.X - behind)
					at = shade(r.floorAt(p.X, p.Z), l.onFloor(p)*(0.75+0.25*min(1, near/0.4)))
				} else {
					at = shade(r.wallAt(p.Z, p.Y), l.onWall(p))
				}
				for i := range sum {
					sum[i] += at[i] / 2
				}
				if k == 0 && onFloor {
					i, j := cellOf(p.X-cellM/2), cellOf(p.Z-cellM/2)
					if inGrid(i, j) {
						left := Vec{(p.X+shadowHalfM)/cellM - 0.5, 0, (p.Z+shadowHalfM)/cellM - 0.5}
						g.floor = append(g.floor, floorPixel{
							int32(y*c.Width + x), int32(i*shadowCells + j), float32(fraction(left.X)), float32(fraction(left.Z)),
						})
					}
				}
			}
			g.colours[y*c.Width+x] = sum
		}
	}
	return g
}
