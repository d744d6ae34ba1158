package farm

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"text/tabwriter"
	"time"

	"holdfast/archive"
	"holdfast/archive/rows"
	"holdfast/cmd/holdfast/place"
	"holdfast/desk"
	"holdfast/desk/work"
	"holdfast/internal/filestest"
	"holdfast/internal/pgtest"
)

// What scripts/bench large says of this computer.
var (
	largeClips   = flag.Int("large", 1000, "how many clips BenchmarkLarge sends through, their results recorded")
	realClips    = flag.Int("real", 2, "how many it measures")
	largeProgram = flag.String("program", "", "the program that measures them; its results are recorded")
	largeFile    = flag.String("keep", "", "where the table is written to")
)

// recordedScript stands for the program that measures a clip: it hands over a recorded result, made another's by a line
// at the end of each file, after so many seconds that this computer has nothing to do with, and says how long it took.
const recordedScript = `begun=${EPOCHREALTIME/./}; read -r _; cp -r "$0/." .
for f in result/* result/frames/* *.*; do if [ -f "$f" ]; then echo "$PWD" >>"$f"; fi; done
if [ "$1" != 0 ]; then sleep "$1"; fi
echo $((${EPOCHREALTIME/./} - begun)) >>"$2"
echo '{"event":"made","name":"result"}'; echo '{"event":"made","name":"web.mp4"}'; echo '{"event":"done"}'`

// large is what the benchmark measures with.
type large struct {
	*testing.B
	server *pgtest.Server
	short  string // a clip of four seconds
	result string // what was measured of it
	out    io.Writer
}

// ran is what one run says, for a clip each.
type ran struct {
	clips             int
	wall              time.Duration // of all
	analysis          time.Duration // of it, what stands for the analyses, of all
	statements, syncs float64
	calls             float64
	sending           time.Duration // of all
}

func (r ran) ms() float64 { return r.wall.Seconds() * 1000 / float64(r.clips) }

// BenchmarkLarge sends clips through one, two and four workers of one database and one store, and through a folder.
// It is run by scripts/bench large.
func BenchmarkLarge(b *testing.B) {
	if *largeProgram == "" {
		b.Skip("scripts/bench large runs it")
	}
	var table bytes.Buffer
	l := &large{B: b, result: b.TempDir(), short: filepath.Join(b.TempDir(), "short.mp4"),
		out: io.MultiWriter(os.Stdout, &table), server: pgtest.New(b, "fsync=on",
			"shared_preload_libraries=pg_stat_statements", "shared_buffers=128MB")}
	cut := []string{"-v", "error", "-ss", "2", "-t", "4", "-i", "../../../testdata/clips/fast.mp4",
		"-vf", "scale=640:-2", "-an", l.short}
	if said, err := exec.CommandContext(b.Context(), "ffmpeg", cut...).CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, said)
	}
	load, _ := os.ReadFile("/proc/loadavg")
	fmt.Fprintf(l.out, "Clips through many workers; %s/%s, %d cores, which workers, database server (with fsync) and\n"+
		"store share with whatever else runs: load before %s. Overhead: milliseconds a clip and worker\n"+
		"beyond the analysis alone; statements, syncs of the database and calls of the store a clip.\n",
		runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), strings.Join(strings.Fields(string(load))[:3], ", "))
	l.measured()
	l.recorded(0)
	l.recorded(1)
	if *largeFile != "" {
		if err := os.WriteFile(*largeFile, table.Bytes(), 0o644); err != nil {
			b.Fatal(err)
		}
	}
}

// alone does the work on a clip so many times with no archive about it, and returns what one takes.
func (l *large) alone(program []string, times int, keep string) time.Duration {
	k := &work.Worker{Program: program, Log: slog.New(slog.DiscardHandler), Limits: work.Limits{ClipMinutes: 5,
		FramePx: 50_000_000, MemoryBytes: 4e9, Time: time.Hour, PerFrame: time.Second}}
	var took []time.Duration
	for range times {
		dir := keep
		if dir == "" {
			dir = l.TempDir()
		}
		begun := time.Now()
		err := k.Run(l.Context(), work.Order{Kind: work.KindAnalyze, Dir: dir, Athlete: "Sam",
			Clips: []work.Clip{{Path: l.short, Name: "fast.mp4"}}}, func(work.Line) error { return nil })
		took = append(took, time.Since(begun))
		if err != nil {
			l.Fatal(err)
		}
	}
	slices.Sort(took)
	return took[len(took)/2]
}

