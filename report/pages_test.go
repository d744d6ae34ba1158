package report

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"html"
	"io"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/words"
)

func numbers(vs ...float64) []float64 { return vs }

func estimate(v, sd float64) stats.Estimate {
	return stats.Estimate{Value: v, SD: sd}
}

func changed(from, to, half float64, verdict stats.Verdict) stats.Change {
	return stats.Change{Baseline: from, Challenge: to, Lost: from - to, Interval95: [2]float64{from - to - half, from - to + half},
		RetainedPct: 100 * to / from, Verdict: verdict}
}

// fullComparison is a comparison of the truth clips with every part invented that
// they do not hold. The clips' files are not there.
func fullComparison(t testing.TB) *screening.Comparison {
	t.Helper()
	c := truthComparison(t)
	nan := math.NaN()
	unknown := stats.Estimate{Value: nan, SD: nan}
	cell := func(tempo string, v float64, ch *stats.Change) kinematics.Cell {
		return kinematics.Cell{Condition: tempo, Value: v, Interval95: screening.Interval95(v, 1), ZeroKnown: true, Change: ch}
	}
	held, lost, more := changed(28, 27, 3, "held"), changed(28, 19, 4, "lost"), changed(2, 11, 5, "gained")
	c.Ladder = kinematics.Ladder{Rungs: []kinematics.Rung{
		{Position: kinematics.PositionHeel, Unit: "% of foot", First: "fast", PointsTo: "control_at_speed",
			Cells: []kinematics.Cell{cell("slow", 2, nil), cell("fast", 11, &more), cell("jump", math.NaN(), nil)}},
		{Position: kinematics.PositionAnkle, Unit: "degrees", First: "jump", Cells: []kinematics.Cell{cell("slow", 28, nil), cell("fast", 27, &held), cell("jump", 19, &lost)}},
		{Position: kinematics.PositionHip, Unit: "degrees", Cells: []kinematics.Cell{cell("slow", math.NaN(), nil), cell("fast", math.NaN(), nil), cell("jump", math.NaN(), nil)}},
	}}
	bottoms := func(half float64) body.ByJoint[stats.Change] {
		return body.ByJoint[stats.Change]{body.KneeJoint: changed(101, 84, half, "lost"), body.HipJoint: changed(96, 96, half, "held"), body.AnkleJoint: changed(28, 22, half, "unclear")}
	}
	slow := bottoms(6)
	c.Landing = &kinematics.LandingComparison{SlowReps: 3, Jumps: 3, SlowClip: 0, SlowRep: 2, JumpClip: 2, JumpRep: 2, AgainstSlow: &slow, AgainstTakeoff: bottoms(7)}
	for k, a := range c.Analyses {
		a.Clip.Path = filepath.Join(t.TempDir(), a.Clip.Name)
		a.SupportBandPct = [2]float64{25, 75}
		a.MassModel = "invented masses"
		a.Scale = measure.Scale{MmPerPx: estimate(3.1, 0.1), Known: true, Agree: true, Sources: []measure.ScaleSource{{Name: "height", MmPerPx: estimate(3.1, 0.1)}}}
		a.Series.SupportPct, a.Series.SupportSDPct = nil, nil
		for i := range a.Series.TimeS {
			a.Series.SupportPct = append(a.Series.SupportPct, 45+20*math.Sin(float64(i)/30))
			a.Series.SupportSDPct = append(a.Series.SupportSDPct, 6)
		}
		tempo := a.Reps[0].Tempo
		for i := range a.Reps {
			r := &a.Reps[i]
			r.Foot = &measure.Foot{Heel: measure.FootRise{MaxPctFoot: estimate(11.4, 1.5), MaxCm: estimate(2.83, 0.4), Up: true, UpS: 0.37}, Toe: measure.FootRise{MaxPctFoot: unknown, MaxCm: unknown},
				SlidePctFoot: estimate(2, 1), SlideCm: estimate(0.5, 0.2), KneePastToePctFoot: estimate(12, 3), KneePastToeCm: estimate(3.2, 0.6),
				ShankAtBottomDeg: estimate(29, 1), ThighAtBottomDeg: estimate(-15, 1.5), HipCreaseBelowKnee: "no"}
			r.Support = []measure.SupportSpan{{Phase: "whole", MeanPct: estimate(43.6, 7), MinPct: 31, MaxPct: 58, OutsideS: 0.21, BehindS: 0.13, BeforeS: 0.08, KnownPart: 0.93}}
			if k == 2 {
				r.Jump = &measure.Jump{Kind: "countermovement", FlightS: 0.46, FlightInterval95S: [2]float64{0.43, 0.49}, HeightFromFlightM: 0.257, HeightFromFlightInterval95M: [2]float64{0.22, 0.29},
					RiseM: 0.231 + 0.01*float64(i), RiseInterval95M: [2]float64{0.19, 0.27}, TakeoffVelocityMS: 2.13, TakeoffVelocityInterval95MS: [2]float64{1.9, 2.3},
					ReactiveStrengthMS: nan, ReactiveStrengthInterval95MS: [2]float64{nan, nan}, RiseFromStandM: estimate(0.28, 0.01), LandsLowerM: unknown, ContactTimeS: unknown,
					Why: notice.New("lands_folded", notice.Params{"form": "clear", "centre_cm": 3, "height_cm": 2})}
				angles := body.ByAngle[stats.Estimate]{body.KneeFlexion: estimate(21, 5), body.HipFlexion: estimate(33, 5),
					body.AnkleDorsiflexion: estimate(-9, 5), body.ShankAngle: unknown, body.TrunkLean: unknown}
				r.Landing = &measure.Landing{ContactToBottomS: estimate(0.34, 0.02), AtContactDeg: angles, AtBottomDeg: angles, PeakVelocityDegS: body.ByJoint[float64]{body.KneeJoint: 517, body.HipJoint: 600, body.AnkleJoint: 390},
					SettleS: 0.31, ForwardDriftPctFoot: estimate(1, 4), ForwardDriftCm: estimate(0.3, 1), ToStandS: nan}
			}
		}
		a.Sets = []kinematics.Set{{Tempo: tempo, Reps: 3, BetweenRepsSDDeg: body.ByJoint[float64]{body.KneeJoint: 2.1, body.HipJoint: 1.3, body.AnkleJoint: 0.4},
			Drift: &body.ByJoint[stats.Drift]{body.KneeJoint: {Total: -6, Interval95: [2]float64{-9, -3}, Drifts: true}, body.HipJoint: {Total: nan, Interval95: [2]float64{nan, nan}},
				body.AnkleJoint: {Total: 0.4, Interval95: [2]float64{-8, 9}}},
			Positions: []kinematics.PositionReadings{{Position: kinematics.PositionAnkle, Unit: "degrees", Readings: stats.Readings{Values: numbers(27, 28, 29), NoiseSD: 1.2}}}}}
	}
	line := func(top float64) (deg []float64, band [][2]float64) {
		for i := range 101 {
			v := top * float64(i) / 100
			deg, band = append(deg, v), append(band, [2]float64{v - 4, v + 4})
		}
		return deg, band
	}
	from := 73
	for i := range c.Pairs {
		p := &c.Pairs[i]
		cp := kinematics.CurvePair{Angle: body.KneeFlexion, Part: "descent", LostFromPct: &from}
		cp.BaselineDeg, cp.BaselineBand = line(100)
		cp.ChallengeDeg, cp.ChallengeBand = line(85)
		p.Curves = []kinematics.CurvePair{cp}
		shares := stats.CouplingShares{InPhase: 89, AntiPhase: 1, Proximal: 4, Distal: 6}
		over, _ := line(90)
		p.AngleAngle = []kinematics.AngleAngle{{Over: body.HipFlexion, Of: body.KneeFlexion, Part: "descent",
			Baseline:  kinematics.AngleAngleCurve{Condition: p.Baseline, OverDeg: over, OfDeg: cp.BaselineDeg, Shares: shares, VariabilityDeg: 8.4},
			Challenge: &kinematics.AngleAngleCurve{Condition: p.Challenge, OverDeg: over, OfDeg: cp.ChallengeDeg, Shares: shares, VariabilityDeg: nan}}}
		p.Support = []kinematics.SupportChange{{Phase: "descent", Change: changed(44, 61, 6, "gained")}}
	}
	return c
}

