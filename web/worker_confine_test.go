package web

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"holdfast/confine"
	_ "holdfast/models/testruntime"
)

// probedWork is a child that confines itself as Work does and prints what it can do
// besides. The name of the order's first clip says which other file is tried.
func probedWork() int {
	read := bufio.NewReader(os.Stdin)
	text, err := readLine(read, maxOrderBytes)
	if err != nil {
		return 1
	}
	var o workOrder
	if err := json.Unmarshal(text, &o); err != nil || !o.Confined {
		return 1
	}
	s := &speaker{out: json.NewEncoder(os.Stdout)}
	if err := confine.Self(reachOf(&o)); err != nil {
		s.failed(err)
		return 0
	}
	say := func(what string, err, want error) {
		if !errors.Is(err, want) {
			s.say(workLine{Event: eventProgress, Stage: fmt.Sprintf("%s: %v, want %v", what, err, want)})
		}
	}
	_, err = os.ReadFile(o.Clips[0].Path)
	say("its own clip", err, nil)
	_, err = os.ReadFile(o.Clips[0].Analysis)
	say("its clip's analysis", err, nil)
	other := o.Clips[0].Name
	_, err = os.ReadFile(other)
	say("another clip", err, syscall.EACCES)
	_, err = os.ReadDir(filepath.Dir(other))
	say("the list of clips", err, syscall.EACCES)
	say("writing its clip", os.WriteFile(o.Clips[0].Path, nil, 0o600), syscall.EACCES)
	say("removing a clip", os.Remove(other), syscall.EACCES)
	say("writing where it works", os.WriteFile(filepath.Join(o.Dir, "made"), nil, 0o600), nil)
	say("leading the server astray", os.Symlink(other, filepath.Join(o.Dir, madeTrack)), syscall.EACCES)
	_, err = os.ReadFile("/etc/passwd")
	say("the system's users", err, syscall.EACCES)
	_, err = net.Dial("tcp", "127.0.0.1:9")
	say("the network", err, syscall.EPERM)
	s.say(workLine{Event: eventDone})
	return 0
}

// The child that works on a clip reads no other clip, writes nothing but its results and
// has no network.
func TestWorkIsConfined(t *testing.T) {
	if l := confine.Reached(); l.Files == 0 || !l.Calls {
		t.Fatalf("this kernel cannot confine a program: %+v", l)
	}
	archived, work := t.TempDir(), t.TempDir()
	var paths []string
	for _, name := range []string{"own", "other", "analysis"} {
		path := filepath.Join(archived, name)
		if err := os.WriteFile(path, []byte(movie(name)), 0o600); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	k := &worker{program: []string{os.Args[0]}, env: []string{fakeVariable + "=probe"}, limits: Limits{}.withDefaults(), log: slog.New(slog.DiscardHandler)}
	order := workOrder{Kind: workAnalyze, Dir: work, Clips: []workClip{{Path: paths[0], Name: paths[1], Analysis: paths[2]}}}
	err := k.run(t.Context(), order, func(l workLine) error {
		t.Error(l.Stage)
		return nil
	})
	if err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(paths[1]); err != nil {
		t.Error(err)
	}
}

// Confined as it is, the child does the whole job: networks, pictures, video.
func TestConfinedWorkIsDone(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	clip := filepath.Join(t.TempDir(), "fast.mp4") // one rep
	cut := exec.Command("ffmpeg", "-v", "error", "-nostdin", "-t", "3.4", "-i", filepath.Join("..", "testdata", "clips", "fast_30.mp4"), "-c", "copy", clip)
	if said, err := cut.CombinedOutput(); err != nil {
		t.Fatalf("cutting a clip: %v: %s", err, said)
	}
	k := &worker{program: []string{os.Args[0]}, env: []string{fakeVariable + "=real"}, limits: Limits{}.withDefaults(), log: slog.New(slog.DiscardHandler)}
	made := t.TempDir()
	order := workOrder{Kind: workAnalyze, Dir: made, Model: "full", Clips: []workClip{{Path: clip, Name: "fast.mp4"}}}
	if err := k.run(t.Context(), order, func(workLine) error { return nil }); err != nil {
		t.Fatalf("%v: %v", err, errors.Unwrap(err))
	}
	for _, name := range []string{madeWebVideo, madeTrack, filepath.Join(madeAnalysis, "series.csv")} {
		if info, err := os.Stat(filepath.Join(made, name)); err != nil || info.Size() == 0 {
			t.Errorf("%s: %v", name, err)
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
	mpd := `<MPD xmlns="urn:mpeg:dash:schema:mpd:2011" profiles="urn:mpeg:dash:profile:isoff-on-demand:2011" type="static"><Period><AdaptationSet
 mimeType="video/mp4"><Representation id="1" bandwidth="1"><BaseURL>file://` + private + `</BaseURL></Representation></AdaptationSet></Period></MPD>`
	elsewhere := strings.Replace(MovieStart, "\x00\x00\x00\x0curl \x00\x00\x00\x01", "\x00\x00\x00\x0calis\x00\x00\x00\x00", 1)
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
		if !looksLikeVideo([]byte(content)[:min(len(content), headBytes)]) {
			t.Errorf("%s: the first look refuses it already, and the test shows nothing", name)
		}
		body, kind := form([]string{"athlete_name=Sam Example"}, "clip.mp4="+content)
		w := b.send("POST", "/api/clips", body, func(r *http.Request) { r.Header.Set("Content-Type", kind) })
		if w.Code != 415 {
			t.Errorf("%s as a form: %d %s, want 415", name, w.Code, w.Body)
		}
		var begun struct{ ID string }
		b.want(201, "POST", "/api/uploads", fmt.Sprintf(`{"name":"clip.mp4","size":%d,"athlete_name":"Sam Example"}`, len(content)), &begun)
		for _, want := range []int{415, 404} { // and is gone
			w := b.send("PATCH", "/api/uploads/"+begun.ID, strings.NewReader(content), func(r *http.Request) { r.Header.Set("Upload-Offset", "0") })
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
	// One that lies in the archive from before is not opened either.
	path := filepath.Join(t.TempDir(), "old")
	if err := os.WriteFile(path, []byte(tests["DASH behind other letters"]), 0o600); err != nil {
		t.Fatal(err)
	}
	order, err := json.Marshal(workOrder{Kind: workAnalyze, Dir: t.TempDir(), Clips: []workClip{{Path: path, Name: "old.mp4"}}})
	if err != nil {
		t.Fatal(err)
	}
	last, err := doOrder(t, string(order)+"\n")
	if err != nil || last.Event != eventFailed || strings.Contains(last.Error, path) || strings.Contains(last.Error, "/proc") {
		t.Errorf("%v: it says %+v", err, last)
	}
}

// realWork does an order as the program does.
func realWork() int {
	if err := Work(context.Background(), os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}
