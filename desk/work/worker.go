package work

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"holdfast/desk/refusal"
	"holdfast/movements"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/words"
)

// ErrEnded: the child process did not come to an end of its work, but crashed or went
// beyond a limit. It lies beneath a refusal.
var ErrEnded = errors.New("the process ended before its work was done")

const (
	// watchTime is how often the memory of a child and its children is looked at.
	watchTime = 500 * time.Millisecond
	// maxLineBytes bounds a line of a child, keptStderr what is kept of its errors.
	maxLineBytes = 64 << 10
	keptStderr   = 4 << 10
	// workCPUS is the processor time that each process of a job may use: the limit
	// of the kernel, for one that nobody watches any more.
	workCPUS = 8 * 3600
	// workFileBytes bounds a file that a job writes.
	workFileBytes = 8 << 30
)

// Worker starts child processes. Decoders of video have been broken into by
// hostile files before, and crash on damaged ones: they, and all that handles their
// pictures, run in a process of their own with limits on memory and time and, where
// the system lets an ordinary user do that, without a network.
type Worker struct {
	// Program is the program that does an order and its arguments, Env what is added to
	// its environment.
	Program []string
	Env     []string
	Limits  Limits
	Log     *slog.Logger
}

// Limits bound what a job may take.
type Limits struct {
	ClipMinutes float64 // how long a clip may last
	FramePx     int     // pixels of one frame
	MemoryBytes int64   // that a job may hold
	// Time is how long a job may take before its clip's length is known; the clip's
	// frames add PerFrame each.
	Time     time.Duration
	PerFrame time.Duration
}

// PasswordVariable is the environment variable that may hold the password of the page.
// No child process is given it.
const PasswordVariable = "HOLDFAST_PASSWORD"

// StoreSecretVariable is the environment variable that may hold the password of the files' server.
const StoreSecretVariable = "HOLDFAST_STORE_SECRET"

// DatabaseVariable is the environment variable that may hold the database's address, with a password in it.
const DatabaseVariable = "HOLDFAST_DATABASE"

// withheld are the variables that a child is not told.
var withheld = []string{PasswordVariable, StoreSecretVariable, DatabaseVariable}

// Run does one order in a child process, and calls tell for what it says. It
// returns when the process and all its children are gone: nil when the work is
// done, a *refusal.Error when it is not, tell's error, or the context's.
func (k *Worker) Run(ctx context.Context, order Order, tell func(Line) error) error {
	order.Watched, order.Confined, order.Movements = true, true, movements.Known().Own()
	order.Limits = orderLimits{
		ClipMinutes: k.Limits.ClipMinutes, FramePx: k.Limits.FramePx,
		DataBytes: k.Limits.MemoryBytes, FileBytes: workFileBytes, CPUS: workCPUS,
	}
	// The kernel tells the child of the death of the thread that started it, not of
	// the process: so the thread has to stay.
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	c, err := k.start(order)
	if err != nil {
		return &refusal.Error{Code: "work_not_started", Err: err}
	}
	defer c.end()
	deadline := time.NewTimer(k.Limits.Time)
	defer deadline.Stop()
	watch := time.NewTicker(watchTime)
	defer watch.Stop()
	var stopped, failed error
	done := false
	stop := func(why error) {
		if stopped == nil {
			stopped = why
			c.kill()
		}
	}
	lines := c.lines
	for lines != nil || c.exited != nil {
		select {
		case line, ok := <-lines:
			if !ok {
				lines = nil
				continue
			}
			switch line.Event {
			case EventClip:
				deadline.Reset(k.Limits.Time + time.Duration(min(line.Frames,
					screening.MostFrames(k.Limits.ClipMinutes)))*k.Limits.PerFrame)
			case EventFailed:
				failed = &refusal.Error{Kind: refusal.NotMeasurable, Text: printable.Line(line.Error),
					Hint: printable.Line(line.Hint), Reason: line.Reason}
			case EventDone:
				done = true
			default:
				if stopped == nil {
					if err := tell(line); err != nil {
						stop(err)
					}
				}
			}
		case err := <-c.exited:
			c.exited = nil
			c.state = err
		case <-ctx.Done():
			stop(ctx.Err())
			ctx = context.WithoutCancel(ctx)
		case <-deadline.C:
			stop(ended("work_too_long", nil, ErrEnded))
		case <-watch.C:
			if used := groupMemory(c.pid()); used > k.Limits.MemoryBytes {
				stop(ended("work_too_large", words.Params{"size": refusal.Size(k.Limits.MemoryBytes)}, ErrEnded))
			}
		}
	}
	return k.outcome(c, done, stopped, failed)
}

