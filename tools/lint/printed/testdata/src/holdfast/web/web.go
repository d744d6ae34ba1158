package web

import (
	. "math" // a dot does not hide it

	_ "gonum.org/v1/gonum/stat/distuv" // want `holdfast/web must not import gonum.org/v1/gonum/stat/distuv`
)

const all = MaxInt32

func decimals(x float64) float64 { return Round(x*Pow10(2)) / Pow10(2) }

func decay(x float64) float64 { return Exp(-x) } // want `math.Exp makes a new number of measures`

func far(x, y float64) float64 { return Hypot(x, y) } // want `math.Hypot makes a new number of measures`
