package stat

func Mean(x, weights []float64) float64 { return x[0] }
