package pdf

import (
	"math"
	"testing"

	"holdfast/report/pages"
)

// A heading never stands alone at the foot of a sheet, and cautions are not torn apart, wherever they begin.
func TestCautionsStayWithTheirHeading(t *testing.T) {
	care := &pages.Section{Title: "Take care",
		Blocks: []pages.Block{{Care: true,
			List: []string{"Stop on pain.", "Warm up.", "Clear the floor.", "One change at a time."}}}}
	end := func(y float64) (sheet int, endY float64) {
		s := newSheets("2026-01-01", 2)
		s.newSheet()
		s.y = y
		s.section(care)
		return s.f.PageNo(), s.y
	}
	_, whole := end(topY)
	for y := topY; y < bottomY; y += 3 {
		if sheet, endY := end(y); sheet == 2 && math.Abs(endY-whole) > 1e-9 {
			t.Errorf("begun at %.0f mm, the section ends at %.0f mm of sheet 2, want %.0f: it was torn apart", y, endY, whole)
		}
	}
}
