package farm

import (
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/rows"
	"holdfast/cmd/holdfast/place"
	"holdfast/desk"
	"holdfast/internal/filestest"
	"holdfast/internal/pgtest"
)

// killClips is how many clips TestWorkersKilled sends in: go test -run WorkersKilled -clips 200.
var killClips = flag.Int("clips", 40, "how many clips the workers measure that are killed")

// A test binary with a data folder in its environment is a worker, which has a program measure the clips; one with
// this argument measures a clip.
const (
	workerData      = "HOLDFAST_TEST_DATA"
	workerProgram   = "HOLDFAST_TEST_PROGRAM"
	workerSeparator = "\x1f"
	childArgument   = "measure-a-clip"
	shortLease      = 2 * time.Second
)

// worker is the command work, but that a clip's result is there in a moment; it ends with the test, however that ends.
func worker() int {
	go func() {
		_, _ = io.Copy(io.Discard, os.Stdin)
		os.Exit(2)
	}()
	err := Work(context.Background(), place.Options{Data: os.Getenv(workerData)}, WorkOptions{
		Log: slog.New(slog.DiscardHandler), Ready: func() {}, Lease: shortLease,
		Program: strings.Split(os.Getenv(workerProgram), workerSeparator),
	})
	fmt.Fprintln(os.Stderr, err)
	return 1
}

// processes are workers that are started again whenever they end.
type processes struct {
	t       testing.TB
	env     []string
	over    chan struct{}
	all     sync.WaitGroup
	started atomic.Int32

	mu   sync.Mutex
	runs []*exec.Cmd
}

func startWorkers(t testing.TB, n int, env ...string) *processes {
	p := &processes{t: t, env: append(os.Environ(), env...), over: make(chan struct{}), runs: make([]*exec.Cmd, n)}
	for i := range n {
		data := t.TempDir()
		p.all.Go(func() {
			for p.run(i, data) {
			}
		})
	}
	return p
}

// run runs the worker of a number until it ends, and says whether it is to be started again.
func (p *processes) run(i int, data string) (again bool) {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(p.env, workerData+"="+data)
	stdin, err := cmd.StdinPipe()
	p.mu.Lock()
	select {
	case <-p.over:
		p.mu.Unlock()
		return false
	default:
	}
	if err = errors.Join(err, cmd.Start()); err != nil {
		p.t.Error(err)
		p.mu.Unlock()
		return false
	}
	p.runs[i] = cmd
	p.mu.Unlock()
	p.started.Add(1)
	_ = cmd.Wait() // by a signal, or because the database is not there
	_ = stdin.Close()
	return true
}

// kill ends a worker as a power cut would.
func (p *processes) kill(i int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.runs[i] != nil {
		_ = p.runs[i].Process.Kill() // it may have ended
	}
}

func (p *processes) end() {
	p.mu.Lock()
	close(p.over)
	p.mu.Unlock()
	for i := range p.runs {
		p.kill(i)
	}
	p.all.Wait()
}

// cut ends the connections of a database that are in the middle of a transaction, and returns how many.
func cut(ctx context.Context, db *sql.DB) (n int) {
	_ = db.QueryRowContext(ctx, "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE "+
		"datname = current_database() AND pid <> pg_backend_pid() AND backend_type = 'client backend' AND "+
		"xact_start IS NOT NULL").Scan(&n) // the server may not be there just then
	return n
}

// tally is how many jobs are in which state.
func tally(ctx context.Context, db *sql.DB) (states map[string]int, err error) {
	states = map[string]int{}
	_, err = rows.List(ctx, db, func(s rows.Scanner) (x int, err error) {
		var state string
		err = s.Scan(&state, &x)
		states[state] = x
		return x, err
	}, "SELECT state, count(*) FROM jobs GROUP BY state")
	return states, err
}

