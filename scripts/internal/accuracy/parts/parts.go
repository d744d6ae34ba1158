// Package parts tells what the errors of reps have in common: those of an athlete, of a clip, and what each rep has for
// itself.
package parts

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"holdfast/kinematics/body"
	"holdfast/models"
)

// LeastPostureDeg bounds the spread of an angle's error between positions.
const LeastPostureDeg = 0.5

// Error is how far the range of an angle is off in one rep, the noise that the program says it has, and how far the
// heel is up at the bottom.
type Error struct{ Deg, NoiseDeg, PitchDeg float64 }

// Of parts the errors of an angle's range, those of the reps of each athlete's clips, into what the clips of an
// athlete share, what each clip has for itself, what grows with the heel's rise, and what a rep has for itself beside
// the noise of its points: independent normal errors of mean 0 whose spreads are the most likely ones.
func Of(athletes [][][]Error) models.AngleError {
	if len(athletes) == 0 {
		return models.AngleError{Posture: LeastPostureDeg}
	}
	unlikely := func(logs []float64) float64 {
		clip, posture, lifted, rep := math.Exp(2*logs[0]), math.Exp(2*logs[1]), math.Exp(2*logs[2]), math.Exp(2*logs[3])
		var sum float64
		for _, clips := range athletes {
			var errs []float64
			cov := mat.NewSymDense(max(1, len(slices.Concat(clips...))), nil)
			for _, of := range clips {
				first := len(errs)
				for i, e := range of {
					errs = append(errs, e.Deg)
					at := first + i
					for k := range first {
						cov.SetSym(k, at, clip)
					}
					for k := range i + 1 {
						cov.SetSym(first+k, at, clip+posture+lifted*e.PitchDeg*of[k].PitchDeg/(body.LiftedAtDeg*body.LiftedAtDeg))
					}
					cov.SetSym(at, at, cov.At(at, at)+rep+e.NoiseDeg*e.NoiseDeg)
				}
			}
			var root mat.Cholesky
			if len(errs) == 0 || !root.Factorize(cov) {
				continue
			}
			x, y := mat.NewVecDense(len(errs), errs), mat.NewVecDense(len(errs), nil)
			if root.SolveVecTo(y, x) != nil {
				return math.Inf(1)
			}
			sum += root.LogDet() + mat.Dot(x, y)
		}
		return sum / 2
	}
	start := []float64{math.Log(2), 0, 0, 0}
	best, err := optimize.Minimize(optimize.Problem{Func: func(logs []float64) float64 {
		for _, l := range logs { // flat below a hundredth of a degree, and bounded
			if l < math.Log(0.01) || l > math.Log(100) {
				return math.Inf(1)
			}
		}
		return unlikely(logs)
	}}, start, nil, &optimize.NelderMead{})
	if err != nil || best == nil {
		best = &optimize.Result{Location: optimize.Location{X: start}}
	}
	sd := func(i int) float64 { return math.Round(10*math.Exp(best.X[i])) / 10 }
	return models.AngleError{Clip: sd(0), Posture: math.Max(LeastPostureDeg, sd(1)), Lifted: sd(2), Rep: sd(3)}
}
