package foot

import (
	"fmt"
	"image"
	"math"

	"gocv.io/x/gocv"
	"gonum.org/v1/gonum/mat"

	"holdfast/vision/plane"
)

// field is a grey picture with soft edges, read between its pixels. Pixel centres lie at
// whole numbers.
type field struct {
	w, h int
	v    []float32
}

// newField softens a grey picture of w times h pixels, standard deviation softPx.
func newField(grey []byte, w, h int, softPx float64) (field, error) {
	m, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8U, grey)
	if err != nil {
		return field{}, fmt.Errorf("taking over a grey picture: %w", err)
	}
	defer m.Close()
	wide, soft := gocv.NewMat(), gocv.NewMat()
	defer wide.Close()
	defer soft.Close()
	m.ConvertTo(&wide, gocv.MatTypeCV32F)
	gocv.GaussianBlur(wide, &soft, image.Point{}, softPx, softPx, gocv.BorderReplicate)
	v, err := soft.DataPtrFloat32()
	if err != nil {
		return field{}, fmt.Errorf("reading a softened picture: %w", err)
	}
	return field{w, h, append([]float32(nil), v...)}, nil
}

// at reads a place; ok is false outside the picture.
func (f *field) at(x, y float64) (v float64, ok bool) {
	if !(x >= 0 && y >= 0 && x < float64(f.w-1) && y < float64(f.h-1)) {
		return 0, false
	}
	ix, iy := int(x), int(y)
	fx, fy := float32(x-float64(ix)), float32(y-float64(iy))
	p := f.v[iy*f.w+ix:]
	q := p[f.w:]
	return float64((p[0]*(1-fx)+p[1]*fx)*(1-fy) + (q[0]*(1-fx)+q[1]*fx)*fy), true
}

// lie is how a patch lies in a picture: turned about its middle, clockwise as seen on the
// screen, and the middle at a place.
type lie struct {
	turnRad float64
	at      plane.XY
}

// patch is a piece of a picture that is looked for in others.
type patch struct {
	middle plane.XY
	// x and y are its places from the middle, value what is there, and by how value
	// changes as the patch turns and moves to the right and down.
	x, y, value []float64
	by          [3][]float64
}

// newPatch cuts out of a picture the places that in takes; ok is false where there are too
// few of them or nothing to see.
func newPatch(f *field, middle plane.XY, in func(plane.XY) bool) (p patch, ok bool) {
	p.middle = middle
	for y := 1; y < f.h-1; y++ {
		for x := 1; x < f.w-1; x++ {
			if !in(plane.XY{X: float64(x), Y: float64(y)}) {
				continue
			}
			i := y*f.w + x
			gx, gy := float64(f.v[i+1]-f.v[i-1])/2, float64(f.v[i+f.w]-f.v[i-f.w])/2
			px, py := float64(x)-middle.X, float64(y)-middle.Y
			p.x, p.y, p.value = append(p.x, px), append(p.y, py), append(p.value, float64(f.v[i]))
			for k, g := range [3]float64{gy*px - gx*py, gx, gy} {
				p.by[k] = append(p.by[k], g)
			}
		}
	}
	if len(p.value) < leastPatch {
		return patch{}, false
	}
	_, sd := meanAndSD(p.value)
	return p, sd > leastContrast
}

// What a patch must be like and how it is laid; common practice, no source.
const (
	leastPatch    = 120  // pixels
	leastContrast = 3    // standard deviation of its brightness, of 255
	leastInside   = 0.97 // part of it that must lie in the picture
	layRounds     = 30
	laidTurnRad   = 2e-5 // changes less: it lies
	laidPx        = 2e-3
	outlierSpread = 2.5 // of the spread of what is left over: counts a quarter (Geman & McClure, from memory)
)

func meanAndSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += sq(x-mean) / float64(len(v))
	}
	return mean, math.Sqrt(sd)
}

// read fills seen with what a picture shows at the patch's places, NaN outside it; inside
// is the part that is not.
func (p *patch) read(f *field, l lie, seen []float64) (inside float64) {
	sin, cos := math.Sincos(l.turnRad)
	n := 0
	for i, x := range p.x {
		y := p.y[i]
		v, ok := f.at(l.at.X+cos*x-sin*y, l.at.Y+sin*x+cos*y)
		if !ok {
			v = math.NaN()
		} else {
			n++
		}
		seen[i] = v
	}
	return float64(n) / float64(len(p.x))
}

