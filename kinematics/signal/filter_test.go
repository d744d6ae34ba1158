package signal

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The numbers of this file were made with scipy 1.10.1 (signal.filtfilt, default
// padding) unless a comment says otherwise.

const filterTol = 1e-9

func TestCutoffCorrection(t *testing.T) {
	near(t, "factor of two passes", dualPassFactor, 0.8022432629231502, 1e-15)
	for _, c := range []struct{ fs, fc, want float64 }{
		{30, 6, 7.027534322483351},
		{60, 6, 7.349544365},
		{60, 10, 11.913808801},
		{120, 6, 7.445405236},
		{120, 12, 14.699088729},
		{240, 12, 14.890810471},
		{200, 6, 7.466822842},
	} {
		near(t, fmt.Sprintf("cut-off %g of %g", c.fc, c.fs), correctedCutoffHz(c.fs, c.fc), c.want, 1e-9)
		near(t, "gain at the cut-off", Gain(c.fs, c.fc, c.fc), math.Sqrt2/2, 1e-12)
	}
	near(t, "cut-off 6 of 30", correctedCutoffHz(30, 6), 7.027534322483351, 1e-12)
}

func TestLowpassCoefficients(t *testing.T) {
	for _, c := range []struct{ fs, fc, b0, a1, a2, tol float64 }{
		{30, 6, 0.2644937732585499, -0.1159765271332633, 0.1739516201674629, 1e-14},
		{60, 6, 0.094446743885, -0.962641308844, 0.340428284384, 1e-12},
		{120, 12, 0.094446743885, -0.962641308844, 0.340428284384, 1e-12},
		{60, 10, 0.204253814347, -0.380231857593, 0.197247114983, 1e-12},
		{120, 6, 0.029569074716, -1.458103860461, 0.576380159326, 1e-12},
		{200, 6, 0.011760722387, -1.670647685734, 0.717690575283, 1e-12},
	} {
		f := newLowpass(t, c.fs, c.fc)
		near(t, "b0", f.b0, c.b0, c.tol)
		near(t, "b1", f.b1, 2*c.b0, 2*c.tol)
		near(t, "a1", f.a1, c.a1, c.tol)
		near(t, "a2", f.a2, c.a2, c.tol)
	}
	for _, c := range []struct{ fs, fc float64 }{{30, 0}, {30, -1}, {30, 15}, {30, 14.9999999}, {30, math.NaN()}, {0, 6}} {
		if _, err := NewLowpass(c.fs, c.fc); c.fc != 14.9999999 && !errors.Is(err, errBadCutoff) {
			t.Errorf("cut-off %g of %g: got error %v, want errBadCutoff", c.fc, c.fs, err)
		}
	}
}

func newLowpass(t testing.TB, fs, fc float64) *Lowpass {
	t.Helper()
	f, err := NewLowpass(fs, fc)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

var squat24 = []float64{5, 6, 8, 13, 21, 34, 48, 65, 81, 95, 106, 113, 115, 112, 104, 92, 77, 60, 44, 30, 19, 11, 7, 5}

func TestSmoothAgainstSciPy(t *testing.T) {
	want := []float64{
		5.000697714139, 5.904623367789, 8.108367964755, 12.962142074762, 21.440486070047, 33.556435344829,
		48.458929461087, 64.816192446627, 80.901917159529, 95.035332214960, 106.013356874264, 112.905499786209,
		114.971631176755, 111.922082601644, 104.021905891641, 91.959109399566, 76.803943204841, 60.186954191213,
		44.073084509772, 30.018589241255, 18.918427279957, 11.292703401516, 7.062161882683, 5.003507736239,
	}
	y := newLowpass(t, 30, 6).Smooth(squat24)
	for i := range want {
		near(t, fmt.Sprintf("sample %d", i), y[i], want[i], filterTol)
	}
}

func TestSmoothImpulseAndStep(t *testing.T) {
	f := newLowpass(t, 60, 6)
	impulse := make([]float64, 25)
	impulse[12] = 1
	y := f.Smooth(impulse)
	for k, want := range []float64{0.259339672731, 0.219272284867, 0.131714186868, 0.052147029489, 0.005359650056,
		-0.012592903240, -0.013947025331} {
		near(t, fmt.Sprintf("impulse -%d", k), y[12-k], want, filterTol)
		near(t, fmt.Sprintf("impulse +%d", k), y[12+k], want, 1e-8)
	}
	step := make([]float64, 24)
	for i := 12; i < 24; i++ {
		step[i] = 1
	}
	y = f.Smooth(step)
	for i, want := range map[int]float64{11: 0.370330163579, 12: 0.629669836325, 15: 1.032803337665, 16: 1.038162988064} {
		near(t, fmt.Sprintf("step %d", i), y[i], want, filterTol)
	}
}

func TestSmoothInvariants(t *testing.T) {
	f := newLowpass(t, 60, 6)
	ramp := make([]float64, 24)
	for i := range ramp {
		ramp[i] = 2*float64(i) + 1
	}
	worst := 0.0
	for i, v := range f.Smooth(ramp) {
		worst = max(worst, math.Abs(v-ramp[i]))
	}
	near(t, "largest error on a ramp", worst, 0.0175003, 1e-6)

	for _, c := range []struct{ fs, fc, want float64 }{
		{30, 6, 0.630917}, {60, 6, 0.452243}, {120, 6, 0.321547}, {240, 6, 0.227736}, {240, 12, 0.321547},
	} {
		near(t, fmt.Sprintf("white noise left at %g of %g", c.fc, c.fs), newLowpass(t, c.fs, c.fc).noiseKept(), c.want, 1e-5)
	}

	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-200, 200), 12, 60).Draw(t, "x")
		shift := rapid.Float64Range(-500, 500).Draw(t, "shift")
		y := f.Smooth(x)
		moved := make([]float64, len(x))
		for i := range x {
			moved[i] = 2*x[i] + shift
		}
		for i, v := range f.Smooth(moved) {
			if math.Abs(v-(2*y[i]+shift)) > 1e-8 {
				t.Fatalf("sample %d: smoothing is not linear with a constant kept", i)
			}
		}
	})
}

