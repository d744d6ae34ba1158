package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"

	"holdfast/archive"
	"holdfast/desk/given"
	"holdfast/desk/upload"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/web/answer"
)

func TestUploadsRefused(t *testing.T) {
	b := newIdleBench(t, func(o *Options) { o.Desk.Limits.ClipBytes = 1000 })
	sam := "athlete_name=Sam Example"
	png := "\x89PNG\r\n\x1a\n" + strings.Repeat("x", 100)
	tests := []struct {
		name   string
		fields []string
		files  []string
		status int
		text   string
	}{
		{"nobody's", nil, []string{"a.mp4=" + movie("")}, 400, "whose clip"},
		{"no file", []string{sam}, nil, 400, "no clip came"},
		{"unknown athlete", []string{"athlete=nobody"}, []string{"a.mp4=" + movie("")}, 404, ""},
		{"unknown field", []string{sam, "colour=red"}, []string{"a.mp4=" + movie("")}, 400, "colour"},
		{"bad tempo", []string{sam, "tempo=slowly"}, []string{"a.mp4=" + movie("")}, 400, "slow, fast or jump"},
		{"bad date", []string{sam, "date=2025-13-01"}, []string{"a.mp4=" + movie("")}, 400, "2025-05-02"},
		{"bad condition", []string{sam, "condition=asleep"}, []string{"a.mp4=" + movie("")}, 400, "fatigued"},
		{"bad height", []string{sam, "height_cm=5"}, []string{"a.mp4=" + movie("")}, 400, "80 and 250"},
		{"no number", []string{sam, "load_kg=NaN"}, []string{"a.mp4=" + movie("")}, 400, "number"},
		{"long field", []string{"athlete_name=" + strings.Repeat("x", 5000)}, []string{"a.mp4=" + movie("")}, 400,
			"too long"},
		{"long name", []string{"athlete_name=" + strings.Repeat("x", 500)}, []string{"a.mp4=" + movie("")}, 400, "longer"},
		{"empty", []string{sam}, []string{"a.mp4="}, 415, "empty"},
		{"picture", []string{sam}, []string{"a.mp4=" + png}, 415, "picture"},
		{"phone's picture", []string{sam}, []string{"a.mp4=\x00\x00\x00\x18ftypheic"}, 415, "picture"},
		{"document", []string{sam}, []string{"a.mp4=%PDF-1.7"}, 415, "document"},
		{"page", []string{sam}, []string{"a.mp4=<html><script>alert(1)</script>"}, 415, "document"},
		{"play list", []string{sam}, []string{"a.mp4=#EXTM3U\nfile:///etc/passwd"}, 415, "document"},
		{"play list of ffmpeg", []string{sam}, []string{"a.mp4=ffconcat version 1.0\nfile /etc/passwd"}, 415, "document"},
		{"too large", []string{sam}, []string{"a.mp4=" + movie(strings.Repeat("x", 2000))}, 413, "larger than 1 kB"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			body, kind := form(tt.fields, tt.files...)
			w := b.send("POST", "/api/clips", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
			var e struct{ Error, Hint string }
			if err := json.Unmarshal(w.Body.Bytes(), &e); err != nil || w.Code != tt.status ||
				!strings.Contains(e.Error, tt.text) {
				t.Errorf("%d %s, want %d and %q", w.Code, w.Body, tt.status, tt.text)
			}
		})
	}
	for name, set := range map[string]func(*http.Request){
		"no form":     func(r *http.Request) { r.Header.Set("Content-Type", "application/json") },
		"no boundary": func(r *http.Request) { r.Header.Set("Content-Type", "multipart/form-data") },
		"broken form": func(r *http.Request) { r.Header.Set("Content-Type", "multipart/form-data; boundary=x") },
	} {
		if w := b.send("POST", "/api/clips", strings.NewReader("--y\r\n\r\n"), set); w.Code != 400 {
			t.Errorf("%s: %d %s", name, w.Code, w.Body)
		}
	}
	w := b.send("POST", "/api/clips", nil, func(r *http.Request) { r.ContentLength = 1 << 50 })
	if w.Code != 413 {
		t.Errorf("a request that says it is huge: %d", w.Code)
	}
	if list, err := b.s.archive.Jobs(t.Context(), 10); err != nil || len(list) != 0 {
		t.Errorf("refused uploads left %d jobs (%v)", len(list), err)
	}
}

