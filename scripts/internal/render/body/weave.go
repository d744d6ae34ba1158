package body

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

// Chance returns a number from 0 to 1 that belongs to a place on a grid.
func Chance(x, y int, salt uint32) float64 {
	h := uint32(x)*374761393 + uint32(y)*668265263 + salt*2246822519
	h = (h ^ (h >> 13)) * 1274126177
	h ^= h >> 16
	return float64(h&0xffffff) / (1 << 24)
}

// Rough is noise with features of three sizes.
func Rough(x, y float64, salt uint32) float64 {
	return (Cloudy(x, y, salt) + 0.5*Cloudy(2.1*x, 2.1*y, salt+1) + 0.25*Cloudy(4.3*x, 4.3*y, salt+2)) / 1.75
}

func Shade(c Colour, by float64) Colour {
	k := float32(by)
	return Colour{c[0] * k, c[1] * k, c[2] * k}
}

func Fraction(v float64) float64 { return v - math.Floor(v) }

// Cloudy is smooth noise about 0.5 with features of size 1.
func Cloudy(x, y float64, salt uint32) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int(fx), int(fy)
	x, y = x-fx, y-fy
	x, y = x*x*(3-2*x), y*y*(3-2*y)
	return space.Mix(space.Mix(Chance(i, j, salt), Chance(i+1, j, salt), x),
		space.Mix(Chance(i, j+1, salt), Chance(i+1, j+1, salt), x), y)
}
