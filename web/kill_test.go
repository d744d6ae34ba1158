package web

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/internal/fakework"
)

// dirVariable names the data folder of the server that a test kills.
const dirVariable = "HOLDFAST_TEST_DIR"

// serveUntilKilled is a whole server but for the pictures; it prints its address.
func serveUntilKilled() int {
	ctx := context.Background()
	dir := os.Getenv(dirVariable)
	a, err := archive.Open(ctx, dir, archive.Options{Serving: true})
	if err != nil {
		fmt.Println(err)
		return 1
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		fmt.Println(err)
		return 1
	}
	s, err := NewServer(Options{Desk: desk.Options{
		Archive: a, WorkDir: filepath.Join(dir, "tmp", "work"), Program: []string{os.Args[0]},
		Env: []string{fakeVariable + "=work"}, Measure: fakework.Measure,
	}, Address: l.Addr()})
	if err != nil {
		fmt.Println(err)
		return 1
	}
	fmt.Println("http://" + l.Addr().String())
	fmt.Println(s.Serve(ctx, l))
	return 1
}

// A server is killed at a chance moment of an upload, an analysis, a correction or a
// save, over and over. What it had acknowledged is there afterwards, and the archive
// finds nothing lost or half written.
func TestKilledServer(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it kills fifty servers")
	}
	const rounds, calm = 50, 4
	dir := t.TempDir()
	chance := rand.New(rand.NewPCG(5, 2)) // the same moments each time, as far as the system lets them
	var clips []string                    // acknowledged
	corrected := map[string]int{}         // corrections acknowledged, by clip
	for round := range rounds {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), fakeVariable+"=serve", dirVariable+"="+dir)
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		if !lines.Scan() || !strings.HasPrefix(lines.Text(), "http://") {
			t.Fatalf("round %d: the server says %q", round, lines.Text())
		}
		base := lines.Text()
		kill := func() { _ = c.Process.Kill() }
		done := make(chan struct{})
		events := 1 + chance.IntN(14)
		go func() {
			defer close(done)
			if round > 0 {
				killAfterEvents(base, events, kill)
				return
			}
			// The first round is left in peace until its clips are measured, so that
			// there is something to correct.
			killWhen(base, kill, func(jobs string) bool { return strings.Count(jobs, `"state":"done"`) == calm })
		}()
		send := func(method, path, kind string, body io.Reader, into any) bool {
			r, err := http.NewRequestWithContext(t.Context(), method, base+path, body)
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("X-Holdfast", "1")
			r.Header.Set("Content-Type", kind)
			w, err := http.DefaultClient.Do(r)
			if err != nil {
				return false
			}
			defer w.Body.Close()
			return w.StatusCode/100 == 2 && json.NewDecoder(w.Body).Decode(into) == nil
		}
		// Two new clips, then corrections of those that are measured, until the server
		// is gone; now and then the kill comes in the middle of a file.
		for i := 0; i < 300; i++ {
			if i < 2 || round == 0 && i < calm {
				body, kind := form([]string{"athlete_name=Sam Example"},
					fmt.Sprintf("slow.mp4=%s%s", movie(fmt.Sprint(round, " ", i)), strings.Repeat("x", 200_000)))
				var from io.Reader = body
				if round%5 == 1 && i == 1 {
					from = &tripwire{r: body, left: 100_000, do: kill}
				}
				var added addedClips
				if !send("POST", "/api/clips", kind, from, &added) {
					break
				}
				clips = append(clips, added.Clips[0].ID)
				continue
			}
			if round == 0 {
				<-done
				break
			}
			id := clips[chance.IntN(min(len(clips), 2*calm))]
			var answer correctedView
			if send("POST", "/api/clips/"+id+"/corrections", "application/json",
				strings.NewReader(`{"points":[{"frame":1,"point":"heel","side":"near","x_px":1,"y_px":1}]}`), &answer) {
				corrected[id]++
			}
		}
		kill()
		_ = c.Wait()
		<-done
		awaitUnlocked(t, filepath.Join(dir, "serving.lock"))
		a, err := archive.Open(t.Context(), dir, archive.Options{Serving: true})
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		report, err := a.Check(t.Context())
		if err != nil || len(report.Problems) > 0 {
			t.Fatalf("round %d: %v %q", round, err, report.Problems)
		}
		for _, id := range clips {
			if _, err := a.Clip(t.Context(), id); err != nil {
				t.Fatalf("round %d: an acknowledged clip is lost: %v", round, err)
			}
			if list, err := a.Corrections(t.Context(), id); err != nil || len(list) < corrected[id] {
				t.Fatalf("round %d: of %d corrections %d are left (%v)", round, corrected[id], len(list), err)
			}
		}
		if err := a.Close(); err != nil {
			t.Fatal(err)
		}
	}
	corrections := 0
	for _, n := range corrected {
		corrections += n
	}
	t.Logf("%d clips, %d corrections", len(clips), corrections)
	if len(clips) < rounds/5 || corrections < rounds/5 {
		t.Error("the server was killed before it did anything worth killing it for")
	}
}

// awaitUnlocked waits until nobody holds a lock: a child that was just being started
// when its server was killed has it until it has begun.
func awaitUnlocked(t *testing.T, path string) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX); err != nil {
		t.Fatal(err)
	}
}

// killAfterEvents follows the queue as a page does and kills the server at an event.
func killAfterEvents(base string, n int, kill func()) {
	killWhen(base, kill, func(string) bool { n--; return n <= 0 })
}

// killWhen kills the server at the first event for which now says yes.
func killWhen(base string, kill func(), now func(data string) bool) {
	w, err := http.Get(base + "/api/events")
	if err != nil {
		return
	}
	defer w.Body.Close()
	next := eventReader(w.Body)
	for {
		name, data := next()
		if name == "end" {
			return
		}
		if now(data) {
			kill()
			return
		}
	}
}

// tripwire does something when so many bytes have been read.
type tripwire struct {
	r    io.Reader
	left int
	do   func()
}

func (w *tripwire) Read(p []byte) (int, error) {
	n, err := w.r.Read(p[:min(len(p), 4096)])
	if w.left -= n; w.left < 0 && w.do != nil {
		w.do()
		w.do = nil
	}
	return n, err
}
