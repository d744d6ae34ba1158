package stats

import (
	"math"

	"holdfast/kinematics/signal"
)

const degPerRad = 180 / math.Pi

// CouplingAngles returns the coupling angle between each two following points of an
// angle-angle plot, with the proximal angle across and the distal one up:
//
//	gamma = atan2(distal[i+1]-distal[i], proximal[i+1]-proximal[i]), 0 to 360 degrees
//
// It is NaN where neither angle changes. Source: Chang, Van Emmerik & Hamill 2008;
// Needham, Naemi & Chockalingam 2014 (from memory).
func CouplingAngles(proximalDeg, distalDeg []float64) []float64 {
	n := min(len(proximalDeg), len(distalDeg))
	if n < 2 {
		return nil
	}
	out := signal.NaNs(n - 1)
	for i := range out {
		dp, dd := proximalDeg[i+1]-proximalDeg[i], distalDeg[i+1]-distalDeg[i]
		if dp == 0 && dd == 0 || math.IsNaN(dp+dd) {
			continue
		}
		out[i] = math.Mod(math.Atan2(dd, dp)*degPerRad+360, 360)
	}
	return out
}

// coupling says how two joints share a movement.
type coupling string

// The patterns of coupling.
const (
	inPhase       coupling = "in_phase"       // both turn the same way
	antiPhase     coupling = "anti_phase"     // they turn against one another
	proximalPhase coupling = "proximal_phase" // the proximal joint alone
	distalPhase   coupling = "distal_phase"   // the distal joint alone
)

// couplingOf returns the pattern of a coupling angle in degrees, by eighths of the
// circle about the axes and diagonals:
//
//	proximal  within 22.5 of 0 or 180      in phase    within 22.5 of 45 or 225
//	distal    within 22.5 of 90 or 270     anti phase  within 22.5 of 135 or 315
//
// A boundary belongs to the pattern that begins there. It is empty for NaN. Source:
// Chang, Van Emmerik & Hamill 2008 (from memory).
func couplingOf(gammaDeg float64) coupling {
	if math.IsNaN(gammaDeg) || math.IsInf(gammaDeg, 0) {
		return ""
	}
	g := math.Mod(math.Mod(gammaDeg, 180)+180+22.5, 180)
	return [...]coupling{proximalPhase, inPhase, distalPhase, antiPhase}[min(3, int(g/45))]
}

// CouplingShares are how much of a movement passes in each pattern, per cent.
type CouplingShares struct {
	InPhase   float64 `json:"in_phase_pct"`
	AntiPhase float64 `json:"anti_phase_pct"`
	Proximal  float64 `json:"proximal_pct"`
	Distal    float64 `json:"distal_pct"`
}

// SharesOf returns the shares of the patterns among coupling angles, those that are
// NaN left out; all NaN when there are none.
func SharesOf(gammaDeg []float64) CouplingShares {
	count := map[coupling]float64{}
	n := 0.0
	for _, g := range gammaDeg {
		if c := couplingOf(g); c != "" {
			count[c]++
			n++
		}
	}
	pct := func(c coupling) float64 { return 100 * count[c] / n }
	return CouplingShares{pct(inPhase), pct(antiPhase), pct(proximalPhase), pct(distalPhase)}
}

// CouplingVariability returns how far the coupling angle differs between trials, in
// degrees, the mean over the movement of the angular deviation at each point:
//
//	sqrt(2 (1 - r)) 180/pi,  r = length of the mean of the unit vectors
//
// 0 when all trials agree, 81 when they point everywhere. NaN with fewer than two
// trials. Source: Batschelet 1981 by Needham, Naemi & Chockalingam 2014 (from
// memory).
func CouplingVariability(trials [][]float64) float64 {
	if len(trials) < 2 {
		return math.NaN()
	}
	var sum, m float64
	for i := range trials[0] {
		var x, y, n float64
		for _, t := range trials {
			if i < len(t) && !math.IsNaN(t[i]) {
				sin, cos := math.Sincos(t[i] / degPerRad)
				x, y, n = x+cos, y+sin, n+1
			}
		}
		if n < 2 {
			continue
		}
		sum += math.Sqrt(2*max(0, 1-math.Hypot(x, y)/n)) * degPerRad
		m++
	}
	return sum / m
}
