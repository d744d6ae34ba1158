package web

import (
	"encoding/json"
	"fmt"
	"hash/crc32"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/halfsent"
	"holdfast/desk/given"
	"holdfast/desk/upload"
)

// sender sends clips in pieces as the page does.
type sender struct{ *bench }

func (s sender) begin(name string, size int, athlete string, modified int64) (upload.State, int) {
	s.t.Helper()
	body := fmt.Sprintf(`{"name":%q,"size":%d,"athlete_name":%q,"last_modified":%d,"date":"2025-05-02"}`, name, size,
		athlete, modified)
	w := s.send("POST", "/api/uploads", strings.NewReader(body), nil)
	var out upload.State
	if err := json.Unmarshal(w.Body.Bytes(), &out); err != nil {
		s.t.Fatalf("%d %s", w.Code, w.Body)
	}
	return out, w.Code
}

func (s sender) piece(id string, at int, body io.Reader) (int, map[string]any) {
	w := s.send("PATCH", "/api/uploads/"+id, body, func(r *http.Request) { r.Header.Set("Upload-Offset", fmt.Sprint(at)) })
	out := map[string]any{}
	_ = json.Unmarshal(w.Body.Bytes(), &out)
	return w.Code, out
}

// coming begins the next piece of an upload, which stands still; end breaks it off.
func (s sender) coming(id string) (end func()) {
	s.t.Helper()
	var at upload.State
	s.want(200, "GET", "/api/uploads/"+id, "", &at)
	body := &still{reads: make(chan struct{}, 1), end: make(chan struct{})}
	done := make(chan struct{})
	go func() { defer close(done); s.piece(id, int(at.Offset), body) }()
	select {
	case <-body.reads:
	case <-done:
		s.t.Fatal("the piece is refused")
	}
	return func() { close(body.end); <-done }
}

// still is a body of which nothing comes.
type still struct{ reads, end chan struct{} }

func (s *still) Read([]byte) (int, error) {
	select {
	case s.reads <- struct{}{}:
	default:
	}
	<-s.end
	return 0, io.ErrUnexpectedEOF
}

// again is a new server over the same archive, as after a restart.
func (s sender) again() sender {
	s.t.Helper()
	next, err := NewServer(s.opt)
	if err != nil {
		s.t.Fatal(err)
	}
	return sender{&bench{t: s.t, s: next, opt: s.opt, log: s.log}}
}