// measured measures clips by the network.
func (l *large) measured() {
	program := []string{*largeProgram, "child"}
	before := l.alone(program, 1, l.result)
	embedded := l.folder(*realClips, program)
	one, two := l.shared(*realClips, 1, program), l.shared(*realClips, 2, program)
	after := l.alone(program, 3, "")
	files, size := 0, int64(0)
	err := filepath.Walk(l.result, func(_ string, info os.FileInfo, err error) error {
		if err == nil && !info.IsDir() {
			files, size = files+1, size+info.Size()
		}
		return err
	})
	clip, also := os.Stat(l.short)
	if err != nil || also != nil {
		l.Fatal(err, also)
	}
	fmt.Fprintf(l.out, "\nMeasured by the network: a clip of four seconds, 640 pixels wide, %d kB, whose result is %d "+
		"files of %d kB;\n%d clips each, seconds a clip\n\n", clip.Size()/1000, files, size/1000, *realClips)
	t := tabwriter.NewWriter(l.out, 0, 0, 3, ' ', tabwriter.AlignRight)
	fmt.Fprintf(t, "the analysis alone, before and after\t%.2f, %.2f\t\n", before.Seconds(), after.Seconds())
	for _, r := range []struct {
		name string
		ran
	}{{"embedded, a folder", embedded}, {"one worker", one}, {"two workers on the same two cores", two}} {
		fmt.Fprintf(t, "%s\t%.2f\t\n", r.name, r.ms()/1000)
	}
	if err := t.Flush(); err != nil {
		l.Fatal(err)
	}
}

// recorded hands over recorded results, each after so many seconds.
func (l *large) recorded(seconds int) {
	clips := *largeClips
	if seconds > 0 {
		clips /= 25
	}
	log := filepath.Join(l.TempDir(), "took")
	program := []string{"/bin/bash", "-c", recordedScript, l.result, fmt.Sprint(seconds), log}
	embedded := l.folder(clips, program)
	embedded.analysis = l.took(log)
	var workers []ran
	for _, n := range []int{1, 2, 4} {
		r := l.shared(clips*min(n, 1+seconds*3), n, program)
		r.analysis = l.took(log)
		workers = append(workers, r)
	}
	if seconds == 0 {
		fmt.Fprintf(l.out, "\nRecorded results: %d clips; handing one over counts as the analysis\n\n", clips)
	} else {
		fmt.Fprintf(l.out, "\nRecorded results, each after %d s that takes nothing of this computer: %d clips a worker\n\n",
			seconds, clips)
	}
	t := tabwriter.NewWriter(l.out, 0, 0, 3, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "workers\tclips a second\ttimes one worker\toverhead, ms\tstatements\tsyncs\tstore calls\t"+
		"sending in, ms\t")
	over := func(r ran, n int) float64 {
		return (r.wall.Seconds()*float64(n) - r.analysis.Seconds()) * 1000 / float64(r.clips)
	}
	fmt.Fprintf(t, "embedded\t%.1f\t\t%.0f\t\t\t\t%.0f\t\n", 1000/embedded.ms(), over(embedded, 1),
		embedded.sending.Seconds()*1000/float64(embedded.clips))
	for i, n := range []int{1, 2, 4} {
		r := workers[i]
		fmt.Fprintf(t, "%d\t%.1f\t%.2f\t%.0f\t%.0f\t%.1f\t%.0f\t%.0f\t\n", n, 1000/r.ms(), workers[0].ms()/r.ms(), over(r, n),
			r.statements, r.syncs, r.calls, r.sending.Seconds()*1000/float64(r.clips))
	}
	if err := t.Flush(); err != nil {
		l.Fatal(err)
	}
}

// took returns what all that stood for analyses took, by their log, which it empties.
func (l *large) took(log string) (all time.Duration) {
	text, err := os.ReadFile(log)
	if err == nil {
		err = os.Remove(log)
	}
	for line := range strings.FieldsSeq(string(text)) {
		n, also := strconv.Atoi(line)
		all, err = all+time.Duration(n)*time.Microsecond, errors.Join(err, also)
	}
	if err != nil {
		l.Fatal(err)
	}
	return all
}

// folders writes clips into a folder as they are sent in, each another file.
func (l *large) folders(clips int) (dir string) {
	text, err := os.ReadFile(l.short)
	if err != nil {
		l.Fatal(err)
	}
	dir = l.TempDir()
	for i := range clips {
		path := filepath.Join(dir, fmt.Sprintf("Sam %d", i%20), "2026-05-02", fmt.Sprintf("fast_%d.mp4", i))
		err := os.MkdirAll(filepath.Dir(path), 0o700)
		if err == nil { // what comes after the last box is nobody's
			err = os.WriteFile(path, fmt.Appendf(slices.Clip(text), "\x00\x00\x00\x14free%012d", i), 0o600)
		}
		if err != nil {
			l.Fatal(err)
		}
	}
	return dir
}

