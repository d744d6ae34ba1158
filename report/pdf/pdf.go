package pdf

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"sync"
	"time"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"

	"holdfast/printable"
	"holdfast/report/chart"
	"holdfast/report/pages"
	"holdfast/report/said"
	"holdfast/vision/plane"
	"holdfast/words"
)

// Coach lays the coach's sheet out on as many pages as it takes; the date is that of the file,
// as YYYY-MM-DD.
func Coach(s *pages.Coach, date string) ([]byte, error) {
	return layOut(func(p *sheets) { p.coach(s) }, date)
}

// Athlete lays the athlete's sheet out on one page.
func Athlete(s *pages.Athlete, date string) ([]byte, error) {
	return layOut(func(p *sheets) { p.athlete(s) }, date)
}

// layOut makes a PDF of a sheet. It is laid out twice, so that every page can say how
// many there are.
func layOut(print func(*sheets), date string) ([]byte, error) {
	sheets := 1
	for {
		s := newSheets(date, sheets)
		print(s)
		var b bytes.Buffer
		if err := s.f.Output(&b); err != nil {
			return nil, fmt.Errorf("laying out the sheets: %w", err)
		}
		if n := s.f.PageCount(); n != sheets {
			sheets = n
			continue
		}
		return b.Bytes(), nil
	}
}

// A4 and its margins in millimetres.
const (
	sheetW, sheetH          = 210.0, 297.0
	marginX, topY, bottomY  = 15.0, 15.0, 281.0
	textW                   = sheetW - 2*marginX
	mmPerPt                 = 25.4 / 72
	fontName                = "Liberation"
	bodyPt, smallPt, tinyPt = 9.5, 8.2, 7.6
	leading                 = 1.32 // line height over the size of the letters
)

// sheets is a PDF being laid out from the top down.
type sheets struct {
	f     *fpdf.Fpdf
	y     float64
	total int
	tag   string // at the foot of each sheet
	n     int    // photos so far
}

func newSheets(date string, total int) *sheets {
	f := fpdf.New("P", "mm", "A4", "")
	f.SetCatalogSort(true)
	// The file's date is that on the page, or a fixed one: the same comparison gives
	// the same file.
	day, err := time.Parse("2006-01-02", date)
	if err != nil {
		day = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	f.SetCreationDate(day)
	f.SetModificationDate(day)
	f.SetMargins(marginX, topY, marginX)
	f.SetAutoPageBreak(false, 0)
	f.SetLang(words.Tag())
	f.SetCreator("Holdfast", true)
	f.AddUTF8FontFromBytes(fontName, "", liberationsansregular.TTF)
	f.AddUTF8FontFromBytes(fontName, "B", liberationsansbold.TTF)
	s := &sheets{f: f, total: total}
	f.SetFooterFunc(s.footer)
	return s
}

func (s *sheets) footer() {
	s.font("", tinyPt, chart.SoftInk)
	y := sheetH - 9
	s.f.Text(marginX, y, s.clip(s.tag, textW-30, "", tinyPt))
	words := said.Say("page_of", "page", s.f.PageNo(), "pages", s.total)
	s.f.Text(sheetW-marginX-s.f.GetStringWidth(words), y, words)
}

// clip shortens words that are too long for a line.
func (s *sheets) clip(words string, room float64, style string, pt float64) string {
	words = known(words)
	s.f.SetFont(fontName, style, pt)
	if s.f.GetStringWidth(words) <= room {
		return words
	}
	rs := []rune(words)
	for len(rs) > 0 && s.f.GetStringWidth(string(rs)+"…") > room {
		rs = rs[:len(rs)-1]
	}
	return string(rs) + "…"
}

func (s *sheets) font(style string, pt float64, col chart.Ink) {
	s.f.SetFont(fontName, style, pt)
	c := chart.InkColors[col]
	s.f.SetTextColor(c[0], c[1], c[2])
}

func (s *sheets) newSheet() {
	s.f.AddPage()
	s.y = topY
}

// room begins a new sheet unless so many millimetres are left on this one.
func (s *sheets) room(mm float64) {
	if s.f.PageNo() == 0 || s.y+mm > bottomY && s.y > topY {
		s.newSheet()
	}
}

var letters = sync.OnceValue(func() *sfnt.Font {
	f, err := sfnt.Parse(liberationsansregular.TTF)
	if err != nil {
		return nil
	}
	return f
})

// known quotes hidden characters and replaces letters that the font has not got, so
// that a name in another script spoils neither the layout nor the file.
func known(words string) string {
	f := letters()
	var buf sfnt.Buffer
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.Is(unicode.Mn, r) && r > 0xFFFF:
			return -1
		case r < 0x7F:
			return r
		case r > 0xFFFF || f == nil:
			return '?'
		}
		if i, err := f.GlyphIndex(&buf, r); err != nil || i == 0 {
			return '?'
		}
		return r
	}, printable.Line(words))
}