// Names that try to be paths or headers are shown harmlessly and never used.
func TestNames(t *testing.T) {
	tests := []struct{ name, want string }{
		{"slow.mp4", "slow.mp4"},
		{"../../etc/passwd", "passwd"},
		{`..\..\windows\system.ini`, "system.ini"},
		{"/abs/olute.mp4", "olute.mp4"},
		{"...", "clip"},
		{"", "clip"},
		{"a\x00b\r\nc.mp4", "abc.mp4"},
		{"\u202egpj.mp4", "gpj.mp4"},
		{`a"b;c.mp4`, "a_b;c.mp4"},
		{"<img src=x>.mp4", "_img src=x_.mp4"},
		{"  two   spaces .mp4 ", "two spaces .mp4"},
		{"\xff\xfe.mp4", "mp4"},
		{"Kniebeuge größer.mp4", "Kniebeuge größer.mp4"},
	}
	for _, tt := range tests {
		if got := given.DisplayName(tt.name); got != tt.want {
			t.Errorf("given.DisplayName(%q) = %q, want %q", tt.name, got, tt.want)
		}
	}
	if got := given.DisplayName(strings.Repeat("x", 1000) + ".mp4"); utf8.RuneCountInString(got) != given.MaxNameRunes ||
		!strings.HasSuffix(got, ".mp4") {
		t.Errorf("a long name becomes %q", got)
	}
	for name, want := range map[string]string{
		"série \"1\".mp4": `inline; filename*=utf-8''s%C3%A9rie%20_1_%20web.mp4`,
		"a; b.mp4":        `inline; filename="a; b web.mp4"`,
	} {
		if got := answer.Disposition("inline", name, "web.mp4"); got != want {
			t.Errorf("Disposition(%q) = %s, want %s", name, got, want)
		}
	}
	b := newBench(t, nil)
	id := b.measured("slow.mp4")[0]
	for _, name := range []string{"..%2f..%2fholdfast.db", "%2e%2e/%2e%2e/holdfast.db", "frames/../../x", "nothing", "%00",
		"frames%2f..%2fanalysis.json"} {
		w := b.send("GET", "/clips/"+id+"/files/"+name, nil, nil)
		if w.Code != 404 && w.Code != 307 && w.Code != 301 && w.Code != 400 {
			t.Errorf("%s: %d %.100s", name, w.Code, w.Body)
		}
	}
	// Whatever the browser calls the file, it lies under its hash.
	b.upload([]string{"athlete_name=Sam Example"}, "../../../evil.mp4="+movie("evil"))
	var found []string
	_ = filepath.WalkDir(b.s.archive.Dir(), func(path string, d os.DirEntry, err error) error {
		if strings.Contains(path, "evil") {
			found = append(found, path)
		}
		return err
	})
	if len(found) > 0 {
		t.Errorf("the name became a path: %q", found)
	}
}

