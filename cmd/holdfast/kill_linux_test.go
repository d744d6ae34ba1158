package main

import (
	"bufio"
	"bytes"
	"debug/elf"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"holdfast/archive"
	"holdfast/models"
)

// killRounds is how often TestKillRun kills the server: go test -run KillRun -rounds 200.
var killRounds = flag.Int("rounds", 10, "how often the kill run kills the server")

// killRun is a data folder whose server is killed over and over.
type killRun struct {
	t       *testing.T
	program string
	data    string
	chance  *rand.Rand
	movie   []byte            // a short clip
	sent    int               // how many clips were begun
	open    *killedClip       // of which the server has not said that it has it
	clips   map[string]string // by id, those that it said it has, with their names
	kills   map[string]int    // by what was going on
	others  []int             // children of this process that no server left: another test's database
}

// killedClip is a clip on its way to the server.
type killedClip struct {
	name    string
	content []byte
	pieces  bool // it is sent in pieces
}

// runningServer is the program as a user starts it.
type runningServer struct {
	cmd    *exec.Cmd
	base   string
	out    *bufio.Scanner
	killed bool
}

// The real server with real measuring is killed at chance moments of uploads, tracking,
// writing and its own start. What it had acknowledged is there and is measured once; no
// process and no half file is left.
func TestKillRun(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	if _, err := models.RuntimeLibrary(); err != nil {
		t.Fatal(err)
	}
	runtime.LockOSThread() // the server ends with the thread that started it
	defer runtime.UnlockOSThread()
	// What the server leaves behind becomes a child of this process, where it is seen.
	if err := unix.Prctl(unix.PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0); err != nil {
		t.Fatalf("this test needs to adopt orphans: %v", err)
	}
	t.Cleanup(func() { _ = unix.Prctl(unix.PR_SET_CHILD_SUBREAPER, 0, 0, 0, 0) })
	dir := t.TempDir()
	k := &killRun{t: t, program: builtProgram(t), data: filepath.Join(dir, "data"),
		movie:  oneRep(t, filepath.Join(dir, "one.mp4")),
		chance: rand.New(rand.NewPCG(10, 4)), clips: map[string]string{}, kills: map[string]int{},
		others: childrenOf(t, os.Getpid())}
	for round := range *killRounds {
		k.round(round)
		k.clean(round)
		if n := round + 1; n%10 == 0 && n < *killRounds { // a long run tells how far it is
			t.Logf("killed %d times: %v; %d clips", n, k.kills, len(k.clips))
		}
	}
	k.finish()
	t.Logf("killed %d times: %v; %d clips, all measured", *killRounds, k.kills, len(k.clips))
	for _, what := range []string{"upload", "tracking", "writing", "start"} {
		if k.kills[what] == 0 {
			t.Errorf("no kill during: %s", what)
		}
	}
}

// builtProgram builds the program as it is given away, and returns where it is.
func builtProgram(t *testing.T) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "holdfast")
	if out, err := exec.CommandContext(t.Context(), "../../scripts/build", program).CombinedOutput(); err != nil {
		t.Fatalf("building the program: %v\n%s", err, out)
	}
	return program
}

// The libraries that a program names are loaded whenever it starts: those of OpenCV that read and write files bring 240
// others along, and a quarter of a second.
func TestStartNeedsFewLibraries(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it builds the program")
	}
	program, err := elf.Open(builtProgram(t))
	if err != nil {
		t.Fatal(err)
	}
	defer program.Close()
	names, err := program.ImportedLibraries()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		part, of, _ := strings.Cut(name, ".so")
		if strings.HasPrefix(part, "libopencv_") && !slices.Contains([]string{"libopencv_core", "libopencv_imgproc",
			"libopencv_video", "libopencv_calib3d"}, part) {
			t.Errorf("the program names %s%s", part, of)
		}
	}
	if len(names) > 12 {
		t.Errorf("the program names %d libraries: %v", len(names), names)
	}
}

// oneRep cuts the first rep out of a clip.
func oneRep(t *testing.T, path string) []byte {
	t.Helper()
	cut := exec.Command("ffmpeg", "-v", "error", "-nostdin", "-ss", "0.6", "-t", "2.3", "-i",
		"../../testdata/clips/fast_30.mp4",
		"-vf", "scale=480:-2", "-r", "15", "-c:v", "libx264", "-preset", "ultrafast", path)
	if said, err := cut.CombinedOutput(); err != nil {
		t.Fatalf("cutting a clip: %v: %s", err, said)
	}
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return content
}

