package pdf

import (
	"math"
	"slices"
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

// A table's head never stays behind without a row, wherever it begins, nor does its heading: not of one of two rows
// either, the last of which does not go over alone.
func TestHeadsStayWithTheirRows(t *testing.T) {
	for n := 1; n <= 4; n++ {
		of := &pages.Table{}
		of.Columns = slices.Grow(of.Columns, 2)[:2]
		of.Columns[0].Title, of.Columns[1].Title = "Joint", "Range of motion"
		for range n {
			of.Rows = append(of.Rows, []pages.Cell{{Text: "Knee"}, {Text: "115", Under: []string{"112 to 118", "at 2.1 s"}}})
		}
		s := newSheets("2026-01-01", 2)
		s.newSheet()
		s.table(of)
		alone := s.y
		for y := topY; y < bottomY; y++ {
			for _, before := range [][]pages.Block{nil, {{Heading: "Every rep"}}, {{Text: "Range of motion of every rep."}}} {
				s.newSheet()
				on := s.f.PageNo()
				s.y = y
				s.section(&pages.Section{Title: "Reps", Blocks: append(before, pages.Block{Table: of})})
				if s.f.PageNo() > on && math.Abs(s.y-alone) < 1e-9 {
					t.Errorf("%d rows begun at %.0f mm: all of them are on the next sheet, and what belongs above them is not", n, y)
				}
			}
		}
	}
}