func TestUploadInPieces(t *testing.T) {
	b := newIdleBench(t, func(o *Options) { o.Limits.Partial = 2 })
	content := movie(strings.Repeat("0123456789", 100))
	begin := func(size int) (id string, code int) {
		w := b.send("POST", "/api/uploads",
			strings.NewReader(fmt.Sprintf(`{"name":"a/slow.mp4","size":%d,"athlete_name":"Sam Example"}`, size)), nil)
		var out struct{ ID string }
		_ = json.Unmarshal(w.Body.Bytes(), &out)
		return out.ID, w.Code
	}
	piece := func(id string, at int, body io.Reader) (int, map[string]any) {
		w := b.send("PATCH", "/api/uploads/"+id, body,
			func(r *http.Request) { r.Header.Set("Upload-Offset", fmt.Sprint(at)) })
		out := map[string]any{}
		_ = json.Unmarshal(w.Body.Bytes(), &out)
		return w.Code, out
	}
	id, code := begin(len(content))
	if code != 201 || id == "" {
		t.Fatalf("beginning: %d", code)
	}
	if code, out := piece(id, 0, strings.NewReader(content[:600])); code != 200 || out["offset"] != 600.0 {
		t.Fatalf("the first piece: %d %v", code, out)
	}
	if code, _ := piece(id, 0, strings.NewReader(content)); code != 409 {
		t.Errorf("the first piece again: %d", code)
	}
	// The connection breaks after 100 bytes.
	if code, _ := piece(id, 600, io.MultiReader(strings.NewReader(content[600:700]), broken{})); code != 400 {
		t.Errorf("a broken piece: %d", code)
	}
	var at struct{ Offset, Size int }
	b.want(200, "GET", "/api/uploads/"+id, "", &at)
	if at.Offset != 700 || at.Size != len(content) {
		t.Fatalf("after the break %+v", at)
	}
	if code, out := piece(id, 700, strings.NewReader(content[700:])); code != 201 ||
		!strings.Contains(fmt.Sprint(out["clips"]), "slow.mp4") {
		t.Fatalf("the last piece: %d %v", code, out)
	}
	// The answer was lost: asked again, it comes again.
	if code, out := piece(id, len(content), nil); code != 201 || out["clips"] == nil {
		t.Errorf("after the end: %d %v", code, out)
	}
	if code, _ := piece("nothing", 0, nil); code != 404 {
		t.Errorf("an unknown upload: %d", code)
	}
	// What is no video is given up when its beginning is there.
	id, _ = begin(1000)
	if code, _ := piece(id, 0, strings.NewReader(strings.Repeat("text ", 150))); code != 415 {
		t.Errorf("a text: %d", code)
	}
	if code, _ := piece(id, 750, strings.NewReader("more")); code != 404 {
		t.Errorf("more of the text: %d", code)
	}
	id, _ = begin(700)
	if code, _ := piece(id, 0, strings.NewReader(movie(strings.Repeat("x", 800)))); code != 400 {
		t.Errorf("more than was said: %d", code)
	}
	if _, code := begin(1000); code != 201 {
		t.Errorf("a second unfinished upload: %d", code)
	}
	if _, code := begin(1000); code != 503 {
		t.Errorf("a third unfinished upload: %d", code)
	}
	b.want(200, "DELETE", "/api/uploads/"+id, "", nil)
	if _, code := begin(1000); code != 201 {
		t.Errorf("after one was given up: %d", code)
	}
	for _, size := range []int{0, -5, 3_000_000_000} {
		if _, code := begin(size); code != 400 && code != 413 {
			t.Errorf("a size of %d: %d", size, code)
		}
	}
}

// broken is a connection that breaks.
type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, io.ErrUnexpectedEOF }

// longMovie is the rest of a clip of some megabytes that nobody holds in memory.
type longMovie struct{ left int }

func (m *longMovie) Read(p []byte) (int, error) {
	if m.left == 0 {
		return 0, io.EOF
	}
	n := min(len(p), m.left)
	m.left -= n
	clear(p[:n])
	return n, nil
}

