package web

import "net/http"

func (s *Server) handleJobs(w http.ResponseWriter, r *http.Request) {
	list, err := s.jobs.JSON(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(list)
}

// queued is the answer to what became a job.
type queued struct {
	Job string `json:"job"`
}

// handleMeasure queues the analysis of a clip that has no result; with ?again=1 of one that has one, too.
func (s *Server) handleMeasure(w http.ResponseWriter, r *http.Request) {
	job, err := s.desk.Analyze(r.Context(), r.PathValue("id"), r.URL.Query().Get("again") == "1")
	s.reply(w, r, http.StatusAccepted, queued{job.ID}, err)
}

func (s *Server) handleCancel(w http.ResponseWriter, r *http.Request) {
	s.reply(w, r, http.StatusOK, struct {
		Cancelled bool `json:"cancelled"`
	}{true}, s.desk.Cancel(r.Context(), r.PathValue("id")))
}

func (s *Server) handleRetry(w http.ResponseWriter, r *http.Request) {
	job, err := s.desk.Retry(r.Context(), r.PathValue("id"))
	s.reply(w, r, http.StatusCreated, queued{job.ID}, err)
}
