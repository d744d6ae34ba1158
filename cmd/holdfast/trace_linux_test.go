package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	ort "github.com/yalue/onnxruntime_go"
	"golang.org/x/sys/unix"

	"holdfast/internal/pgtest"
	"holdfast/models"
	_ "holdfast/models/testruntime"
)

// These tests run the real program where no network is and have strace write down
// every call that has to do with one, and every call that names a file.

const (
	// apartVariable names the built program to a test binary that was started again
	// in a network of its own.
	apartVariable = "HOLDFAST_TEST_APART"
	// collectorVariable makes the test binary load the library it names as a careless
	// program would: with telemetry on.
	collectorVariable = "HOLDFAST_TEST_COLLECTOR"
	// collectorTime is how long a collector may take to be heard of; it waits ten
	// seconds of its own.
	collectorTime = 2 * time.Minute
)

func TestMain(m *testing.M) {
	library := os.Getenv(collectorVariable)
	if library == "" {
		code := m.Run()
		pgtest.Stop()
		os.Exit(code)
	}
	ort.SetSharedLibraryPath(library)
	if err := ort.InitializeEnvironment(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	_, _ = io.Copy(io.Discard, os.Stdin) // until the test has seen enough
}

// The program sends nothing, looks up no name, and writes nothing outside of the
// places that docs/files.md names; and whoever did would be caught.
func TestNothingLeavesThisComputer(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	program := os.Getenv(apartVariable)
	if program == "" {
		runApart(t)
		return
	}
	if err := raiseLoopback(); err != nil {
		t.Fatalf("starting the loopback network: %v", err)
	}
	collector := models.RuntimeIn("../../.runtime/onnxruntime-with-telemetry")
	collector, err := filepath.Abs(collector)
	if err != nil || models.RuntimeIn(filepath.Dir(collector)) == "" {
		t.Fatal("the library with a collector is missing, run scripts/setup --test")
	}
	clip := filepath.Join(t.TempDir(), "fast.mp4")
	cut := exec.CommandContext(t.Context(), "ffmpeg", "-v", "error", "-i", "../../testdata/clips/fast_30.mp4", "-t", "3.4",
		clip)
	if out, err := cut.CombinedOutput(); err != nil {
		t.Fatalf("cutting a clip: %v\n%s", err, out)
	}
	// The library with a collector is harder to keep quiet than the one in use, and
	// so is a user who wants telemetry on.
	loud := []string{models.RuntimeEnv + "=" + collector, "ORT_DISABLE_TELEMETRY=0"}

	t.Run("telemetry left on is caught", func(t *testing.T) {
		t.Parallel()
		r := follow(t, false, []string{collectorVariable + "=" + collector}, os.Args[0])
		select {
		case <-r.reached:
		case <-time.After(collectorTime):
			t.Error("its network was not noticed")
		}
		r.end(t, exitOK)
		if !slices.ContainsFunc(r.written, func(s string) bool { return strings.Contains(s, r.home) }) {
			t.Errorf("its files were not noticed, only %q", r.written)
		}
		t.Logf("caught:\n%s\n%s", strings.Join(r.sent, "\n"), strings.Join(r.written, "\n"))
	})
	t.Run("analyze", func(t *testing.T) {
		t.Parallel()
		r := follow(t, false, loud, program, "analyze", "--model", "full", "--out", "RESULTS", clip)
		r.end(t, exitOK)
		r.mustBeClean(t, collector)
	})
	t.Run("doctor", func(t *testing.T) {
		t.Parallel()
		r := follow(t, false, nil, program, "doctor")
		r.end(t, exitOK)
		r.mustBeClean(t, os.Getenv(models.RuntimeEnv))
		if !strings.Contains(r.out.String(), "telemetry off") {
			t.Errorf("doctor says nothing of telemetry:\n%s", r.out.String())
		}
	})
	t.Run("serve", func(t *testing.T) {
		t.Parallel()
		r := follow(t, true, loud, program, "serve", "--model", "full", "--listen", "127.0.0.1:0", "--data", "DATA")
		measureAt(t, strings.TrimSuffix(r.awaitLine(t, "Holdfast is at "), "/"), clip)
		if err := r.cmd.Process.Signal(os.Interrupt); err != nil {
			t.Error("stopping the server: ", err)
		}
		r.end(t, exitOK)
		r.mustBeClean(t, collector)
		if !slices.ContainsFunc(r.bound, func(s string) bool { return strings.Contains(s, "127.0.0.1") }) {
			t.Errorf("its own listener was not seen, so nothing was: %q", r.bound)
		}
	})
}

// runApart builds the program and starts this test again in a network of its own,
// with nothing in it.
func runApart(t *testing.T) {
	if _, err := exec.LookPath("strace"); err != nil {
		t.Fatal("strace is missing, run scripts/setup --test")
	}
	program := builtProgram(t)
	c := exec.CommandContext(t.Context(), os.Args[0], "-test.v", "-test.run=^"+t.Name()+"$")
	c.Env = append(os.Environ(), apartVariable+"="+program)
	c.SysProcAttr = &syscall.SysProcAttr{
		Cloneflags:  syscall.CLONE_NEWUSER | syscall.CLONE_NEWNET,
		UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}},
		GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}},
	}
	out, err := c.CombinedOutput()
	switch {
	case c.Process == nil:
		t.Fatalf("this test needs a system that gives its user a network namespace: %v", err)
	case err != nil:
		t.Fatalf("%v\n%s", err, out)
	}
	t.Logf("%s", out)
}

