package web

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/vision"
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
	case "serve":
		os.Exit(serveUntilKilled())
	case "full disk":
		os.Exit(onFullDisk())
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

// fakeWork does an order as the program would, but for the pictures.
func fakeWork() int {
	read := bufio.NewReader(os.Stdin)
	text, err := readLine(read, maxOrderBytes)
	if err != nil {
		return 1
	}
	var o workOrder
	if err := json.Unmarshal(text, &o); err != nil {
		return 1
	}
	s := &speaker{out: json.NewEncoder(os.Stdout), now: time.Now}
	s.say(workLine{Event: eventClip, Frames: 30})
	s.say(workLine{Event: eventProgress, Stage: "tracking", Done: 3, Total: 30})
	how, _, _ := strings.Cut(o.Clips[0].Name, ".")
	switch strings.SplitN(how, "-", 2)[0] {
	case "refused":
		s.failed(&vision.ClipError{Path: o.Clips[0].Path, Err: vision.ErrNoPerson, Hint: "film the whole body"})
		return 0
	case "nasty":
		s.say(workLine{Event: eventFailed, Error: "the clip cannot be read: " + hiddenText, Hint: hiddenText})
		return 0
	case "crash":
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
	case "once": // it crashes, and the next time it does not
		mark := o.Clips[0].Path + ".once"
		if _, err := os.Stat(mark); err != nil {
			_ = os.WriteFile(mark, nil, 0o600)
			_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
		}
	case "exit":
		fmt.Fprintln(os.Stderr, "no more", hiddenText)
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
		s.say(workLine{Event: eventProgress, Stage: "grandchild", Done: c.Process.Pid, Total: math.MaxInt32})
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
		s.say(workLine{Event: eventProgress, Stage: "eaten", Done: len(held), Total: len(held)})
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
		s.say(workLine{Event: eventProgress, Stage: "eaten", Done: len(held), Total: len(held)})
		idle()
	case "junk":
		fmt.Println("this is no JSON\x00\xff")
		fmt.Println(strings.Repeat("x", 2*maxLineBytes))
		fmt.Println(`{"event":"done"}`)
		return 0
	}
	if err := fakeResult(&o, s); err != nil {
		s.failed(err)
		return 0
	}
	s.say(workLine{Event: eventDone})
	return 0
}

