package report

import "math"

var worked = math.Sqrt(2) * 1.96 // a test may work out what it wants