// next returns the clip that is on its way, or a new one. Clips differ in an atom that
// says nothing.
func (k *killRun) next() *killedClip {
	if k.open == nil {
		k.sent++
		text := fmt.Sprintf("clip %06d", k.sent)
		content := append(slices.Clone(k.movie), 0, 0, 0, byte(8+len(text)))
		content = append(append(content, "free"...), text...)
		k.open = &killedClip{name: fmt.Sprintf("clip %d.mp4", k.sent), content: content, pieces: k.sent%2 == 0}
	}
	return k.open
}

// start starts the server; nil when it was killed before it had said where it is.
func (k *killRun) start() *runningServer {
	k.t.Helper()
	cmd := exec.Command(k.program, "serve", "--listen", "127.0.0.1:0", "--data", k.data, "--model", "full")
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL} // it does not outlive the test either
	var said bytes.Buffer
	cmd.Stderr = &said
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		k.t.Fatal(err)
	}
	s := &runningServer{cmd: cmd, out: bufio.NewScanner(out)}
	for s.out.Scan() {
		if page, ok := strings.CutPrefix(s.out.Text(), "Holdfast is at "); ok {
			s.base = strings.TrimSuffix(page, "/")
			return s
		}
	}
	_ = cmd.Wait()
	k.t.Fatalf("the server does not start: %s", said.String())
	return nil
}

// kill kills the server, unless it was, and notes during what.
func (k *killRun) kill(s *runningServer, during string) {
	if s.killed {
		return
	}
	s.killed = true
	if err := s.cmd.Process.Kill(); err != nil {
		k.t.Errorf("the server was gone before it was killed: %v", err)
	}
	k.kills[during]++
}

// round starts the server, lets it come as far as chance wants, and kills it.
func (k *killRun) round(round int) {
	s := k.start()
	defer func() { _ = s.cmd.Wait() }()
	switch moment := k.chance.IntN(8); {
	case moment == 0: // it has just begun
		k.kill(s, "start")
		return
	case moment < 4: // in the middle of an upload
		c := k.next()
		at := k.chance.IntN(len(c.content) * 3 / 2) // or after it
		cut := &cutReader{r: bytes.NewReader(c.content), left: at, do: func() { k.kill(s, "upload") }}
		k.send(s, c, cut)
		k.kill(s, "upload")
		return
	}
	// In the middle of the work, of which there is some when a clip is sent before.
	if k.unfinished(s) < 2 {
		c := k.next()
		k.send(s, c, bytes.NewReader(c.content))
	}
	wanted := []string{"tracking", "writing"}[k.chance.IntN(2)]
	steps := 1 + k.chance.IntN(3)
	s.follow(func(event string, jobs []jobLine) bool {
		during := "tracking"
		if event == "clip" || slices.ContainsFunc(jobs, func(j jobLine) bool { return j.State == "running" && j.writes() }) {
			during = "writing"
		}
		busy := event == "clip" || slices.ContainsFunc(jobs, func(j jobLine) bool {
			return j.State == "running" &&
				j.Stage != ""
		})
		idle := event == "jobs" && !slices.ContainsFunc(jobs, jobLine.unfinished)
		if busy && during == wanted {
			steps--
		}
		if steps <= 0 || idle {
			if idle {
				during = "rest"
			}
			k.kill(s, during)
			return true
		}
		return false
	})
}

// unfinished returns how many jobs the server has to do.
func (k *killRun) unfinished(s *runningServer) (n int) {
	s.follow(func(_ string, jobs []jobLine) bool {
		for _, j := range jobs {
			if j.unfinished() {
				n++
			}
		}
		return true
	})
	return n
}

// jobLine is a job as the page sees it.
type jobLine struct {
	ClipID string `json:"clip_id"`
	Kind   string `json:"kind"`
	State  string `json:"state"`
	Stage  string `json:"stage"`
	Error  string `json:"error"`
}

func (j jobLine) unfinished() bool { return j.State == "waiting" || j.State == "running" }

// writes says that the points are found and the rest is being written.
func (j jobLine) writes() bool {
	return j.Stage != "" && j.Stage != "looking for the athlete" && j.Stage != "tracking"
}

// follow calls do for every event that a page would hear of, until it says that it has
// seen enough or the server is gone.
func (s *runningServer) follow(do func(event string, jobs []jobLine) bool) {
	w, err := http.Get(s.base + "/api/events")
	if err != nil {
		return
	}
	defer w.Body.Close()
	lines := bufio.NewScanner(w.Body)
	lines.Buffer(nil, 1<<22)
	event := ""
	for lines.Scan() {
		if name, ok := strings.CutPrefix(lines.Text(), "event: "); ok {
			event = name
		}
		data, ok := strings.CutPrefix(lines.Text(), "data: ")
		if !ok {
			continue
		}
		var list struct{ Jobs []jobLine }
		if json.Unmarshal([]byte(data), &list) == nil && do(event, list.Jobs) {
			return
		}
	}
}