// correlation returns how alike patch and picture are, -1 to 1, whatever the light.
func (p *patch) correlation(seen []float64) float64 {
	var n, st, ss, tt, uu, tu float64
	for i, s := range seen {
		if math.IsNaN(s) {
			continue
		}
		t := p.value[i]
		n, st, ss, tt, uu, tu = n+1, st+t, ss+s, tt+t*t, uu+s*s, tu+t*s
	}
	vt, vs := tt-st*st/n, uu-ss*ss/n
	if !(vt > 0 && vs > 0) {
		return 0
	}
	return (tu - st*ss/n) / math.Sqrt(vt*vs)
}

// laid is a patch laid over a picture.
type laid struct {
	lie
	correlation float64
	turnSD      float64 // of the turn by what is left over, as if neighbouring pixels knew nothing of each other
}

// lay lays the patch over a picture, from start on, and returns how it lies when nothing
// moves any more; ok is false where it leaves the picture or finds nothing of itself.
//
// It makes smallest the weighted sum of squares of picture - (gain patch + bias) over
// turn, place, gain and bias. The patch is moved against the picture rather than the other
// way round, so that its slopes are those of the patch and known beforehand (inverse
// compositional: Baker & Matthews, Lucas-Kanade 20 years on, 2004); gain and bias make it
// the maximum of the enhanced correlation (Evangelidis & Psarakis 2008), the weights let a
// shadow or a leg that has moved lose its pull. OpenCV's own findTransformECC ends the
// program where the two have nothing in common.
func (p *patch) lay(f *field, start lie) (out laid, ok bool) {
	seen := make([]float64, len(p.x))
	left := make([]float64, 0, len(p.x))
	out.lie = start
	scale := 0.0
	gain, bias := 1.0, 0.0
	var solved mat.VecDense
	for range layRounds {
		if p.read(f, out.lie, seen) < leastInside {
			return out, false
		}
		var a [15]float64
		var b [5]float64
		var weights, squares float64
		for i, s := range seen {
			if math.IsNaN(s) {
				continue
			}
			row := [5]float64{p.by[0][i], p.by[1][i], p.by[2][i], p.value[i], 1}
			r := s - gain*row[3] - bias
			w := 1.0
			if scale > 0 {
				w = 1 / sq(1+sq(r/(outlierSpread*scale)))
			}
			weights, squares = weights+w, squares+w*r*r
			k := 0
			for j, v := range row {
				b[j] += w * v * s
				for l := j; l < 5; l++ {
					a[k] += w * v * row[l]
					k++
				}
			}
		}
		full := mat.NewSymDense(5, nil)
		k := 0
		for j := range 5 {
			for l := j; l < 5; l++ {
				full.SetSym(j, l, a[k])
				k++
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(full) || chol.SolveVecTo(&solved, mat.NewVecDense(5, b[:])) != nil {
			return out, false
		}
		gain, bias = solved.AtVec(3), solved.AtVec(4)
		if !(gain > leastGain && gain < 1/leastGain) {
			return out, false
		}
		turn, dx, dy := solved.AtVec(0)/gain, solved.AtVec(1)/gain, solved.AtVec(2)/gain
		out.turnRad -= max(-0.2, min(0.2, turn))
		sin, cos := math.Sincos(out.turnRad)
		out.at = out.at.Add(-(cos*dx - sin*dy), -(sin*dx + cos*dy))
		left = left[:0]
		for i, s := range seen {
			if !math.IsNaN(s) {
				left = append(left, math.Abs(s-gain*p.value[i]-bias-
					solved.AtVec(0)*p.by[0][i]-solved.AtVec(1)*p.by[1][i]-solved.AtVec(2)*p.by[2][i]))
			}
		}
		scale = max(0.3, 1.4826*plane.Quantile(left, 0.5))
		var inverse mat.SymDense
		if chol.InverseTo(&inverse) == nil {
			out.turnSD = math.Sqrt(max(0, squares/weights*inverse.At(0, 0))) / gain
		}
		if math.Abs(turn) < laidTurnRad && math.Hypot(dx, dy) < laidPx {
			break
		}
	}
	if p.read(f, out.lie, seen) < leastInside {
		return out, false
	}
	out.correlation = p.correlation(seen)
	return out, !math.IsNaN(out.correlation)
}

// leastGain is the smallest gain between a patch and a picture that shows it.
const leastGain = 0.25

func sq(x float64) float64 { return x * x }
