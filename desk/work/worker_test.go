package work

import (
	"bufio"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"syscall"
	"testing"
	"time"

	"holdfast/desk/refusal"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/vision/media"
)

// fakeVariable makes this test binary a fake of the program that works on clips:
// what it does is said by the name of the clip.
const fakeVariable = "HOLDFAST_TEST_WORK"

func TestMain(m *testing.M) {
	switch os.Getenv(fakeVariable) {
	case "":
		os.Exit(m.Run())
	case "work":
		os.Exit(fakeWork())
	case "probe":
		os.Exit(probedWork())
	case "real":
		os.Exit(realWork())
	case "server":
		os.Exit(fakeServer())
	case "idle":
		idle()
	}
}

// idle waits for a signal that ends it.
func idle() {
	for {
		_ = syscall.Pause()
	}
}

// fakeWork takes an order as the program would, and ends in the way that the name of its
// clip says.
func fakeWork() int {
	read := bufio.NewReader(os.Stdin)
	text, err := readLine(read, maxOrderBytes)
	if err != nil {
		return 1
	}
	var o Order
	if err := json.Unmarshal(text, &o); err != nil {
		return 1
	}
	s := &speaker{out: json.NewEncoder(os.Stdout), now: time.Now}
	s.say(Line{Event: EventClip, Frames: 30})
	s.say(Line{Event: EventProgress, Stage: "tracking", Done: 3, Total: 30})
	how, _, _ := strings.Cut(o.Clips[0].Name, ".")
	switch strings.SplitN(how, "-", 2)[0] {
	case "refused":
		s.failed(&media.ClipError{Path: o.Clips[0].Path, Err: vision.ErrNoPerson, Hint: "film the whole body"})
		return 0
	case "crash":
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
	case "exit":
		fmt.Fprintln(os.Stderr, "no more")
		return 3
	case "silent":
		return 0
	case "hang":
		idle()
	case "group": // and a decoder that does not end either
		ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM) // as main does
		defer stop()
		endWith(ctx, read)
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), fakeVariable+"=idle")
		c.Stdout, c.Stderr = os.Stdout, os.Stderr
		if c.Start() != nil {
			return 1
		}
		s.say(Line{Event: EventProgress, Stage: "grandchild", Done: c.Process.Pid, Total: math.MaxInt32})
		idle()
	case "leave": // a process of its own behind, and all done
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), fakeVariable+"=idle")
		c.Stdout = os.Stdout
		if c.Start() != nil {
			return 1
		}
	case "eat":
		var held [][]byte
		for range 1 << 12 {
			b := make([]byte, 1<<20)
			for i := 0; i < len(b); i += 4096 {
				b[i] = 1
			}
			held = append(held, b)
		}
		s.say(Line{Event: EventProgress, Stage: "eaten", Done: len(held), Total: len(held)})
		idle()
	case "limited": // by the kernel
		if limitSelf(o.Limits) != nil {
			return 1
		}
		var held [][]byte
		for range 1 << 12 {
			b := make([]byte, 1<<20)
			for i := 0; i < len(b); i += 4096 {
				b[i] = 1
			}
			held = append(held, b)
		}
		s.say(Line{Event: EventProgress, Stage: "eaten", Done: len(held), Total: len(held)})
		idle()
	case "junk":
		fmt.Println("this is no JSON\x00\xff")
		fmt.Println(strings.Repeat("x", 2*maxLineBytes))
		fmt.Println(`{"event":"done"}`)
		return 0
	}
	s.say(Line{Event: EventDone})
	return 0
}

// fakeWorker has orders done by the fake, or by another case of TestMain.
func fakeWorker(limits Limits, as string) *Worker {
	limits.ClipMinutes, limits.FramePx = screening.DefaultMaxMinutes, 50_000_000
	limits.MemoryBytes, limits.Time = cmp.Or(limits.MemoryBytes, 4e9), cmp.Or(limits.Time, 5*time.Minute)
	limits.PerFrame = cmp.Or(limits.PerFrame, 500*time.Millisecond)
	return &Worker{Program: []string{os.Args[0]}, Env: []string{fakeVariable + "=" + as}, Limits: limits,
		Log: slog.New(slog.DiscardHandler)}
}