// uploadFiles lists what lies in the folder of uploads.
func (s sender) uploadFiles() []string {
	s.t.Helper()
	entries, err := os.ReadDir(filepath.Join(s.s.archive.Dir(), halfsent.Folder))
	if err != nil {
		s.t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

// Clips that have come do not count as unfinished, however many they are.
func TestManyClipsInAnHour(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it sends hundreds of clips")
	}
	s := sender{newIdleBench(t, func(o *Options) { o.Limits.Partial = 2; o.Desk.Limits.Queue = 1000 })}
	var last string
	for i := range 300 {
		content := movie(fmt.Sprint("clip ", i))
		b, code := s.begin("slow.mp4", len(content), "Sam Example", 1)
		if code != 201 {
			t.Fatalf("clip %d: %d", i, code)
		}
		if code, out := s.piece(b.ID, 0, strings.NewReader(content)); code != 201 {
			t.Fatalf("clip %d: %d %v", i, code, out)
		}
		last = b.ID
	}
	var at upload.State
	s.want(200, "GET", "/api/uploads/"+last, "", &at)
	if at.Offset == 0 || at.Offset != at.Size {
		t.Errorf("the last clip is said to be there up to %+v", at)
	}
	if left := s.uploadFiles(); len(left) > 0 {
		t.Errorf("files are left: %q", left)
	}
}

// An upload goes on after a restart of the server: by its address for a page that is
// still open, by the file for one that was loaded again.
func TestUploadSurvivesRestart(t *testing.T) {
	s := sender{newIdleBench(t, nil)}
	content := movie(strings.Repeat("0123456789", 200))
	b, _ := s.begin("slow.mp4", len(content), "Sam Example", 1234)
	if code, _ := s.piece(b.ID, 0, strings.NewReader(content[:700])); code != 200 {
		t.Fatalf("the first piece: %d", code)
	}
	sum := crc32.ChecksumIEEE([]byte(content[:700]))
	s = s.again()
	var at upload.State
	s.want(200, "GET", "/api/uploads/"+b.ID, "", &at)
	if at.Offset != 700 || at.Size != int64(len(content)) || at.CRC32 == nil || *at.CRC32 != sum {
		t.Fatalf("after the restart %+v", at)
	}
	if code, _ := s.piece(b.ID, 700, strings.NewReader(content[700:900])); code != 200 {
		t.Fatalf("the second piece: %d", code)
	}
	s = s.again()
	again, code := s.begin("slow.mp4", len(content), "sam  example", 1234)
	if code != 200 || again.ID != b.ID || again.Offset != 900 || again.CRC32 == nil ||
		*again.CRC32 != crc32.ChecksumIEEE([]byte(content[:900])) {
		t.Fatalf("the same file again: %d %+v", code, again)
	}
	code, out := s.piece(b.ID, 900, strings.NewReader(content[900:]))
	if code != 201 {
		t.Fatalf("the last piece: %d %v", code, out)
	}
	id := out["clips"].([]any)[0].(map[string]any)["id"].(string)
	clip, err := s.s.archive.Clip(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	stored, err := os.ReadFile(s.s.archive.FilePath(clip.SHA256))
	if err != nil || string(stored) != content {
		t.Errorf("the clip is not what was sent (%v)", err)
	}
	if left := s.uploadFiles(); len(left) > 0 {
		t.Errorf("files are left: %q", left)
	}
}

// Another file is not taken for the one that was upload.State.
func TestUploadOfAnotherFile(t *testing.T) {
	s := sender{newIdleBench(t, nil)}
	content := movie(strings.Repeat("x", 1000))
	first, _ := s.begin("slow.mp4", len(content), "Sam Example", 1234)
	if code, _ := s.piece(first.ID, 0, strings.NewReader(content[:600])); code != 200 {
		t.Fatal(code)
	}
	for name, other := range map[string]func() (upload.State, int){
		"name":         func() (upload.State, int) { return s.begin("fast.mp4", len(content), "Sam Example", 1234) },
		"size":         func() (upload.State, int) { return s.begin("slow.mp4", len(content)+1, "Sam Example", 1234) },
		"date":         func() (upload.State, int) { return s.begin("slow.mp4", len(content), "Sam Example", 1235) },
		"athlete":      func() (upload.State, int) { return s.begin("slow.mp4", len(content), "Ada Example", 1234) },
		"no date said": func() (upload.State, int) { return s.begin("slow.mp4", len(content), "Sam Example", 0) },
	} {
		if b, code := other(); code != 201 || b.ID == first.ID || b.Offset != 0 {
			t.Errorf("another %s: %d %+v", name, code, b)
		}
	}
	// The athlete was made meanwhile: it is the same one.
	if _, err := s.s.archive.CreateAthlete(t.Context(), archive.Athlete{Name: "Sam Example"}); err != nil {
		t.Fatal(err)
	}
	if b, code := s.begin("slow.mp4", len(content), "Sam Example", 1234); code != 200 || b.ID != first.ID {
		t.Errorf("the same file of an athlete who is known by now: %d %+v", code, b)
	}
	// While a piece comes in, nobody else gets the upload.
	give := s.coming(first.ID)
	if _, code := s.begin("slow.mp4", len(content), "Sam Example", 1234); code != 409 {
		t.Errorf("the same file while it is being sent: %d", code)
	}
	// Given up in the middle of a piece, it goes with its end.
	s.want(200, "DELETE", "/api/uploads/"+first.ID, "", nil)
	give()
	s.want(404, "GET", "/api/uploads/"+first.ID, "", nil)
}

// What is too old, damaged or an athlete's who was deleted is removed, and nothing else.
func TestUploadsAtStart(t *testing.T) {
	now := time.Now()
	s := sender{newIdleBench(t, func(o *Options) { o.Desk.Now = func() time.Time { return now } })}
	dir := filepath.Join(s.s.archive.Dir(), halfsent.Folder)
	begin := func(name string) string {
		b, code := s.begin(name, 1000, "Sam Example", 1)
		if code != 201 {
			t.Fatal(code)
		}
		if code, _ := s.piece(b.ID, 0, strings.NewReader(movie(strings.Repeat(name, 100)))); code != 200 {
			t.Fatal(code)
		}
		return filepath.Join(dir, b.ID)
	}
	write := func(path, text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	good, old, long, torn, alone := begin("good"), begin("old"), begin("long"), begin("torn"), begin("alone")
	then := now.Add(-24*time.Hour - time.Hour)
	if err := os.Chtimes(old+halfsent.Part, then, then); err != nil {
		t.Fatal(err)
	}
	write(long+halfsent.Part, strings.Repeat("x", 1001))
	write(torn+halfsent.Note, `{"id":`)
	if err := os.Remove(alone + halfsent.Note); err != nil {
		t.Fatal(err)
	}
	write(filepath.Join(dir, "about-123"), "half")
	s = s.again()
	want := []string{filepath.Base(good) + halfsent.Note, filepath.Base(good) + halfsent.Part}
	if left := s.uploadFiles(); strings.Join(left, " ") != strings.Join(want, " ") {
		t.Errorf("left are %q, want %q", left, want)
	}
	a, err := s.s.archive.CreateAthlete(t.Context(), archive.Athlete{Name: "Sam Example"})
	if err != nil {
		t.Fatal(err)
	}
	if b, code := s.begin("good", 1000, "Sam Example", 1); code != 200 || filepath.Base(good) != b.ID {
		t.Fatalf("the good one: %d %+v", code, b)
	}
	s.want(200, "DELETE", "/api/athletes/"+a.ID, "", nil)
	s.s.intake.ForgetDeleted(t.Context())
	if left := s.uploadFiles(); len(left) > 0 {
		t.Errorf("of a deleted athlete %q is left", left)
	}
}

// A refused clip is not stored: not when nobody is known to whom it belongs, nor when
// they go while it comes in.
func TestRefusedUploadLeavesNoFile(t *testing.T) {
	b := newIdleBench(t, nil)
	stored := func() (n int) {
		_ = filepath.WalkDir(filepath.Join(b.s.archive.Dir(), "files"), func(_ string, d os.DirEntry, err error) error {
			if err == nil && d.Type().IsRegular() {
				n++
			}
			return err
		})
		return n
	}
	for _, f := range []string{"athlete=nobody", "visit=nobody"} {
		body, kind := form([]string{f}, "slow.mp4="+movie("1"))
		w := b.send("POST", "/api/clips", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
		if w.Code != 404 || stored() != 0 {
			t.Errorf("%s: %d, %d files", f, w.Code, stored())
		}
	}
	b.want(404, "POST", "/api/uploads", `{"name":"slow.mp4","size":1000,"athlete":"nobody"}`, nil)
	b.want(404, "POST", "/api/uploads", `{"name":"slow.mp4","size":1000,"visit":"nobody"}`, nil)
	if _, err := b.s.desk.Add(t.Context(), strings.NewReader(movie("2")), "slow.mp4",
		given.Clip{Athlete: "nobody"}); err == nil || stored() != 0 {
		t.Errorf("an athlete who is gone: %v, %d files", err, stored())
	}
}

// The half-sent clips of an athlete or a visit go at once with them, also one of which a
// piece is coming in, and also when another program deletes them.
func TestDeletedUploadsGoAtOnce(t *testing.T) {
	s := sender{newIdleBench(t, nil)}
	content := movie(strings.Repeat("x", 1000))
	half := func(name string) string {
		t.Helper()
		b, code := s.begin(name, len(content), "Sam Example", 1)
		if code != 201 {
			t.Fatal(code)
		}
		if code, _ := s.piece(b.ID, 0, strings.NewReader(content[:700])); code != 200 {
			t.Fatal(code)
		}
		return b.ID
	}
	sam := func() archive.Athlete {
		t.Helper()
		a, err := s.s.archive.CreateAthlete(t.Context(), archive.Athlete{Name: "Sam Example"})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	unknown := half("unknown.mp4") // upload.State before the name was anybody's
	who := sam()
	known, busy := half("known.mp4"), half("busy.mp4")
	give := s.coming(busy)
	other, _ := s.begin("other.mp4", len(content), "Another Example", 1)
	var gone deletedView
	s.want(200, "DELETE", "/api/athletes/"+who.ID, "", &gone)
	if gone.Uploads != 3 {
		t.Errorf("it says %+v, want 3 half-sent uploads", gone)
	}
	if left := strings.Join(s.uploadFiles(), " "); left != other.ID+halfsent.Note+" "+other.ID+halfsent.Part {
		t.Errorf("left are %s", left)
	}
	give()
	for _, id := range []string{unknown, known, busy} {
		if code, _ := s.piece(id, 700, strings.NewReader(content[700:])); code != 404 {
			t.Errorf("going on with an upload that went: %d", code)
		}
	}

	who = sam()
	byCLI := half("cli.mp4")
	if _, err := s.s.archive.DeleteAthlete(t.Context(), who.ID); err != nil { // as holdfast archive delete does
		t.Fatal(err)
	}
	if code, out := s.piece(byCLI, 700, strings.NewReader(content[700:])); code != 404 {
		t.Errorf("going on after another program deleted it: %d %v", code, out)
	}

	visit, err := s.s.archive.VisitFor(t.Context(), archive.Visit{AthleteID: sam().ID, Date: "2025-05-02"})
	if err != nil {
		t.Fatal(err)
	}
	s.want(201, "POST", "/api/uploads", fmt.Sprintf(`{"name":"visit.mp4","size":1000,"visit":%q}`, visit.ID), nil)
	s.want(200, "DELETE", "/api/visits/"+visit.ID, "", nil)
	if n := len(s.uploadFiles()); n != 2 {
		t.Errorf("%d files are left of a deleted visit and another athlete", n)
	}
}