// shared sends clips through workers of a database and a store.
func (l *large) shared(clips, workers int, program []string) (r ran) {
	ctx := l.Context()
	var calls, failed atomic.Int32
	address := l.server.Database(l)
	env := map[string]string{"HOLDFAST_DATABASE": address, "HOLDFAST_STORE_KEY": filestest.Keys.ID,
		"HOLDFAST_STORE": filestest.Server(l, counting(&calls, &failed, 0)), "HOLDFAST_STORE_SECRET": filestest.Keys.Secret}
	for name, value := range env {
		l.Setenv(name, value)
	}
	in := place.Options{Data: l.TempDir()}
	arc, err := in.Open(ctx, in.Data, archive.Options{})
	if err == nil {
		err = arc.Close()
	}
	if err != nil {
		l.Fatal(err)
	}
	db, err := rows.OpenPostgres(address)
	if err != nil {
		l.Fatal(err)
	}
	defer db.Close()
	dir := l.folders(clips)
	begun := time.Now()
	if sent, _, err := Submit(ctx, in, dir, "", func(int, int) {}); sent != clips || err != nil {
		l.Fatal(sent, err)
	}
	r.clips, r.sending = clips, time.Since(begun)
	if _, err := db.ExecContext(ctx, "CREATE EXTENSION IF NOT EXISTS pg_stat_statements"); err != nil {
		l.Fatal(err)
	}
	var syncs float64
	const count = "SELECT wal_sync FROM pg_stat_wal"
	if _, err := db.ExecContext(ctx, "SELECT pg_stat_statements_reset()"); err != nil {
		l.Fatal(err)
	}
	if err := db.QueryRowContext(ctx, count).Scan(&syncs); err != nil {
		l.Fatal(err)
	}
	calls.Store(0)
	p := startWorkers(l, workers, workerProgram+"="+strings.Join(program, workerSeparator))
	r.wall = l.done(ctx, db, clips)
	r.calls = float64(calls.Load()) / float64(clips)
	err = db.QueryRowContext(ctx, "SELECT sum(calls) FROM pg_stat_statements s JOIN pg_database d ON d.oid = s.dbid "+
		"WHERE d.datname = current_database() AND query NOT LIKE '%GROUP BY state%'").Scan(&r.statements)
	if err != nil {
		l.Fatal(err)
	}
	r.syncs = -syncs
	if err := db.QueryRowContext(ctx, count).Scan(&syncs); err != nil {
		l.Fatal(err)
	}
	r.syncs, r.statements = (r.syncs+syncs)/float64(clips), r.statements/float64(clips)
	p.end()
	return r
}

// done waits until all clips are measured, and returns what passed from the first begin to the last end.
func (l *large) done(ctx context.Context, db *sql.DB, clips int) time.Duration {
	again := time.NewTicker(250 * time.Millisecond)
	defer again.Stop()
	for range again.C {
		states, err := tally(ctx, db)
		if err != nil || states["failed"] > 0 {
			l.Fatal(states, err)
		}
		if states["done"] == clips {
			break
		}
	}
	var from, to time.Time
	if err := db.QueryRowContext(ctx, "SELECT min(started_at), max(ended_at) FROM jobs").Scan(rows.Time{To: &from},
		rows.Time{To: &to}); err != nil {
		l.Fatal(err)
	}
	return to.Sub(from)
}

// folder sends clips through the embedded engine.
func (l *large) folder(clips int, program []string) (r ran) {
	arc, err := archive.Open(l.Context(), l.TempDir(), archive.Options{Serving: true})
	if err != nil {
		l.Fatal(err)
	}
	defer arc.Close()
	d, err := desk.New(desk.Options{Archive: arc, WorkDir: filepath.Join(arc.Dir(), "work"), Program: program,
		Limits: desk.Limits{Queue: 1 << 30}})
	if err != nil {
		l.Fatal(err)
	}
	list, err := Read(l.folders(clips))
	if err != nil {
		l.Fatal(err)
	}
	begun := time.Now()
	last := ""
	for _, c := range list {
		added, err := submit(l.Context(), d, c)
		if err != nil {
			l.Fatal(err)
		}
		last = added.Job
	}
	r.clips, r.sending = clips, time.Since(begun)
	ctx, stop := context.WithCancel(l.Context())
	defer stop()
	begun = time.Now()
	ended := make(chan struct{})
	go func() { defer close(ended); d.Run(ctx) }()
	if j, err := d.Queue.Wait(ctx, last); err != nil || j.State != archive.JobDone {
		l.Fatal(j, err)
	}
	r.wall = time.Since(begun)
	stop()
	<-ended
	return r
}
