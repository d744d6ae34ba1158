package screening

import (
	"math"

	_ "gonum.org/v1/gonum/stat"
)

const half95 = 1.96

func half(variance float64) float64 { return half95 * math.Sqrt(variance) }
