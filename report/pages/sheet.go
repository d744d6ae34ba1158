package pages

import (
	"bytes"
	"fmt"
	"html/template"
	"image"
	_ "image/jpeg" // the sizes of photos
	"math"

	"holdfast/kinematics/stats"
	"holdfast/printable"
	"holdfast/report/chart"
	"holdfast/report/said"
	"holdfast/vision/plane"
)

// Coach is what the coach's page says, apart from how it looks: the HTML page and
// the PDF are two renderings of the same sheet, so that they cannot disagree.
type Coach struct {
	Title, Athlete, Date string
	Clips                []string
	Headlines            []Headline
	Explained            string // what stands in the headlines
	Nothing              string // in place of the headlines when there are none
	Heed                 string // that there are warnings
	Sections             []Section
	// Appendix is how many sections come before the appendix.
	Appendix int
	Footer   string
}

// Headline is what the result says of a joint, and its position from condition to condition as signs.
type Headline struct {
	said.Headline
	Steps *chart.Drawing
}

// StepsSVG are the signs for the page.
func (h Headline) StepsSVG() template.HTML {
	if h.Steps == nil {
		return ""
	}
	return h.Steps.SVG()
}

// AppendixTitle stands over the appendix.
func (s *Coach) AppendixTitle() string { return said.Say("appendix") }

// Section is a part of the page under a heading. One without blocks is left out.
type Section struct {
	ID, Title string
	Blocks    []Block
}

// Block is one of a smaller heading, a paragraph, a note to heed, a list, a table
// or pictures.
type Block struct {
	Heading  string
	Text     string
	Small    bool // Text is an explanation
	Note     string
	List     []string
	Care     bool // the list is a caution
	Table    *Table
	Pictures []Figure
	Across   int // how many pictures stand beside one another
}

// Table is a table; the first column names the row.
type Table struct {
	Columns []column
	Rows    [][]Cell
}

// column says how a column looks: words are left-aligned and may be broken into
// lines, numbers are not. One that is Spare is left out on a phone.
type column struct {
	Title string
	Words bool
	Spare bool
}

// Cell is one number or a few words, with smaller lines beneath, mostly the interval.
type Cell struct {
	Text  string
	Under []string
	Bold  bool
	// Badge is Text's class when it is a verdict or a grade: see the page's style.
	Badge string
}

// Figure is a drawing or a photo.
type Figure struct {
	Drawing   *chart.Drawing
	JPEG      []byte // a photo
	Title     string
	Alt       string
	Caption   string
	Link      string // of a video beside the page
	LinkWords string
}

// Photos says that the pictures are photos, which may stand side by side on a phone.
func (b Block) Photos() bool {
	for i := range b.Pictures {
		if b.Pictures[i].JPEG == nil {
			return false
		}
	}
	return true
}

// Class is the page's class of a column.
func (t *Table) Class(k int) string {
	switch c := t.Columns[k]; {
	case k > 0 && c.Words && c.Spare:
		return "w narrow-off"
	case k > 0 && c.Words:
		return "w"
	case c.Spare:
		return "narrow-off"
	}
	return ""
}

// BadgeClass is the page's class of a badge: a verdict, or a grade of quality.
func (c Cell) BadgeClass() string {
	switch c.Badge {
	case "good", "fair", "poor":
		return "q " + c.Badge
	}
	return "v " + c.Badge
}

func (b *Block) empty() bool {
	return b.Text == "" && b.Note == "" && len(b.List) == 0 && b.Table == nil && len(b.Pictures) == 0
}

// add puts a section on the sheet unless it holds nothing but headings.
func (s *Coach) add(sec Section) {
	for i := range sec.Blocks {
		if b := &sec.Blocks[i]; !b.empty() && !b.Small {
			s.Sections = append(s.Sections, sec)
			return
		}
	}
}

// HTML is the drawing for the page.
func (f Figure) HTML() template.HTML {
	if f.Drawing == nil {
		return ""
	}
	return f.Drawing.SVG()
}

// Source is the photo's address: its own bytes.
func (f Figure) Source() template.URL {
	return dataURL("image/jpeg", f.JPEG)
}

// Size is the photo's width and height in pixels; 0 when it cannot be read.
func (f *Figure) Size() plane.XY {
	cfg, _, err := image.DecodeConfig(bytes.NewReader(f.JPEG))
	if err != nil {
		return plane.XY{}
	}
	return plane.XY{X: float64(cfg.Width), Y: float64(cfg.Height)}
}

func plain(format string, args ...any) Cell { return Cell{Text: fmt.Sprintf(format, args...)} }

// missingCell stands where a number is not known.
var missingCell = Cell{Text: "–"}

// estimateCell is a number with its interval beneath; dash where it is missing.
func estimateCell(e stats.Estimate, decimals int, unit string) Cell {
	return numberCell(e.Value, e.Interval95(), decimals, unit)
}

// numberCell is a number whose interval is kept beside it.
func numberCell(v float64, iv [2]float64, decimals int, unit string) Cell {
	if math.IsNaN(v) {
		return missingCell
	}
	c := Cell{Text: said.Decimal(v, decimals) + unit}
	if said.KnownInterval(iv) {
		c.Under = []string{said.Decimals2(iv, decimals)}
	}
	return c
}

// HTML writes the sheet as a page that needs nothing else.
func (s *Coach) HTML() ([]byte, error) {
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, s); err != nil {
		return nil, fmt.Errorf("writing the page: %w", err)
	}
	return printable.Page(b.Bytes()), nil
}
