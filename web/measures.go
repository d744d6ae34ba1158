package web

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"

	"holdfast/archive"
	"holdfast/report/measures"
	"holdfast/screening"
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
		a, err = s.desk.Summary(clip)
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
	comparison.Axis = c.Axis()
	for _, k := range c.Clips {
		a, err := s.desk.Summary(k)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		comparison.Analyses = append(comparison.Analyses, a)
	}
	s.sendTable(w, r, c.Athlete.Name, func(out io.Writer) error { return measures.Comparison(out, &comparison) })
}

func (s *Server) handleAthleteMeasures(w http.ResponseWriter, r *http.Request) {
	a, err := s.desk.Athlete(r.Context(), r.PathValue("id"))
	var dated []screening.DatedAnalysis
	if err == nil {
		dated, err = s.desk.Dated(r.Context(), a.ID)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.sendTable(w, r, a.Name, func(out io.Writer) error { return measures.History(out, dated) })
}