// raiseLoopback makes 127.0.0.1 work in a new network namespace.
func raiseLoopback() error {
	fd, err := unix.Socket(unix.AF_INET, unix.SOCK_DGRAM|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		return err
	}
	defer unix.Close(fd)
	lo, err := unix.NewIfreq("lo")
	if err != nil {
		return err
	}
	lo.SetUint16(unix.IFF_UP)
	return unix.IoctlIfreq(fd, unix.SIOCSIFFLAGS, lo)
}

// traced is a program that strace follows, and what was seen of it.
type traced struct {
	findings
	cmd     *exec.Cmd
	home    string
	out     strings.Builder
	lines   *bufio.Reader
	stop    io.Closer     // ends what waits for its standard input
	reached chan struct{} // closed when it has reached for a network
	seen    sync.WaitGroup
}

// follow starts a program under strace with the variables and no others of the
// user's. RESULTS and DATA among the arguments stand for folders it may write to. A
// server may have the loopback network.
func follow(t *testing.T, server bool, env []string, program string, args ...string) *traced {
	t.Helper()
	root := t.TempDir()
	folder := func(name string) string {
		path := filepath.Join(root, name)
		if err := os.Mkdir(path, 0o700); err != nil {
			t.Fatal(err)
		}
		return path
	}
	tmp, results, data := folder("tmp"), folder("results"), folder("data")
	r := &traced{home: folder("home"), reached: make(chan struct{})}
	r.server, r.allowed = server, []string{tmp, results, data}
	for i, arg := range args {
		switch arg {
		case "RESULTS":
			args[i] = filepath.Join(results, "clip")
		case "DATA":
			args[i] = data
		}
	}
	trace, in, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	// With -D the program is our child and strace its grandchild, so that signals
	// go to the program.
	r.cmd = exec.CommandContext(t.Context(), "strace", append([]string{"-D", "-f", "-y", "-qq", "--seccomp-bpf", "-s",
		"200",
		"-e", "trace=%network,%file,creat", "-e", "signal=none", "-o", "/proc/self/fd/3", program}, args...)...)
	// Nothing that could tell a collector that this is a test.
	r.cmd.Env = append([]string{"PATH=" + os.Getenv("PATH"), "HOME=" + r.home, "TMPDIR=" + tmp,
		models.RuntimeEnv + "=" + os.Getenv(models.RuntimeEnv)}, env...)
	r.cmd.Dir = folder("work")
	r.cmd.ExtraFiles = []*os.File{in}
	r.cmd.Stderr = &r.out
	stdout, err := r.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if r.stop, err = r.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	if err := r.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	_ = in.Close()
	r.lines = bufio.NewReader(stdout)
	r.seen.Go(func() {
		defer trace.Close()
		calls := bufio.NewReader(trace)
		for {
			call, err := calls.ReadString('\n')
			if err != nil {
				return
			}
			if r.look(strings.TrimSuffix(call, "\n")); len(r.sent) == 1 {
				select {
				case <-r.reached:
				default:
					close(r.reached)
				}
			}
		}
	})
	return r
}

