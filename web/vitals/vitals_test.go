package vitals

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/files"
	"holdfast/desk/queue"
	"holdfast/desk/refusal"
	"holdfast/internal/pgtest"
)

func TestMain(m *testing.M) {
	code := m.Run()
	pgtest.Stop()
	os.Exit(code)
}

// counted is a line of the format that Prometheus reads.
var counted = regexp.MustCompile(`^(# TYPE [a-z_]+ (gauge|counter)|` +
	`[a-z_]+(\{[a-z]+="[a-z_]+"(,[a-z]+="[a-z_]+")*\})? [0-9.e+-]+)$`)

// What waits, how long, and what was done, failed and why is counted, by a folder and by a database that several
// computers use; no name of anybody is in it.
func TestMetrics(t *testing.T) {
	for _, kind := range []string{"folder", "database"} {
		t.Run(kind, func(t *testing.T) {
			opt := archive.Options{}
			if kind == "database" {
				if testing.Short() {
					t.Skip("starts a database server")
				}
				opt.Database, opt.Files = pgtest.Database(t), files.Folder{Root: filepath.Join(t.TempDir(), "kept")}
			}
			testMetrics(t, opt)
		})
	}
}

func testMetrics(t *testing.T, opt archive.Options) {
	ctx := t.Context()
	a, err := archive.Open(ctx, t.TempDir(), opt)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(err)
	who, err := a.CreateAthlete(ctx, archive.Athlete{Name: "Sam Example"})
	must(err)
	visit, err := a.VisitFor(ctx, archive.Visit{AthleteID: who.ID, Date: "2026-05-02", Condition: archive.Fresh})
	must(err)
	for _, name := range []string{"good", "bad", "later"} {
		put, err := a.Put(ctx, strings.NewReader(name), 100)
		must(err)
		c, _, err := a.AddClip(ctx, archive.Clip{AthleteID: who.ID, VisitID: visit.ID, Name: name, SHA256: put.SHA256})
		must(err)
		job, err := a.AddJob(ctx, archive.Job{ClipID: c.ID, Kind: archive.JobAnalyze}, nil)
		must(err)
		if name == "later" {
			must(a.LaterJob(ctx, job.ID))
		}
	}
	var log bytes.Buffer
	done, begun := 0, make(chan struct{})
	run, stop := context.WithCancel(ctx)
	q := queue.New(queue.Options{Archive: a, Log: slog.New(slog.NewTextHandler(&log, nil)), Now: time.Now, Most: 9,
		Changed: func() {}, Do: func(ctx context.Context, job archive.Job, say func(string, int, int)) error {
			say("tracking", 0, 30)
			say("tracking", 30, 30)
			say("Sam Example's \"stage\"\n", 1, 1)
			switch done++; done {
			case 1:
				return nil
			case 2:
				return &refusal.Error{Kind: refusal.NotMeasurable, Text: "Sam Example jumps out of the picture",
					Reason: "no_person"}
			}
			close(begun)
			<-ctx.Done()
			return ctx.Err()
		}})
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		q.Run(run)
	}()
	<-begun
	v := &Vitals{Archive: a, Meter: q.Meter, Log: slog.New(slog.DiscardHandler), Now: time.Now}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", "127.0.0.1:0")
	must(err)
	served := make(chan error)
	go func() { served <- v.Serve(run, l) }()
	get := func(path string) (int, string) {
		t.Helper()
		req, err := http.NewRequestWithContext(ctx, "GET", "http://"+l.Addr().String()+path, nil)
		must(err)
		w, err := http.DefaultClient.Do(req)
		must(err)
		defer w.Body.Close()
		text, err := io.ReadAll(w.Body)
		must(err)
		return w.StatusCode, string(text)
	}
	_, text := get("/metrics")
	for line := range strings.Lines(text) {
		if !counted.MatchString(strings.TrimSuffix(line, "\n")) {
			t.Errorf("no line of the format: %q", line)
		}
	}
	for _, want := range []string{
		`holdfast_jobs{state="failed",kind="analyze",priority="asked"} 1`,
		`holdfast_jobs{state="running",kind="analyze",priority="later"} 1`,
		`holdfast_jobs_total{kind="analyze",state="done"} 1`, `holdfast_jobs_total{kind="analyze",state="failed"} 1`,
		`holdfast_failures_total{kind="analyze",reason="no_person"} 1`, "holdfast_frames_total 90",
		`holdfast_stage_seconds_total{stage="tracking"} `, `holdfast_stage_seconds_total{stage="other"} `,
		`holdfast_oldest_job_seconds{priority="asked"} 0`, "holdfast_files 3", "holdfast_file_bytes 12",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%s is missing from\n%s", want, text)
		}
	}
	if strings.Contains(text, "Sam") || a.Shared() != strings.Contains(text, "holdfast_workers 1\n") {
		t.Errorf("counted is\n%s", text)
	}
	for path, want := range map[string]int{"/healthz": 200, "/readyz": 200, "/": 404} {
		if got, text := get(path); got != want {
			t.Errorf("%s: %d %s", path, got, text)
		}
	}
	stop()
	<-ended
	if err := <-served; err != nil {
		t.Error(err)
	}
	for line := range strings.Lines(log.String()) {
		if !strings.Contains(line, " job=") {
			t.Errorf("a line without its job: %s", line)
		}
	}
	if all, err := a.Workers(ctx); len(all) != 0 || err != nil {
		t.Errorf("after it left there are %+v, %v", all, err)
	}
	must(a.Close())
	if got := answered(t, v.Ready); got != 503 {
		t.Errorf("without its rows it is ready: %d", got)
	}
	if got := answered(t, v.Metrics); got != 503 {
		t.Errorf("without its rows it counts: %d", got)
	}
}

// answered returns the status of an answer.
func answered(t *testing.T, h http.HandlerFunc) int {
	w := httptest.NewRecorder()
	h(w, httptest.NewRequestWithContext(t.Context(), "GET", "/", nil))
	return w.Code
}
