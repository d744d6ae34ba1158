package report

import (
	"html"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"holdfast/internal/compared"
	"holdfast/internal/pdftext"
	"holdfast/internal/pseudo"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
	"holdfast/report/pages"
	"holdfast/screening"
)

// Pages and sheets hold in a language whose sentences are longer and say things in another
// order, and nothing on them reads English: every word is the catalogue's.
func TestPagesInAnotherLanguage(t *testing.T) {
	pseudo.Speak(t)
	c := compared.Full(t)
	c.Athlete, c.Program, c.Clips[0].Name, c.Analyses[0].MassModel = "Sm", "hldfst", "slw.mp4", "mss"
	for i, a := range c.Analyses {
		a.Clip.Name, a.Program, a.MassModel, a.Model.Name = "clp"+strconv.Itoa(i), "hldfst", "mss", "nt"
		a.Series.AngleConventions = "clinical_zero_own_standing"
	}
	for i := range c.Clips {
		c.Clips[i].Name = "clp" + strconv.Itoa(i)
	}
	c.MDC95Deg = &body.ByJoint[float64]{3, 4, 5}
	c.Warnings = []screening.Warning{notice.New("point_hidden",
		notice.Params{"points": []string{"hip", "shoulder"}, "n": 2, "of": 3, "rep": 1}),
		notice.New("partial_rep", notice.Params{"rep": 1, "why": notice.New("ends_inside", nil).Plain()})}
	for name, change := range map[string]func(){
		"tempos": func() {},
		"sides": func() {
			c.Sides = []screening.Side{{Key: "slow", Words: "frsh", Clip: 0}, {Key: "fast", Words: "lddd", Clip: 1},
				{Key: "jump", Words: "ftgd", Clip: 2}}
			c.Tempo, c.Axis = "slow", kinematics.AxisLoad
		},
	} {
		t.Run(name, func(t *testing.T) {
			change()
			p := &pages.Material{Comparison: c, Date: "2026-11-25", Warnings: c.Warnings}
			coach, err := p.Coach().HTML()
			if err != nil {
				t.Fatal(err)
			}
			athlete, err := p.Athlete().HTML()
			if err != nil {
				t.Fatal(err)
			}
			for page, b := range map[string][]byte{"coach": coach, "athlete": athlete} {
				checkPage(t, string(b))
				onlyCatalogue(t, page, visible(string(b)))
			}
			inPDF, athletePDF := checkPDFs(t, p)
			for _, b := range [][]byte{inPDF, athletePDF} {
				onlyCatalogue(t, "pdf", pdftext.Of(t, b))
			}
		})
	}
}

func onlyCatalogue(t *testing.T, what, text string) {
	t.Helper()
	found := pseudo.English(text)
	slices.Sort(found)
	if found = slices.Compact(found); len(found) > 0 {
		t.Errorf("%s is English in %d words: %s", what, len(found), strings.Join(found[:min(len(found), 60)], " "))
	}
}

// visible returns what a reader of a page sees or is read to: text, and the words of pictures.
func visible(page string) string {
	var b strings.Builder
	for _, m := range regexp.MustCompile(`(?:alt|aria-label|title)="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		b.WriteString(m[1] + "\n")
	}
	page = regexp.MustCompile(`(?s)<style>.*?</style>`).ReplaceAllString(page, "")
	b.WriteString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, "\n"))
	return html.UnescapeString(b.String())
}