// cutReader does something when so many bytes were read.
type cutReader struct {
	r    io.Reader
	left int
	do   func()
}

func (c *cutReader) Read(p []byte) (int, error) {
	n, err := c.r.Read(p[:min(len(p), 4<<10)])
	if c.left -= n; c.left < 0 && c.do != nil {
		c.do()
		c.do = nil
	}
	return n, err
}

// send sends a clip as a form or in pieces; from gives its content. What the server
// acknowledges is noted.
func (k *killRun) send(s *runningServer, c *killedClip, from io.Reader) {
	k.t.Helper()
	var added struct {
		ID     string
		Offset int
		CRC32  *uint32
		Clips  []struct {
			ID  string
			Job string
		}
	}
	request := func(method, path, kind string, body io.Reader, header ...string) (status int) {
		r, err := http.NewRequestWithContext(k.t.Context(), method, s.base+path, body)
		if err != nil {
			k.t.Fatal(err)
		}
		r.Header.Set("X-Holdfast", "1")
		r.Header.Set("Content-Type", kind)
		for i := 0; i+1 < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		w, err := http.DefaultClient.Do(r)
		if err != nil {
			return 0
		}
		defer w.Body.Close()
		text, err := io.ReadAll(w.Body)
		if err != nil || json.Unmarshal(text, &added) != nil {
			return 0
		}
		if w.StatusCode/100 != 2 {
			k.t.Errorf("%s: %d %s", c.name, w.StatusCode, text)
		}
		return w.StatusCode
	}
	if !c.pieces {
		var head, tail bytes.Buffer
		m := multipart.NewWriter(&head)
		_ = m.WriteField("athlete_name", "Sam Example")
		_, _ = m.CreateFormFile("clip", c.name)
		fmt.Fprintf(&tail, "\r\n--%s--\r\n", m.Boundary())
		request("POST", "/api/clips", m.FormDataContentType(), io.MultiReader(&head, from, &tail))
	} else {
		begin := fmt.Sprintf(`{"name":%q,"size":%d,"last_modified":%d,"athlete_name":"Sam Example"}`, c.name, len(c.content),
			k.sent)
		if request("POST", "/api/uploads", "application/json", strings.NewReader(begin)) == 0 {
			return
		}
		at := added.Offset
		if sum := added.CRC32; at > 0 && (sum == nil || *sum != crc32.ChecksumIEEE(c.content[:at])) {
			k.t.Fatalf("of %s %d bytes are there that are not its own", c.name, at)
		}
		if _, err := io.CopyN(io.Discard, from, int64(at)); err != nil {
			k.t.Fatal(err)
		}
		request("PATCH", "/api/uploads/"+added.ID, "application/octet-stream", from, "Upload-Offset", strconv.Itoa(at))
	}
	if len(added.Clips) == 1 {
		k.clips[added.Clips[0].ID] = c.name
		k.open = nil
	}
}

// clean waits until all that the server had started is gone, and has the archive checked
// as a user would, before another server tidies up.
func (k *killRun) clean(round int) {
	k.t.Helper()
	k.reap()
	if _, err := os.Stat(filepath.Join(k.data, "holdfast.db")); errors.Is(err, fs.ErrNotExist) {
		return // it was killed before there was an archive
	}
	var out, errs bytes.Buffer
	a := &app{stdout: &out, stderr: &errs, now: time.Now}
	if code := run(k.t.Context(), []string{"archive", "check", "--data", k.data}, a); code != exitOK {
		k.t.Fatalf("round %d: the check ends with %d: %s%s", round, code, out.String(), errs.String())
	}
	arc, err := archive.Open(k.t.Context(), k.data, archive.Options{MustExist: true})
	if err != nil {
		k.t.Fatalf("round %d: %v", round, err)
	}
	for id, name := range k.clips {
		if _, err := arc.Clip(k.t.Context(), id); err != nil {
			k.t.Fatalf("round %d: the acknowledged %s is lost: %v", round, name, err)
		}
	}
	if err := arc.Close(); err != nil {
		k.t.Fatal(err)
	}
}