// awaitLine waits for a line of the program that begins so, and returns its rest.
func (r *traced) awaitLine(t *testing.T, begin string) string {
	t.Helper()
	for {
		line, err := r.lines.ReadString('\n')
		if err != nil {
			_ = r.cmd.Wait()
			t.Fatalf("the program ends without saying %q (%v)\n%s", begin, err, r.out.String())
		}
		if rest, ok := strings.CutPrefix(strings.TrimSpace(line), begin); ok {
			return rest
		}
	}
}

// end waits for the program and for all that was seen of it.
func (r *traced) end(t *testing.T, want int) {
	t.Helper()
	_ = r.stop.Close()
	rest, _ := io.ReadAll(r.lines)
	err := r.cmd.Wait()
	r.seen.Wait()
	r.out.Write(rest)
	if code := r.cmd.ProcessState.ExitCode(); code != want {
		t.Fatalf("%v\n%s", err, r.out.String())
	}
}

// mustBeClean fails when the program sent anything or wrote to another place, or when
// it did not load the library, for then nothing was looked at.
func (r *traced) mustBeClean(t *testing.T, library string) {
	t.Helper()
	if len(r.sent) > 0 {
		t.Errorf("it reaches for a network:\n%s", strings.Join(r.sent, "\n"))
	}
	if len(r.written) > 0 {
		t.Errorf("it writes to places that nobody was told of:\n%s", strings.Join(r.written, "\n"))
	}
	if !slices.Contains(r.read, library) {
		t.Errorf("it did not load %s", library)
	}
}

// measureAt uploads the clip and waits until it is measured.
func measureAt(t *testing.T, page, clip string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	defer cancel()
	video, err := os.ReadFile(clip)
	if err != nil {
		t.Fatal(err)
	}
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	_ = form.WriteField("athlete_name", "Sam Example")
	part, _ := form.CreateFormFile("clip", "fast.mp4")
	_, _ = part.Write(video)
	_ = form.Close()
	request := func(method, path string, body io.Reader) *http.Response {
		r, err := http.NewRequestWithContext(ctx, method, page+path, body)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("X-Holdfast", "1")
		r.Header.Set("Content-Type", form.FormDataContentType())
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { answer.Body.Close() })
		return answer
	}
	events := bufio.NewReader(request("GET", "/api/events", nil).Body)
	if answer := request("POST", "/api/clips", &body); answer.StatusCode != http.StatusCreated {
		text, _ := io.ReadAll(answer.Body)
		t.Fatalf("the upload is answered with %s: %s", answer.Status, text)
	}
	for {
		line, err := events.ReadString('\n')
		if err != nil {
			t.Fatal("waiting for the clip to be measured: ", err)
		}
		var queue struct {
			Jobs []struct{ State, Error string }
		}
		text, isData := strings.CutPrefix(line, "data: ")
		if !isData || json.Unmarshal([]byte(text), &queue) != nil || len(queue.Jobs) == 0 {
			continue
		}
		switch job := queue.Jobs[0]; job.State {
		case "done":
			return
		case "failed":
			t.Fatal("the clip was not measured: ", job.Error)
		}
	}
}

