package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"golang.org/x/sys/unix"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/work"
	"holdfast/internal/fakework"
	"holdfast/printable"
	"holdfast/vision/pose"
)

// fullDiskMB is how much room the disk of the test has.
const fullDiskMB = 4

// Whatever the page asks for when the disk is full is answered with 507 and what to do,
// rows as well as files, and works again when there is room.
func TestFullDisk(t *testing.T) {
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), fakeVariable+"=full disk", dirVariable+"="+t.TempDir())
	// A small disk of its own, which needs a user of its own where one is not root.
	c.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWNS}
	if os.Getuid() != 0 {
		c.SysProcAttr.Cloneflags |= syscall.CLONE_NEWUSER
		c.SysProcAttr.UidMappings = []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}}
	}
	said, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%v: this test needs the right to mount a small disk (root, or user namespaces)\n%s", err, said)
	}
	if len(said) > 0 {
		t.Errorf("%s", said)
	}
}

// onFullDisk fills a small disk under a server and prints what is answered otherwise than
// it should be.
func onFullDisk() int {
	ctx := context.Background()
	dir := os.Getenv(dirVariable)
	err := unix.Mount("", "/", "", unix.MS_REC|unix.MS_PRIVATE, "")
	if err == nil {
		err = unix.Mount("none", dir, "tmpfs", 0, fmt.Sprintf("size=%dm", fullDiskMB))
	}
	if err != nil {
		fmt.Println("mounting a small disk:", err)
		return 1
	}
	data := filepath.Join(dir, "data")
	a, err := archive.Open(ctx, data, archive.Options{Serving: true})
	if err != nil {
		fmt.Println(err)
		return 1
	}
	s, err := NewServer(Options{
		Desk:    desk.Options{Archive: a, WorkDir: filepath.Join(data, "tmp", "work"), Measure: fakework.Measure},
		Address: &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 7070},
	})
	if err != nil {
		fmt.Println(err)
		return 1
	}
	post := func(method, path, kind string, body io.Reader) *httptest.ResponseRecorder {
		r := httptest.NewRequest(method, path, body)
		r.Host = testHost
		r.Header.Set("X-Holdfast", "1")
		r.Header.Set("Content-Type", kind)
		r.Header.Set("Upload-Offset", "0")
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		return w
	}
	const isJSON = "application/json"
	id := func(w *httptest.ResponseRecorder) string {
		var out struct {
			ID    string
			Clips []addedClip
		}
		if err := json.Unmarshal(w.Body.Bytes(), &out); err != nil || w.Code/100 != 2 {
			fmt.Println("before the disk is full:", w.Code, w.Body)
		}
		if len(out.Clips) > 0 {
			return out.Clips[0].ID
		}
		return out.ID
	}
	upload := func(name string) *httptest.ResponseRecorder {
		body, kind := form([]string{"athlete_name=Sam Example"}, name+"="+movie(strings.Repeat("x", 100_000)+name))
		return post("POST", "/api/clips", kind, body)
	}
	clip := id(upload("slow.mp4"))
	put := func(name, text string) archive.File {
		f, err := a.Put(ctx, strings.NewReader(text), 1<<20)
		if err != nil {
			fmt.Println(err)
		}
		f.Name = name
		return f
	}
	var analysis, track strings.Builder
	if err := errors.Join(printable.WriteJSON(&analysis, fakework.Analysis("slow.mp4")),
		pose.WriteTrack(&track, fakework.Track())); err != nil {
		fmt.Println(err)
	}
	if _, err := a.SaveResult(ctx, clip, []archive.File{put("analysis.json", analysis.String()),
		put(work.MadeTrack, track.String())}, 0); err != nil {
		fmt.Println(err)
	}
	half := id(post("POST", "/api/uploads", isJSON,
		strings.NewReader(`{"name":"half.mp4","size":1000000,"athlete_name":"Sam Example","last_modified":1}`)))
	athlete := id(post("POST", "/api/athletes", isJSON, strings.NewReader(`{"name":"Ada Example"}`)))

	fill := filepath.Join(dir, "fill")
	f, err := os.Create(fill)
	if err == nil {
		_, err = io.Copy(f, zeros{})
		err = errors.Join(ignoreFull(err), f.Close())
	}
	if err != nil {
		fmt.Println(err)
		return 1
	}
	notes := strings.Repeat("n", 15_000) // more than the log of the database has room for in what it holds already
	for _, tt := range []struct{ method, path, kind, body string }{
		{"POST", "/api/athletes", isJSON, `{"name":"New Example","notes":"` + notes + `"}`},
		{"PATCH", "/api/athletes/" + athlete, isJSON, `{"notes":"` + notes + `"}`},
		{"DELETE", "/api/athletes/" + athlete, isJSON, ``},
		{"POST", "/api/uploads", isJSON, `{"name":"new.mp4","size":1000000,"athlete_name":"Sam Example"}`},
		{"PATCH", "/api/uploads/" + half, "application/octet-stream", movie(strings.Repeat("x", 100_000))},
		{"PATCH", "/api/clips/" + clip, isJSON, `{"tempo":"fast"}`},
		{"POST", "/api/clips/" + clip + "/corrections", isJSON,
			`{"points":[{"frame":1,"point":"heel","side":"near","x_px":1,"y_px":1}]}`},
		{"POST", "/api/clips/" + clip + "/render", isJSON, ``},
	} {
		if w := post(tt.method, tt.path, tt.kind, strings.NewReader(tt.body)); w.Code != 507 ||
			!strings.Contains(w.Body.String(), "make room") {
			fmt.Println(tt.method, tt.path, "on a full disk:", w.Code, w.Body)
		}
	}
	if w := upload("fast.mp4"); w.Code != 507 {
		fmt.Println("an upload on a full disk:", w.Code, w.Body)
	}
	if w := post("GET", "/api/clips/"+clip, "", nil); w.Code != 200 {
		fmt.Println("reading on a full disk:", w.Code, w.Body)
	}
	if err := os.Remove(fill); err != nil {
		fmt.Println(err)
	}
	if w := upload("jump.mp4"); w.Code != 201 {
		fmt.Println("an upload when there is room again:", w.Code, w.Body)
	}
	report, err := a.Check(ctx)
	if err != nil || len(report.Problems) > 0 {
		fmt.Println("the archive afterwards:", err, report.Problems)
	}
	if err := a.Close(); err != nil {
		fmt.Println(err)
	}
	return 0
}

// zeros never ends.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}

func ignoreFull(err error) error {
	if errors.Is(err, syscall.ENOSPC) {
		return nil
	}
	return err
}