// reap waits for all orphans of the server, which are children of this process now.
func (k *killRun) reap() {
	k.t.Helper()
	for {
		orphans := slices.DeleteFunc(childrenOf(k.t, os.Getpid()),
			func(pid int) bool { return slices.Contains(k.others, pid) })
		if len(orphans) == 0 {
			return
		}
		for _, pid := range orphans {
			fd, err := unix.PidfdOpen(pid, 0)
			if errors.Is(err, unix.ESRCH) {
				continue
			}
			if err != nil {
				k.t.Fatal(err)
			}
			n, err := 0, unix.EINTR
			for errors.Is(err, unix.EINTR) {
				n, err = unix.Poll([]unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}, 60_000)
			}
			_ = unix.Close(fd)
			if err != nil || n == 0 {
				command, _ := os.ReadFile(fmt.Sprintf("/proc/%d/cmdline", pid))
				k.t.Fatalf("a process outlives its server: %q (%v)", command, err)
			}
			_, _ = unix.Wait4(pid, nil, 0, nil)
		}
	}
}

// childrenOf lists the processes that a process is the parent of.
func childrenOf(t *testing.T, parent int) (pids []int) {
	t.Helper()
	list, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range list {
		text, err := os.ReadFile(name)
		if err != nil {
			continue // it ended meanwhile
		}
		f := strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))
		pid, err := strconv.Atoi(filepath.Base(filepath.Dir(name)))
		if err == nil && len(f) > 1 && f[1] == strconv.Itoa(parent) {
			pids = append(pids, pid)
		}
	}
	return pids
}

// finish lets a server do all that is left, stops it as a user does, and looks at what
// there is then.
func (k *killRun) finish() {
	k.t.Helper()
	s := k.start()
	for tries := 0; k.open != nil && tries < 2; tries++ {
		c := k.open
		k.send(s, c, bytes.NewReader(c.content))
	}
	s.follow(func(event string, jobs []jobLine) bool {
		return event == "jobs" && !slices.ContainsFunc(jobs, jobLine.unfinished)
	})
	if err := s.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		k.t.Error(err)
	}
	for s.out.Scan() { // to its end, as Wait closes it
	}
	if err := s.cmd.Wait(); err != nil {
		k.t.Errorf("the server does not end well: %v", err)
	}
	k.clean(*killRounds)
	ctx := k.t.Context()
	arc, err := archive.Open(ctx, k.data, archive.Options{MustExist: true})
	if err != nil {
		k.t.Fatal(err)
	}
	defer arc.Close()
	jobs, err := arc.Jobs(ctx, 10_000)
	if err != nil {
		k.t.Fatal(err)
	}
	analyses := map[string]int{}
	for _, j := range jobs {
		if j.State != archive.JobDone || j.Ends > 0 {
			k.t.Errorf("a job is %s after %d ends of its program: %s", j.State, j.Ends, j.Error)
		}
		analyses[j.ClipID]++
	}
	who, err := arc.FindAthlete(ctx, "Sam Example")
	if err != nil {
		k.t.Fatal(err)
	}
	clips, err := arc.ClipsOf(ctx, who.ID)
	if err != nil {
		k.t.Fatal(err)
	}
	if len(clips) != k.sent || len(k.clips) != k.sent {
		k.t.Errorf("%d clips were sent, %d acknowledged, %d are there", k.sent, len(k.clips), len(clips))
	}
	numbers := map[string]bool{}
	for _, c := range clips {
		if c.Result == nil || analyses[c.ID] != 1 {
			k.t.Errorf("%s has the result %v of %d analyses", c.Name, c.Result, analyses[c.ID])
			continue
		}
		made := map[string]string{}
		for _, f := range c.Result.Files {
			made[f.Name] = arc.FilePath(f.SHA256)
		}
		if made["web.mp4"] == "" {
			k.t.Errorf("%s has no video for the page: %v", c.Name, made)
		}
		var analysis struct{ Reps json.RawMessage }
		text, err := os.ReadFile(made["analysis.json"])
		if err == nil {
			err = json.Unmarshal(text, &analysis)
		}
		if err != nil || len(analysis.Reps) < 100 {
			k.t.Errorf("%s has no reps: %v", c.Name, err)
		}
		numbers[string(analysis.Reps)] = true
	}
	if len(numbers) > 1 {
		k.t.Errorf("the same pictures gave %d different sets of numbers", len(numbers))
	}
	for _, folder := range []string{"uploads", "tmp", filepath.Join("tmp", "work"), "lost"} {
		left, err := os.ReadDir(filepath.Join(k.data, folder))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			k.t.Error(err)
		}
		for _, e := range left {
			if e.Name() != "work" {
				k.t.Errorf("%s is left in %s", e.Name(), folder)
			}
		}
	}
}
