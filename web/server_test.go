package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/queue"
	"holdfast/internal/fakework"
	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/vision/pose"
	"holdfast/web/joblist"
	"holdfast/web/news"
)

const testHost = "127.0.0.1:7070"

// bench is a server over an empty archive, with a fake program for the clips.
type bench struct {
	t   *testing.T
	s   *Server
	opt Options
	// log holds what was logged at the default level.
	log *lockedBuffer
	// cookie is sent with every request.
	cookie string
	// measure measures again; tests replace it.
	measure desk.Measure
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// newBench starts a server whose queue works, each job in a program of its own; change
// may set options before.
func newBench(t *testing.T, change func(*Options)) *bench {
	t.Helper()
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
	b := newIdleBench(t, change)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); b.s.desk.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-done })
	return b
}

// newIdleBench makes a server whose jobs wait.
func newIdleBench(t testing.TB, change func(*Options)) *bench {
	t.Helper()
	dir := t.TempDir()
	a, err := archive.Open(t.Context(), dir, archive.Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	log := &lockedBuffer{}
	b := &bench{log: log, measure: fakework.Measure}
	opt := Options{
		Desk: desk.Options{
			Archive: a, WorkDir: filepath.Join(dir, "tmp", "work"), Program: []string{os.Args[0]},
			Env: []string{fakeVariable + "=work"},
			Log: slog.New(slog.NewTextHandler(log, nil)),
			Measure: func(i screening.ClipInfo, tr *pose.Track, o screening.Options) (*screening.Analysis, error) {
				return b.measure(i, tr, o)
			},
		},
		Address: &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 7070},
	}
	if change != nil {
		change(&opt)
	}
	if b.s, err = NewServer(opt); err != nil {
		t.Fatal(err)
	}
	b.opt = opt
	b.t, _ = t.(*testing.T)
	return b
}

// send sends a request as the page does; set changes it before.
func (b *bench) send(method, path string, body io.Reader, set func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, body)
	r.Host = testHost
	if method != "GET" && method != "HEAD" {
		r.Header.Set("X-Holdfast", "1")
	}
	if b.cookie != "" {
		r.Header.Set("Cookie", b.cookie)
	}
	if set != nil {
		set(r)
	}
	w := httptest.NewRecorder()
	b.s.Handler().ServeHTTP(w, r)
	return w
}

// want sends JSON, expects a status and reads the answer.
func (b *bench) want(status int, method, path, body string, into any) {
	b.t.Helper()
	var r io.Reader
	if body != "" {
		r = strings.NewReader(body)
	}
	w := b.send(method, path, r, nil)
	if w.Code != status {
		b.t.Fatalf("%s %s: status %d, want %d: %s", method, path, w.Code, status, w.Body)
	}
	if into != nil {
		if err := json.Unmarshal(w.Body.Bytes(), into); err != nil {
			b.t.Fatalf("%s %s: %v: %s", method, path, err, w.Body)
		}
	}
}

// MovieStart begins a file that is built as a video: one track of pictures that lie in
// the file, and the pictures' box to the end of it.
const MovieStart = "\x00\x00\x00\x10ftypmp42\x00\x00\x00\x00" +
	"\x00\x00\x00\x65moov\x00\x00\x00\x5dtrak\x00\x00\x00\x55mdia" +
	"\x00\x00\x00\x21hdlr\x00\x00\x00\x00\x00\x00\x00\x00vide\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00" +
	"\x00\x00\x00\x2cminf\x00\x00\x00\x24dinf\x00\x00\x00\x1cdref" +
	"\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x0curl \x00\x00\x00\x01" +
	"\x00\x00\x00\x00mdat"

// movie is a file that passes for a video, with content of its own.
func movie(content string) string { return MovieStart + content }

// form makes an upload of fields and files, each "name=value".
func form(fields []string, files ...string) (body *bytes.Buffer, kind string) {
	body = &bytes.Buffer{}
	m := multipart.NewWriter(body)
	for _, f := range fields {
		name, value, _ := strings.Cut(f, "=")
		_ = m.WriteField(name, value)
	}
	for _, f := range files {
		name, content, _ := strings.Cut(f, "=")
		p, _ := m.CreateFormFile("clip", name)
		_, _ = io.WriteString(p, content)
	}
	_ = m.Close()
	return body, m.FormDataContentType()
}

