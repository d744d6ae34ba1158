package signal

import (
	"math"
	"slices"
)

// PeakRule says which peaks count. The zero value takes every peak.
type PeakRule struct {
	// MinHeight is the lowest value of a peak; nil: any.
	MinHeight *float64
	// MinProminence is how far a peak must stand out.
	MinProminence float64
	// MinDistance is the smallest number of samples between peaks; of two that
	// lie closer, the lower one goes first.
	MinDistance int
	// MinWidth is the smallest width in samples at half of the prominence.
	MinWidth float64
}

// Peak is a local maximum of a signal.
type Peak struct {
	Index      int
	Height     float64
	Prominence float64
	// LeftBase and RightBase are the samples of the lowest points between the
	// peak and the next higher ground on either side.
	LeftBase, RightBase int
	// Width, in samples, is measured at Height - Prominence/2, between LeftIP
	// and RightIP.
	Width, LeftIP, RightIP float64
}

// FindPeaks returns the local maxima of x that the rule allows, in order. A
// plateau counts once, at its middle sample (rounded down); the ends are never
// peaks. Prominence is the height above the higher of the two lowest points that
// separate the peak from higher ground, or from the ends.
func FindPeaks(x []float64, rule PeakRule) []Peak {
	var peaks []Peak
	for i := 1; i < len(x)-1; i++ {
		if !(x[i-1] < x[i]) {
			continue
		}
		j := i
		for j+1 < len(x)-1 && x[j+1] == x[i] {
			j++
		}
		if x[j+1] < x[i] {
			k := (i + j) / 2
			if rule.MinHeight == nil || x[k] >= *rule.MinHeight {
				peaks = append(peaks, Peak{Index: k, Height: x[k]})
			}
		}
		i = j
	}
	peaks = keepDistance(peaks, rule.MinDistance)
	for i := range peaks {
		peaks[i].measure(x)
	}
	return slices.DeleteFunc(peaks, func(p Peak) bool {
		return p.Prominence < rule.MinProminence || p.Width < rule.MinWidth
	})
}

// keepDistance takes away peaks that lie too near to a higher one.
func keepDistance(peaks []Peak, distance int) []Peak {
	if distance <= 1 {
		return peaks
	}
	order := make([]int, len(peaks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case peaks[a].Height < peaks[b].Height:
			return 1
		case peaks[a].Height > peaks[b].Height:
			return -1
		}
		return b - a
	})
	gone := make([]bool, len(peaks))
	for _, i := range order {
		if gone[i] {
			continue
		}
		for j := range peaks {
			d := peaks[j].Index - peaks[i].Index
			if j != i && max(d, -d) < distance {
				gone[j] = true
			}
		}
	}
	var kept []Peak
	for i, p := range peaks {
		if !gone[i] {
			kept = append(kept, p)
		}
	}
	return kept
}

// measure fills in prominence and width.
func (p *Peak) measure(x []float64) {
	h := p.Height
	leftMin, rightMin := h, h
	p.LeftBase, p.RightBase = p.Index, p.Index
	for i := p.Index; i >= 0 && x[i] <= h; i-- {
		if x[i] < leftMin {
			leftMin, p.LeftBase = x[i], i
		}
	}
	for i := p.Index; i < len(x) && x[i] <= h; i++ {
		if x[i] < rightMin {
			rightMin, p.RightBase = x[i], i
		}
	}
	p.Prominence = h - max(leftMin, rightMin)

	at := h - p.Prominence/2
	i := p.Index
	for i > p.LeftBase && at < x[i] {
		i--
	}
	p.LeftIP = float64(i)
	if x[i] < at {
		p.LeftIP += (at - x[i]) / (x[i+1] - x[i])
	}
	i = p.Index
	for i < p.RightBase && at < x[i] {
		i++
	}
	p.RightIP = float64(i)
	if x[i] < at {
		p.RightIP -= (at - x[i]) / (x[i-1] - x[i])
	}
	p.Width = p.RightIP - p.LeftIP
}

// ParabolaPeak returns where and how high the parabola through three samples one
// step apart peaks: offset in samples from the middle one, and its value.
//
//	offset = (y0-y2) / (2 (y0 - 2 y1 + y2))
//	value  = y1 - (y0-y2)^2 / (8 (y0 - 2 y1 + y2))
//
// Three samples on a line have no peak: offset NaN.
func ParabolaPeak(y0, y1, y2 float64) (offset, value float64) {
	c := y0 - 2*y1 + y2
	if c == 0 {
		return math.NaN(), math.NaN()
	}
	return (y0 - y2) / (2 * c), y1 - (y0-y2)*(y0-y2)/(8*c)
}
