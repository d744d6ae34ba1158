package report

import (
	"bytes"
	"fmt"
	"html/template"
	"image"
	_ "image/jpeg" // the sizes of photos
	"math"

	"holdfast/kinematics/stats"
	"holdfast/printable"
	"holdfast/vision"
	"holdfast/words"
)

// sheet is what the coach's page says, apart from how it looks: the HTML page and
// the PDF are two renderings of the same sheet, so that they cannot disagree.
type sheet struct {
	Title, Athlete, Date string
	Clips                []string
	Headlines            []headline
	Explained            string // what stands in the headlines
	Nothing              string // in place of the headlines when there are none
	Heed                 string // that there are warnings
	Sections             []section
	Footer               string
}

// headline is one sentence of the result, with its verdict and what that is called.
type headline struct{ Joint, Rest, Verdict, Called string }

// section is a part of the page under a heading. One without blocks is left out.
type section struct {
	ID, Title string
	Blocks    []block
}

// block is one of a smaller heading, a paragraph, a note to heed, a list, a table
// or pictures.
type block struct {
	Heading  string
	Text     string
	Small    bool // Text is an explanation
	Note     string
	List     []string
	Care     bool // the list is a caution
	Table    *table
	Pictures []figure
	Across   int // how many pictures stand beside one another
}

// table is a table; the first column names the row.
type table struct {
	Columns []column
	Rows    [][]cell
}

// column says how a column looks: words are left-aligned and may be broken into
// lines, numbers are not. One that is Spare is left out on a phone.
type column struct {
	Title string
	Words bool
	Spare bool
}

// cell is one number or a few words, with smaller lines beneath, mostly the interval.
type cell struct {
	Text  string
	Under []string
	Bold  bool
	// Badge is Text's class when it is a verdict or a grade: see the page's style.
	Badge string
}

// figure is a drawing or a photo.
type figure struct {
	Drawing   *drawing
	JPEG      []byte // a photo
	Title     string
	Alt       string
	Caption   string
	Link      string // of a video beside the page
	LinkWords string
}

// Photos says that the pictures are photos, which may stand side by side on a phone.
func (b block) Photos() bool {
	for i := range b.Pictures {
		if b.Pictures[i].JPEG == nil {
			return false
		}
	}
	return true
}

// Class is the page's class of a column.
func (t *table) Class(k int) string {
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
func (c cell) BadgeClass() string {
	switch c.Badge {
	case "good", "fair", "poor":
		return "q " + c.Badge
	}
	return "v " + c.Badge
}

func (b *block) empty() bool {
	return b.Text == "" && b.Note == "" && len(b.List) == 0 && b.Table == nil && len(b.Pictures) == 0
}

// add puts a section on the sheet unless it holds nothing but headings.
func (s *sheet) add(sec section) {
	for i := range sec.Blocks {
		if b := &sec.Blocks[i]; !b.empty() && !b.Small {
			s.Sections = append(s.Sections, sec)
			return
		}
	}
}

// HTML is the drawing for the page.
func (f figure) HTML() template.HTML {
	if f.Drawing == nil {
		return ""
	}
	return f.Drawing.svg()
}

// Source is the photo's address: its own bytes.
func (f figure) Source() template.URL {
	return dataURL("image/jpeg", f.JPEG)
}

// size is the photo's width and height in pixels; 0 when it cannot be read.
func (f *figure) size() vision.XY {
	cfg, _, err := image.DecodeConfig(bytes.NewReader(f.JPEG))
	if err != nil {
		return vision.XY{}
	}
	return vision.XY{X: float64(cfg.Width), Y: float64(cfg.Height)}
}

func plain(format string, args ...any) cell { return cell{Text: fmt.Sprintf(format, args...)} }

// missingCell stands where a number is not known.
var missingCell = cell{Text: "–"}

// estimateCell is a number with its interval beneath; dash where it is missing.
func estimateCell(e stats.Estimate, decimals int, unit string) cell {
	return numberCell(e.Value, e.Interval95(), decimals, unit)
}

// numberCell is a number whose interval is kept beside it.
func numberCell(v float64, iv [2]float64, decimals int, unit string) cell {
	if math.IsNaN(v) {
		return missingCell
	}
	c := cell{Text: decimal(v, decimals) + unit}
	if knownInterval(iv) {
		c.Under = []string{decimals2(iv, decimals)}
	}
	return c
}

// decimal writes a number with a real minus sign and without a negative zero.
func decimal(v float64, decimals int) string { return words.Number(v, decimals) }

// decimals2 writes an interval with decimals.
func decimals2(iv [2]float64, decimals int) string {
	return ends(decimal(iv[0], decimals), decimal(iv[1], decimals))
}

// html writes the sheet as a page that needs nothing else.
func (s *sheet) html() ([]byte, error) {
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, s); err != nil {
		return nil, fmt.Errorf("writing the page: %w", err)
	}
	return printable.Page(b.Bytes()), nil
}