// upload sends clips of an athlete and returns what was made of them.
func (b *bench) upload(fields []string, files ...string) addedClips {
	b.t.Helper()
	body, kind := form(fields, files...)
	w := b.send("POST", "/api/clips", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
	if w.Code != http.StatusCreated {
		b.t.Fatalf("upload: %d: %s", w.Code, w.Body)
	}
	var added addedClips
	if err := json.Unmarshal(w.Body.Bytes(), &added); err != nil {
		b.t.Fatal(err)
	}
	return added
}

// await waits until the job has ended and returns it.
func (b *bench) await(id string) archive.Job {
	b.t.Helper()
	var job archive.Job
	b.until(func() bool {
		var err error
		if job, err = b.s.archive.Job(b.t.Context(), id); err != nil {
			b.t.Fatal(err)
		}
		return !queue.Unfinished(job)
	})
	return job
}

// until waits for something, looking whenever the pages would hear of a change.
func (b *bench) until(done func() bool) {
	b.t.Helper()
	l := b.s.events.Subscribe()
	defer b.s.events.Unsubscribe(l)
	limit := time.After(2 * time.Minute)
	for !done() {
		select {
		case <-l.Wake:
		case <-limit:
			b.t.Fatal("it does not come")
		}
	}
}

// settle waits until no job is left.
func (b *bench) settle() {
	b.t.Helper()
	b.until(func() bool {
		jobs, err := b.s.archive.Jobs(b.t.Context(), 100)
		if err != nil {
			b.t.Fatal(err)
		}
		for _, j := range jobs {
			if queue.Unfinished(j) {
				return false
			}
		}
		return true
	})
}

// measured uploads clips, waits for their analyses and returns their ids.
func (b *bench) measured(names ...string) (ids []string) {
	b.t.Helper()
	for _, n := range names {
		added := b.upload([]string{"athlete_name=Sam Example", "date=2025-05-02"}, n+"="+movie(n))
		if job := b.await(added.Clips[0].Job); job.State != archive.JobDone {
			b.t.Fatalf("%s: %s: %s", n, job.State, job.Error)
		}
		ids = append(ids, added.Clips[0].ID)
	}
	return ids
}

// report has a file of a comparison's report made, which it is not before, and gets it.
func (b *bench) report(comparison, file string) *httptest.ResponseRecorder {
	b.t.Helper()
	path := "/comparisons/" + comparison + "/files/" + file
	if w := b.send("GET", path, nil, nil); w.Code != 404 || !strings.Contains(w.Body.String(), "not been made yet") {
		b.t.Errorf("before it is asked for: %d %.200s", w.Code, w.Body)
	}
	b.want(201, "POST", "/api"+path, "", nil)
	w := b.send("GET", path, nil, nil)
	if w.Code != 200 {
		b.t.Fatalf("%s: %d %s", file, w.Code, w.Body)
	}
	return w
}

func TestClipFromUploadToDeletion(t *testing.T) {
	b := newBench(t, nil)
	id := b.measured("slow.mp4")[0]
	var clip struct {
		Clip    clipView
		Athlete athleteView
		Visit   visitView
		Job     *joblist.JobView
		Files   []fileView
		Current json.RawMessage
		CanUndo bool `json:"can_undo"`
		CanRedo bool `json:"can_redo"`
	}
	b.want(200, "GET", "/api/clips/"+id, "", &clip)
	if clip.Clip.Name != "slow.mp4" || clip.Athlete.Name != "Sam Example" || clip.Visit.Date != "2025-05-02" ||
		clip.Visit.Condition != "fresh" || clip.Job == nil || clip.Job.State != "done" ||
		clip.CanUndo || clip.CanRedo || string(clip.Current) != "{}" {
		t.Errorf("clip %+v", clip)
	}
	var names []string
	for _, f := range clip.Files {
		names = append(names, f.Name)
	}
	got := strings.Join(names, " ")
	if got != "analysis.json frames/rep01_1_bottom_slow.png series.csv track.json.gz web.mp4" {
		t.Errorf("files %s", got)
	}
	var analysis screening.Analysis
	b.want(200, "GET", "/api/clips/"+id+"/analysis", "", &analysis)
	if analysis.Clip.Path != "" || len(analysis.Reps) != 3 {
		t.Errorf("analysis of %q at %q with %d reps", analysis.Clip.Name, analysis.Clip.Path, len(analysis.Reps))
	}
	var frames struct {
		TimeS    []float64 `json:"time_s"`
		WidthPx  int       `json:"width_px"`
		HeightPx int       `json:"height_px"`
		Names    []string
		Points   [][][3]*float64
	}
	b.want(200, "GET", "/api/clips/"+id+"/frames", "", &frames)
	if len(frames.TimeS) != 3 || frames.WidthPx != 320 || frames.Points[1] != nil || *frames.Points[0][0][0] != 10.1 ||
		*frames.Points[0][0][2] != 0.99 || frames.Points[0][1][0] != nil {
		t.Errorf("frames %+v", frames)
	}
	w := b.send("GET", "/clips/"+id+"/video", nil, func(r *http.Request) { r.Header.Set("Range", "bytes=5-9") })
	if w.Code != http.StatusPartialContent || w.Body.String() != "video" || w.Header().Get("Content-Type") != "video/mp4" {
		t.Errorf("a part of the video: %d %q %v", w.Code, w.Body, w.Header())
	}
	w = b.send("GET", "/clips/"+id+"/files/series.csv?download=1", nil, nil)
	if got := w.Header().Get("Content-Disposition"); got != `attachment; filename="slow series.csv"` {
		t.Errorf("disposition %q", got)
	}
	b.want(202, "POST", "/api/clips/"+id+"/render?blur_face=1", "", nil)
	b.settle()
	if w := b.send("GET", "/clips/"+id+"/files/annotated_blurred.mp4", nil, nil); w.Body.String() != "blurred: true" {
		t.Errorf("the annotated video: %d %q", w.Code, w.Body)
	}
	// The same clip again is known.
	again := b.upload([]string{"athlete=" + clip.Athlete.ID}, "copy.mp4="+movie("slow.mp4"))
	if c := again.Clips[0]; !c.Known || c.ID != id || c.Job != "" {
		t.Errorf("the same clip again: %+v", c)
	}
	b.want(200, "DELETE", "/api/clips/"+id, "", nil)
	b.want(404, "GET", "/api/clips/"+id, "", nil)
	for _, secret := range []string{"Sam", "slow.mp4", "127.0.0.1", "/api/"} {
		if strings.Contains(b.log.String(), secret) {
			t.Errorf("the log names %q:\n%s", secret, b.log)
		}
	}
	if !strings.Contains(b.log.String(), id) {
		t.Error("the log does not name the clip's id")
	}
}

func TestCorrections(t *testing.T) {
	b := newBench(t, nil)
	id := b.measured("slow.mp4")[0]
	knee := func() float64 {
		var a screening.Analysis
		b.want(200, "GET", "/api/clips/"+id+"/analysis", "", &a)
		return a.Reps[1].Angles[body.KneeFlexion].ROMDeg
	}
	point := func(n int) string {
		p := strings.TrimSuffix(strings.Repeat(`{"frame":1,"point":"heel","side":"near","x_px":10.5,"y_px":20},`, n), ",")
		return fmt.Sprintf(`{"points":[%s],"what":"heel moved"}`, p)
	}
	steps := []struct {
		path, body string
		status     int
		knee       float64
		undo, redo bool
	}{
		{"", point(1), 200, 109, true, false},
		{"", point(2), 200, 108, true, false},
		{"", `{"facing":"left"}`, 500, 108, true, false},  // panics
		{"", `{"facing":"right"}`, 422, 108, true, false}, // cannot be measured
		{"", `{"reps":[{"at_s":99}]}`, 422, 108, true, false},
		{"", `{"points":[{"frame":3,"point":"heel","side":"near","x_px":1,"y_px":1}]}`, 422, 108, true, false},
		{"", `null`, 400, 108, true, false},
		{"", ` []`, 400, 108, true, false},
		{"/undo", "", 200, 109, true, true},
		{"/undo", "", 200, 110, false, true},
		{"/undo", "", 409, 110, false, true},
		{"/redo", "", 200, 109, true, true},
		{"", point(3), 200, 107, true, false},
		{"/redo", "", 409, 107, true, false},
	}
	for i, s := range steps {
		w := b.send("POST", "/api/clips/"+id+"/corrections"+s.path, strings.NewReader(s.body), nil)
		if w.Code != s.status {
			t.Fatalf("step %d: %d: %s", i, w.Code, w.Body)
		}
		if w.Code == 422 && s.body != `{"facing":"right"}` && !strings.Contains(w.Body.String(), "the clip") {
			t.Errorf("step %d gives no reason: %s", i, w.Body)
		}
		if strings.Contains(w.Body.String(), "/secret") {
			t.Errorf("step %d tells a path: %s", i, w.Body)
		}
		if got := knee(); got != s.knee {
			t.Errorf("step %d: the knee bends %g°, want %g°", i, got, s.knee)
		}
		var clip struct {
			CanUndo bool `json:"can_undo"`
			CanRedo bool `json:"can_redo"`
		}
		b.want(200, "GET", "/api/clips/"+id, "", &clip)
		if clip.CanUndo != s.undo || clip.CanRedo != s.redo {
			t.Errorf("step %d: undo %v, redo %v", i, clip.CanUndo, clip.CanRedo)
		}
	}
	b.settle()
	w := b.send("GET", "/clips/"+id+"/files/frames/rep01_1_bottom_slow.png", nil, nil)
	if w.Body.String() != "a newer picture" {
		t.Errorf("the stills were not drawn anew: %q", w.Body)
	}
	if w := b.send("GET", "/clips/"+id+"/video", nil, nil); w.Code != 200 {
		t.Errorf("the video is lost: %d", w.Code)
	}
	// What is said of the clip changes the numbers too; the correction stays.
	var changed struct {
		AnalysisChanged bool `json:"analysis_changed"`
	}
	b.want(200, "PATCH", "/api/clips/"+id, `{"tempo":"fast","condition":"loaded","load_kg":40}`, &changed)
	var a screening.Analysis
	b.want(200, "GET", "/api/clips/"+id+"/analysis", "", &a)
	if !changed.AnalysisChanged || a.Reps[0].Tempo != "fast" || knee() != 107 {
		t.Errorf("after a change of tempo: %v, %s, %g°", changed, a.Reps[0].Tempo, knee())
	}
}

func TestComparison(t *testing.T) {
	b := newBench(t, nil)
	ids := b.measured("slow.mp4", "fast.mp4")
	var made struct{ ID string }
	b.want(201, "POST", "/api/comparisons", fmt.Sprintf(`{"clips":[%q,%q],"smallest_change_deg":4}`, ids[0], ids[1]),
		&made)
	type view struct {
		Comparison screening.Comparison
		Clips      []clipView
		Files      []string
	}
	var c view
	b.want(200, "GET", "/api/comparisons/"+made.ID, "", &c)
	if len(c.Comparison.Pairs) != 1 || c.Comparison.SmallestChangeDeg != 4 || len(c.Clips) != 2 ||
		c.Comparison.Pairs[0].Joints[body.KneeJoint].LostDeg != 15 {
		t.Fatalf("comparison %+v", c)
	}
	base := "/comparisons/" + made.ID + "/files/"
	for _, f := range []struct{ path, want string }{
		{"report.html", "report.html of 2 clips, blurred: false"},
		{"coach.pdf?blur_face=1", "coach.pdf of 2 clips, blurred: true"},
		{"sidebyside.mp4", "a video"},
	} {
		w := b.report(made.ID, f.path)
		if w.Body.String() != f.want {
			t.Errorf("%s: %d %q", f.path, w.Code, w.Body)
		}
	}
	p := b.send("GET", base+"report.html", nil, nil).Header().Get("Content-Security-Policy")
	if !strings.Contains(p, "sandbox") {
		t.Errorf("a report runs under the policy %q", p)
	}
	for _, bad := range []string{"athlete.pdf", "other.html", "../made_from.json", "overlay%2f..%2fx.png"} {
		if w := b.send("GET", base+bad, nil, nil); w.Code != 404 && w.Code != 301 && w.Code != 307 {
			t.Errorf("%s: %d", bad, w.Code)
		}
	}
	// A correction of a clip makes the comparison anew.
	b.want(200, "POST", "/api/clips/"+ids[0]+"/corrections",
		`{"points":[{"frame":1,"point":"heel","side":"near","x_px":1,"y_px":1}]}`, nil)
	b.want(200, "GET", "/api/comparisons/"+made.ID, "", &c)
	if got := c.Comparison.Pairs[0].Joints[body.KneeJoint].LostDeg; got != 14 {
		t.Errorf("after a correction %v° are lost, want 14°", got)
	}
	for _, bad := range []struct {
		body   string
		status int
	}{
		{`{"clips":[]}`, 400}, {`{"clips":["a","b","c","d","e","f","g"]}`, 400}, {`{"clips":["nothing"]}`, 404},
		{fmt.Sprintf(`{"clips":[%q,%q,%q,%q]}`, ids[0], ids[1], ids[0], ids[1]), 400},
		{fmt.Sprintf(`{"clips":[%q,%q]}`, ids[0], ids[0]), 400}, {fmt.Sprintf(`{"clips":[%q]}`, ids[0]), 422},
		{fmt.Sprintf(`{"clips":[%q,%q],"smallest_change_deg":-1}`, ids[0], ids[1]), 400},
	} {
		b.want(bad.status, "POST", "/api/comparisons", bad.body, nil)
	}
	b.want(200, "DELETE", "/api/comparisons/"+made.ID, "", nil)
	b.want(404, "GET", "/api/comparisons/"+made.ID, "", nil)
}

// One clip that kills its process, one that cannot be measured and one that hangs
// until it is cancelled: each says so, and the rest goes on.
func TestBadClipsEndTheirJobOnly(t *testing.T) {
	b := newBench(t, nil)
	fields := []string{"athlete_name=Sam Example"}
	added := b.upload(fields, "crash.mp4="+movie("1"), "refused.mp4="+movie("2"), "hang.mp4="+movie("3"),
		"slow.mp4="+movie("4"))
	crashed, refused := b.await(added.Clips[0].Job), b.await(added.Clips[1].Job)
	if crashed.State != archive.JobFailed || !strings.Contains(crashed.Error, "ended before it was done") ||
		crashed.Hint == "" {
		t.Errorf("the crashed job: %+v", crashed)
	}
	if refused.State != archive.JobFailed || refused.Error != "nobody was found in the clip" ||
		refused.Hint != "film the whole body" {
		t.Errorf("the refused job: %+v", refused)
	}
	hanging := added.Clips[2].Job
	b.until(func() bool {
		j, err := b.s.archive.Job(t.Context(), hanging)
		return err == nil && j.State == archive.JobRunning
	})
	var list struct{ Jobs []joblist.JobView }
	b.want(200, "GET", "/api/jobs", "", &list)
	if j := list.Jobs[0]; j.ID != hanging || j.State != "running" || j.ClipName != "hang.mp4" ||
		j.AthleteName != "Sam Example" {
		t.Errorf("the job at work: %+v", j)
	}
	if j := list.Jobs[1]; j.ID != added.Clips[3].Job || j.Position != 1 {
		t.Errorf("the waiting job: %+v", j)
	}
	b.want(409, "POST", "/api/jobs/"+hanging+"/retry", "", nil)
	b.want(200, "POST", "/api/jobs/"+hanging+"/cancel", "", nil)
	if j := b.await(hanging); j.State != archive.JobCancelled {
		t.Errorf("the cancelled job: %+v", j)
	}
	if j := b.await(added.Clips[3].Job); j.State != archive.JobDone {
		t.Errorf("the job after them: %+v", j)
	}
	b.want(409, "POST", "/api/jobs/"+hanging+"/cancel", "", nil)
	var retried struct{ Job string }
	b.want(201, "POST", "/api/jobs/"+added.Clips[1].Job+"/retry", "", &retried)
	if j := b.await(retried.Job); j.State != archive.JobFailed || j.ID == refused.ID {
		t.Errorf("the retried job: %+v", j)
	}
}

// A server that is stopped in the middle of a job does it again at the next start.
func TestRestart(t *testing.T) {
	b := newIdleBench(t, nil)
	job := b.upload([]string{"athlete_name=Sam Example"}, "hang.mp4="+movie("1")).Clips[0].Job
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- b.s.Serve(ctx, l) }()
	b.until(func() bool {
		j, err := b.s.archive.Job(t.Context(), job)
		return err == nil && j.State == archive.JobRunning
	})
	stop()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
	// It gave the job back itself, and the attempt does not count.
	if j, err := b.s.archive.Job(t.Context(), job); err != nil || j.State != archive.JobWaiting || j.Attempt != 0 {
		t.Errorf("the job is %+v, want one that waits, without an attempt (%v)", j, err)
	}
}