// findings is what lines of strace tell of a program.
type findings struct {
	server  bool     // loopback sockets are its own
	allowed []string // folders it may write to

	sent, written []string // calls that are against the rules
	bound         []string // what it listens at
	read          []string // files that it opened without writing
}

var (
	callPattern    = regexp.MustCompile(`^(?:\d+ +)?(\w+)\((.*)$`)
	addressPattern = regexp.MustCompile(`inet_addr\("([^"]*)"\)|inet_pton\(AF_INET6, "([^"]*)"`)
	pathPattern    = regexp.MustCompile(`(?:(?:AT_FDCWD|\d+)<([^>]*)>, )?"((?:[^"\\]|\\.)*)"`)
	writingFlags   = regexp.MustCompile(`O_WRONLY|O_RDWR|O_CREAT|O_TRUNC|O_APPEND`)
)

// look judges one line of strace, by what was asked for: a call that failed counts
// like one that succeeded.
func (f *findings) look(line string) {
	m := callPattern.FindStringSubmatch(line)
	if m == nil {
		return // the end of a call whose beginning was seen
	}
	switch name, args := m[1], m[2]; name {
	case "socket", "socketpair":
		internet := strings.HasPrefix(args, "AF_INET")
		if !strings.HasPrefix(args, "AF_UNIX") && !(internet && f.server) {
			f.sent = append(f.sent, line)
		}
	case "connect", "bind", "sendto", "sendmsg", "sendmmsg":
		if name == "bind" {
			f.bound = append(f.bound, args)
		}
		for _, a := range addressPattern.FindAllStringSubmatch(args, -1) {
			if ip := net.ParseIP(a[1] + a[2]); ip == nil || !ip.IsLoopback() {
				f.sent = append(f.sent, line)
				return
			}
		}
	case "open", "openat", "openat2":
		paths := f.paths(args)
		if !writingFlags.MatchString(args[strings.LastIndexByte(args, '"')+1:]) {
			f.read = append(f.read, paths...)
			return
		}
		f.judge(line, paths)
	case "creat", "mkdir", "mkdirat", "mknod", "mknodat", "rename", "renameat", "renameat2", "link", "linkat", "symlink",
		"symlinkat",
		"unlink", "unlinkat", "rmdir", "truncate", "chmod", "fchmodat", "chown", "lchown", "fchownat", "utime", "utimes",
		"utimensat",
		"futimesat", "setxattr", "lsetxattr":
		f.judge(line, f.paths(args))
	}
}

// paths returns the files that a call names; one that is relative to a folder which
// strace does not tell stays relative.
func (f *findings) paths(args string) []string {
	var paths []string
	for _, m := range pathPattern.FindAllStringSubmatch(args, -1) {
		path := m[2]
		if !filepath.IsAbs(path) {
			path = filepath.Join(m[1], path)
		}
		paths = append(paths, path)
	}
	return paths
}

func (f *findings) judge(line string, paths []string) {
	ours := func(path string) bool {
		// What lies in /proc is the kernel's, no file.
		return path == os.DevNull || strings.HasPrefix(filepath.Clean(path), "/proc/") ||
			slices.ContainsFunc(f.allowed, func(folder string) bool {
				return path == folder || strings.HasPrefix(filepath.Clean(path), folder+"/")
			})
	}
	if slices.ContainsFunc(paths, func(path string) bool { return !ours(path) }) {
		f.written = append(f.written, line)
	}
}