// Two hundred clips at once: every sender gets a plain answer, and memory does not grow
// with them.
func TestManyUploadsAtOnce(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it sends hundreds of clips")
	}
	b := newIdleBench(t, func(o *Options) { o.Limits, o.Desk.Limits.Queue = Limits{Uploads: 4, Incoming: 150}, 40 })
	const clips, bytesEach = 200, 2 << 20
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	codes := make([]int, clips)
	var group sync.WaitGroup
	for i := range clips {
		group.Go(func() {
			var head bytes.Buffer
			m := multipart.NewWriter(&head)
			_ = m.WriteField("athlete_name", "Sam Example")
			_, _ = m.CreateFormFile("clip", "slow.mp4")
			_, _ = io.WriteString(&head, movie(fmt.Sprint("clip ", i)))
			body := io.MultiReader(&head, &longMovie{bytesEach}, strings.NewReader("\r\n--"+m.Boundary()+"--\r\n"))
			w := b.send("POST", "/api/clips", body, func(r *http.Request) {
				r.Header.Set("Content-Type", m.FormDataContentType())
			})
			codes[i] = w.Code
			var e struct {
				Error string
				Clips []addedClip
			}
			if err := json.Unmarshal(w.Body.Bytes(), &e); err != nil {
				t.Errorf("the answer is no JSON: %s", w.Body)
			}
			switch {
			case w.Code == 201 && len(e.Clips) == 1 && e.Clips[0].Job != "":
			case w.Code == 503 && e.Error != "" && w.Header().Get("Retry-After") != "":
			default:
				t.Errorf("%d %s", w.Code, w.Body)
			}
		})
	}
	group.Wait()
	runtime.GC()
	runtime.ReadMemStats(&after)
	count := map[int]int{}
	for _, c := range codes {
		count[c]++
	}
	if count[201] < 40 || count[201] > 44 || count[201]+count[503] != clips {
		t.Errorf("answers %v, want 40 taken, as many as the queue holds, and the others told to wait", count)
	}
	if grown := int64(after.HeapInuse) - int64(before.HeapInuse); grown > 32<<20 {
		t.Errorf("memory grew by %d MB", grown>>20)
	}
}

func FuzzUploadHeaders(f *testing.F) {
	body, kind := form([]string{"athlete_name=Sam Example", "date=2025-05-02"}, "slow.mp4="+movie("x"))
	f.Add(kind, body.String(), "12")
	f.Add("multipart/form-data; boundary=x",
		"--x\r\nContent-Disposition: form-data; name=clip; filename=\"a\r\n.mp4\"\r\n\r\n"+movie("")+"\r\n--x--", "")
	f.Add("multipart/form-data; boundary=\"", "", "-1")
	f.Add("text/plain", "clip", "99999999999999999999")
	b := newIdleBench(f, nil)
	p, err := b.s.intake.Begin(f.Context(), upload.About{Name: "a.mp4", Size: 1 << 20,
		Clip: given.Clip{AthleteName: "Sam Example"}})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, kind, body, offset string) {
		w := b.send("POST", "/api/clips", strings.NewReader(body),
			func(r *http.Request) { r.Header["Content-Type"] = []string{kind} })
		plain(t, w.Code, w.Body.Bytes())
		w = b.send("PATCH", "/api/uploads/"+p.ID, strings.NewReader(body), func(r *http.Request) {
			r.Header["Upload-Offset"] = []string{offset}
			r.Header["Content-Type"] = []string{kind}
		})
		plain(t, w.Code, w.Body.Bytes())
	})
}

// plain fails when an answer is not JSON, or blames the program.
func plain(t *testing.T, code int, body []byte) {
	t.Helper()
	if code == http.StatusInternalServerError || !json.Valid(body) {
		t.Errorf("%d %q", code, body)
	}
}

func FuzzCorrectionsJSON(f *testing.F) {
	for _, s := range []string{
		`{"points":[{"frame":1,"point":"heel","side":"near","x_px":10.5,"y_px":20}],"what":"heel moved"}`,
		`{"reps":[{"at_s":1.5,"tempo":"fast","left_out":true,"start_s":1,"bottom_s":1.5,"end_s":2}]}`,
		`{"vertical_deg":2.5,"floor":{"x1_px":0,"y1_px":1,"x2_px":2,"y2_px":3},"facing":"left"}`,
		`{"points":null}`, `{"vertical_deg":1e999}`, `{"points":[{"frame":-1}]}`, `{}{}`, `[`, ``, `null`, ` null`, `[]`,
		`"x"`, `1`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		in, err := parseCorrection(bytes.NewReader(body))
		if err != nil {
			if p := answer.ProblemOf(err); p.Status != http.StatusBadRequest || p.Text == "" {
				t.Errorf("%v is no plain refusal", err)
			}
			return
		}
		// What is accepted is stored, and read back the same.
		doc, err := json.Marshal(in.Corrections)
		if err != nil {
			t.Fatal(err)
		}
		var back screening.Corrections
		if err := json.Unmarshal(doc, &back); err != nil {
			t.Fatal(err)
		}
		if again, _ := json.Marshal(back); !bytes.Equal(doc, again) {
			t.Errorf("%s is read back as %s", doc, again)
		}
	})
}