// Two workers measure the clips of one database and one store, of which one call in ten fails, while they are killed
// and started again, the database server is, and connections are cut in the middle of transactions. Every clip has one
// result, and the archive is whole.
func TestWorkersKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("starts and kills programs")
	}
	ctx, clips, workers := t.Context(), *killClips, 2
	server := pgtest.New(t)
	var calls, failed atomic.Int32
	address := server.Database(t)
	t.Setenv("HOLDFAST_DATABASE", address)
	t.Setenv("HOLDFAST_STORE", filestest.Server(t, counting(&calls, &failed, 10)))
	t.Setenv("HOLDFAST_STORE_KEY", filestest.Keys.ID)
	t.Setenv("HOLDFAST_STORE_SECRET", filestest.Keys.Secret)
	in := place.Options{Data: t.TempDir()}
	serving := archive.Options{Serving: true}
	arc, err := in.Open(ctx, in.Data, serving)
	if err == nil {
		err = arc.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]string{}
	for i := range clips {
		names[fmt.Sprintf("Sam/2026-05-02/slow_%d.mp4", i)] = fmt.Sprint("clip ", i)
	}
	sent, known, err := Submit(ctx, in, write(t, names), "", func(int, int) {})
	if sent != clips || known != 0 || err != nil {
		t.Fatal(sent, known, err)
	}
	db, err := rows.OpenPostgres(address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	p := startWorkers(t, workers, workerProgram+"="+os.Args[0]+workerSeparator+childArgument)
	defer func() {
		if p != nil {
			p.end()
		}
	}()
	kills, cuts, restarts := faults(t, db, server, p, clips)
	p.end()
	started := p.started.Load()
	p = nil
	again := measuredOnce(t, in, clips)
	t.Logf("%d clips, each with one result; %d workers killed (of %d started), %d restarts of the database, "+
		"%d connections cut in a transaction, %d of %d calls of the store failed; %d clips were measured a second time "+
		"because a worker was killed at the end of the first", clips, kills, started, restarts, cuts, failed.Load(),
		calls.Load(), again)
	if kills < 2 || cuts == 0 || restarts == 0 || failed.Load() == 0 {
		t.Error("too little went wrong")
	}
}

// counting counts calls of a server, and lets one in so many fail, before or after it did what was asked; 0: none.
func counting(calls, failed *atomic.Int32, oneIn int) func(http.Handler) http.Handler {
	return func(weak http.Handler) http.Handler {
		if oneIn > 0 {
			weak = filestest.Refusing(oneIn)(weak)
		}
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			calls.Add(1)
			weak.ServeHTTP(&noting{w, failed}, r)
		})
	}
}

// noting counts answers that the server is too busy.
type noting struct {
	http.ResponseWriter
	failed *atomic.Int32
}

func (n *noting) WriteHeader(code int) {
	if code == http.StatusServiceUnavailable {
		n.failed.Add(1)
	}
	n.ResponseWriter.WriteHeader(code)
}

// faults lets things go wrong until all jobs are done: every worker is killed, connections are cut, and the database
// server is killed and started once in the middle.
func faults(t *testing.T, db *sql.DB, server *pgtest.Server, p *processes, clips int) (kills, cuts, restarts int) {
	ctx, chance := t.Context(), rand.New(rand.NewPCG(7, 7))
	look := time.NewTicker(20 * time.Millisecond)
	defer look.Stop()
	done, nextKill, nextCut := 0, clips/8, clips/10
	for done < clips {
		<-look.C
		states, err := tally(ctx, db)
		if err != nil {
			continue // its own connection was cut, or the server's end closed it
		}
		if states["failed"]+states["cancelled"] > 0 {
			t.Fatalf("jobs are %v", states)
		}
		done = states["done"]
		if done >= clips/2 && restarts == 0 {
			restarts++
			server.Kill()
			if err := server.Start(); err != nil {
				t.Fatal(err)
			}
		}
		if done >= nextKill && done < clips {
			nextKill += clips/8 + chance.IntN(clips/8)
			p.kill(kills % len(p.runs))
			kills++
		}
		if done >= nextCut {
			if n := cut(ctx, db); n > 0 {
				cuts += n
				nextCut += clips / 10
			}
		}
	}
	return kills, cuts, restarts
}

// measuredOnce looks at every clip and file, and returns how many clips were measured a second time.
func measuredOnce(t *testing.T, in place.Options, clips int) (again int) {
	// A quarter of an hour later nobody is at what was on its way when a worker was killed.
	later := archive.Options{Serving: true, Now: func() time.Time { return time.Now().Add(time.Hour) }}
	arc, err := in.Open(t.Context(), in.Data, later)
	if err != nil {
		t.Fatal(err)
	}
	defer arc.Close()
	athletes, err := arc.Athletes(t.Context())
	if err != nil || len(athletes) != 1 {
		t.Fatal(athletes, err)
	}
	all, err := arc.ClipsOf(t.Context(), athletes[0].ID)
	if err != nil || len(all) != clips {
		t.Errorf("%d clips, %v, want %d", len(all), err, clips)
	}
	for _, c := range all {
		if c.Result == nil || desk.FileOf(c.Result.Files, desk.AnalysisFile).SHA256 == "" || len(c.Result.Files) != 5 {
			t.Errorf("the clip %s has the result %+v", c.Name, c.Result)
		} else if c.Result.Revision > 1 {
			again++
		}
	}
	jobs, err := arc.Jobs(t.Context(), -1)
	if err != nil || len(jobs) != clips {
		t.Errorf("%d jobs, %v", len(jobs), err)
	}
	rep, err := arc.Check(t.Context())
	if err != nil || len(rep.Problems)+len(rep.Notes) > 0 {
		t.Errorf("the check says %q %q, %v", rep.Problems, rep.Notes, err)
	}
	return again
}
