package stats

import (
	"errors"
	"math"
	"testing"
)

func TestANOVAShroutFleiss(t *testing.T) {
	// Shrout & Fleiss 1979, table 2: six targets, four judges.
	a, err := NewANOVA([][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "between", a.Between, 11.241666667, 1e-9)
	near(t, "within", a.Within, 6.263888889, 1e-9)
	near(t, "judges", a.Columns, 32.486111111, 1e-9)
	near(t, "error", a.Error, 1.019444444, 1e-9)
}

func TestSEMWeir(t *testing.T) {
	// Weir 2005, data set A: eight people, two trials.
	a, err := NewANOVA([][]float64{{146, 140}, {148, 152}, {170, 152}, {90, 99}, {157, 145}, {156, 153},
		{176, 167}, {205, 218}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "between", a.Between, 2098.535714, 1e-6)
	near(t, "trials", a.Columns, 30.25, 1e-9)
	near(t, "error", a.Error, 57.107143, 1e-6)
	sem := math.Sqrt(a.Error)
	near(t, "SEM", sem, 7.556926813006915, 1e-9)
	near(t, "MDC95", MDC95(sem), 20.94673244207793, 1e-9)
}

func TestANOVARefuses(t *testing.T) {
	for name, table := range map[string][][]float64{
		"empty": nil, "one row": {{1, 2}}, "one column": {{1}, {2}}, "ragged": {{1, 2}, {3}},
		"missing": {{1, 2}, {3, math.NaN()}},
	} {
		if _, err := NewANOVA(table); !errors.Is(err, ErrBadTable) {
			t.Errorf("%s: got %v, want ErrBadTable", name, err)
		}
	}
}