// lines breaks words into lines of a width; a word that is too long is cut.
func (s *sheets) lines(words string, width float64, style string, pt float64) []string {
	s.f.SetFont(fontName, style, pt)
	var out []string
	line := ""
	for _, word := range strings.Fields(known(words)) {
		next := word
		if line != "" {
			next = line + " " + word
		}
		if s.f.GetStringWidth(next) <= width {
			line = next
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		line = word
		for s.f.GetStringWidth(line) > width {
			rs := []rune(line)
			n := len(rs) - 1
			for n > 1 && s.f.GetStringWidth(string(rs[:n])) > width {
				n--
			}
			if n < 1 {
				break
			}
			out, line = append(out, string(rs[:n])), string(rs[n:])
		}
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}

// write puts words down, broken into lines, over as many sheets as it takes.
func (s *sheets) write(words string, indent, width float64, style string, pt float64, col chart.Ink) {
	h := pt * mmPerPt * leading
	ls := s.lines(words, width, style, pt)
	for i, l := range ls {
		// No line alone at the foot of a sheet or the head of the next.
		if i == 0 && len(ls) > 1 {
			s.room(2 * h)
		}
		s.room(h)
		s.font(style, pt, col)
		s.f.Text(marginX+indent, s.y+pt*mmPerPt, l)
		s.y += h
	}
}

// coach lays the coach's sheet out.
func (s *sheets) coach(of *pages.Coach) {
	s.f.SetTitle(known(strings.TrimSuffix(of.Title+" – "+of.Athlete, " – ")), true)
	s.f.SetSubject(known(strings.Join(of.Clips, ", ")), true)
	s.tag = strings.TrimSuffix(strings.TrimPrefix(of.Athlete+" · "+of.Date, " · "), " · ")
	s.newSheet()
	s.write(of.Title, 0, textW, "", 11, chart.SoftInk)
	if of.Athlete != "" {
		s.write(of.Athlete, 0, textW, "B", 17, chart.MainInk)
	}
	s.write(strings.TrimPrefix(of.Date+" · "+strings.Join(of.Clips, ", "), " · "), 0, textW, "", bodyPt, chart.SoftInk)
	s.y += 3
	for i := range of.Headlines {
		s.headline(&of.Headlines[i])
	}
	if len(of.Headlines) == 0 {
		s.write(of.Nothing, 0, textW, "", bodyPt, chart.MainInk)
	} else {
		s.y += 1
		s.write(of.Explained, 0, textW, "", smallPt, chart.SoftInk)
	}
	if of.Heed != "" {
		s.y += 1.5
		s.write(of.Heed, 0, textW, "B", bodyPt, chart.MainInk)
	}
	for i := range of.Sections {
		if i == of.Appendix {
			s.newSheet()
			s.write(of.AppendixTitle(), 0, textW, "B", 17, chart.MainInk)
		}
		s.section(&of.Sections[i])
	}
	s.y += 4
	s.write(of.Footer, 0, textW, "", tinyPt, chart.SoftInk)
}

// headline lays out what is said of a joint: on the left the number, large, on the right the signs of its steps.
func (s *sheets) headline(h *pages.Headline) {
	const namePt, numberPt, numberW, signsW, gap = 12.0, 22.0, 34.0, 50.0, 3.0
	x, width := marginX+numberW+gap, textW-numberW-gap
	if h.Steps != nil {
		width -= signsW + gap
	}
	sentence, used := s.lines(h.Sentence, width, "", bodyPt), s.lines(h.Range, width, "", smallPt)
	body, small := bodyPt*mmPerPt*leading, smallPt*mmPerPt*leading
	high := namePt*mmPerPt*1.5 + body*float64(len(sentence)) + small*float64(len(used)) + 1
	why := s.lines(h.Why, numberW, "", tinyPt)
	if h.Number != "" {
		why = s.lines(h.Ends, numberW, "", smallPt)
	}
	if h.Steps != nil {
		high = math.Max(high, h.Steps.HeightPt*signsW/h.Steps.WidthPt)
	}
	high = math.Max(high, namePt*mmPerPt*1.5+small*float64(len(why))+1)
	s.room(high + 2)
	y := s.y + namePt*mmPerPt
	if h.Number != "" {
		s.font("B", numberPt, chart.MainInk)
		s.f.Text(marginX, y+2.6, known(h.Number))
		y += 2.6
	} else {
		s.font("B", namePt, chart.SoftInk)
		s.f.Text(marginX, y, s.clip(said.Capital(h.Called), numberW, "B", namePt))
	}
	for i, l := range why {
		s.font("", smallPt, chart.SoftInk)
		s.f.Text(marginX, y+small*float64(i+1)+0.6, l)
	}
	y = s.y + namePt*mmPerPt
	s.font("B", namePt, chart.MainInk)
	s.f.Text(x, y, known(h.Name))
	s.badge(string(h.Code), h.Called, x+s.f.GetStringWidth(known(h.Name))+2.5, y, smallPt)
	y += namePt * mmPerPt * 0.5
	for _, l := range sentence {
		s.font("", bodyPt, chart.MainInk)
		s.f.Text(x, y+bodyPt*mmPerPt, l)
		y += body
	}
	for _, l := range used {
		s.font("", smallPt, chart.SoftInk)
		s.f.Text(x, y+smallPt*mmPerPt, l)
		y += small
	}
	if h.Steps != nil {
		s.draw(h.Steps, sheetW-marginX-signsW, s.y, signsW/h.Steps.WidthPt)
	}
	s.y += high + 1
	s.rule(chart.GridInk, 0.2)
	s.y += 1.5
}

func (s *sheets) rule(col chart.Ink, w float64) {
	c := chart.InkColors[col]
	s.f.SetDrawColor(c[0], c[1], c[2])
	s.f.SetLineWidth(w)
	s.f.Line(marginX, s.y, sheetW-marginX, s.y)
}

// section lays a section out. Its heading stays with what follows.
func (s *sheets) section(sec *pages.Section) {
	s.room(16 + s.least(sec.Blocks))
	if s.y > topY {
		s.y += 6
	}
	s.write(sec.Title, 0, textW, "B", 14, chart.MainInk)
	s.y += 0.6
	s.rule(chart.GridInk, 0.5)
	s.y += 2.5
	for i := range sec.Blocks {
		b := &sec.Blocks[i]
		if b.Heading != "" {
			s.room(9 + s.least(sec.Blocks[i+1:]))
			s.y += 2
			s.write(b.Heading, 0, textW, "B", 10.5, chart.MainInk)
			s.y += 0.8
		}
		if b.Text != "" {
			pt, col := bodyPt, chart.MainInk
			if b.Small {
				pt, col = smallPt, chart.SoftInk
			}
			s.room(4 + s.least(sec.Blocks[i+1:])*ifAbove(b, sec.Blocks[i+1:]))
			s.write(b.Text, 0, textW, "", pt, col)
			s.y += 1.8
		}
		if b.Note != "" {
			s.note(b.Note)
		}
		if len(b.List) > 0 {
			s.list(b.List, b.Care)
		}
		if b.Table != nil {
			s.table(b.Table)
		}
		if len(b.Pictures) > 0 {
			s.pictures(b.Pictures, b.Across)
		}
	}
}

// ifAbove is 1 when a paragraph introduces pictures or a list and must stay with them.
func ifAbove(b *pages.Block, rest []pages.Block) float64 {
	if len(rest) > 0 && (len(rest[0].Pictures) > 0 || rest[0].Table != nil || len(rest[0].List) > 0) {
		return 1
	}
	return 0
}

// least is the height that the first of some blocks needs to begin.
func (s *sheets) least(blocks []pages.Block) float64 {
	sum := 0.0
	for i := range blocks {
		b := &blocks[i]
		switch {
		case len(b.Pictures) > 0:
			return sum + s.rowHeight(b.Pictures[:min(len(b.Pictures), max(1, b.Across))], max(1, b.Across)) +
				s.nextKey(blocks[i+1:], b)
		case b.Table != nil:
			_, _, _, first := s.heights(b.Table)
			return sum + first
		case len(b.List) > 0 && b.Care:
			return sum + s.listHeight(b.List)
		case len(b.List) > 0 || b.Note != "":
			return sum + 11
		case b.Text != "":
			pt := bodyPt
			if b.Small {
				pt = smallPt
			}
			sum += float64(len(s.lines(b.Text, textW, "", pt)))*pt*mmPerPt*leading + 2
		case b.Heading != "":
			sum += 9
		}
	}
	return sum
}

// nextKey is the height of the pictures that a key belongs to.
func (s *sheets) nextKey(rest []pages.Block, b *pages.Block) float64 {
	if len(b.Pictures) == 1 && b.Pictures[0].Drawing != nil && b.Pictures[0].Drawing.HeightPt < 40 {
		return s.least(rest)
	}
	return 0
}

func (s *sheets) note(words string) {
	ls := s.lines(words, textW-8, "", bodyPt)
	h := float64(len(ls))*bodyPt*mmPerPt*leading + 3
	s.room(h)
	s.f.SetFillColor(0xf3, 0xf4, 0xf6)
	s.f.Rect(marginX, s.y, textW, h, "F")
	s.f.SetFillColor(0xe6, 0x9f, 0x00)
	s.f.Rect(marginX, s.y, 1.6, h, "F")
	y := s.y + 1.4
	for _, l := range ls {
		s.font("", bodyPt, chart.MainInk)
		s.f.Text(marginX+4, y+bodyPt*mmPerPt, l)
		y += bodyPt * mmPerPt * leading
	}
	s.y += h + 2.5
}

// listHeight is the height of a whole list.
func (s *sheets) listHeight(items []string) float64 {
	total := 0.0
	for _, it := range items {
		total += float64(len(s.lines(it, textW-5, "", bodyPt)))*bodyPt*mmPerPt*leading + 0.9
	}
	return total
}

func (s *sheets) list(items []string, care bool) {
	h := bodyPt * mmPerPt * leading
	if care { // a caution is not torn apart
		s.room(s.listHeight(items))
	}
	for _, it := range items {
		ls := s.lines(it, textW-5, "", bodyPt)
		if len(ls) <= 4 {
			s.room(h * float64(len(ls)))
		} else {
			s.room(2 * h)
		}
		c := chart.InkColors[chart.MainInk]
		s.f.SetFillColor(c[0], c[1], c[2])
		s.f.Circle(marginX+1.4, s.y+h*0.52, 0.55, "F")
		s.write(it, 4.5, textW-5, "", bodyPt, chart.MainInk)
		s.y += 0.9
	}
	s.y += 1.5
}

// badgeStyle is the fill and the letters of a badge; without a fill it has a dashed
// frame.
func badgeStyle(class string) (fill *[3]int, frame bool) {
	switch class {
	case "lost", "poor":
		return &[3]int{0x8a, 0x3a, 0x00}, false
	case "held":
		return &[3]int{0x00, 0x58, 0x3f}, false
	case "gained", "moved":
		return &[3]int{0x00, 0x5a, 0x8e}, false
	case "unclear", "fair", "withheld", "unmeasured":
		return nil, true
	}
	return nil, false
}

func (s *sheets) badgeWidth(words string, pt float64) float64 {
	s.f.SetFont(fontName, "B", pt)
	return s.f.GetStringWidth(known(words)) + 3
}

// badge writes a verdict in a coloured field; y is the line the letters stand on.
func (s *sheets) badge(class, words string, x, y, pt float64) {
	fill, frame := badgeStyle(class)
	if fill == nil && !frame {
		s.font("", pt, chart.MainInk)
		s.f.Text(x, y, known(words))
		return
	}
	w, h := s.badgeWidth(words, pt), pt*mmPerPt*1.35
	top := y - pt*mmPerPt*1.02
	s.font("B", pt, chart.MainInk)
	if fill != nil {
		s.f.SetFillColor(fill[0], fill[1], fill[2])
		s.f.RoundedRect(x, top, w, h, 0.7, "1234", "F")
		s.f.SetTextColor(255, 255, 255)
	} else {
		c := chart.InkColors[chart.SoftInk]
		s.f.SetDrawColor(c[0], c[1], c[2])
		s.f.SetLineWidth(0.25)
		s.f.SetDashPattern([]float64{0.8, 0.6}, 0)
		s.f.RoundedRect(x, top, w, h, 0.7, "1234", "D")
		s.f.SetDashPattern([]float64{}, 0)
	}
	s.f.Text(x+1.5, y, known(words))
}

// The sizes of a table's letters and its padding.
const (
	cellPt, underPt, headPt = 9.0, 7.4, 7.8
	cellPadX, cellPadY      = 1.6, 0.9
)

// cellLines are a cell's lines for a width.
func (s *sheets) cellLines(c *pages.Cell, width float64, head bool) (text, under []string) {
	style := ""
	if c.Bold || head {
		style = "B"
	}
	if c.Badge != "" && c.Text != "" {
		text = []string{c.Text}
	} else {
		text = s.lines(c.Text, width, style, cellPt)
	}
	for _, u := range c.Under {
		under = append(under, s.lines(u, width, "", underPt)...)
	}
	return text, under
}

// widths shares the width of the sheet among a table's columns.
func (s *sheets) widths(t *pages.Table) []float64 {
	n := len(t.Columns)
	want, least := make([]float64, n), make([]float64, n)
	longest := func(words, style string, pt float64) float64 {
		w := 0.0
		s.f.SetFont(fontName, style, pt)
		for _, f := range strings.Fields(known(words)) {
			w = math.Max(w, s.f.GetStringWidth(f))
		}
		return w
	}
	full := func(words, style string, pt float64) float64 {
		s.f.SetFont(fontName, style, pt)
		return s.f.GetStringWidth(known(words))
	}
	for k, c := range t.Columns {
		least[k] = longest(c.Title, "B", headPt)
		want[k] = math.Max(least[k], math.Min(full(c.Title, "B", headPt), 26))
		for _, r := range t.Rows {
			if k >= len(r) {
				continue
			}
			x := &r[k]
			style := ""
			if k == 0 || x.Bold {
				style = "B"
			}
			if x.Badge != "" {
				w := s.badgeWidth(x.Text, smallPt)
				least[k], want[k] = math.Max(least[k], w), math.Max(want[k], w)
			} else {
				least[k] = math.Max(least[k], longest(x.Text, style, cellPt))
				want[k] = math.Max(want[k], full(x.Text, style, cellPt))
			}
			for _, u := range x.Under {
				least[k] = math.Max(least[k], longest(u, "", underPt))
				want[k] = math.Max(want[k], full(u, "", underPt))
			}
		}
		least[k] += 2 * cellPadX
		want[k] = math.Min(want[k]+2*cellPadX, 64)
		want[k] = math.Max(want[k], least[k])
	}
	sum := func(v []float64) (t float64) {
		for _, x := range v {
			t += x
		}
		return t
	}
	out := make([]float64, n)
	w, l := sum(want), sum(least)
	switch {
	case w <= textW:
		rest := (textW - w) / float64(n)
		for k := range out {
			out[k] = want[k] + rest
		}
	case l < textW && w > l:
		for k := range out {
			out[k] = least[k] + (want[k]-least[k])*(textW-l)/(w-l)
		}
	default:
		for k := range out {
			out[k] = textW * least[k] / l
		}
	}
	return out
}

// heights returns how wide a table's columns are, how high its head and each row are, and how high what must stand on
// one sheet at its beginning: the head, the first row, and the second where it is the last.
func (s *sheets) heights(t *pages.Table) (ws []float64, headH float64, rows []float64, first float64) {
	ws = s.widths(t)
	for i := range t.Rows {
		h := cellText
		for k := range t.Rows[i] {
			a, b := s.cellLines(&t.Rows[i][k], ws[k]-2*cellPadX, k == 0)
			h = math.Max(h, cellText*float64(max(1, len(a)))+cellUnder*float64(len(b)))
		}
		rows = append(rows, h+2*cellPadY)
	}
	headLines := 1
	for k, c := range t.Columns {
		headLines = max(headLines, len(s.lines(c.Title, ws[k]-2*cellPadX, "B", headPt)))
	}
	headH = float64(headLines)*headPt*mmPerPt*1.25 + 2*cellPadY
	first = headH
	for i := range rows {
		if i == 0 || len(rows) == 2 {
			first += rows[i]
		}
	}
	return ws, headH, rows, first
}

// The height of a line of a cell, and of one of what stands beneath it.
const cellText, cellUnder = cellPt * mmPerPt * leading, underPt * mmPerPt * 1.28

// table lays a table out, with its head repeated on every sheet.
func (s *sheets) table(t *pages.Table) {
	ws, headH, rows, first := s.heights(t)
	head := func() {
		x := marginX
		for k, c := range t.Columns {
			ls := s.lines(c.Title, ws[k]-2*cellPadX, "B", headPt)
			y := s.y + headH - cellPadY - float64(len(ls))*headPt*mmPerPt*1.25
			for _, l := range ls {
				s.font("B", headPt, chart.SoftInk)
				s.put(l, x, y+headPt*mmPerPt, ws[k], k == 0, c.Words)
				y += headPt * mmPerPt * 1.25
			}
			x += ws[k]
		}
		s.y += headH
		s.rule(chart.SoftInk, 0.3)
	}
	s.room(first)
	head()
	for i, r := range t.Rows {
		// The last row does not go over to the next sheet alone.
		h, need := rows[i], rows[i]
		if i == len(t.Rows)-2 {
			need += rows[i+1]
		}
		if s.y+need > bottomY {
			s.newSheet()
			head()
		}
		x := marginX
		for k := range r {
			c := &r[k]
			a, b := s.cellLines(c, ws[k]-2*cellPadX, k == 0)
			y := s.y + cellPadY
			for _, l := range a {
				base := y + cellPt*mmPerPt
				if c.Badge != "" {
					at := x + cellPadX
					if !t.Columns[k].Words {
						at = x + ws[k] - cellPadX - s.badgeWidth(l, smallPt)
					}
					s.badge(c.Badge, l, at, base, smallPt)
				} else {
					style := ""
					if k == 0 || c.Bold {
						style = "B"
					}
					s.font(style, cellPt, chart.MainInk)
					s.put(l, x, base, ws[k], k == 0, t.Columns[k].Words)
				}
				y += cellText
			}
			if len(a) == 0 {
				y += cellText
			}
			for _, l := range b {
				s.font("", underPt, chart.SoftInk)
				s.put(l, x, y+underPt*mmPerPt, ws[k], k == 0, t.Columns[k].Words)
				y += cellUnder
			}
			x += ws[k]
		}
		s.y += h
		s.rule(chart.GridInk, 0.2)
	}
	s.y += 3
}

// put writes one line of a cell: the first column and words on the left, numbers on
// the right.
func (s *sheets) put(l string, x, y, w float64, first, words bool) {
	switch {
	case first:
		s.f.Text(x, y, l)
	case words:
		s.f.Text(x+cellPadX, y, l)
	default:
		s.f.Text(x+w-cellPadX-s.f.GetStringWidth(l), y, l)
	}
}

const gutter = 5.0

// pictures lays pictures out in rows.
func (s *sheets) pictures(ps []pages.Figure, across int) {
	across = max(1, across)
	for len(ps) > 0 {
		row := ps[:min(across, len(ps))]
		ps = ps[len(row):]
		h := s.rowHeight(row, across)
		s.room(h)
		x := marginX
		for i := range row {
			w := s.pictureWidth(&row[i], across)
			ph := s.picture(&row[i], x, s.y, w)
			y := s.y + ph + 1
			for _, l := range s.lines(row[i].Caption, w, "", tinyPt) {
				s.font("", tinyPt, chart.SoftInk)
				s.f.Text(x, y+tinyPt*mmPerPt, l)
				y += tinyPt * mmPerPt * 1.25
			}
			x += w + gutter
		}
		s.y += h
	}
	s.y += 1.5
}

// pictureWidth is the width of a picture's place in millimetres.
func (s *sheets) pictureWidth(f *pages.Figure, across int) float64 {
	w := (textW - gutter*float64(across-1)) / float64(across)
	if across == 1 {
		w = 105 // a chart alone need not fill the sheet
		if f.Drawing != nil && f.Drawing.WidthPt > 400 {
			w = 150
		}
	}
	return w
}

func (s *sheets) rowHeight(row []pages.Figure, across int) float64 {
	h := 0.0
	for i := range row {
		w := s.pictureWidth(&row[i], across)
		h = math.Max(h, pictureHeight(&row[i], w)+float64(len(s.lines(row[i].Caption, w, "", tinyPt)))*tinyPt*mmPerPt*1.25+4)
	}
	return h
}

// pictureHeight is the height of a picture of a width, in millimetres.
func pictureHeight(f *pages.Figure, w float64) float64 {
	if f.Drawing != nil {
		return f.Drawing.HeightPt * w / f.Drawing.WidthPt
	}
	cfg := f.Size()
	if cfg.X <= 0 {
		return 0
	}
	return w * cfg.Y / cfg.X
}

// picture draws a picture and returns its height.
func (s *sheets) picture(f *pages.Figure, x, y, w float64) float64 {
	h := pictureHeight(f, w)
	switch {
	case f.Drawing != nil:
		s.draw(f.Drawing, x, y, w/f.Drawing.WidthPt)
	case f.JPEG != nil:
		s.photo(f.JPEG, x, y, w, h)
	}
	return h
}

func (s *sheets) photo(jpeg []byte, x, y, w, h float64) {
	s.n++
	name := fmt.Sprintf("picture%d", s.n)
	opt := fpdf.ImageOptions{ImageType: "JPG"}
	s.f.RegisterImageOptionsReader(name, opt, bytes.NewReader(jpeg))
	s.f.ImageOptions(name, x, y, w, h, false, opt, 0, "")
}

// draw puts a drawing down as lines and letters; k is millimetres a point of it.
func (s *sheets) draw(d *chart.Drawing, x, y, k float64) {
	f := s.f
	at := func(p plane.XY) (float64, float64) { return x + p.X*k, y + p.Y*k }
	f.SetLineCapStyle("butt")
	f.SetLineJoinStyle("round")
	for i := range d.Marks {
		m := &d.Marks[i]
		if m.Text != "" {
			style := ""
			if m.Bold {
				style = "B"
			}
			s.font(style, m.Size*k/mmPerPt, m.Fill)
			words := known(m.Text)
			px, py := at(m.At)
			shift := m.Anchor * f.GetStringWidth(words)
			if m.Up {
				f.TransformBegin()
				f.TransformRotate(90, px, py)
				f.Text(px-shift, py, words)
				f.TransformEnd()
			} else {
				f.Text(px-shift, py, words)
			}
			continue
		}
		if m.See > 0 && m.See < 1 {
			f.SetAlpha(m.See, "Normal")
		}
		for n, p := range m.Points {
			px, py := at(p)
			if n == 0 {
				f.MoveTo(px, py)
			} else {
				f.LineTo(px, py)
			}
		}
		if m.Closed {
			f.ClosePath()
		}
		how := ""
		if m.Fill != chart.NoInk {
			c := chart.InkColors[m.Fill]
			f.SetFillColor(c[0], c[1], c[2])
			how = "F"
		}
		if m.Stroke != chart.NoInk {
			c := chart.InkColors[m.Stroke]
			f.SetDrawColor(c[0], c[1], c[2])
			f.SetLineWidth(m.Width * k)
			var dash []float64
			for _, v := range m.Dash {
				dash = append(dash, v*k)
			}
			f.SetDashPattern(dash, 0)
			how += "D"
		}
		f.DrawPath(how)
		if len(m.Dash) > 0 {
			f.SetDashPattern([]float64{}, 0)
		}
		if m.See > 0 && m.See < 1 {
			f.SetAlpha(1, "Normal")
		}
	}
}

// athlete lays the athlete's sheet out: one page.
func (s *sheets) athlete(of *pages.Athlete) {
	name := of.Athlete
	if name == "" {
		name = said.Say("athlete_title")
	}
	s.f.SetTitle(known(name), true)
	s.f.SetSubject(of.Of, true)
	s.tag = of.Program
	s.newSheet()
	s.write(s.clip(name, textW, "B", 22), 0, textW, "B", 22, chart.MainInk)
	s.write(strings.TrimSuffix(of.Of+" · "+of.Date, " · "), 0, textW, "", 11, chart.SoftInk)
	s.y += 3
	if n := len(of.Pictures); n > 0 {
		across := max(2, n)
		w := (textW - gutter*float64(across-1)) / float64(across)
		x, h := marginX, 0.0
		for i := range of.Pictures {
			ph := s.picture(&of.Pictures[i], x, s.y, w)
			s.font("B", 12, chart.MainInk)
			words := of.Pictures[i].Title
			s.f.Text(x+(w-s.f.GetStringWidth(words))/2, s.y+ph+5.5, words)
			h = math.Max(h, ph)
			x += w + gutter
		}
		s.y += h + 10
	}
	if of.Look != nil {
		ls := s.lines(of.Look.Text, textW-12, "", 13)
		h := 18 + float64(len(ls))*6
		s.f.SetFillColor(0xf1, 0xf4, 0xf7)
		s.f.Rect(marginX, s.y, textW, h, "F")
		c := chart.InkColors[chart.FastInk]
		s.f.SetFillColor(c[0], c[1], c[2])
		s.f.Rect(marginX, s.y, 2, h, "F")
		s.font("", 11, chart.SoftInk)
		s.f.Text(marginX+6, s.y+6, said.Say("athlete_look"))
		s.font("B", 16, chart.MainInk)
		s.f.Text(marginX+6, s.y+12.5, known(of.Look.Title))
		y := s.y + 19.5
		for _, l := range ls {
			s.font("", 13, chart.MainInk)
			s.f.Text(marginX+6, y, l)
			y += 6
		}
		s.y += h + 6
	}
	top := s.y
	left := textW*0.4 - 6
	if of.Ladder == nil {
		left = textW
	}
	part := func(title string, items []string) {
		if len(items) == 0 {
			return
		}
		s.write(title, 0, left, "B", 13, chart.MainInk)
		s.y += 0.5
		for _, it := range items {
			s.write(it, 0, left, "", 12.5, chart.MainInk)
			s.y += 0.4
		}
		s.y += 4
	}
	part(said.Say("athlete_keep"), of.Keep)
	part(of.LessTitle, of.Less)
	part(said.Say("athlete_unsure"), of.Unsure)
	if of.Jump != "" {
		s.write(said.Say("athlete_jump"), 0, left, "B", 13, chart.MainInk)
		s.write(of.Jump, 0, left, "B", 20, chart.MainInk)
		s.write(of.JumpHow, 0, left, "", 11, chart.SoftInk)
	}
	below := s.y
	if of.Ladder != nil {
		x := marginX + left + 10
		w := sheetW - marginX - x
		s.font("B", 13, chart.MainInk)
		s.f.Text(x, top+13*mmPerPt, s.clip(of.LadderTitle, w, "B", 13))
		s.draw(of.Ladder, x, top+8, w/of.Ladder.WidthPt)
		below = math.Max(below, top+8+pictureHeight(&pages.Figure{Drawing: of.Ladder}, w))
	}
	s.y = below + 4
	ls := s.lines(of.Caution, textW, "", tinyPt)
	s.y = math.Max(s.y, bottomY-float64(len(ls))*tinyPt*mmPerPt*leading)
	s.write(of.Caution, 0, textW, "", tinyPt, chart.SoftInk)
}
