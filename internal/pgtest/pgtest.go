// Package pgtest starts a PostgreSQL of the tests' own, in a temporary folder, that listens at a socket there alone.
package pgtest

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"holdfast/archive/rows"
)

// Server is a PostgreSQL that runs.
type Server struct {
	dir, programs string
	settings      []string

	mu    sync.Mutex
	cmd   *exec.Cmd
	stdin io.Closer // at its end the server ends
	said  *bytes.Buffer
}

var (
	one       sync.Mutex
	running   *Server
	databases atomic.Int32
)

// Stop ends the server of Database; a TestMain calls it when all tests have run.
func Stop() {
	one.Lock()
	defer one.Unlock()
	if running != nil {
		running.Kill()
		_ = os.RemoveAll(running.dir) // a temporary folder
	}
	running = nil
}

// Database returns the address of a new, empty database. All tests of a process share one server.
func Database(t testing.TB) (address string) {
	t.Helper()
	one.Lock()
	defer one.Unlock()
	if running == nil {
		s, err := newServer()
		if err != nil {
			t.Fatal(err)
		}
		running = s
	}
	return running.Database(t)
}

// New starts a server for one test, which ends with it. Settings are as fsync=on, which is off else.
func New(t testing.TB, settings ...string) *Server {
	t.Helper()
	s, err := newServer(settings...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		s.Kill()
		_ = os.RemoveAll(s.dir) // a temporary folder
	})
	return s
}

// Database makes an empty database.
func (s *Server) Database(t testing.TB) (address string) {
	t.Helper()
	name := fmt.Sprintf("holdfast_%d_%d", os.Getpid(), databases.Add(1))
	db, err := rows.OpenPostgres(s.address("postgres"))
	if err == nil {
		_, err = db.ExecContext(t.Context(), "CREATE DATABASE "+name+" TEMPLATE template0")
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
	return s.address(name)
}

func (s *Server) address(database string) string {
	return "postgres:///" + database + "?" + url.Values{"host": {s.dir}, "user": {"postgres"}}.Encode()
}

// folders are where Debian keeps the programs of PostgreSQL, beside those in the path.
const folders = "/usr/lib/postgresql/*/bin"

func newServer(settings ...string) (*Server, error) {
	programs := ""
	found, err := filepath.Glob(folders)
	if err != nil {
		return nil, err
	}
	if len(found) > 0 {
		programs = found[len(found)-1]
	} else if path, err := exec.LookPath("initdb"); err == nil {
		programs = filepath.Dir(path)
	} else {
		return nil, errors.New("PostgreSQL is not installed: scripts/setup --test does it")
	}
	// Not below the test's own folder: other users cannot look into that, and a socket's path has to be short.
	dir, err := os.MkdirTemp("", "holdfast-pg-")
	if err != nil {
		return nil, err
	}
	s := &Server{dir: dir, programs: programs, settings: settings}
	if err := s.initialise(); err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	return s, nil
}

func (s *Server) initialise() error {
	if err := own(s.dir); err != nil {
		return err
	}
	initdb := exec.Command(filepath.Join(s.programs, "initdb"), "-D", filepath.Join(s.dir, "data"), "-U", "postgres",
		"-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
	initdb.Dir = s.dir
	unprivileged(initdb)
	if out, err := initdb.CombinedOutput(); err != nil {
		return fmt.Errorf("making a database: %w: %s", err, out)
	}
	return s.Start()
}

// Start starts the server, and returns when it answers.
func (s *Server) Start() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	// The shell waits for the end of its input, which comes with that of the tests however they end.
	const script = `"$@" & server=$!; read -r _; kill -QUIT $server; wait $server`
	cmd := exec.Command("/bin/sh", "-c", script, "sh", filepath.Join(s.programs, "postgres"),
		"-D", filepath.Join(s.dir, "data"), "-k", s.dir, "-c", "listen_addresses=", "-c", "fsync=off",
		"-c", "max_connections=200", "-c", "shared_buffers=16MB")
	for _, setting := range s.settings {
		cmd.Args = append(cmd.Args, "-c", setting)
	}
	cmd.Dir = s.dir
	s.said = new(bytes.Buffer)
	cmd.Stdout, cmd.Stderr = s.said, s.said
	stdin, err := cmd.StdinPipe()
	if err != nil {
		return err
	}
	unprivileged(cmd)
	if err := cmd.Start(); err != nil {
		return err
	}
	s.cmd, s.stdin = cmd, stdin
	db, err := rows.OpenPostgres(s.address("postgres"))
	if err != nil {
		return err
	}
	defer db.Close()
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	if err := answers(ctx, db); err != nil {
		s.kill()
		return fmt.Errorf("the server does not start: %w: %s", err, s.said)
	}
	return nil
}

// answers asks until it is answered.
func answers(ctx context.Context, db *sql.DB) error {
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for {
		err := db.PingContext(ctx)
		if err == nil {
			return nil
		}
		select {
		case <-again.C:
		case <-ctx.Done():
			return err
		}
	}
}

// Kill ends the server at once, as a crash would: what was committed is there when it starts again.
func (s *Server) Kill() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.kill()
}

func (s *Server) kill() {
	if s.cmd == nil {
		return
	}
	_ = s.stdin.Close() // the shell ends the server
	_ = s.cmd.Wait()    // by a signal
	s.cmd = nil
}
