package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/report/marked"
	"holdfast/report/measures"
	"holdfast/screening"
	"holdfast/screening/history"
	"holdfast/screening/sets"
	"holdfast/web/answer"
)

// sendTable sends measures as CSV, which is made as it is sent.
func (s *Server) sendTable(w http.ResponseWriter, r *http.Request, label string, write func(io.Writer) error) {
	answer.FileHeaders(w, r, "measures.csv", label)
	out := &answer.Late{To: w}
	switch err := write(out); {
	case err == nil:
	case !out.Begun:
		s.fail(w, r, err)
	default:
		panic(http.ErrAbortHandler) // half a table must not look like a whole one
	}
}

func (s *Server) handleClipMeasures(w http.ResponseWriter, r *http.Request) {
	clip, err := s.desk.Measured(r.Context(), r.PathValue("id"))
	var a *screening.Analysis
	if err == nil {
		a, err = s.desk.Told(clip)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.sendTable(w, r, clip.Name, func(out io.Writer) error { return measures.Clip(out, a) })
}

func (s *Server) handleComparisonMeasures(w http.ResponseWriter, r *http.Request) {
	c, err := s.desk.Comparison(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	var comparison screening.Comparison
	if err := json.Unmarshal(c.Numbers, &comparison); err != nil {
		s.fail(w, r, fmt.Errorf("reading a comparison: %w: %w", archive.ErrDamaged, err))
		return
	}
	comparison.Told("", c.Axis())
	for _, k := range c.Clips {
		a, err := s.desk.Told(k)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		comparison.Analyses = append(comparison.Analyses, a)
	}
	var fronts []*screening.Analysis
	for _, k := range c.Fronts {
		a, err := s.desk.Told(k)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		fronts = append(fronts, a)
	}
	if comparison.Fronts != nil {
		sets.ShowFronts(&comparison, fronts)
	}
	s.sendTable(w, r, c.Athlete.Name, func(out io.Writer) error { return measures.Comparison(out, &comparison) })
}

func (s *Server) handleAthleteMeasures(w http.ResponseWriter, r *http.Request) {
	a, err := s.desk.Athlete(r.Context(), r.PathValue("id"))
	var dated []history.DatedAnalysis
	if err == nil {
		dated, err = s.desk.Dated(r.Context(), a.ID)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.sendTable(w, r, a.Name, func(out io.Writer) error { return measures.History(out, dated) })
}

// handleMarks answers what a coach marked by hand on a clip.
func (s *Server) handleMarks(w http.ResponseWriter, r *http.Request) {
	clip, err := s.desk.Clip(r.Context(), r.PathValue("id"))
	var doc json.RawMessage
	if err == nil {
		doc, err = s.archive.Marks(r.Context(), clip.ID)
	}
	s.reply(w, r, http.StatusOK, marked.Document{Marks: answer.OrEmpty(marked.Read(doc))}, err)
}

// handleSetMarks keeps what a coach marked, in place of what was marked before.
func (s *Server) handleSetMarks(w http.ResponseWriter, r *http.Request) {
	var in marked.Document
	clip, err := s.desk.Measured(r.Context(), r.PathValue("id"))
	if err == nil {
		err = answer.Decode(w, r, &in)
	}
	if err == nil {
		in, err = s.checkedMarks(r.Context(), clip, in)
	}
	var doc json.RawMessage
	if err == nil && len(in.Marks) > 0 {
		doc, err = json.Marshal(in)
	}
	if err == nil {
		err = s.archive.SetMarks(r.Context(), clip.ID, doc)
	}
	in.Marks = answer.OrEmpty(in.Marks)
	s.reply(w, r, http.StatusOK, in, err)
}

func (s *Server) checkedMarks(ctx context.Context, clip archive.Clip, in marked.Document) (marked.Document, error) {
	a, err := s.desk.Summary(clip)
	if err != nil {
		return in, err
	}
	track, err := s.desk.Track(ctx, clip)
	if err != nil {
		return in, err
	}
	if in, err = in.Check(track, a.Clip.WidthPx, a.Clip.HeightPx); err != nil {
		return in, refusal.Because(err)
	}
	return in, nil
}
