package web

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"path/filepath"
	"runtime/debug"
	"time"

	"holdfast/archive"
	"holdfast/archive/halfsent"
	"holdfast/desk"
	"holdfast/desk/upload"
	"holdfast/web/gate"
	"holdfast/web/joblist"
	"holdfast/web/news"
	"holdfast/web/noted"
	"holdfast/web/pages"
	"holdfast/web/vitals"
)

// Options say how a server runs. Those of the desk that are needed are needed here too.
type Options struct {
	Desk desk.Options
	// Address is where the server listens: the page answers to no other name.
	Address net.Addr
	// Password is asked for when it is not empty. It must not be empty when Address
	// can be reached from other computers, unless users log in by name.
	Password string
	// Named lets the archive's users log in, each by name and password, and see what is theirs.
	Named bool
	// Public is the address at which a proxy shows the page, or the page itself by a certificate of its own; https
	// alone. Empty: others know it by this computer's address.
	Public         string
	OwnCertificate bool
	// Fingerprint is that of the certificate by which other devices reach the page; empty: nothing is encrypted.
	Fingerprint string
	Limits      Limits
}

// Limits bound what the server takes on beside the desk. A zero stands for the default.
type Limits struct {
	Uploads   int // written at one time; default 4
	Incoming  int // uploads that come in at one time; default 256
	Partial   int // unfinished resumable uploads; default 32
	Listeners int // pages that follow the queue; default 64
}

func (l Limits) withDefaults() Limits {
	return Limits{
		Uploads: cmp.Or(l.Uploads, 4), Incoming: cmp.Or(l.Incoming, 256), Partial: cmp.Or(l.Partial, 32),
		Listeners: cmp.Or(l.Listeners, 64),
	}
}

// Server is the page and its API over one archive.
type Server struct {
	archive *archive.Archive
	desk    *desk.Desk
	pages   *pages.Maker
	jobs    *joblist.Maker
	// Vitals tell machines how the program is.
	Vitals *vitals.Vitals
	log    *slog.Logger
	limits Limits
	now    func() time.Time
	// bodyTime is how long a body of JSON may take, and a pause in an upload.
	bodyTime time.Duration

	gate      *gate.Gate
	book      *noted.Book
	events    *news.Broadcaster
	encrypted bool // other devices can be sent to https
	// fingerprint is that of the certificate that the page made for itself; empty: it did not.
	fingerprint string
	intake      *upload.Intake
	handler     http.Handler
}

// NewServer returns a server for an open archive, which stays the caller's to close
// after Serve has returned. The error says which option is missing or wrong.
func NewServer(opt Options) (*Server, error) {
	l := opt.Limits.withDefaults()
	s := &Server{
		archive: opt.Desk.Archive, log: opt.Desk.Log, limits: l, now: opt.Desk.Now, bodyTime: bodyTime,
		events: news.NewBroadcaster(l.Listeners),
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.now == nil {
		s.now = time.Now
	}
	opt.Desk.JobsChanged, opt.Desk.ClipChanged = s.events.JobsChanged, s.events.ClipChanged
	var err error
	door := gate.Options{Addr: opt.Address, Password: opt.Password, Public: opt.Public, Direct: opt.OwnCertificate,
		Now: s.now}
	if opt.Named {
		door.Users = s.archive.Users()
	}
	s.book = &noted.Book{Archive: s.archive, Log: s.log, Now: s.now}
	if s.gate, err = gate.New(door); err != nil {
		return nil, fmt.Errorf("starting the page: %w", err)
	}
	if s.desk, err = desk.New(opt.Desk); err != nil {
		return nil, fmt.Errorf("starting the page: %w", err)
	}
	s.encrypted, s.fingerprint = opt.Fingerprint != "" || opt.OwnCertificate, opt.Fingerprint
	s.gate.Encrypted = s.encrypted
	s.pages = &pages.Maker{Archive: s.archive, Desk: s.desk}
	s.jobs = &joblist.Maker{Archive: s.archive, Desk: s.desk}
	s.Vitals = &vitals.Vitals{Archive: s.archive, Meter: s.desk.Queue.Meter, Log: s.log, Now: s.now}
	s.intake, err = upload.New(upload.Options{
		Desk: s.desk, Dir: filepath.Join(s.archive.Dir(), halfsent.Folder), Now: s.now, Pause: bodyTime,
		Writing: l.Uploads, Incoming: l.Incoming, Partial: l.Partial,
	})
	if err != nil {
		return nil, fmt.Errorf("looking for unfinished uploads: %w", err)
	}
	s.handler = s.protect(s.mux())
	return s, nil
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
	err := s.desk.Resume(ctx)
	if ctx.Err() != nil {
		return nil
	}
	if err != nil {
		return err
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
		s.desk.Run(ctx)
	}()
	sweeping := make(chan struct{})
	go func() {
		defer close(sweeping)
		s.intake.Sweep(ctx)
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
