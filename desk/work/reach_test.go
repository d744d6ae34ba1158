package work

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"holdfast/confine"
	"holdfast/models"
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
	var o Order
	if err := json.Unmarshal(text, &o); err != nil || !o.Confined {
		return 1
	}
	s := &speaker{out: json.NewEncoder(os.Stdout)}
	nameLibrary()
	if err := confine.Self(reachOf(&o)); err != nil {
		s.failed(err)
		return 0
	}
	say := func(what string, err, want error) {
		if !errors.Is(err, want) {
			s.say(Line{Event: EventProgress, Stage: fmt.Sprintf("%s: %v, want %v", what, err, want)})
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
	say("leading the server astray", os.Symlink(other, filepath.Join(o.Dir, MadeTrack)), syscall.EACCES)
	_, err = os.ReadFile("/etc/passwd")
	say("the system's users", err, syscall.EACCES)
	_, err = net.Dial("tcp", "127.0.0.1:9")
	say("the network", err, syscall.EPERM)
	s.say(Line{Event: EventDone})
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
		if err := os.WriteFile(path, []byte(name), 0o600); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	k := fakeWorker(Limits{}, "probe")
	order := Order{Kind: KindAnalyze, Dir: work, Clips: []Clip{{Path: paths[0], Name: paths[1], Analysis: paths[2]}}}
	err := k.Run(t.Context(), order, func(l Line) error {
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
	cut := exec.Command("ffmpeg", "-v", "error", "-nostdin", "-t", "3.4", "-i", filepath.Join("..", "..", "testdata",
		"clips", "fast_30.mp4"), "-c", "copy", clip)
	if said, err := cut.CombinedOutput(); err != nil {
		t.Fatalf("cutting a clip: %v: %s", err, said)
	}
	k := fakeWorker(Limits{}, "real")
	made := t.TempDir()
	order := Order{Kind: KindAnalyze, Dir: made, Model: "full", Clips: []Clip{{Path: clip, Name: "fast.mp4"}}}
	if err := k.Run(t.Context(), order, func(Line) error { return nil }); err != nil {
		t.Fatalf("%v: %v", err, errors.Unwrap(err))
	}
	for _, name := range []string{MadeWebVideo, MadeTrack, filepath.Join(MadeAnalysis, "series.csv")} {
		if info, err := os.Stat(filepath.Join(made, name)); err != nil || info.Size() == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A manifest that lies in the archive from before is not opened.
func TestStoredManifestIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old")
	manifest := `<!--free--><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" type="static"><Period>
 <AdaptationSet mimeType="video/mp4">
 <Representation id="1" bandwidth="1"><BaseURL>file:///private.mp4</BaseURL></Representation>
 </AdaptationSet></Period></MPD>`
	if err := os.WriteFile(path, []byte(manifest), 0o600); err != nil {
		t.Fatal(err)
	}
	order, err := json.Marshal(Order{Kind: KindAnalyze, Dir: t.TempDir(), Clips: []Clip{{Path: path, Name: "old.mp4"}}})
	if err != nil {
		t.Fatal(err)
	}
	last, err := doOrder(t, string(order)+"\n")
	if err != nil || last.Event != EventFailed || strings.Contains(last.Error, path) || strings.Contains(last.Error,
		"/proc") {
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

// Whoever starts the desk names no library: its child finds the one beside the program.
func TestLibraryBesideTheProgram(t *testing.T) {
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	folder := filepath.Join(filepath.Dir(program), ".runtime")
	library := filepath.Join(folder, "onnxruntime", "libonnxruntime.so.1")
	if err := os.MkdirAll(filepath.Dir(library), 0o700); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	if err := os.WriteFile(library, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv(models.RuntimeEnv, "")
	nameLibrary()
	if got := os.Getenv(models.RuntimeEnv); got != library {
		t.Errorf("the library is named %q, want %q", got, library)
	}
	if read := reachOf(&Order{}).Read; !slices.Contains(read, library) {
		t.Errorf("a child may read %q, not the library", read)
	}
}

// A child reaches every file that its order names, and writes to none beside its folder.
func TestReachOfAnOrder(t *testing.T) {
	r := reachOf(&Order{Kind: KindCompare, Dir: "made", Comparison: "numbers",
		Clips: []Clip{{Path: "clip", Analysis: "analysis", Track: "track"}}})
	for _, name := range []string{"numbers", "clip", "analysis", "track"} {
		if !slices.Contains(r.Read, name) {
			t.Errorf("%s is out of reach: %v", name, r.Read)
		}
	}
	if !slices.Equal(r.Write, []string{"made"}) {
		t.Errorf("the child writes to %v", r.Write)
	}
}