func TestAthletes(t *testing.T) {
	b := newBench(t, nil)
	var a athleteView
	b.want(201, "POST", "/api/athletes",
		`{"name":"  Ada   Example ","height_cm":172.5,"birth_year":2001,"notes":"<script>"}`, &a)
	if a.Name != "Ada Example" || *a.HeightCm != 172.5 || *a.BirthYear != 2001 {
		t.Errorf("athlete %+v", a)
	}
	b.want(200, "PATCH", "/api/athletes/"+a.ID, `{"height_cm":null}`, &a)
	if a.HeightCm != nil || a.Notes != "<script>" {
		t.Errorf("after the change %+v", a)
	}
	for _, bad := range []string{`{"name":""}`, `{}`, `{"name":"x","height_cm":20}`, `{"name":"x","birth_year":1800}`,
		`{"name":"x","birth_year":2000.5}`,
		`{"name":"x","nick":"y"}`, `{"name":5}`, `[]`, `{"name":"x"} {}`, `{"name":"` + strings.Repeat("x", 200) + `"}`} {
		b.want(400, "POST", "/api/athletes", bad, nil)
	}
	added := b.upload([]string{"athlete=" + a.ID, "condition=loaded", "load_kg=40,5", "tempo=slow"},
		"slow.mp4="+movie("1"))
	b.await(added.Clips[0].Job)
	var all struct {
		Visits []visitView
		Clips  []clipView
	}
	b.want(200, "GET", "/api/athletes/"+a.ID, "", &all)
	if len(all.Visits) != 1 || *all.Visits[0].LoadKg != 40.5 || len(all.Clips) != 1 || all.Clips[0].Result == nil {
		t.Errorf("the athlete's page %+v", all)
	}
	b.want(200, "PATCH", "/api/visits/"+all.Visits[0].ID, `{"date":"2025-01-31","notes":"tired"}`, nil)
	b.want(400, "PATCH", "/api/visits/"+all.Visits[0].ID, `{"date":"31.1.2025"}`, nil)
	b.want(400, "PATCH", "/api/visits/"+all.Visits[0].ID, `{"condition":"asleep"}`, nil)
	b.want(200, "GET", "/api/athletes/"+a.ID+"/history", "", nil)
	var list struct {
		Athletes []struct {
			Name      string
			Clips     int
			LastVisit string `json:"last_visit"`
		}
	}
	b.want(200, "GET", "/api/athletes", "", &list)
	if len(list.Athletes) != 1 || list.Athletes[0].LastVisit != "2025-01-31" || list.Athletes[0].Clips != 1 {
		t.Errorf("athletes %+v", list)
	}
	w := b.send("GET", "/api/athletes/"+a.ID+"/export", nil, nil)
	if w.Code != 200 || !strings.HasPrefix(w.Body.String(), "PK") ||
		w.Header().Get("Content-Disposition") != `attachment; filename="Ada Example.zip"` {
		t.Errorf("export: %d %v", w.Code, w.Header())
	}
	var gone deletedView
	b.want(200, "DELETE", "/api/athletes/"+a.ID, "", &gone)
	if gone.Clips != 1 || gone.Files == 0 {
		t.Errorf("what went: %+v", gone)
	}
	b.want(404, "GET", "/api/athletes/"+a.ID, "", nil)
}

