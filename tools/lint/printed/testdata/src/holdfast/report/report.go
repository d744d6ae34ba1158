package report

import (
	"math"

	"gonum.org/v1/gonum/stat" // want `holdfast/report must not import gonum.org/v1/gonum/stat: it prints what kinematics computes`
)

const half95 = 1.96 // want `1.96 makes an interval of its own`

const exact = 1.959964 // want `1.959964 makes an interval of its own`

func mean(x []float64) float64 { return stat.Mean(x, nil) }

// place draws: bounds, rounding and turns are let pass.
func place(x, lo, hi, turn float64) float64 {
	if math.IsNaN(x) {
		return math.Inf(-1)
	}
	s, c := math.Sincos(turn * math.Pi / 180)
	return math.Round(math.Max(lo, math.Min(hi, math.Hypot(s*x, c*x))))
}

func spread(squares, n float64) float64 {
	return math.Sqrt(squares / (n - 1)) // want `math.Sqrt makes a new number of measures`
}

var root = math.Sqrt // want `math.Sqrt makes a new number of measures`

const diagonal = math.Sqrt2 // want `math.Sqrt2 makes a new number of measures`