// FuzzNames: whatever a browser calls a file, it is shown in one line and is no path, and
// a header that names it is sound.
func FuzzNames(f *testing.F) {
	for _, s := range []string{"slow.mp4", "../../etc/passwd", "a\x00b\r\nc.mp4", "\u202egpj.mp4", `a"b;c.mp4`, "\xff\xfe",
		"...", strings.Repeat("x", 300)} {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, name, label string) {
		got := given.DisplayName(name)
		if got == "" || strings.ContainsAny(got, `/\`) || strings.ContainsFunc(got, printable.Hidden) ||
			utf8.RuneCountInString(got) > given.MaxNameRunes || given.DisplayName(got) != got {
			t.Errorf("given.DisplayName(%q) = %q", name, got)
		}
		header := answer.Disposition("attachment", label, name)
		if how, _, err := mime.ParseMediaType(header); err != nil || how != "attachment" ||
			strings.ContainsFunc(header, func(r rune) bool { return r < ' ' || r > '~' }) {
			t.Errorf("the header of %q and %q is %q: %v", label, name, header, err)
		}
	})
}

// FuzzRequests: no JSON makes a route of the API blame itself.
func FuzzRequests(f *testing.F) {
	b := newIdleBench(f, nil)
	who, err := b.s.archive.CreateAthlete(f.Context(), archive.Athlete{Name: "Sam Example"})
	if err != nil {
		f.Fatal(err)
	}
	visit, err := b.s.archive.VisitFor(f.Context(), archive.Visit{AthleteID: who.ID, Date: "2025-05-02"})
	if err != nil {
		f.Fatal(err)
	}
	routes := []string{"POST /api/athletes", "PATCH /api/athletes/" + who.ID, "PATCH /api/visits/" + visit.ID,
		"POST /api/uploads", "POST /api/comparisons", "POST /api/login"}
	for i, s := range []string{
		`{"name":"Robin Vale","height_cm":180,"notes":"n"}`, `{"height_cm":null,"name":"x"}`,
		`{"date":"2025-05-03","load_kg":60,"condition":"loaded","notes":""}`,
		`{"name":"a.mp4","size":1048576,"athlete_name":"Sam Example","date":"2025-05-02"}`,
		`{"clips":["x","y"],"smallest_change_deg":3}`, `{"password":"x"}`,
	} {
		f.Add(uint8(i), s)
	}
	f.Fuzz(func(t *testing.T, route uint8, body string) {
		method, path, _ := strings.Cut(routes[int(route)%len(routes)], " ")
		w := b.send(method, path, strings.NewReader(body), nil)
		plain(t, w.Code, w.Body.Bytes())
	})
}

// A clip that did not come whole lacks its index, which phones write last: what is said of it is how much of it came,
// and what to do.
func TestCutOffClipSaysHowMuchArrived(t *testing.T) {
	b := newIdleBench(t, nil)
	for _, tt := range []struct{ mdat, want string }{
		{"\x00\x4c\x4b\x40mdat", "it is cut off: 1.2 of about 5.0 MB arrived"},
		{"\x00\x00\x00\x00mdat", "it is cut off after 1.2 MB"},
	} {
		body, kind := form([]string{"athlete_name=Sam Example"},
			"clip.mp4=\x00\x00\x00\x10ftypmp42\x00\x00\x00\x00"+tt.mdat+strings.Repeat("x", 1_200_000))
		w := b.send("POST", "/api/clips", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
		if said := w.Body.String(); w.Code != 415 || !strings.Contains(said, tt.want) ||
			!strings.Contains(said, "copy it from the phone again") {
			t.Errorf("%d %s, want %q", w.Code, said, tt.want)
		}
	}
}

// A manifest that begins like a video, or refers to one, is refused on every way in, and
// nothing of it is kept.
func TestManifestsAreRefused(t *testing.T) {
	private := filepath.Join(t.TempDir(), "private.mp4")
	if err := os.WriteFile(private, []byte(movie("private")), 0o600); err != nil {
		t.Fatal(err)
	}
	box := func(kind, content string) string {
		n := len(content) + 8
		return string([]byte{byte(n >> 24), byte(n >> 16), byte(n >> 8), byte(n)}) + kind + content
	}
	mpd := `<MPD xmlns="urn:mpeg:dash:schema:mpd:2011" profiles="urn:mpeg:dash:profile:isoff-on-demand:2011" type="static">
 <Period><AdaptationSet
 mimeType="video/mp4"><Representation id="1" bandwidth="1"><BaseURL>file://` + private +
		`</BaseURL></Representation></AdaptationSet></Period></MPD>`
	elsewhere := strings.Replace(MovieStart, "\x00\x00\x00\x0curl \x00\x00\x00\x01",
		"\x00\x00\x00\x0calis\x00\x00\x00\x00", 1)
	// The reference grows by 8 bytes, and so do the boxes around it.
	elsewhere = strings.Replace(elsewhere, "\x0calis\x00\x00\x00\x00", "\x14alis\x00\x00\x00\x00/private", 1)
	for _, name := range []string{"moov", "trak", "mdia", "minf", "dinf", "dref"} {
		i := strings.Index(elsewhere, name)
		elsewhere = elsewhere[:i-1] + string([]byte{elsewhere[i-1] + 8}) + elsewhere[i:]
	}
	tests := map[string]string{
		"DASH behind four letters":        "<!--ftypisom-->" + mpd,
		"DASH behind other letters":       "<!--free-->" + mpd,
		"DASH in a box":                   box("ftyp", "isom\x00\x00\x00\x00") + box("free", mpd),
		"DASH behind Matroska's letters":  "\x1A\x45\xDF\xA3" + mpd,
		"HLS behind a programme stream's": "\x00\x00\x01\xBA\n#EXTM3U\n#EXTINF:1,\nfile://" + private + "\n",
		"a list behind AVI's":             "RIFF\x00\x00\x00\x00AVI \nffconcat version 1.0\nfile " + private + "\n",
		"a track in another file":         elsewhere + "x",
		"a text in step with packets":     strings.Repeat("G"+strings.Repeat("x", 187), 20),
	}
	b := newIdleBench(t, nil)
	for name, content := range tests {
		body, kind := form([]string{"athlete_name=Sam Example"}, "clip.mp4="+content)
		w := b.send("POST", "/api/clips", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
		if w.Code != 415 || strings.Contains(w.Body.String(), "the file is") { // which the first look alone says
			t.Errorf("%s as a form: %d %s, want 415 for how it is built", name, w.Code, w.Body)
		}
		var begun struct{ ID string }
		b.want(201, "POST", "/api/uploads", fmt.Sprintf(`{"name":"clip.mp4","size":%d,"athlete_name":"Sam Example"}`,
			len(content)), &begun)
		for _, want := range []int{415, 404} { // and is gone
			w := b.send("PATCH", "/api/uploads/"+begun.ID, strings.NewReader(content),
				func(r *http.Request) { r.Header.Set("Upload-Offset", "0") })
			if w.Code != want {
				t.Errorf("%s in pieces: %d %s, want %d", name, w.Code, w.Body, want)
			}
		}
	}
	if list, err := b.s.archive.Jobs(t.Context(), 10); err != nil || len(list) != 0 {
		t.Errorf("refused uploads left %d jobs (%v)", len(list), err)
	}
	for _, dir := range []string{"files", "tmp", "uploads"} {
		_ = filepath.WalkDir(filepath.Join(b.s.archive.Dir(), dir), func(path string, d os.DirEntry, err error) error {
			if err == nil && d.Type().IsRegular() {
				if text, err := os.ReadFile(path); err == nil && strings.Contains(string(text), "private") {
					t.Errorf("%s was kept", path)
				}
			}
			return nil
		})
	}
}
