package report

import (
	"bytes"
	"fmt"
	"html"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"holdfast/internal/compared"
	"holdfast/internal/pdftext"
	"holdfast/kinematics"
	"holdfast/kinematics/notice"
	"holdfast/report/pages"
	"holdfast/report/pdf"
	"holdfast/screening"
	"holdfast/words"
)

// cellsOf are all words and numbers in the tables of a sheet.
func cellsOf(s *pages.Coach) []string {
	var out []string
	for _, sec := range s.Sections {
		for _, b := range sec.Blocks {
			if b.Table == nil {
				continue
			}
			for _, r := range b.Table.Rows {
				for _, c := range r {
					if c.Text != "" {
						out = append(out, c.Text)
					}
					out = append(out, c.Under...)
				}
			}
		}
	}
	return out
}

func sectionIDs(s *pages.Coach) []string {
	var out []string
	for _, sec := range s.Sections {
		out = append(out, sec.ID)
	}
	return out
}

// TestCoachPageNumbers: what the page and the PDF say are the comparison's numbers.
func TestCoachPageNumbers(t *testing.T) {
	p := &pages.Material{Comparison: compared.Full(t)}
	s := p.Coach()
	if got, want := sectionIDs(s), []string{"ladder", "care", "pair1", "pair2", "pair3", "landing", "foot", "jumps",
		"curves",
		"coupling", "consistency", "reps", "trust"}; !slices.Equal(got, want) {
		t.Errorf("sections %v, want %v", got, want)
	}
	b, err := s.HTML()
	if err != nil {
		t.Fatal(err)
	}
	words := strings.ReplaceAll(html.UnescapeString(string(b)), "\u00a0", " ")
	for _, want := range []string{
		// The heel's fast rung.
		`<b>11 %</b><span class="iv">9 to 13</span><span class="iv long">9 % more (4 to 14)</span>` +
			`<span class="iv">more</span>`,
		`28°<span class="iv">26 to 30</span>`, "9° less (5 to 13)",
		"The heel is down in the slow rep", "not a diagnosis.",
		`<td>101°</td>`, "17° less (11 to 23)", `<span class="v held">held</span>`, // landing
		"520 °/s", `−9°<span class="iv">−19 to 1</span>`,
		`44 %<span class="iv">30 to 57</span>`, "31 to 58 %", "0.21 s", "0.13 s / 0.08 s", // support point
		`2.8 cm<span class="iv">2.0 to 3.6</span><span class="iv">up for 0.37 s</span>`, "nearer the toes",
		"17 % toward the toes (11 to 23)",
		`26 cm<span class="iv">22 to 29</span>`, `2.1 m/s<span class="iv">1.9 to 2.3</span>`,
		"3.10 mm a pixel (2.90 to 3.30), from the athlete's height",
		"The body lands more folded", "Knee flexion, fast: lost from 73 % of the descent.",
		"Knee flexion, jump: lost from 73 % of the descent.",
		"89 %", "less from rep to rep", "2.1°", "invented masses",
	} {
		if !strings.Contains(words, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(words, "reactive strength</th>") || strings.Contains(words, "on the floor before</th>") {
		t.Error("a column in which nothing is known is shown")
	}
	pdf, err := pdf.Coach(s, "")
	if err != nil {
		t.Fatal(err)
	}
	text := pdftext.Of(t, pdf)
	for _, c := range cellsOf(s) {
		for _, word := range strings.Fields(c) {
			if !strings.Contains(text, word) {
				t.Fatalf("the PDF lacks %q of %q", word, c)
			}
		}
	}
	for _, sec := range s.Sections {
		if !strings.Contains(text, sec.Title) {
			t.Errorf("the PDF lacks the section %q", sec.Title)
		}
	}
}

// TestMissingSections: a part without data leaves no heading behind.
func TestMissingSections(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it draws many reports")
	}
	each := func(f func(*screening.Analysis)) func(*screening.Comparison) {
		return func(c *screening.Comparison) {
			for _, a := range c.Analyses {
				f(a)
			}
		}
	}
	pairs := func(f func(*kinematics.Pair)) func(*screening.Comparison) {
		return func(c *screening.Comparison) {
			for i := range c.Pairs {
				f(&c.Pairs[i])
			}
		}
	}
	for _, tc := range []struct {
		name   string
		change func(*screening.Comparison)
		gone   []string
	}{
		{"no ladder", func(c *screening.Comparison) { c.Ladder = kinematics.Ladder{} }, []string{"ladder"}},
		{"a ladder of unknown values",
			func(c *screening.Comparison) { c.Ladder.Rungs = c.Ladder.Rungs[2:] }, []string{"ladder"}},
		{"no landing", func(c *screening.Comparison) { c.Landing = nil }, []string{"landing"}},
		{"no jump", each(func(a *screening.Analysis) {
			for i := range a.Reps {
				a.Reps[i].Jump = nil
			}
		}), []string{"jumps"}},
		{"no foot", func(c *screening.Comparison) {
			pairs(func(p *kinematics.Pair) { p.Support = nil })(c)
			each(func(a *screening.Analysis) {
				a.Series.SupportPct = nil
				for i := range a.Reps {
					a.Reps[i].Foot, a.Reps[i].Support = nil, nil
				}
			})(c)
		}, []string{"foot"}},
		{"no curves", pairs(func(p *kinematics.Pair) { p.Curves, p.AngleAngle = nil, nil }), []string{"curves", "coupling"}},
		{"no sets", each(func(a *screening.Analysis) { a.Sets = nil }), []string{"consistency"}},
		{"single reps", each(func(a *screening.Analysis) { a.Sets[0].Reps = 1 }), []string{"consistency"}},
		{"no verdict", func(c *screening.Comparison) {
			why := notice.New("why_different_zeros", nil)
			c.Withheld = &why
			c.Conclude()
		}, nil},
		{"no analyses", func(c *screening.Comparison) { c.Analyses = nil }, []string{"jumps", "consistency", "reps"}},
		{"empty analyses", func(c *screening.Comparison) { c.Analyses = []*screening.Analysis{nil, nil, nil} },
			[]string{"jumps", "consistency", "reps"}},
		{"nothing", func(c *screening.Comparison) { *c = screening.Comparison{} },
			[]string{"ladder", "pair1", "pair2", "pair3", "landing", "foot", "jumps", "curves", "coupling",
				"consistency", "reps"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := compared.Full(t)
			all := sectionIDs((&pages.Material{Comparison: c}).Coach())
			tc.change(c)
			p := &pages.Material{Comparison: c}
			var want []string
			for _, id := range all {
				if !slices.Contains(tc.gone, id) {
					want = append(want, id)
				}
			}
			if got := sectionIDs(p.Coach()); !slices.Equal(got, want) {
				t.Errorf("sections %v, want %v", got, want)
			}
			b, err := p.Coach().HTML()
			if err != nil {
				t.Fatal(err)
			}
			checkPage(t, string(b))
			checkPDFs(t, p)
		})
	}
}

// checkPage holds a page to what every page must be: balanced tags, one heading of the
// first rank, ids once, words for every picture, nothing fetched and nothing run.
func checkPage(t *testing.T, page string) {
	t.Helper()
	foreign := regexp.MustCompile(`(?i)<script|<link|<iframe|<object|<form|@import|src="(?:[^d"]|d[^a])|url\(|https?://|` +
		`\son\w+=|javascript:`)
	if m := foreign.FindString(page); m != "" {
		t.Errorf("the page holds %q", m)
	}
	if !strings.HasPrefix(page, "<!DOCTYPE html>") || strings.Count(page, "<h1>") != 1 ||
		!strings.Contains(page, `<html lang="`+words.Tag()+`">`) {
		t.Error("the page has no type, no language or not one heading of the first rank")
	}
	if strings.Contains(page, `class="number"><span class="iv">`) {
		t.Error("a reason in the place of a number cannot break into lines")
	}
	wordless := func(s string) bool { return !strings.Contains(s, ` alt="`) || strings.Contains(s, ` alt=""`) }
	if m := regexp.MustCompile(`<img[^>]*>`).FindAllString(page, -1); slices.ContainsFunc(m, wordless) {
		t.Error("a picture has no words")
	}
	unnamed := func(s string) bool { return !regexp.MustCompile(`aria-label="[^"]+"`).MatchString(s) }
	if m := regexp.MustCompile(`<svg[^>]*>`).FindAllString(page, -1); slices.ContainsFunc(m, unnamed) {
		t.Error("a chart has no words")
	}
	for _, bad := range []string{"NaN", "Inf", "<no value>", "%!", "<ul></ul>", "ZgotmplZ"} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		if ids[m[1]] {
			t.Errorf("the id %q stands twice", m[1])
		}
		ids[m[1]] = true
	}
	for _, m := range regexp.MustCompile(` href="#([^"]*)"`).FindAllStringSubmatch(page, -1) {
		if !ids[m[1]] {
			t.Errorf("a link leads to %q, which is not there", m[1])
		}
	}
	void := []string{"meta", "img", "br"}
	var open []string
	for _, m := range regexp.MustCompile(`<(/?)([a-zA-Z0-9]+)((?:[^>"]|"[^"]*")*?)(/?)>`).FindAllStringSubmatch(page, -1) {
		name := strings.ToLower(m[2])
		switch {
		case m[1] == "/":
			if len(open) == 0 || open[len(open)-1] != name {
				t.Fatalf("</%s> closes %v", name, open[max(0, len(open)-3):])
			}
			open = open[:len(open)-1]
		case m[4] == "/" || slices.Contains(void, name):
		default:
			open = append(open, name)
		}
	}
	if len(open) > 0 {
		t.Errorf("never closed: %v", open)
	}
}

