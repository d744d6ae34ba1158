package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/kinematics/notice"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/web/answer"
	"holdfast/web/noted"
)

func (s *Server) handleCompare(w http.ResponseWriter, r *http.Request) {
	var in desk.Choice
	var out struct {
		ID string `json:"id"`
	}
	err := answer.Decode(w, r, &in)
	if err == nil {
		c, failed := s.desk.Compare(r.Context(), in)
		out.ID, err = c.ID, failed
		noted.Made(r.Context(), c.ID)
	}
	s.reply(w, r, http.StatusCreated, out, err)
}

func (s *Server) handleComparison(w http.ResponseWriter, r *http.Request) {
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
	if c.Old {
		comparison.Warnings = append(comparison.Warnings, notice.New("compared_before", nil))
	}
	comparison.Told("", c.Axis())
	doc, err := screening.EncodeTold(&comparison, nil)
	out := struct {
		ID         string          `json:"id"`
		Athlete    athleteView     `json:"athlete"`
		Comparison json.RawMessage `json:"comparison"`
		Said       said.Said       `json:"said"`
		Clips      []clipView      `json:"clips"`
		// Files can be asked for; those not there yet are made by POST.
		Files []string `json:"files"`
	}{c.ID, viewOfAthlete(c.Athlete), doc, said.SaidOf(&comparison), nil,
		append([]string{desk.ComparisonFile}, desk.ReportFiles...)}
	for _, k := range c.Clips {
		out.Clips = append(out.Clips, viewOfClip(k))
	}
	s.reply(w, r, http.StatusOK, out, err)
}

func (s *Server) handleDeleteComparison(w http.ResponseWriter, r *http.Request) {
	s.reply(w, r, http.StatusOK, struct{}{}, s.desk.DeleteComparison(r.Context(), r.PathValue("id")))
}

// handleMakeReport has the report made that a file belongs to, and answers when it is
// there: GET then sends it.
func (s *Server) handleMakeReport(w http.ResponseWriter, r *http.Request) {
	err := s.desk.MakeReport(r.Context(), r.PathValue("id"), r.PathValue("name"), blurred(r))
	s.reply(w, r, http.StatusCreated, struct{}{}, err)
}

func blurred(r *http.Request) bool { return r.URL.Query().Get("blur_face") == "1" }

// handleComparisonFile sends a file of a comparison that was made of its present numbers.
func (s *Server) handleComparisonFile(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	c, err := s.desk.Comparison(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if name == desk.ComparisonFile {
		answer.FileHeaders(w, r, name, "")
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(c.Numbers))
		return
	}
	f := c.Report(name, blurred(r))
	switch {
	case f.Name != "":
		s.sendFile(w, r, f, c.Athlete.Name)
	case desk.IsReport(name):
		s.fail(w, r, answer.Trouble(http.StatusNotFound, "report_not_made", 0))
	default:
		s.fail(w, r, answer.NotFound("file"))
	}
}