// fakeResult writes what the program would make.
func fakeResult(o *workOrder, s *speaker) error {
	result := filepath.Join(o.Dir, madeAnalysis)
	write := func(name, text string) error {
		path := filepath.Join(result, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		return os.WriteFile(path, []byte(text), 0o600)
	}
	switch o.Kind {
	case workAnalyze:
		if err := write("frames/rep01_1_bottom_slow.png", "a picture"); err != nil {
			return err
		}
		if err := write("series.csv", "time_s\n0\n"); err != nil {
			return err
		}
		a := fakeAnalysis(o.Clips[0].Name)
		if err := writeWhole(filepath.Join(result, "analysis.json"), func(w io.Writer) error { return printable.WriteJSON(w, a) }); err != nil {
			return err
		}
		if err := writeWhole(filepath.Join(o.Dir, madeTrack), func(w io.Writer) error { return vision.WriteTrack(w, fakeTrack()) }); err != nil {
			return err
		}
		s.say(workLine{Event: eventMade, Name: madeAnalysis})
		if err := os.WriteFile(filepath.Join(o.Dir, madeWebVideo), []byte(strings.Repeat("video", 100)), 0o600); err != nil {
			return err
		}
		s.say(workLine{Event: eventMade, Name: madeWebVideo})
		return nil
	case workStills:
		if err := write("frames/rep01_1_bottom_slow.png", "a newer picture"); err != nil {
			return err
		}
	case workVideo:
		if err := write("annotated.mp4", fmt.Sprint("blurred: ", o.BlurFace)); err != nil {
			return err
		}
	case workCompare:
		for _, name := range []string{"report.html", "coach.pdf", "curves.svg", "comparison.json"} {
			if err := write(name, fmt.Sprintf("%s of %d clips, blurred: %v", name, len(o.Clips), o.BlurFace)); err != nil {
				return err
			}
		}
		if o.Video {
			if err := write("sidebyside.mp4", "a video"); err != nil {
				return err
			}
		}
	}
	s.say(workLine{Event: eventMade, Name: madeAnalysis})
	return nil
}

// fakeTrack is a track of three frames, the second without the athlete.
func fakeTrack() *vision.Track {
	t := &vision.Track{KeypointNames: []string{"nose", "left_hip"}, ModelName: "heavy", RollDeg: math.NaN(), RollSDDeg: math.NaN()}
	for i := range 3 {
		p := vision.Pose{Index: i, TimeS: float64(i) / 30, Found: i != 1, Score: 0.9}
		if p.Found {
			p.Keypoints = []vision.Keypoint{{X: 10.123 + float64(i), Y: 20, Visibility: 0.987, SDPx: 1}, {X: math.NaN(), Y: math.NaN()}}
		}
		t.Poses = append(t.Poses, p)
	}
	return t
}

// fakeAnalysis is an analysis of three reps whose tempo the clip's name begins with.
func fakeAnalysis(name string) *screening.Analysis {
	tempo, rom := "slow", 110.0
	if strings.HasPrefix(name, "fast") {
		tempo, rom = "fast", 95
	}
	a := &screening.Analysis{Schema: screening.AnalysisSchema, Program: screening.Program, Athlete: "Sam Example",
		Clip: screening.ClipInfo{Name: name, Frames: 3, WidthPx: 320, HeightPx: 180, DurationS: 0.1, FrameRateHz: 30, CaptureRateHz: 30, SlowMotionFactor: 1}}
	for i := range 3 {
		joint := func(rom float64) joints.AngleMeasure {
			d := rom + float64(i) - 1
			return joints.AngleMeasure{MaxDeg: d, ROMDeg: d, AtBottomDeg: d, SDDeg: 1.5, AtLandingBottomDeg: math.NaN()}
		}
		a.Reps = append(a.Reps, kinematics.Rep{RepTimes: events.RepTimes{Number: i + 1, Tempo: events.Tempo(tempo), BottomS: float64(3 * i), EndS: float64(3*i + 2)},
			Measures: joints.Measures{Angles: body.ByAngle[joints.AngleMeasure]{body.KneeFlexion: joint(rom), body.HipFlexion: joint(rom + 5), body.AnkleDorsiflexion: joint(rom / 4)}}})
	}
	return a
}

func fakeWorker(limits Limits) *worker {
	return &worker{program: []string{os.Args[0]}, env: []string{fakeVariable + "=work"}, limits: limits.withDefaults(), log: slog.New(slog.DiscardHandler)}
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
		{"hang.mp4", Limits{WorkTime: 300 * time.Millisecond, WorkPerFrame: 1}, "took too long"},
		{"eat.mp4", Limits{WorkMemory: roomy}, "more memory than the 600 MB"},
		{"junk.mp4", Limits{}, "ended before it was done"},
	}
	for _, tt := range tests {
		t.Run(tt.clip, func(t *testing.T) {
			t.Parallel()
			var stages []string
			err := fakeWorker(tt.limits).run(t.Context(), workOrder{Kind: workAnalyze, Dir: t.TempDir(), Clips: []workClip{{Name: tt.clip}}}, func(l workLine) error {
				stages = append(stages, l.Stage+l.Name)
				return nil
			})
			var failed *workError
			switch {
			case tt.text == "" && err != nil:
				t.Fatal(err)
			case tt.text != "" && (!errors.As(err, &failed) || !strings.Contains(failed.text, tt.text) || failed.hint == ""):
				t.Fatalf("error %v, want one that says %q and what to do", err, tt.text)
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
	order, err := json.Marshal(workOrder{Kind: workAnalyze, Dir: t.TempDir(), Clips: []workClip{{Name: "limited.mp4"}}, Limits: workLimits{DataBytes: 600 << 20}})
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
			err := fakeWorker(Limits{}).run(ctx, workOrder{Kind: workAnalyze, Dir: t.TempDir(), Clips: []workClip{{Name: "group.mp4"}}}, func(l workLine) error {
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
	_ = fakeWorker(Limits{}).run(context.Background(), workOrder{Kind: workAnalyze, Dir: dir, Clips: []workClip{{Name: "group.mp4"}}}, func(l workLine) error {
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
