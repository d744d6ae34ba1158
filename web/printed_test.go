package web

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"path"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/internal/fakework"
	"holdfast/printable"
)

// storable is what the archive takes of it in a name.
const storable = "a\u202ef\u2066g\u200bh"

// Nothing hidden stands in an answer, in the log or in an export, whatever names, notes
// and messages hold; JSON keeps the value of what was stored.
func TestNothingHiddenInAnswersAndLog(t *testing.T) {
	log := &lockedBuffer{}
	b := newBench(t, func(o *Options) {
		o.Desk.Log = slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	})
	clean := func(what, text string) {
		t.Helper()
		if at := strings.IndexFunc(strings.ReplaceAll(text, "\n", " "), printable.Hidden); at >= 0 {
			t.Errorf("%s holds %q", what, text[max(0, at-60):min(at+10, len(text))])
		}
	}
	see := func(method, path string, body any, kind string) []byte {
		t.Helper()
		var r io.Reader
		switch v := body.(type) {
		case nil:
		case string:
			r = strings.NewReader(v)
		case *bytes.Buffer:
			r = v
		default:
			text, err := json.Marshal(v)
			if err != nil {
				t.Fatal(err)
			}
			r = bytes.NewReader(text)
		}
		w := b.send(method, path, r, func(r *http.Request) {
			if kind != "" {
				r.Header.Set("Content-Type", kind)
			}
		})
		for name, values := range w.Header() {
			clean(name, strings.Join(values, " "))
		}
		clean(method+" "+path, w.Body.String())
		return w.Body.Bytes()
	}
	body, kind := form([]string{"athlete_name=" + storable}, "nasty.mp4="+movie("1"), "exit.mp4="+movie("3"),
		"slow\u0085\u009b"+storable+"\u2028\u2029.mp4="+movie("2"))
	var added addedClips
	answer := see("POST", "/api/clips", body, kind)
	if err := json.Unmarshal(answer, &added); err != nil || len(added.Clips) != 3 {
		t.Fatalf("%+v %v", added, err)
	}
	if j := b.await(added.Clips[0].Job); j.State != archive.JobFailed || !strings.Contains(j.Error, `\x1b[2J`) {
		t.Errorf("the job: %+v", j)
	}
	b.await(added.Clips[1].Job)
	b.await(added.Clips[2].Job)
	id := added.Clips[2].ID
	var list struct{ Athletes []athleteView }
	if err := json.Unmarshal(see("GET", "/api/athletes", nil, ""), &list); err != nil || len(list.Athletes) != 1 ||
		list.Athletes[0].Name != storable {
		t.Fatalf("athletes %+v, %v", list, err)
	}
	who := list.Athletes[0].ID
	for _, path := range []string{"/api/jobs", "/api/athletes/" + who, "/api/athletes/" + who + "/history",
		"/api/clips/" + id, "/api/clips/" + id + "/analysis",
		"/api/clips/" + id + "/frames", "/clips/" + id + "/files/series.csv?download=1",
		"/clips/" + id + "/files/analysis.json", "/api/clips/%1b%0a%e2%80%ae", "/api/%1b%0a%e2%80%ae"} {
		see("GET", path, nil, "")
	}
	for _, fields := range [][]string{{"athlete_name=" + fakework.Hidden},
		{"athlete_name=" + storable, "date=" + fakework.Hidden}, {"athlete_name=" + storable, "condition=" + fakework.Hidden},
		{"athlete_name=" + storable, fakework.Hidden + "=1"}, {"athlete_name=" + storable, "height_cm=" + fakework.Hidden}} {
		body, kind := form(fields, "x.mp4="+movie("x"))
		see("POST", "/api/clips", body, kind)
	}
	see("POST", "/api/uploads", map[string]any{"name": fakework.Hidden + ".mp4", "size": 1 << 20,
		"athlete_name": storable}, "application/json")
	see("POST", "/api/uploads", map[string]any{fakework.Hidden: 1}, "application/json")
	see("PATCH", "/api/athletes/"+who, map[string]any{"notes": "first\nsecond\u202e"}, "application/json")
	see("PATCH", "/api/athletes/"+who, map[string]any{"name": fakework.Hidden}, "application/json")
	see("PATCH", "/api/clips/"+id, map[string]any{"name": fakework.Hidden + ".mp4"}, "application/json")
	for _, correction := range []any{map[string]any{"what": fakework.Hidden, "facing": fakework.Hidden},
		map[string]any{"what": fakework.Hidden, "vertical_deg": 2},
		map[string]any{"points": []any{map[string]any{"frame": 1, "point": fakework.Hidden, "side": "near", "x_px": 1,
			"y_px": 1}}}} {
		see("POST", "/api/clips/"+id+"/corrections", correction, "application/json")
	}
	see("GET", "/api/clips/"+id, nil, "")
	export := b.send("GET", "/api/athletes/"+who+"/export", nil, nil).Body.Bytes()
	z, err := zip.NewReader(bytes.NewReader(export), int64(len(export)))
	if err != nil {
		t.Fatal(err)
	}
	texts := 0
	for _, f := range z.File {
		clean("an entry's name", f.Name)
		if ext := path.Ext(f.Name); ext != ".json" && ext != ".txt" && ext != ".csv" {
			continue
		}
		texts++
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		clean(f.Name, string(text))
		var back archive.Athlete
		if f.Name == "athlete.json" && (json.Unmarshal(text, &back) != nil || back.Name != storable) {
			t.Errorf("the export names %q", back.Name)
		}
	}
	if texts < 5 {
		t.Errorf("the export holds %d texts", texts)
	}
	b.settle()
	clean("the log", log.String())
	if !strings.Contains(log.String(), `\x1b[2J`) {
		t.Error("the log at its fullest does not say what the child said")
	}
}