func TestFindings(t *testing.T) {
	const server, client = true, false
	for _, tt := range []struct {
		line          string
		server        bool
		sent, written bool
	}{
		{`7 socket(AF_UNIX, SOCK_STREAM, 0) = 3`, client, false, false},
		{`7 socket(AF_INET, SOCK_DGRAM|SOCK_CLOEXEC, IPPROTO_IP <unfinished ...>`, client, true, false},
		{`7 socket(AF_INET6, SOCK_STREAM, IPPROTO_TCP) = 3`, server, false, false},
		{`7 socket(AF_PACKET, SOCK_RAW, 768) = 3`, server, true, false},
		{`7 bind(3, {sa_family=AF_INET, sin_port=htons(0), sin_addr=inet_addr("127.0.0.1")}, 16) = 0`, server, false, false},
		{`7 bind(3, {sa_family=AF_INET, sin_port=htons(0), sin_addr=inet_addr("0.0.0.0")}, 16) = 0`, server, true, false},
		{`7 bind(3, {sa_family=AF_INET6, sin6_port=htons(0), inet_pton(AF_INET6, "::1", &sin6_addr), ` +
			`sin6_scope_id=0}, 28) = 0`, server, false, false},
		{`7 connect(3, {sa_family=AF_INET, sin_port=htons(53), sin_addr=inet_addr("192.0.2.1")}, 16 <unfinished ...>`, server,
			true, false},
		{`7 connect(3, {sa_family=AF_INET6, sin6_port=htons(443), inet_pton(AF_INET6, "2001:db8::1", &sin6_addr)}, 28) = -1`,
			server, true, false},
		{`7 sendto(3, "x", 1, 0, {sa_family=AF_INET, sin_port=htons(53), sin_addr=inet_addr("192.0.2.1")}, 16) = 1`, server,
			true, false},
		{`7 connect(3, {sa_family=AF_UNIX, sun_path="/run/nscd/socket"}, 110) = -1 ENOENT (No such file or directory)`,
			client, false, false},
		{`7 <... connect resumed>) = 0`, client, false, false},
		{`7 openat(AT_FDCWD</w>, "/etc/passwd", O_RDONLY|O_CLOEXEC) = 3</etc/passwd>`, client, false, false},
		{`7 openat(AT_FDCWD</w>, "/ours/a/b", O_RDWR|O_CREAT|O_TRUNC, 0666) = 3</ours/a/b>`, client, false, false},
		{`7 openat(AT_FDCWD</ours>, "b", O_RDWR|O_CREAT, 0666 <unfinished ...>`, client, false, false},
		{`7 openat(AT_FDCWD</w>, "b", O_RDWR|O_CREAT, 0666) = 3</w/b>`, client, false, true},
		{`7 openat(AT_FDCWD</w>, "/ours/../home/b", O_WRONLY|O_CREAT, 0666) = -1 EACCES (Permission denied)`, client, false,
			true},
		{`7 open("b", O_WRONLY|O_CREAT, 0666) = 3</w/b>`, client, false, true},
		{`7 openat(AT_FDCWD</w>, "/home/O_RDONLY\"", O_RDWR) = 3`, client, false, true},
		{`7 renameat(AT_FDCWD</w>, "/ours/a", AT_FDCWD</w>, "/home/a") = 0`, client, false, true},
		{`7 mkdir("/home/.cache", 0700) = 0`, client, false, true},
		{`7 unlinkat(5</ours/tmp>, "x", 0) = 0`, client, false, false},
		{`7 openat(AT_FDCWD</w>, "/dev/null", O_RDWR) = 3`, client, false, false},
		{`7 openat(AT_FDCWD</w>, "/proc/12/uid_map", O_RDWR) = 3</proc/12/uid_map>`, client, false, false},
		{`7 openat(AT_FDCWD</w>, "/proc/../home/b", O_RDWR) = 3</home/b>`, client, false, true},
	} {
		f := findings{server: tt.server, allowed: []string{"/ours"}}
		f.look(tt.line)
		if len(f.sent) > 0 != tt.sent || len(f.written) > 0 != tt.written {
			t.Errorf("%s: sent %v, written %v", tt.line, f.sent, f.written)
		}
	}
}