func TestPagesAreSound(t *testing.T) {
	p := &pages.Material{Comparison: compared.Full(t), Date: "2026-11-25",
		Warnings: []screening.Warning{{Message: "Mind the light."}}}
	coach, err := p.Coach().HTML()
	if err != nil {
		t.Fatal(err)
	}
	athlete, err := p.Athlete().HTML()
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"coach": coach, "athlete": athlete} {
		t.Run(name, func(t *testing.T) { checkPage(t, string(b)) })
	}
	if !strings.Contains(string(coach), `<a href="#warnings">Read the warning below first.</a>`) {
		t.Error("the page does not point to its warning")
	}
	for _, want := range []string{"Invented Athlete", "2026-11-25", "One thing to look at", "Heel on the floor",
		"When you go fast, it comes up. That points to control at speed",
		"What gets lost at speed", "Ankle: 9° of your 28° (5 to 13), landing", "25 cm (19 to 27)", "the best of 3 jumps",
		"not a medical device"} {
		if !strings.Contains(html.UnescapeString(string(athlete)), want) {
			t.Errorf("the athlete's page lacks %q", want)
		}
	}
	for _, jargon := range []string{"dorsiflexion", "flexion", "interval", "verdict", "tempo",
		"support point", "range of motion"} {
		if strings.Contains(strings.ToLower(string(athlete)), jargon) {
			t.Errorf("the athlete's page says %q", jargon)
		}
	}
}