func TestExample(t *testing.T) {
	b := newIdleBench(t, nil)
	var made struct {
		Athlete string
		Clips   []addedClip
	}
	b.want(201, "POST", "/api/example", "", &made)
	if len(made.Clips) != 3 || made.Clips[0].Name != "slow.mp4" {
		t.Errorf("the example: %+v", made)
	}
	for _, c := range made.Clips { // nobody waits for a network
		var a screening.Analysis
		b.want(200, "GET", "/api/clips/"+c.ID+"/analysis", "", &a)
		if len(a.Reps) != 3 || c.Job != "" {
			t.Errorf("%s has %d reps, job %q", c.Name, len(a.Reps), c.Job)
		}
	}
	b.want(200, "POST", "/api/example", "", &made)
	if !made.Clips[1].Known {
		t.Errorf("the example again: %+v", made)
	}
	var gone deletedView
	b.want(200, "DELETE", "/api/example", "", &gone)
	if gone.Clips != 3 || gone.Athlete != exampleName {
		t.Errorf("what went: %+v", gone)
	}
	b.want(404, "GET", "/api/athletes/"+made.Athlete, "", nil)
	b.want(200, "DELETE", "/api/example", "", &gone)
}

func TestEvents(t *testing.T) {
	b := newBench(t, func(o *Options) { o.Limits.Listeners = 1 })
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	r, w := io.Pipe()
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		req := httptest.NewRequest("GET", "/api/events", nil).WithContext(ctx)
		req.Host = testHost
		b.s.Handler().ServeHTTP(&pipeWriter{w: w, header: http.Header{}}, req)
		_ = w.Close()
	}()
	next := eventReader(r)
	if name, data := next(); name != "jobs" || data != `{"jobs":[],"left_s":null}` {
		t.Fatalf("first event %s %s", name, data)
	}
	b.want(503, "GET", "/api/events", "", nil)
	// The listener is taken, so the tests' own way of waiting is not to be had here.
	body, kind := form([]string{"athlete_name=Sam Example"}, "slow.mp4="+movie("1"))
	sent := b.send("POST", "/api/clips", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
	if sent.Code != 201 {
		t.Fatal(sent.Body)
	}
	sawClip, sawTracking := false, false
	for range 1000 {
		name, data := next()
		sawClip = sawClip || name == "clip" && strings.Contains(data, `"id":"`)
		sawTracking = sawTracking || strings.Contains(data, `"state":"running"`)
		if strings.Contains(data, `"state":"done"`) {
			break
		}
	}
	if !sawClip {
		t.Error("nothing was heard of the clip's result")
	}
	cancel()
	go func() { _, _ = io.Copy(io.Discard, r) }()
	<-ended
}

