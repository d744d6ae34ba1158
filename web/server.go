package web

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	"holdfast/archive"
	"holdfast/screening"
)

// Options say how a server runs. Archive and WorkDir are needed, everything else
// has a default.
type Options struct {
	Archive *archive.Archive
	// WorkDir is a folder on the archive's own file system for what is being computed;
	// what a killed server left there is removed.
	WorkDir string
	Log     *slog.Logger
	// Address is where the server listens: the page answers to no other name.
	Address net.Addr
	// Password is asked for when it is not empty. It must not be empty when Address
	// can be reached from other computers.
	Password string
	// Program is the program that works on a clip and its arguments, Env what is
	// added to its environment; nil: this program's own hidden subcommand work.
	Program []string
	Env     []string
	// Model is the network that finds the body; empty: the best one.
	Model  string
	Limits Limits
	Now    func() time.Time
}

// Limits bound what the server takes on. A zero stands for the default.
type Limits struct {
	ClipBytes int64 // of one clip; default 2 GB
	Uploads   int   // written at one time; default 4
	Incoming  int   // uploads that come in at one time; default 256
	Partial   int   // unfinished resumable uploads; default 32
	Queue     int   // jobs that wait; default 100
	// ClipMinutes is how long a clip may last; default screening.DefaultMaxMinutes.
	ClipMinutes float64
	FramePx     int   // pixels of one frame; default 50 million
	WorkMemory  int64 // bytes that a job may hold; default 4 GB
	// WorkTime is how long a job may take before its clip's length is known; the
	// clip's frames add to it.
	WorkTime     time.Duration
	WorkPerFrame time.Duration
	Listeners    int // pages that follow the queue; default 64
}

func (l Limits) withDefaults() Limits {
	if l.ClipBytes == 0 {
		l.ClipBytes = 2e9
	}
	if l.Uploads == 0 {
		l.Uploads = 4
	}
	if l.Incoming == 0 {
		l.Incoming = 256
	}
	if l.Partial == 0 {
		l.Partial = 32
	}
	if l.Queue == 0 {
		l.Queue = 100
	}
	if l.ClipMinutes == 0 {
		l.ClipMinutes = screening.DefaultMaxMinutes
	}
	if l.FramePx == 0 {
		l.FramePx = 50_000_000
	}
	if l.WorkMemory == 0 {
		l.WorkMemory = 4e9
	}
	if l.WorkTime == 0 {
		l.WorkTime = 5 * time.Minute
	}
	if l.WorkPerFrame == 0 {
		l.WorkPerFrame = 500 * time.Millisecond
	}
	if l.Listeners == 0 {
		l.Listeners = 64
	}
	return l
}

// Server is the page and its API over one archive.
type Server struct {
	archive *archive.Archive
	log     *slog.Logger
	opt     Options
	limits  Limits
	now     func() time.Time
	// bodyTime is how long a body of JSON may take, and a pause in an upload.
	bodyTime time.Duration

	gate    *gate
	events  *broadcaster
	queue   *queue
	intake  *intake
	desk    *desk
	handler http.Handler

	// errorPage shows an error to a person; set by pages, nil: plain JSON.
	errorPage func(w http.ResponseWriter, r *http.Request, status int, text, hint string)
}

// PasswordVariable is the environment variable that may hold the password of the page.
// No child process is given it.
const PasswordVariable = "HOLDFAST_PASSWORD"

