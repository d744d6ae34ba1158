package web

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"holdfast/archive"
	"holdfast/web/answer"
)

const (
	pingTime = 15 * time.Second
	// jobsRest is the shortest time between two states of the queue.
	jobsRest = 250 * time.Millisecond
	// eventTime is how long a page may take to receive one event.
	eventTime = 20 * time.Second
)

// handleEvents streams the state of the queue and the clips that changed.
func (s *Server) handleEvents(w http.ResponseWriter, r *http.Request) {
	l := s.events.Subscribe()
	if l == nil {
		s.fail(w, r, answer.Trouble(http.StatusServiceUnavailable, "too_many_pages", 30))
		return
	}
	defer s.events.Unsubscribe(l)
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no")
	w.WriteHeader(http.StatusOK)
	control := http.NewResponseController(w)
	_ = control.SetReadDeadline(time.Time{}) // the connection is watched, not read
	// A session may end while the stream is open.
	send := func(name string, data []byte) bool {
		if _, in, err := s.gate.Admits(r); !in || err != nil {
			return false
		}
		_ = control.SetWriteDeadline(time.Now().Add(eventTime))
		_, err := fmt.Fprintf(w, "event: %s\ndata: %s\n\n", name, data)
		return err == nil && control.Flush() == nil
	}
	sendJobs := func() bool {
		list, err := s.jobs.JSON(r.Context())
		return err == nil && send("jobs", list)
	}
	if !sendJobs() {
		return
	}
	ping := time.NewTicker(pingTime)
	defer ping.Stop()
	rest := time.NewTimer(0)
	defer rest.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-ping.C:
			if !send("ping", []byte("{}")) {
				return
			}
			continue
		case <-l.Wake:
			if _, in, err := s.gate.Admits(r); !in || err != nil {
				return
			}
		}
		// Progress comes in many small steps; a page wants a few a second.
		select {
		case <-r.Context().Done():
			return
		case <-rest.C:
			rest.Reset(jobsRest)
		}
		jobs, clips, all := l.Take()
		if all && !send("clip", []byte(`{"id":""}`)) {
			return
		}
		for _, id := range clips {
			if !s.othersClip(r.Context(), id) && !send("clip", fmt.Appendf(nil, `{"id":%q}`, id)) {
				return
			}
		}
		if jobs && !sendJobs() {
			return
		}
	}
}

// othersClip says whether a clip is there and another coach's.
func (s *Server) othersClip(ctx context.Context, id string) bool {
	if archive.CoachOf(ctx) == "" {
		return false
	}
	if _, err := s.archive.Clip(ctx, id); err == nil {
		return false
	}
	_, err := s.archive.Clip(archive.ForCoach(ctx, ""), id)
	return err == nil
}
