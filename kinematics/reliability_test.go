package kinematics

import (
	"errors"
	"math"
	"testing"
)

func TestICCShroutFleiss(t *testing.T) {
	// Shrout & Fleiss 1979, table 2: six targets, four judges; the paper prints
	// .17 .29 .71 .44 .62 .91.
	c, err := NewICC([][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []struct {
		name      string
		got, want float64
		tol       float64
	}{
		{"between", c.ANOVA.Between, 11.241666667, 1e-9}, {"within", c.ANOVA.Within, 6.263888889, 1e-9},
		{"judges", c.ANOVA.Columns, 32.486111111, 1e-9}, {"error", c.ANOVA.Error, 1.019444444, 1e-9},
		{"(1,1)", c.Single1, 0.165741768, 1e-9}, {"(2,1)", c.Single2, 0.289763780, 1e-9}, {"(3,1)", c.Single3, 0.714840715, 1e-9},
		{"(1,k)", c.Average1, 0.442797134, 1e-9}, {"(2,k)", c.Average2, 0.620050548, 1e-9}, {"(3,k)", c.Average3, 0.909315542, 1e-9},
		{"(1,1) low", c.Interval1[0], -0.132932, 1e-5}, {"(1,1) high", c.Interval1[1], 0.722560, 1e-5},
		{"(2,1) low", c.Interval2[0], 0.018787, 1e-5}, {"(2,1) high", c.Interval2[1], 0.761084, 1e-5},
		{"(3,1) low", c.Interval3[0], 0.342465, 1e-5}, {"(3,1) high", c.Interval3[1], 0.945858, 1e-5},
	} {
		near(t, v.name, v.got, v.want, v.tol)
	}
}

func TestSEMWeir(t *testing.T) {
	// Weir 2005, data set A: eight people, two trials.
	a, err := NewANOVA([][]float64{{146, 140}, {148, 152}, {170, 152}, {90, 99}, {157, 145}, {156, 153}, {176, 167}, {205, 218}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "between", a.Between, 2098.535714, 1e-6)
	near(t, "trials", a.Columns, 30.25, 1e-9)
	near(t, "error", a.Error, 57.107143, 1e-6)
	near(t, "SEM", a.SEM(), 7.556926813006915, 1e-9)
	near(t, "MDC95", MDC95(a.SEM()), 20.94673244207793, 1e-9)
	near(t, "SEM from SD 6 and ICC .90", SEMFromICC(6, 0.9), 1.8973665961, 1e-9)
	near(t, "its MDC95", MDC95(SEMFromICC(6, 0.9)), 5.2592318831, 1e-9)
}

func TestBlandAltmanPEFR(t *testing.T) {
	// Bland & Altman 1986, peak flow of 17 people with two meters; the paper
	// prints -2.1, 38.8, SE 9.4, interval -22.0 to 17.8.
	wright := []float64{494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427}
	mini := []float64{512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451}
	a, err := BlandAltman(wright, mini)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "bias", a.Bias, -2.117647059, 1e-9)
	near(t, "SD", a.SD, 38.765129874, 1e-9)
	near(t, "lower", a.Lower, -78.0973016, 1e-6)
	near(t, "upper", a.Upper, 73.8620075, 1e-6)
	near(t, "SE of the bias", a.BiasSE, 9.4019250035, 1e-9)
	near(t, "SE of a limit", a.LimitSE, 16.2846117950, 1e-9)
	near(t, "interval low", a.BiasInterval[0], -22.0488377, 1e-6)
	near(t, "interval high", a.BiasInterval[1], 17.8135436, 1e-6)
}

func TestReliabilityRefuses(t *testing.T) {
	for name, table := range map[string][][]float64{
		"empty": nil, "one row": {{1, 2}}, "one column": {{1}, {2}}, "ragged": {{1, 2}, {3}}, "missing": {{1, 2}, {3, math.NaN()}},
	} {
		if _, err := NewICC(table); !errors.Is(err, ErrBadTable) {
			t.Errorf("%s: got %v, want ErrBadTable", name, err)
		}
	}
	if _, err := BlandAltman([]float64{1, 2}, []float64{1}); !errors.Is(err, ErrBadTable) {
		t.Errorf("unequal lengths: got %v", err)
	}
}