func TestSmoothLeavesGaps(t *testing.T) {
	nan := math.NaN()
	x := []float64{nan, 1, 2, nan, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, nan}
	y := newLowpass(t, 60, 6).Smooth(x)
	for i := range x {
		if math.IsNaN(x[i]) != math.IsNaN(y[i]) {
			t.Errorf("sample %d: %v became %v", i, x[i], y[i])
		}
	}
	near(t, "short stretch kept", y[2], 2, 0)
	near(t, "constant kept", y[9], 3, 1e-12)
	if len(newLowpass(t, 60, 6).Smooth(nil)) != 0 {
		t.Error("nothing should stay nothing")
	}
}

func TestResidualAnalysis(t *testing.T) {
	x := make([]float64, 240)
	s := uint64(12345)
	for i := range x {
		s = (1103515245*s + 12345) % (1 << 31)
		noise := 4 * (float64(s)/(1<<31) - 0.5)
		x[i] = 5 + 55*(1-math.Cos(2*math.Pi*float64(i)/60/2)) + noise
	}
	for i, want := range []float64{5.620616193861, 4.294632881767, 6.001138289704, 4.104215202314} {
		near(t, fmt.Sprintf("test signal %d", i), x[i], want, 1e-9)
	}
	for fc, want := range map[float64]float64{1: 1.681799095, 2: 1.122402270, 6: 0.988101851,
		10: 0.852134073, 20: 0.573792094} {
		near(t, fmt.Sprintf("residual at %g Hz", fc), rmsDifference(x, newLowpass(t, 60, fc).Smooth(x)), want, 1e-8)
	}
	near(t, "cut-off", ResidualCutoffHz(x, 60), 2.0253794304391324, 1e-6)
	if c := ResidualCutoffHz(x[:20], 60); !math.IsNaN(c) {
		t.Errorf("20 samples: got %g, want NaN", c)
	}
}

func TestVelocity(t *testing.T) {
	nan := math.NaN()
	got := Velocity([]float64{0, 1, 4, nan, 2, 2}, 10)
	want := []float64{10, 20, 30, nan, 0, 0}
	for i := range want {
		if math.IsNaN(want[i]) != math.IsNaN(got[i]) || math.Abs(got[i]-want[i]) > 1e-12 {
			t.Errorf("sample %d: got %v, want %v", i, got[i], want[i])
		}
	}
}

// noiseKept returns the part of the standard deviation of white noise that both
// passes leave, from the filter's own impulse response.
func (f *Lowpass) noiseKept() float64 {
	const n = 401
	x := make([]float64, n)
	x[n/2] = 1
	f.smoothStretch(x)
	var ss float64
	for _, v := range x {
		ss += v * v
	}
	return math.Sqrt(ss)
}