// hostile are names that come from files and forms.
var hostile = []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, "😀 athlete 𝕏", "שלום عرب 太郎",
	"a\x00b\nc\u202Ed\xff", strings.Repeat("Wolfeschlegelsteinhausen", 12), `(\) Tj ET`, ""}

func TestPagesEscapeNames(t *testing.T) {
	for i, name := range hostile {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			c := compared.Full(t)
			c.Athlete, c.Clips[0].Name, c.Analyses[2].Clip.Name = name, name, name
			c.Pairs[0].Challenge = name
			c.Analyses[0].Reps[0].Quality.Advice.Message = name
			p := &pages.Material{Comparison: c, Date: name, Warnings: []screening.Warning{{Message: name}}}
			coach, err := p.Coach().HTML()
			if err != nil {
				t.Fatal(err)
			}
			athlete, err := p.Athlete().HTML()
			if err != nil {
				t.Fatal(err)
			}
			for _, b := range [][]byte{coach, athlete} {
				bare := regexp.MustCompile(` (alt|aria-label)="[^"]+"`).ReplaceAllString(string(b), ` $1="x"`)
				checkPage(t, regexp.MustCompile(`>[^<]*<`).ReplaceAllString(bare, "><")) // words may say anything
				if strings.Contains(string(b), "<script") || strings.Contains(string(b), "<img src=x") {
					t.Error("a name became part of the page's code")
				}
			}
			checkPDFs(t, p)
		})
	}
}

