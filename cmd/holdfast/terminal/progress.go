package terminal

import (
	"io"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"

	"holdfast/printable"
	"holdfast/words"
)

// progress shows how far a job has come: as a bar when a person watches, as
// plain lines now and then otherwise.
type progress struct {
	mu    sync.Mutex
	label string
	show  renderer

	stage string
	total int
}

// renderer draws the progress of one stage after the other.
type renderer interface {
	begin(title, of string, total int) // of: what is counted, as "frames"
	step(done int)
	finish()
}

// NewProgress shows how far a job has come on w, which is a terminal that a person watches or is not; label stands
// before every line.
func NewProgress(w io.Writer, terminal bool, now func() time.Time, label string) *progress {
	p := &progress{label: printable.Line(label)}
	if terminal {
		p.show = &barRenderer{out: w}
	} else {
		p.show = &lineRenderer{out: w, now: now}
	}
	return p
}

// Report is a media.Progress. It may be called by several goroutines.
func (p *progress) Report(stage string, done, total int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if stage != p.stage || total != p.total {
		if p.stage != "" {
			p.show.finish()
		}
		p.stage, p.total = stage, total
		p.show.begin(Text("progress.stage", "of", p.label, "stage", words.Or("terminal.stage."+stage, stage)),
			words.Or("terminal.counted."+stage, Text("progress.frames")), total)
	}
	p.show.step(done)
}

// End closes the last stage.
func (p *progress) End() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.stage != "" {
		p.show.finish()
		p.stage = ""
	}
}

// barRenderer draws a bar with a count, its rate and the time left. It uses no colour.
type barRenderer struct {
	out io.Writer
	bar *progressbar.ProgressBar
}

func (r *barRenderer) begin(title, of string, total int) {
	if total <= 0 {
		total = -1 // a spinner
	}
	r.bar = progressbar.NewOptions(total,
		progressbar.OptionSetWriter(r.out),
		progressbar.OptionSetDescription(title),
		progressbar.OptionShowCount(),
		progressbar.OptionShowIts(),
		progressbar.OptionSetItsString(of),
		progressbar.OptionSetPredictTime(true),
		progressbar.OptionSetWidth(24),
		progressbar.OptionThrottle(100*time.Millisecond),
		progressbar.OptionSpinnerType(14),
		progressbar.OptionClearOnFinish(),
	)
}

// A bar that cannot be drawn must not stop the work: its errors are let go.

func (r *barRenderer) step(done int) { _ = r.bar.Set(done) }
func (r *barRenderer) finish()       { _ = r.bar.Finish() }

// lineRenderer prints a line after every tenth of the work, but no two within
// quietFor, and one after chattyAfter however little was done.
type lineRenderer struct {
	out io.Writer
	now func() time.Time

	title, of  string
	total      int
	done       int
	started    time.Time
	shown      time.Time
	shownTenth int
}

const (
	quietFor    = 2 * time.Second
	chattyAfter = 15 * time.Second
)

func (r *lineRenderer) begin(title, of string, total int) {
	t := r.now()
	*r = lineRenderer{out: r.out, now: r.now, title: title, of: of, total: total, started: t, shown: t}
}

func (r *lineRenderer) step(done int) {
	r.done = done
	quiet := r.now().Sub(r.shown)
	tenth := 0
	if r.total > 0 {
		tenth = 10 * done / r.total
	}
	if quiet < quietFor || (tenth == r.shownTenth && quiet < chattyAfter) {
		return
	}
	r.shown, r.shownTenth = r.now(), tenth
	r.print()
}

func (r *lineRenderer) finish() {
	// A stage that was over in a moment is not worth a line.
	if r.now().Sub(r.started) >= quietFor {
		r.print()
	}
}

func (r *lineRenderer) print() {
	parts := []string{Counted("frames", r.done)}
	if r.total > 0 {
		parts[0] = Text("progress.of", "done", r.done, "total", r.total, "of", r.of)
	}
	if spent := r.now().Sub(r.started).Seconds(); spent > 0 && r.done > 0 {
		rate := float64(r.done) / spent
		parts = append(parts, Text("progress.rate", "rate", rate))
		if left := float64(r.total-r.done) / rate; left >= 1 {
			parts = append(parts, Text("progress.left", "left", left))
		}
	}
	Tell(r.out, "progress.line", "stage", r.title, "parts", parts)
}

// Counted returns a number of things that are named under [terminal.count]: "2 clips".
func Counted(what string, n int) string { return Text("count."+what, "n", n) }