func TestWorkerEnds(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
	// Enough for this binary, whose libraries count too, under the race detector.
	const roomy = 600e6
	tests := []struct {
		clip   string
		limits Limits
		text   string // of the error; empty: done
	}{
		{"good.mp4", Limits{}, ""},
		{"refused.mp4", Limits{}, "nobody was found in the clip"},
		{"crash.mp4", Limits{}, "ended before it was done"},
		{"exit.mp4", Limits{}, "ended before it was done"},
		{"silent.mp4", Limits{}, "ended before it was done"},
		{"leave.mp4", Limits{}, ""},
		{"hang.mp4", Limits{Time: 300 * time.Millisecond, PerFrame: 1}, "took too long"},
		{"eat.mp4", Limits{MemoryBytes: roomy}, "more memory than the 600 MB"},
		{"junk.mp4", Limits{}, "ended before it was done"},
	}
	for _, tt := range tests {
		t.Run(tt.clip, func(t *testing.T) {
			t.Parallel()
			var stages []string
			err := fakeWorker(tt.limits, "work").Run(t.Context(), Order{Kind: KindAnalyze, Dir: t.TempDir(),
				Clips: []Clip{{Name: tt.clip}}}, func(l Line) error {
				stages = append(stages, l.Stage+l.Name)
				return nil
			})
			if tt.text == "" && err != nil {
				t.Fatal(err)
			}
			if tt.text != "" {
				if said := refusal.Of(err); !strings.Contains(said.Text, tt.text) || said.Hint == "" {
					t.Fatalf("error %v, want one that says %q and what to do", err, tt.text)
				}
			}
			if tt.clip != "hang.mp4" && (len(stages) == 0 || stages[0] != "tracking") {
				t.Errorf("stages %q, want tracking first", stages)
			}
		})
	}
}

// The limit of memory is also the kernel's: a child that nobody watches ends by itself.
func TestWorkerLimitOfTheKernel(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
	order, err := json.Marshal(Order{Kind: KindAnalyze, Dir: t.TempDir(), Clips: []Clip{{Name: "limited.mp4"}},
		Limits: orderLimits{DataBytes: 600 << 20}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	child := exec.CommandContext(ctx, os.Args[0])
	child.Env = append(os.Environ(), fakeVariable+"=work")
	child.Stdin = strings.NewReader(string(order) + "\n")
	out, err := child.Output()
	var exit *exec.ExitError
	if ctx.Err() != nil || !errors.As(err, &exit) {
		t.Fatalf("the child ended with %v, want that it fails", err)
	}
	if strings.Contains(string(out), "eaten") {
		t.Error("4 GB were eaten under a limit of 0.6 GB")
	}
	if text := string(exit.Stderr); !strings.Contains(text, "out of memory") && !strings.Contains(text, "allocate") {
		t.Errorf("the child ended of something else: %.300s", text)
	}
}

// What a child has started dies with it, when it is cancelled and when its
// listener fails.
func TestWorkerEndsTheGroup(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
	enough := errors.New("enough")
	for _, cancelled := range []bool{true, false} {
		t.Run(fmt.Sprintf("cancelled %v", cancelled), func(t *testing.T) {
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			grandchild := 0
			err := fakeWorker(Limits{}, "work").Run(ctx, Order{Kind: KindAnalyze, Dir: t.TempDir(),
				Clips: []Clip{{Name: "group.mp4"}}}, func(l Line) error {
				if l.Stage != "grandchild" {
					return nil
				}
				grandchild = l.Done
				if cancelled {
					cancel()
					return nil
				}
				return enough
			})
			// run returns when nobody holds the pipe any more, and the grandchild held it.
			if cancelled != errors.Is(err, context.Canceled) || cancelled == errors.Is(err, enough) {
				t.Fatal(err)
			}
			if grandchild == 0 {
				t.Fatal("the grandchild did not start")
			}
		})
	}
}

// fakeServer starts a child that starts a child of its own, and waits to be killed.
func fakeServer() int {
	dir, err := os.MkdirTemp("", "holdfast-test-")
	if err != nil {
		return 1
	}
	defer os.RemoveAll(dir)
	_ = fakeWorker(Limits{}, "work").Run(context.Background(), Order{Kind: KindAnalyze, Dir: dir,
		Clips: []Clip{{Name: "group.mp4"}}}, func(l Line) error {
		fmt.Println(l.Stage)
		return nil
	})
	return 0
}

// A server that is killed leaves no process behind.
func TestWorkerDiesWithTheServer(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
	dir := t.TempDir()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), fakeVariable+"=server", "TMPDIR="+dir)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() && lines.Text() != "grandchild" {
	}
	pids := groupOf(t, c.Process.Pid)
	if len(pids) < 2 {
		t.Fatalf("the server has %d descendants, want 2", len(pids))
	}
	if err := c.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = c.Wait()
	for _, pid := range pids {
		awaitGone(t, pid)
	}
}
