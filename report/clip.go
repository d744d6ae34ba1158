package report

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"holdfast/kinematics/stats"
	"holdfast/screening"
)

// WriteClipPage writes one clip's analysis as a page that needs nothing else: the
// range of motion by tempo, a picture of each tempo's bottom, foot, landing, jumps,
// reps and how far to trust them. The pictures of a missing clip are left out with a
// warning on the page. The error is that of the context or of w, or says what could
// not be drawn.
func WriteClipPage(ctx context.Context, w io.Writer, a *screening.Analysis, opt Options) error {
	s, err := clipSheet(ctx, a, opt)
	if err != nil {
		return fmt.Errorf("writing a clip's page: %w", err)
	}
	b, err := s.html()
	if err == nil {
		_, err = w.Write(b)
	}
	if err != nil {
		return fmt.Errorf("writing a clip's page: %w", err)
	}
	return nil
}

// WriteClipPDF writes what [WriteClipPage] says as a PDF of A4 sheets.
func WriteClipPDF(ctx context.Context, w io.Writer, a *screening.Analysis, opt Options) error {
	s, err := clipSheet(ctx, a, opt)
	if err != nil {
		return fmt.Errorf("writing a clip's PDF: %w", err)
	}
	b, err := layOut(s, opt.Date)
	if err == nil {
		_, err = w.Write(b)
	}
	if err != nil {
		return fmt.Errorf("writing a clip's PDF: %w", err)
	}
	return nil
}

// clipSheet puts the page of a clip together: that of a comparison in which there is
// nothing to compare.
func clipSheet(ctx context.Context, a *screening.Analysis, opt Options) (*sheet, error) {
	if a == nil {
		return nil, errors.New("there is no analysis")
	}
	c := &screening.Comparison{Program: a.Program, Athlete: a.Athlete, Clips: []screening.ClipRef{{Name: a.Clip.Name}},
		Analyses: []*screening.Analysis{a}, Warnings: a.Warnings}
	p := &page{c: c, opt: opt, warnings: append([]screening.Warning{}, a.Warnings...)}
	var err error
	var warnings []screening.Warning
	if p.shots, warnings, err = takeShots(ctx, c, opt); err != nil {
		return nil, err
	}
	p.warn(warnings...)
	s := &sheet{Title: "One clip", Athlete: a.Athlete, Date: opt.Date, Clips: []string{a.Clip.Name}, Footer: p.footer(),
		Nothing: "No whole rep was found in this clip."}
	for _, m := range screening.MeansByTempo(a) {
		s.Headlines = append(s.Headlines, headline{Joint: capital(m.Tempo), Rest: meanWords(&m)})
	}
	warned := p.heed(s)
	s.add(p.bottoms())
	s.add(p.foot())
	if d, definition := p.landingDetails(); len(d.Rows) > 0 {
		sec := section{ID: "landing", Title: "The landing", Blocks: []block{{Table: d}}}
		if definition != "" {
			sec.Blocks = append(sec.Blocks, block{Small: true, Text: "Settled: " + definition + "."})
		}
		s.add(sec)
	}
	s.add(p.jumps())
	s.add(p.consistency())
	s.add(p.reps())
	s.add(warned)
	s.add(section{ID: "trust", Title: "How to read the numbers", Blocks: []block{{List: append([]string{
		"Beneath each number, or in brackets, stands its 95 % interval: it holds the noise of the points, the error of the network and the view.",
		"One clip says how far the joints move, not what speed takes: compare it with a slow, a fast or a jump clip for that.",
	}, p.facts()...)}}})
	s.add(care())
	return s, nil
}

// meanWords says the mean ranges of motion of a tempo: "3 reps: ankle 27° (21 to 33),
// knee 101° (94 to 108)."
func meanWords(m *screening.TempoMeans) string {
	var parts []string
	for j := range numJoints {
		e := [numJoints]stats.Estimate{knee: m.Knee, hip: m.Hip, ankle: m.Ankle}[j]
		if math.IsNaN(e.Value) {
			continue
		}
		words := strings.ToLower(j.name()) + " " + degrees(e.Value)
		if iv := intervalOrNone(e.Interval95()); iv != "" {
			words += " (" + iv + ")"
		}
		parts = append(parts, words)
	}
	return counted(m.Reps, "rep") + ": " + strings.Join(parts, ", ") + "."
}

// bottoms shows the lowest points of the clip.
func (p *page) bottoms() section {
	sec := section{ID: "bottoms", Title: "The lowest points"}
	var pictures []figure
	for _, q := range []struct {
		shot *shot
		what string
	}{{p.shots.easiest, "Slow bottom"}, {p.shots.second, "Fast bottom"}, {p.shots.takeoff, "Bottom before the take-off"}, {p.shots.landing, "Bottom of the landing"}} {
		if q.shot != nil && q.shot.marked != nil {
			pictures = append(pictures, figure{JPEG: q.shot.marked, Alt: q.what + ", with the angle at ankle, knee and hip.",
				Caption: fmt.Sprintf("%s, rep %d%s", q.what, q.shot.rep.Number, p.anglesAt(q.shot))})
		}
	}
	if len(pictures) > 0 {
		sec.Blocks = []block{{Pictures: pictures, Across: 3}}
	}
	return sec
}
