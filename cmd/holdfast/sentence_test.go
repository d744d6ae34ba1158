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
	"holdfast/report/chart"
	"holdfast/report/motion"
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

// Every surface calls the turn of a movement, and the ways to it and back, by the movement's own words.
func TestMovementsOwnWordsEverywhere(t *testing.T) {
	for _, tt := range []struct {
		clips  []string
		says   []string
		silent []string
	}{
		{[]string{"press_slow", "press_fast"}, []string{"lock-out", "shoulder", "elbow"},
			[]string{"bottom", "landing", "descent", "ascent", "knee bend", "(0 reps"}},
		{[]string{"push_press_slow", "push_press_fast"}, []string{"lock-out", "shoulder", "elbow"},
			[]string{"bottom", "landing", "descent", "ascent", "(0 reps"}},
		{[]string{"jerk_slow", "jerk_fast"}, []string{"lock-out", "shoulder", "knee"},
			[]string{"bottom", "landing", "descent", "ascent", "(0 reps"}},
		{[]string{"hinge_slow", "hinge_fast"}, []string{"bottom", "hip"},
			[]string{"landing", "lock-out", "slow, fast, jump"}},
		{[]string{"lunge_slow", "lunge_fast"}, []string{"bottom", "knee", "lunge"},
			[]string{"landing", "lock-out", "slow, fast, jump", "weight over the foot"}},
		{[]string{"step_up_slow", "step_up_fast"}, []string{"bottom", "knee", "step-up"},
			[]string{"landing", "lock-out", "slow, fast, jump", "weight over the foot"}},
		{[]string{"squat_beside", "drop_landing_high"}, []string{"bottom", "knee", "drop landing", "still 0.", "ankle"},
			[]string{"lock-out", "slow, fast, jump", "take-off", "(0 reps"}},
		{[]string{"drop_landing_low", "drop_landing_high"}, []string{"landing", "knee"},
			[]string{"lock-out", "slow reps", "take-off", "slid along the floor"}},
		// Support points that are known in a moment or two make no line.
		{[]string{"hop_slow", "hop_fast"}, []string{"landing", "knee"},
			[]string{"lock-out", "slow, fast, jump", "nine tenths"}},
		{[]string{"clean_pull_slow", "clean_pull_fast"}, []string{"start of the pull", "hip"},
			[]string{"landing", "lock-out", "bottom", "its start of the pull"}},
		{[]string{"pull_slow", "pull_fast"}, []string{"at the top", "elbow", "shoulder"},
			[]string{"bottom", "landing", "descent", "ascent", "lock-out", "heel", "knee bend"}},
	} {
		var analyses []*screening.Analysis
		var printed bytes.Buffer
		for _, n := range tt.clips {
			a, _ := tracks.Analysis(t, n, screening.Options{Athlete: "Sam Example", HeightCm: 173})
			terminal.Analysis(&printed, a)
			analyses = append(analyses, a)
			for _, answer := range said.SayAnalysis(a).Answers {
				printed.WriteString(answer + "\n")
			}
			for _, m := range motion.Moments(a) {
				printed.WriteString(m.Label + "\n")
			}
		}
		c, err := screening.Compare(analyses, screening.CompareOptions{})
		if err != nil {
			t.Fatal(err)
		}
		terminal.Comparison(&printed, false, c)
		m := &pages.Material{Comparison: c, Date: "2026-05-04", Curves: chart.EveryRep(c)}
		coach, athlete := m.Coach(), m.Athlete()
		coach.Sections = slices.DeleteFunc(coach.Sections, func(s pages.Section) bool { return s.ID == "care" })
		paper, err := pdf.Coach(coach, "2026-05-04")
		if err != nil {
			t.Fatal(err)
		}
		page, err := coach.HTML()
		if err != nil {
			t.Fatal(err)
		}
		sheet, err := athlete.HTML()
		if err != nil {
			t.Fatal(err)
		}
		text := func(page []byte) string {
			_, after, _ := strings.Cut(string(page), "</style>")
			return flat(html.UnescapeString(tags.ReplaceAllString(after, " ")))
		}
		for where, shown := range map[string]string{"the terminal": flat(printed.String()), "the coach's page": text(page),
			"the athlete's page": text(sheet), "the PDF": flat(pdftext.Of(t, paper))} {
			shown = strings.ToLower(shown)
			for _, word := range tt.says {
				if !strings.Contains(shown, word) && where != "the athlete's page" {
					t.Errorf("%s: %s never says %q", tt.clips[0], where, word)
				}
			}
			for _, word := range tt.silent {
				if i := strings.Index(shown, word); i >= 0 {
					t.Errorf("%s: %s says %q: ...%s...", tt.clips[0], where, word, shown[max(0, i-60):min(len(shown), i+60)])
				}
			}
		}
	}
}