// outcome says how the work of a child went that is gone: done is what it said itself,
// stopped why it was ended, failed what it said was in the way.
func (k *Worker) outcome(c *child, done bool, stopped, failed error) error {
	switch {
	case stopped != nil:
		return stopped
	case failed != nil:
		return failed
	case c.state == nil && done:
		return nil
	}
	k.Log.Debug("a child process ended before its work was done", "state", c.state, "said", c.said.String())
	err := c.state
	if err == nil {
		err = errors.New("it ended without a word")
	}
	return ended("work_ended", nil, fmt.Errorf("%w: %w", ErrEnded, err))
}

func ended(code string, params words.Params, err error) error {
	return &refusal.Error{Kind: refusal.NotMeasurable, Code: code, Params: params, Err: err}
}

// child is a process at work.
type child struct {
	cmd    *exec.Cmd
	stdin  io.Closer
	lines  chan Line
	exited chan error
	state  error // how it exited
	said   *tail

	mu   sync.Mutex
	gone bool // its number may be another process's by now
}

func (c *child) pid() int { return c.cmd.Process.Pid }

// kill ends the process and all of its group.
func (c *child) kill() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.gone {
		_ = syscall.Kill(-c.pid(), syscall.SIGKILL)
	}
}

// wait waits until the process has ended, ends what it has started and left
// behind, and returns how it ended.
func (c *child) wait() error {
	// While the process is not waited for, its number and its group's stay its own.
	awaitExit(c.pid())
	c.kill()
	c.mu.Lock()
	c.gone = true
	c.mu.Unlock()
	return c.cmd.Wait()
}

func (c *child) end() { _ = c.stdin.Close() }

// start starts the program with the order on its standard input.
func (k *Worker) start(order Order) (*child, error) {
	text, err := json.Marshal(order)
	if err != nil {
		return nil, fmt.Errorf("writing the order: %w", err)
	}
	for _, attr := range attributes() {
		var c *child
		if c, err = k.startWith(attr, append(text, '\n'), order.Dir); err == nil {
			return c, nil
		}
	}
	return nil, err
}

func (k *Worker) startWith(attr *syscall.SysProcAttr, order []byte, dir string) (*child, error) {
	c := &child{said: &tail{}, lines: make(chan Line), exited: make(chan error, 1)}
	c.cmd = exec.Command(k.Program[0], k.Program[1:]...)
	c.cmd.Env = append(environment(), "TMPDIR="+dir)
	c.cmd.Env = append(c.cmd.Env, k.Env...)
	c.cmd.Dir = dir
	c.cmd.SysProcAttr = attr
	c.cmd.Stderr = c.said
	c.cmd.WaitDelay = time.Second
	stdin, err := c.cmd.StdinPipe()
	if err != nil {
		return nil, fmt.Errorf("opening a pipe: %w", err)
	}
	c.stdin = stdin
	out, in, err := os.Pipe()
	if err != nil {
		return nil, errors.Join(fmt.Errorf("opening a pipe: %w", err), stdin.Close())
	}
	c.cmd.Stdout = in
	if err := c.cmd.Start(); err != nil {
		return nil, errors.Join(fmt.Errorf("starting the program: %w", err), out.Close(), in.Close(), stdin.Close())
	}
	_ = in.Close() // the child has it
	go func() {
		// An order is longer than a pipe holds only for a child that does not read.
		_, _ = stdin.Write(order)
	}()
	go func() {
		defer close(c.lines)
		defer out.Close()
		read := bufio.NewScanner(out)
		read.Buffer(make([]byte, 0, 4096), maxLineBytes)
		for read.Scan() {
			var line Line
			if json.Unmarshal(read.Bytes(), &line) == nil {
				c.lines <- line // Run reads until it is closed
			}
		}
		// A line that is too long ends the reading; then the child must not wait for a reader.
		_, _ = io.Copy(io.Discard, out)
	}()
	go func() { c.exited <- c.wait() }()
	return c, nil
}

// environment is this process's own without the password, which is nothing for a
// process that reads hostile files.
func environment() []string {
	return slices.DeleteFunc(os.Environ(), func(v string) bool {
		name, _, _ := strings.Cut(v, "=")
		return slices.Contains(withheld, name)
	})
}

// tail keeps the end of what is written to it.
type tail struct {
	mu   sync.Mutex
	text []byte
}

func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.text = append(t.text, p...)
	if n := len(t.text) - keptStderr; n > 0 {
		t.text = append(t.text[:0], t.text[n:]...)
	}
	return len(p), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(t.text)
}
