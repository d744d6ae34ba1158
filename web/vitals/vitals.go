// Package vitals tells machines how a program that works on clips is: /metrics in the text format that Prometheus
// reads, /healthz, that it runs, and /readyz, that it can reach its rows. No name of an athlete, a clip or a user is in
// any of it.
package vitals

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"time"

	"holdfast/archive"
	"holdfast/desk/meter"
)

// Vitals are those of a program. Its methods may be called at the same time.
type Vitals struct {
	Archive *archive.Archive
	Meter   *meter.Meter // of the program's queue
	Log     *slog.Logger
	Now     func() time.Time
}

// readyTime is how long the rows may take to answer.
const readyTime = 3 * time.Second

// silent is for how long a worker may say nothing and count as one that works: three of its signs.
const silent = 30

// Ready answers whether the program can do its work now.
func (v *Vitals) Ready(w http.ResponseWriter, r *http.Request) {
	ctx, done := context.WithTimeout(r.Context(), readyTime)
	defer done()
	if err := v.Archive.Ping(ctx); err != nil {
		v.Log.Warn("not ready: the rows cannot be reached")
		v.say(w, http.StatusServiceUnavailable, "the rows cannot be reached\n")
		return
	}
	v.say(w, http.StatusOK, "ready\n")
}

// Healthy answers that the program runs.
func (v *Vitals) Healthy(w http.ResponseWriter, _ *http.Request) { v.say(w, http.StatusOK, "ok\n") }

func (v *Vitals) say(w http.ResponseWriter, status int, text string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = io.WriteString(w, text) // who has gone needs no answer
}

// Metrics answers with all counts. One that cannot be had is a failure of the answer: half of them would look like a
// queue that is empty.
func (v *Vitals) Metrics(w http.ResponseWriter, r *http.Request) {
	var out bytes.Buffer
	if err := v.Write(r.Context(), &out); err != nil {
		v.Log.Warn("the counts cannot be had")
		v.Log.Debug("the counts cannot be had", "error", err)
		v.say(w, http.StatusServiceUnavailable, "the counts cannot be had\n")
		return
	}
	w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(out.Bytes())
}

// Write writes all counts: those of this program, which grow, and what is in the archive now.
func (v *Vitals) Write(ctx context.Context, w io.Writer) error {
	c, err := v.Archive.Count(ctx)
	if err != nil {
		return err
	}
	workers, err := v.Archive.Workers(ctx)
	if err != nil {
		return err
	}
	now := map[string]float64{"holdfast_files": float64(c.Files), "holdfast_file_bytes": float64(c.Bytes)}
	for _, priority := range []string{"asked", "later"} {
		now[meter.Series("holdfast_oldest_job_seconds", "priority", priority)] = 0
	}
	for _, n := range c.Jobs {
		priority := map[bool]string{true: "later", false: "asked"}[n.Later]
		now[meter.Series("holdfast_jobs", "state", string(n.State), "kind", n.Kind, "priority", priority)] = float64(n.Jobs)
		if n.State == archive.JobWaiting {
			oldest := meter.Series("holdfast_oldest_job_seconds", "priority", priority)
			now[oldest] = max(now[oldest], v.Now().Sub(n.Since).Seconds())
		}
	}
	if v.Archive.Shared() {
		now["holdfast_workers"] = 0
		for _, one := range workers {
			if one.SilentS < silent {
				now["holdfast_workers"]++
			}
		}
	}
	if err := meter.Write(w, "gauge", now); err != nil {
		return err
	}
	return v.Meter.Write(w)
}

// Beside answers at an address of its own beside whatever the program does, until what it returns is called; at an
// empty address it does nothing.
func (v *Vitals) Beside(ctx context.Context, address string) (end func() error, err error) {
	if address == "" {
		return func() error { return nil }, nil
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", address)
	if err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- v.Serve(ctx, l) }()
	return func() error {
		stop()
		return <-ended
	}, nil
}

// headerTime is how long whoever asks may take to say what.
const headerTime = 5 * time.Second

// Serve answers at an address of its own, which nothing but machines of the own network should reach, until ctx ends.
func (v *Vitals) Serve(ctx context.Context, l net.Listener) error {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /metrics", v.Metrics)
	mux.HandleFunc("GET /healthz", v.Healthy)
	mux.HandleFunc("GET /readyz", v.Ready)
	h := &http.Server{Handler: mux, ReadHeaderTimeout: headerTime, WriteTimeout: time.Minute, MaxHeaderBytes: 16 << 10,
		ErrorLog: slog.NewLogLogger(v.Log.Handler(), slog.LevelDebug)}
	ended := make(chan error, 1)
	go func() { ended <- h.Serve(l) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	err := h.Close()
	if last := <-ended; !errors.Is(last, http.ErrServerClosed) {
		err = errors.Join(err, last)
	}
	return err
}