// A page that does not read holds nobody up, and little is kept for it.
func TestSlowListener(t *testing.T) {
	e := news.NewBroadcaster(2)
	l := e.Subscribe()
	for i := range 10 * news.MaxPendingClips {
		e.ClipChanged(fmt.Sprint(i))
		e.JobsChanged()
	}
	jobs, clips, all := l.Take()
	if !jobs || !all || len(clips) != news.MaxPendingClips {
		t.Errorf("jobs %v, %d clips, all %v", jobs, len(clips), all)
	}
	if jobs, clips, all = l.Take(); jobs || all || len(clips) > 0 {
		t.Error("the listener is not empty after it was emptied")
	}
	if e.Subscribe() == nil || e.Subscribe() != nil {
		t.Error("two listeners are allowed, and no third")
	}
}

// pipeWriter streams an answer.
type pipeWriter struct {
	w      *io.PipeWriter
	header http.Header
}

func (p *pipeWriter) Header() http.Header         { return p.header }
func (p *pipeWriter) WriteHeader(int)             {}
func (p *pipeWriter) Write(b []byte) (int, error) { return p.w.Write(b) }
func (p *pipeWriter) Flush()                      {}

// eventReader returns the next event of a stream each time it is called.
func eventReader(r io.Reader) func() (name, data string) {
	var left []byte
	buf := make([]byte, 64<<10)
	return func() (string, string) {
		for {
			if event, rest, ok := bytes.Cut(left, []byte("\n\n")); ok {
				left = rest
				name, data, _ := strings.Cut(string(event), "\n")
				return strings.TrimPrefix(name, "event: "), strings.TrimPrefix(data, "data: ")
			}
			n, err := r.Read(buf)
			left = append(left, buf[:n]...)
			if err != nil {
				return "end", ""
			}
		}
	}
}