// NewServer returns a server for an open archive, which stays the caller's to close
// after Serve has returned. The error says which option is missing or wrong.
func NewServer(opt Options) (*Server, error) {
	if opt.Archive == nil || opt.WorkDir == "" {
		return nil, errors.New("starting the page: an archive and a folder to work in are needed")
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Program == nil {
		exe, err := os.Executable()
		if err != nil {
			return nil, fmt.Errorf("finding the program itself: %w", err)
		}
		opt.Program = []string{exe, "work"}
	}
	s := &Server{archive: opt.Archive, log: opt.Log, opt: opt, limits: opt.Limits.withDefaults(), now: opt.Now, bodyTime: bodyTime}
	var err error
	if s.gate, err = newGate(opt.Address, opt.Password, opt.Now); err != nil {
		return nil, fmt.Errorf("starting the page: %w", err)
	}
	if err := emptyFolder(opt.WorkDir); err != nil {
		return nil, fmt.Errorf("preparing the folder to work in: %w", err)
	}
	s.events = newBroadcaster(s.limits.Listeners)
	if s.intake, err = newIntake(s, filepath.Join(opt.Archive.Dir(), archive.UploadsFolder)); err != nil {
		return nil, fmt.Errorf("looking for unfinished uploads: %w", err)
	}
	s.desk = newDesk(s)
	s.queue = newQueue(s)
	mux := http.NewServeMux()
	s.api(mux)
	mux.HandleFunc("POST /api/clips/{id}/measure", s.handleMeasure)
	s.pages(mux)
	s.handler = s.protect(mux)
	return s, nil
}

// emptyFolder makes a folder and removes what an earlier server left in it.
func emptyFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if err := os.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
			return err
		}
	}
	return nil
}

// Handler is the page and the API with all checks, for tests and for Serve. The
// queue works only while Serve runs.
func (s *Server) Handler() http.Handler { return s.handler }

const (
	headerTime   = 10 * time.Second
	idleTime     = 2 * time.Minute
	bodyTime     = time.Minute      // for a body of JSON, and for a pause in an upload
	answerTime   = 30 * time.Minute // for a large file over a slow network
	farewellTime = 5 * time.Second  // for requests under way when the server stops
)

// Serve answers requests and works through the queue until the context ends; then
// it lets short requests finish, stops the job under way (it waits for the next
// start), and returns nil.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	n, err := s.archive.RequeueRunning(ctx)
	if ctx.Err() != nil {
		return nil
	}
	if err != nil {
		return fmt.Errorf("putting interrupted jobs back into the queue: %w", err)
	}
	if n > 0 {
		s.log.Info("interrupted jobs wait again", "jobs", n)
	}
	n, err = s.queue.adopt(ctx)
	if ctx.Err() != nil {
		return nil
	}
	if err != nil {
		return fmt.Errorf("queueing clips that were never measured: %w", err)
	}
	if n > 0 {
		s.log.Info("clips without a job wait now", "clips", n)
	}
	h := &http.Server{
		Handler: s.handler, ReadHeaderTimeout: headerTime, IdleTimeout: idleTime, MaxHeaderBytes: 32 << 10,
		ErrorLog: slog.NewLogLogger(quietHandler{s.log.Handler()}, slog.LevelDebug),
		// Every request ends with the server, the endless ones too.
		BaseContext: func(net.Listener) context.Context { return ctx },
	}
	working := make(chan struct{})
	go func() {
		defer close(working)
		s.queue.run(ctx)
	}()
	sweeping := make(chan struct{})
	go func() {
		defer close(sweeping)
		s.intake.sweep(ctx)
	}()
	ended := make(chan error, 1)
	go func() { ended <- h.Serve(l) }()
	select {
	case err = <-ended:
		cancel()
	case <-ctx.Done():
		farewell, done := context.WithTimeout(context.WithoutCancel(ctx), farewellTime)
		defer done()
		if h.Shutdown(farewell) != nil {
			_ = h.Close() // what would not end by itself
		}
		err = <-ended
	}
	<-working
	<-sweeping
	s.desk.close()
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return fmt.Errorf("serving the page: %w", err)
}

// quietHandler hides net/http's own messages, which name addresses, from all
// but the debug level.
type quietHandler struct{ slog.Handler }

// guardPanics answers a request whose handler panicked; the server goes on.
func (s *Server) guardPanics(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			v := recover()
			if v == nil {
				return
			}
			if v == http.ErrAbortHandler {
				panic(v) // net/http's own way to break off an answer
			}
			s.log.Error("a handler panicked", "route", r.Pattern, "stack", string(debug.Stack()))
			s.fail(w, r, fmt.Errorf("panic: %v", v))
		}()
		next.ServeHTTP(w, r)
	})
}