// checkPDFs lays both sheets of a page out, checks them and returns them.
func checkPDFs(t *testing.T, p *pages.Material) (coach, athlete []byte) {
	t.Helper()
	coach, err := pdf.Coach(p.Coach(), p.Date)
	if err != nil {
		t.Fatal(err)
	}
	athlete, err = pdf.Athlete(p.Athlete(), p.Date)
	if err != nil {
		t.Fatal(err)
	}
	checkPDF(t, coach)
	if n := checkPDF(t, athlete); n != 1 {
		t.Errorf("the athlete's PDF has %d pages", n)
	}
	return coach, athlete
}

// checkPDF reads a PDF's frame: header, table of objects, sheets. It returns the number
// of sheets.
func checkPDF(t *testing.T, b []byte) int {
	t.Helper()
	if !bytes.HasPrefix(b, []byte("%PDF-1.")) || !bytes.HasSuffix(bytes.TrimSpace(b), []byte("%%EOF")) {
		t.Fatal("not a PDF from head to end")
	}
	m := regexp.MustCompile(`startxref\s+(\d+)`).FindSubmatch(b)
	if m == nil {
		t.Fatal("no table of objects")
	}
	at, _ := strconv.Atoi(string(m[1]))
	if at >= len(b) || !bytes.HasPrefix(b[at:], []byte("xref")) {
		t.Fatalf("no table of objects at %d", at)
	}
	for i, e := range regexp.MustCompile(`(\d{10}) 00000 n`).FindAllSubmatch(b[at:], -1) {
		o, _ := strconv.Atoi(string(e[1]))
		if want := fmt.Sprintf("%d 0 obj", i+1); !bytes.HasPrefix(b[o:], []byte(want)) {
			t.Fatalf("object %d is not at %d", i+1, o)
		}
	}
	n := len(regexp.MustCompile(`/Type /Page\b`).FindAll(b, -1))
	count := regexp.MustCompile(`/Count (\d+)`).FindSubmatch(b)
	if count == nil || string(count[1]) != strconv.Itoa(n) || n == 0 {
		t.Errorf("%d sheets, the file says %s", n, count)
	}
	return n
}

// The sheets of one comparison are the same bytes each time, and say what they are of.
func TestPDFs(t *testing.T) {
	c := compared.Full(t)
	var dirs [2]string
	for i := range dirs {
		dirs[i] = filepath.Join(t.TempDir(), "out")
		if _, err := WriteComparison(t.Context(), dirs[i], c, Options{Date: "2026-11-25"}); err != nil {
			t.Fatal(err)
		}
	}
	for _, tt := range []struct {
		name   string
		sheets func(n int) bool
		words  string
	}{
		{"coach.pdf", func(n int) bool { return n > 1 }, "No pictures or video of slow.mp4"},
		{"athlete.pdf", func(n int) bool { return n == 1 }, "Slow, fast and with a jump · 2026-11-25"},
	} {
		a, b := readFile(t, filepath.Join(dirs[0], tt.name)), readFile(t, filepath.Join(dirs[1], tt.name))
		if !bytes.Equal(a, b) {
			t.Errorf("%s: the same comparison gave two different files", tt.name)
		}
		n, text := checkPDF(t, a), pdftext.Of(t, a)
		if !tt.sheets(n) || !strings.Contains(text, fmt.Sprintf("%d of %d", n, n)) ||
			!strings.Contains(text, "Invented Athlete") || !strings.Contains(text, tt.words) {
			t.Errorf("%s: %d sheets, words %.200q", tt.name, n, text)
		}
		if !bytes.Contains(a, []byte("D:20261125")) || !bytes.Contains(a, []byte("/Lang")) {
			t.Errorf("%s: neither the day nor the language", tt.name)
		}
	}
}
