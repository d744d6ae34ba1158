package main

import (
	"bytes"
	"encoding/json"
	"html"
	"regexp"
	"slices"
	"strings"
	"testing"

	"holdfast/cmd/holdfast/terminal"
	"holdfast/internal/pdftext"
	"holdfast/internal/tracks"
	"holdfast/kinematics"
	"holdfast/report/pages"
	"holdfast/report/pdf"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/screening/headline"
)

var tags = regexp.MustCompile(`<[^>]*>`)

// flat is a text without its line breaks and indents.
func flat(text string) string { return strings.Join(strings.Fields(text), " ") }

// The terminal, the page, the report and the PDF say the same sentence of a joint: that of the headlines which the
// comparison's JSON holds. One of the comparisons has a joint that loses its position in the middle step alone.
func TestOneSentenceEverywhere(t *testing.T) {
	of := map[string]*screening.Analysis{}
	analyses := func(names ...string) (out []*screening.Analysis) {
		for _, n := range names {
			if of[n] == nil {
				of[n], _ = tracks.Analysis(t, n, screening.Options{Athlete: "Sam Example", HeightCm: 180})
			}
			out = append(out, of[n])
		}
		return out
	}
	between := false
	for _, tt := range []struct {
		name  string
		clips []string
		opt   screening.CompareOptions
	}{
		{"three tempos", []string{"slow_30", "fast_30", "jump_30"}, screening.CompareOptions{}},
		{"two tempos", []string{"slow_30", "jump_30"}, screening.CompareOptions{}},
		{"two conditions", []string{"slow_30", "slow_30"},
			screening.CompareOptions{Sides: []string{"fresh", "loaded with 60 kg"}, Axis: kinematics.AxisLoad}},
	} {
		made, err := screening.Compare(analyses(tt.clips...), tt.opt)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := json.Marshal(made)
		c := &screening.Comparison{Analyses: made.Analyses, Axis: made.Axis}
		if err == nil {
			err = json.Unmarshal(doc, c)
		}
		if err != nil {
			t.Fatal(err)
		}
		var printed bytes.Buffer
		terminal.Comparison(&printed, false, made)
		sheet := (&pages.Material{Comparison: made, Date: "2026-05-04"}).Coach()
		page, err := sheet.HTML()
		if err != nil {
			t.Fatal(err)
		}
		paper, err := pdf.Coach(sheet, "2026-05-04")
		if err != nil {
			t.Fatal(err)
		}
		shown := map[string]string{
			"the terminal": flat(printed.String()),
			"the page":     flat(html.UnescapeString(tags.ReplaceAllString(string(page), " "))),
			"the PDF":      flat(pdftext.Of(t, paper)),
		}
		headlines := said.SaidOf(c).Headlines
		if !slices.EqualFunc(headlines, said.SaidOf(made).Headlines, func(a, b said.Headline) bool {
			return a.Sentence == b.Sentence && a.Range == b.Range && a.Number == b.Number
		}) {
			t.Errorf("%s: the JSON says otherwise", tt.name)
		}
		for i, h := range headlines {
			if h.Sentence == "" || h.Range == "" || strings.Contains(h.Sentence, "ange of motion") {
				t.Errorf("%s: %q, %q", tt.name, h.Sentence, h.Range)
			}
			for where, text := range shown {
				if !strings.Contains(text, h.Sentence) || !strings.Contains(text, h.Range) {
					t.Errorf("%s: %s does not say %q and %q", tt.name, where, h.Sentence, h.Range)
				}
			}
			f := &c.Headlines[i].Position
			if later := f.Later(); f.Code == headline.Lost && len(later) > 0 && later[0].Code != headline.Lost {
				between = true
				if !strings.Contains(h.Sentence, "° fast, ") || !strings.Contains(h.Sentence, " lost (") {
					t.Errorf("%s: the loss in between is not in %q", tt.name, h.Sentence)
				}
			}
		}
		// The ladder of a joint has the numbers of its sentence.
		for i := range c.Ladder.Rungs {
			r := &c.Ladder.Rungs[i]
			for k := range c.Headlines {
				if h := &c.Headlines[k]; h.Joint == r.Position.String() {
					for n := range r.Cells {
						if r.Cells[n].Value != h.Position.Steps[n].Deg {
							t.Errorf("%s: %s is %v in the ladder and %v in the sentence", tt.name, h.Joint, r.Cells[n].Value,
								h.Position.Steps[n].Deg)
						}
					}
				}
			}
		}
	}
	if !between {
		t.Error("no joint lost its position in the middle step alone")
	}
}