// cellsOf are all words and numbers in the tables of a sheet.
func cellsOf(s *sheet) []string {
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

func sectionIDs(s *sheet) []string {
	var out []string
	for _, sec := range s.Sections {
		out = append(out, sec.ID)
	}
	return out
}

// TestCoachPageNumbers: what the page and the PDF say are the comparison's numbers.
func TestCoachPageNumbers(t *testing.T) {
	p := &page{c: fullComparison(t)}
	s := p.sheet()
	if got, want := sectionIDs(s), []string{"ladder", "pair1", "pair2", "pair3", "landing", "foot", "jumps", "curves", "coupling", "consistency", "reps", "trust", "care"}; !slices.Equal(got, want) {
		t.Errorf("sections %v, want %v", got, want)
	}
	b, err := s.html()
	if err != nil {
		t.Fatal(err)
	}
	words := strings.ReplaceAll(html.UnescapeString(string(b)), "\u00a0", " ")
	for _, want := range []string{
		`<b>11 %</b><span class="iv">9 to 13</span><span class="iv long">9 % more (4 to 14)</span><span class="iv">more</span>`, // ladder, fast heel
		`28°<span class="iv">26 to 30</span>`, "9° less (5 to 13)",
		"The heel is down in the slow rep", "not a diagnosis.",
		`<td>101°</td>`, "17° less (11 to 23)", `<span class="v held">held</span>`, // landing
		"520 °/s", `−9°<span class="iv">−19 to 1</span>`,
		`44 %<span class="iv">30 to 57</span>`, "31 to 58 %", "0.21 s", "0.13 s / 0.08 s", // support point
		`2.8 cm<span class="iv">2.0 to 3.6</span><span class="iv">up for 0.37 s</span>`, "nearer the toes", "17 % toward the toes (11 to 23)",
		`26 cm<span class="iv">22 to 29</span>`, `2.1 m/s<span class="iv">1.9 to 2.3</span>`, "3.10 mm a pixel (2.90 to 3.30), from the athlete's height",
		"The body lands more folded", "Knee flexion, fast: lost from 73 % of the descent.", "Knee flexion, jump: lost from 73 % of the descent.",
		"89 %", "less from rep to rep", "2.1°", "invented masses",
	} {
		if !strings.Contains(words, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(words, "reactive strength</th>") || strings.Contains(words, "on the floor before</th>") {
		t.Error("a column in which nothing is known is shown")
	}
	pdf, err := coachPDF(s, "")
	if err != nil {
		t.Fatal(err)
	}
	text := pdfText(t, pdf)
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
		{"a ladder of unknown values", func(c *screening.Comparison) { c.Ladder.Rungs = c.Ladder.Rungs[2:] }, []string{"ladder"}},
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
		{"no analyses", func(c *screening.Comparison) { c.Analyses = nil }, []string{"jumps", "consistency", "reps"}},
		{"empty analyses", func(c *screening.Comparison) { c.Analyses = []*screening.Analysis{nil, nil, nil} }, []string{"jumps", "consistency", "reps"}},
		{"nothing", func(c *screening.Comparison) { *c = screening.Comparison{} },
			[]string{"ladder", "pair1", "pair2", "pair3", "landing", "foot", "jumps", "curves", "coupling", "consistency", "reps"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := fullComparison(t)
			all := sectionIDs((&page{c: c}).sheet())
			tc.change(c)
			p := &page{c: c}
			var want []string
			for _, id := range all {
				if !slices.Contains(tc.gone, id) {
					want = append(want, id)
				}
			}
			if got := sectionIDs(p.sheet()); !slices.Equal(got, want) {
				t.Errorf("sections %v, want %v", got, want)
			}
			b, err := p.sheet().html()
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
	if m := regexp.MustCompile(`(?i)<script|<link|<iframe|<object|<form|@import|src="(?:[^d"]|d[^a])|url\(|https?://|\son\w+=|javascript:`).FindString(page); m != "" {
		t.Errorf("the page holds %q", m)
	}
	if !strings.HasPrefix(page, "<!DOCTYPE html>") || strings.Count(page, "<h1>") != 1 || !strings.Contains(page, `<html lang="`+words.Tag()+`">`) {
		t.Error("the page has no type, no language or not one heading of the first rank")
	}
	if m := regexp.MustCompile(`<img[^>]*>`).FindAllString(page, -1); slices.ContainsFunc(m, func(s string) bool { return !strings.Contains(s, ` alt="`) || strings.Contains(s, ` alt=""`) }) {
		t.Error("a picture has no words")
	}
	if m := regexp.MustCompile(`<svg[^>]*>`).FindAllString(page, -1); slices.ContainsFunc(m, func(s string) bool { return !regexp.MustCompile(`aria-label="[^"]+"`).MatchString(s) }) {
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
	p := &page{c: fullComparison(t), date: "2026-11-25", warnings: []screening.Warning{{Message: "Mind the light."}}}
	coach, err := p.sheet().html()
	if err != nil {
		t.Fatal(err)
	}
	athlete, err := p.athlete().html()
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"coach": coach, "athlete": athlete} {
		t.Run(name, func(t *testing.T) { checkPage(t, string(b)) })
	}
	if !strings.Contains(string(coach), `<a href="#warnings">Read the warning below first.</a>`) {
		t.Error("the page does not point to its warning")
	}
	for _, want := range []string{"Invented Athlete", "2026-11-25", "One thing to look at", "Heel on the floor", "When you go fast, it comes up. That points to control at speed",
		"What gets lost at speed", "Ankle: 14° of your 28° (11 to 16)", "25 cm (19 to 27)", "the best of 3 jumps", "not a medical device"} {
		if !strings.Contains(html.UnescapeString(string(athlete)), want) {
			t.Errorf("the athlete's page lacks %q", want)
		}
	}
	for _, jargon := range []string{"dorsiflexion", "flexion", "interval", "verdict", "tempo", "support point", "range of motion"} {
		if strings.Contains(strings.ToLower(string(athlete)), jargon) {
			t.Errorf("the athlete's page says %q", jargon)
		}
	}
}

// hostile are names that come from files and forms.
var hostile = []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, "😀 athlete 𝕏", "שלום عرب 太郎", "a\x00b\nc\u202Ed\xff", strings.Repeat("Wolfeschlegelsteinhausen", 12), `(\) Tj ET`, ""}

func TestPagesEscapeNames(t *testing.T) {
	for i, name := range hostile {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			c := fullComparison(t)
			c.Athlete, c.Clips[0].Name, c.Analyses[2].Clip.Name = name, name, name
			c.Pairs[0].Challenge = name
			c.Analyses[0].Reps[0].Quality.Advice.Message = name
			p := &page{c: c, date: name, warnings: []screening.Warning{{Message: name}}}
			coach, err := p.sheet().html()
			if err != nil {
				t.Fatal(err)
			}
			athlete, err := p.athlete().html()
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
func checkPDFs(t *testing.T, p *page) (coach, athlete []byte) {
	t.Helper()
	coach, err := coachPDF(p.sheet(), p.date)
	if err != nil {
		t.Fatal(err)
	}
	athlete, err = athletePDF(p.athlete(), p.date)
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
	if count := regexp.MustCompile(`/Count (\d+)`).FindSubmatch(b); count == nil || string(count[1]) != strconv.Itoa(n) || n == 0 {
		t.Errorf("%d sheets, the file says %s", n, count)
	}
	return n
}

// pdfText returns the words of a PDF, in the order in which they were put down.
func pdfText(t *testing.T, b []byte) string {
	t.Helper()
	var out strings.Builder
	for _, at := range regexp.MustCompile(`stream\r?\n`).FindAllIndex(b, -1) {
		r, err := zlib.NewReader(bytes.NewReader(b[at[1]:]))
		if err != nil {
			continue // not compressed: a photo
		}
		s, err := io.ReadAll(r)
		if err != nil || !bytes.Contains(s, []byte(" Tj")) {
			continue
		}
		for _, m := range regexp.MustCompile(`(?s)\(((?:[^\\()]|\\.)*)\) ?Tj`).FindAllSubmatch(s, -1) {
			raw := regexp.MustCompile(`(?s)\\(.)`).ReplaceAllFunc(m[1], func(e []byte) []byte {
				if e[1] == 'r' {
					return []byte{'\r'}
				}
				return e[1:]
			})
			var units []uint16
			for i := 0; i+1 < len(raw); i += 2 {
				units = append(units, uint16(raw[i])<<8|uint16(raw[i+1]))
			}
			out.WriteString(string(utf16.Decode(units)) + "\n")
		}
	}
	return out.String()
}

// The sheets of one comparison are the same bytes each time, and say what they are of.
func TestPDFs(t *testing.T) {
	c := fullComparison(t)
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
		n, text := checkPDF(t, a), pdfText(t, a)
		if !tt.sheets(n) || !strings.Contains(text, fmt.Sprintf("%d of %d", n, n)) || !strings.Contains(text, "Invented Athlete") || !strings.Contains(text, tt.words) {
			t.Errorf("%s: %d sheets, words %.200q", tt.name, n, text)
		}
		if !bytes.Contains(a, []byte("D:20261125")) || !bytes.Contains(a, []byte("/Lang")) {
			t.Errorf("%s: neither the day nor the language", tt.name)
		}
	}
}

// TestShots: a shot shows the moment in the athlete's own size, and mirrored clips
// face the same way.
func TestShots(t *testing.T) {
	a, _, _ := shortAnalysis(t)
	b := *a
	b.Facing = "left"
	a.Reps[0].Tempo = "slow"
	c := &screening.Comparison{Analyses: []*screening.Analysis{a, &b}, Comparison: kinematics.Comparison{Pairs: []kinematics.Pair{{Baseline: "slow", Challenge: "fast", BaselineClip: 0, ChallengeClip: 1, BaselineRep: 1, ChallengeRep: 1}}}}
	s, warnings, err := takeShots(t.Context(), c, Options{})
	if err != nil || len(warnings) != 0 {
		t.Fatal(err, warnings)
	}
	if s.easiest == nil || s.second == nil || s.landing != nil || s.takeoff != nil {
		t.Fatalf("%+v", s)
	}
	for _, q := range []*shot{s.easiest, s.second} {
		for _, jpeg := range [][]byte{q.marked, q.bare} {
			if size := (&figure{JPEG: jpeg}).size(); size.X != shotW || size.Y != shotH {
				t.Errorf("a picture of %v", size)
			}
		}
		if bytes.Equal(q.marked, q.bare) {
			t.Error("the marked picture has no marks")
		}
	}
}

func TestRungWords(t *testing.T) {
	for _, tc := range []struct {
		position         kinematics.Position
		from, to         float64
		verdict          stats.Verdict
		change, says, as string
	}{
		{kinematics.PositionKnee, 101, 84, "lost", "17° less (15 to 19)", "lost", "lost"},
		{kinematics.PositionKnee, 84, 101, "gained", "17° more (15 to 19)", "gained", "gained"},
		{kinematics.PositionSupport, 40, 62, "gained", "22 % toward the toes (20 to 24)", "nearer the toes", "moved"},
		{kinematics.PositionSupport, 62, 40, "lost", "22 % toward the heel (20 to 24)", "nearer the heel", "moved"},
		{kinematics.PositionHeel, 1, 9, "gained", "8 % more (6 to 10)", "more", "lost"},
		{kinematics.PositionTrunk, 30, 30.2, "held", "the same (−2 to 2)", "held", "held"},
		{kinematics.PositionHip, 90, 89, "unclear", "1° less (−1 to 3)", "unclear", "unclear"},
	} {
		ch := changed(tc.from, tc.to, 2, tc.verdict)
		says, as := PositionVerdict(tc.position, tc.verdict), kinematics.PositionQuantity(tc.position).Look(tc.verdict)
		if got := positionChange(tc.position, &ch); got != tc.change || says != tc.says || as != tc.as {
			t.Errorf("%v: %q, %q, %q", tc.position, got, says, as)
		}
	}
}

func TestFromWords(t *testing.T) {
	at := func(v int) *int { return &v }
	for _, tc := range []struct {
		angle        body.Angle
		part         kinematics.Part
		lost, gained *int
		want         string
	}{
		{body.KneeFlexion, "descent", at(70), nil, "Knee flexion, fast: lost from 70 % of the descent."},
		{body.KneeFlexion, "ascent", at(0), at(38), "Knee flexion, fast: less from the start of the ascent, more from 38 % of the ascent."},
		{body.HipFlexion, "descent", at(92), at(28), "Hip flexion, fast: gained from 28 % of the descent, lost from 92 % of the descent."},
		{body.TrunkLean, "landing", nil, at(5), "Trunk lean, fast: more from 5 % of the landing."},
		{body.AnkleDorsiflexion, "descent", nil, nil, ""},
	} {
		if got := fromWords(tc.angle, tc.part, curveLine{of: kinematics.Condition{Words: "fast"}, lostFrom: tc.lost, gained: tc.gained}); got != tc.want {
			t.Errorf("%q, want %q", got, tc.want)
		}
	}
}

func TestLookOf(t *testing.T) {
	toes := changed(40, 62, 5, "gained")
	rung := func(position kinematics.Position, first string, points kinematics.PointsTo, ch *stats.Change) *screening.Comparison {
		return &screening.Comparison{Comparison: kinematics.Comparison{Ladder: kinematics.Ladder{Rungs: []kinematics.Rung{
			{Position: kinematics.PositionHip}, // nothing is said of it
			{Position: position, First: first, PointsTo: points, Cells: []kinematics.Cell{{Condition: "slow"}, {Condition: first, Change: ch}}},
			{Position: kinematics.PositionTrunk, PointsTo: "range"}}}}}
	}
	lost := changed(100, 80, 5, "lost")
	for _, tc := range []struct {
		c           *screening.Comparison
		title, part string
	}{
		{rung(kinematics.PositionSupport, "fast", "control_at_speed", &toes), "Weight on the foot", "it moves toward the toes. That points to control at speed"},
		{rung(kinematics.PositionKnee, "jump", "control_through_change_of_direction", &lost), "Knee bend", "When you land, it bends less. That points to control when you change direction"},
		{rung(kinematics.PositionHeel, "slow", "range", nil), "Heel on the floor", "It comes up even when you go slowly. That points to range"},
		{rung(kinematics.PositionAnkle, "slow", "range", nil), "Ankle bend", "That points to range: how far you can move"},
	} {
		if got := lookOf(tc.c); got == nil || got.Title != tc.title || !strings.Contains(got.Text, tc.part) {
			t.Errorf("%+v", got)
		}
	}
	if lookOf(&screening.Comparison{}) != nil {
		t.Error("something to look at in nothing")
	}
}

func TestBestJump(t *testing.T) {
	nan := math.NaN()
	jump := func(rise, flight float64) kinematics.Rep {
		return kinematics.Rep{RepTimes: events.RepTimes{Tempo: events.TempoJump}, Jump: &measure.Jump{RiseM: rise, RiseInterval95M: [2]float64{rise - 0.03, rise + 0.03},
			HeightFromFlightM: flight, HeightFromFlightInterval95M: [2]float64{nan, nan}}}
	}
	partial := jump(0.9, 0.9)
	partial.Partial = true
	for _, tc := range []struct {
		reps        []kinematics.Rep
		height, how string
	}{
		{nil, "", ""},
		{[]kinematics.Rep{jump(0.2, 0.25), jump(0.24, 0.3), partial}, "24 cm (21 to 27)", "the best of 2 jumps: how far your body rises after you leave the floor"},
		{[]kinematics.Rep{jump(math.NaN(), 0.25)}, "25 cm", "from your time in the air"},
	} {
		height, how := bestJump(&screening.Comparison{Analyses: []*screening.Analysis{nil, {Reps: tc.reps}}})
		if height != tc.height || how != tc.how {
			t.Errorf("%q, %q", height, how)
		}
	}
}

func TestCloseScale(t *testing.T) {
	for _, tc := range []struct{ lo, hi, from, to, step float64 }{
		{0, 100, 0, 100, 20}, {-3, 101, 0, 120, 30}, {-38, 33, -40, 40, 20}, {4, 5, 0, 10, 5}, {0, 0, 0, 10, 5}, {-180, 180, -180, 180, 90},
	} {
		if from, to, step := closeScale(tc.lo, tc.hi); from != tc.from || to != tc.to || step != tc.step {
			t.Errorf("%v to %v: %v to %v by %v", tc.lo, tc.hi, from, to, step)
		}
	}
}

// TestDrawingBreaks: lines and areas are broken where values are missing, and values
// beyond the panel run along its edge.
func TestDrawingBreaks(t *testing.T) {
	n := math.NaN()
	d := &drawing{w: 260, h: 200, alt: `a "chart" <b>`}
	a := newAxes(d, "", 0, 4, 0, 10)
	a.curve(slowInk, 1, nil, []float64{0, 1, 2, 3, 4}, []float64{1, 2, n, 20, -5})
	a.ribbon(slowInk, 0.2, []float64{0, 1, 2, 3, 4}, []float64{1, 1, n, 1, 1}, []float64{2, 2, 2, 2, 2})
	if len(d.marks) != 4 {
		t.Fatalf("%d marks", len(d.marks))
	}
	for _, m := range d.marks {
		for _, p := range m.points {
			if p.Y < a.top-1e-9 || p.Y > a.bottom+1e-9 || p.X < a.left-1e-9 || p.X > a.right+1e-9 {
				t.Errorf("a place outside the panel: %v", p)
			}
		}
	}
	if s := string(d.svg()); !strings.Contains(s, `aria-label="a &#34;chart&#34; &lt;b&gt;"`) || strings.Contains(s, "NaN") {
		t.Error("the words of a chart are not escaped, or a number is missing")
	}
}

func TestDecimal(t *testing.T) {
	for _, tc := range []struct {
		v        float64
		decimals int
		want     string
	}{{2.83, 1, "2.8"}, {-0.04, 1, "0.0"}, {-1.26, 1, "−1.3"}, {-0.4, 0, "0"}, {math.NaN(), 1, "–"}, {math.Inf(1), 2, "–"}} {
		if got := decimal(tc.v, tc.decimals); got != tc.want {
			t.Errorf("%v: %q, want %q", tc.v, got, tc.want)
		}
	}
}

// A heading never stands alone at the foot of a sheet, and cautions are not torn apart, wherever they begin.
func TestCautionsStayWithTheirHeading(t *testing.T) {
	care := &section{Title: "Take care", Blocks: []block{{Care: true, List: []string{"Stop on pain.", "Warm up.",
		"Clear the floor.", "One change at a time."}}}}
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
