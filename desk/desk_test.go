package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/archive/disk"
	"holdfast/desk/given"
	"holdfast/desk/queue"
	"holdfast/desk/work"
	"holdfast/internal/fakework"
	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// fakeVariable makes this test binary the program that works on clips.
const fakeVariable = "HOLDFAST_TEST_WORK"

func TestMain(m *testing.M) {
	if os.Getenv(fakeVariable) != "" {
		os.Exit(fakework.Do())
	}
	os.Exit(m.Run())
}

// bench is a desk over an empty archive, with a fake program for the clips.
type bench struct {
	t testing.TB
	*Desk
	// measure measures again; tests replace it.
	measure Measure
}

// newBench makes a desk whose jobs are done when a test says so.
func newBench(t testing.TB) *bench {
	t.Helper()
	dir := t.TempDir()
	a, err := archive.Open(t.Context(), dir, archive.Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	b := &bench{t: t, measure: fakework.Measure}
	b.Desk, err = New(Options{
		Archive: a, WorkDir: filepath.Join(dir, "tmp", "work"), Program: []string{os.Args[0]},
		Env: []string{fakeVariable + "=work"},
		Measure: func(i screening.ClipInfo, tr *pose.Track, o screening.Options) (*screening.Analysis, error) {
			return b.measure(i, tr, o)
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// settle works until no job is left.
func (b *bench) settle() {
	b.t.Helper()
	ctx, stop := context.WithCancel(b.t.Context())
	done := make(chan struct{})
	go func() { defer close(done); b.Run(ctx) }()
	defer func() { stop(); <-done }()
	jobs, err := b.archive.Jobs(ctx, -1)
	if err != nil {
		b.t.Fatal(err)
	}
	for len(jobs) > 0 && queue.Unfinished(jobs[0]) { // those come first
		if _, err := b.Queue.Wait(ctx, jobs[0].ID); err != nil {
			b.t.Fatal(err)
		}
		if jobs, err = b.archive.Jobs(ctx, -1); err != nil {
			b.t.Fatal(err)
		}
	}
}

// add adds a clip, which waits for its analysis.
func (b *bench) add(name string) Added {
	b.t.Helper()
	added, err := b.Add(b.t.Context(), strings.NewReader(name), name, given.Clip{AthleteName: "Sam Example",
		Date: "2025-05-02"})
	if err != nil {
		b.t.Fatal(err)
	}
	return added
}

// measured adds clips, has them measured and returns their ids.
func (b *bench) measured(names ...string) (ids []string) {
	b.t.Helper()
	for _, name := range names {
		ids = append(ids, b.add(name).Clip.ID)
	}
	b.settle()
	return ids
}

func (b *bench) clip(id string) archive.Clip {
	b.t.Helper()
	c, err := b.Clip(b.t.Context(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	return c
}

func (b *bench) job(id string) archive.Job {
	b.t.Helper()
	j, err := b.archive.Job(b.t.Context(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	return j
}

// kneeDeg is how far the knee bends in the second rep of a clip's result.
func (b *bench) kneeDeg(id string) float64 {
	b.t.Helper()
	a, err := b.Analysis(b.clip(id))
	if err != nil {
		b.t.Fatal(err)
	}
	return a.Reps[1].Angles[body.KneeFlexion].ROMDeg
}

// resume takes up what a program that was killed has left, and does it.
func (b *bench) resume() {
	b.t.Helper()
	if err := b.Resume(b.t.Context()); err != nil {
		b.t.Fatal(err)
	}
	b.settle()
}

var heelMoved = screening.Corrections{Points: []screening.PointCorrection{{Frame: 1, Point: "heel", Side: "near",
	XPx: 1, YPx: 1}}}

func (b *bench) correct(id string, c screening.Corrections) {
	b.t.Helper()
	if _, err := b.Correct(b.t.Context(), id, "", c, "a correction"); err != nil {
		b.t.Fatal(err)
	}
}

func short(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
}

// A correction that was recorded but not measured, because the program was killed between
// the two, is measured by the next one. Reading it meanwhile writes nothing.
func TestInterruptedCorrection(t *testing.T) {
	short(t)
	b := newBench(t)
	id := b.measured("slow.mp4")[0]
	doc := json.RawMessage(`{"points":[{"frame":0,"point":"knee","side":"near","x_px":1,"y_px":2}]}`)
	if _, err := b.archive.AddCorrection(t.Context(), id, doc, "knee moved"); err != nil {
		t.Fatal(err)
	}
	before := b.clip(id).Result.Revision
	if b.kneeDeg(id) != 110 || b.clip(id).Result.Revision != before {
		t.Error("the clip was measured by being looked at")
	}
	b.resume()
	if got := b.kneeDeg(id); got != 109 {
		t.Errorf("the knee bends %v°, want 109°", got)
	}
	b.resume()
	if b.clip(id).Result.CorrectionSeq != 1 {
		t.Error("the result does not name its correction")
	}
}

// A change that cannot be measured is tried once by itself, and again when the coach says so.
func TestChangeThatCannotBeMeasured(t *testing.T) {
	short(t)
	b := newBench(t)
	id := b.measured("slow.mp4")[0]
	if _, err := b.archive.AddCorrection(t.Context(), id,
		json.RawMessage(`{"points":[{"frame":0,"point":"knee","side":"near","x_px":1,"y_px":2}]}`),
		"knee moved"); err != nil {
		t.Fatal(err)
	}
	b.measure = func(screening.ClipInfo, *pose.Track, screening.Options) (*screening.Analysis, error) {
		return nil, fmt.Errorf("%w: the disk is full", disk.ErrDiskFull)
	}
	of := func() (failed []archive.Job) {
		jobs, err := b.archive.Jobs(t.Context(), -1)
		if err != nil {
			t.Fatal(err)
		}
		for _, j := range jobs {
			if j.Kind == archive.JobMeasure {
				failed = append(failed, j)
			}
		}
		return failed
	}
	for range 2 {
		b.resume()
		if list := of(); len(list) != 1 || list[0].State != archive.JobFailed || list[0].Error != "the disk is full" ||
			b.kneeDeg(id) != 110 {
			t.Fatalf("the jobs are %+v, the knee bends %v°", list, b.kneeDeg(id))
		}
	}
	b.measure = fakework.Measure
	if _, err := b.Retry(t.Context(), of()[0].ID); err != nil {
		t.Fatal(err)
	}
	b.settle()
	if got := b.kneeDeg(id); got != 109 {
		t.Errorf("the correction is never measured: %v°, want 109°", got)
	}
}

// What the athlete carried in a visit is told to the sums, also where it is said after the clip was measured.
func TestLoadOfAVisitReachesTheSums(t *testing.T) {
	short(t)
	b := newBench(t)
	id := b.measured("slow.mp4")[0]
	var told []*float64
	b.measure = func(info screening.ClipInfo, track *pose.Track, opt screening.Options) (*screening.Analysis, error) {
		told = append(told, opt.LoadKg)
		return fakework.Measure(info, track, opt)
	}
	kg := func(x float64) *float64 { return &x }
	height := kg(180)
	if _, again, err := b.ChangeClip(t.Context(), id, ClipChange{HeightCm: &height}); err != nil || !again {
		t.Fatal(again, err) // from now on the result says what it was measured with
	}
	visit, err := b.Visit(t.Context(), b.clip(id).VisitID)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name string
		load *float64
		want []*float64
	}{
		{"nothing new", visit.LoadKg, nil},
		{"a bar", kg(60), []*float64{kg(60)}},
		{"the bar was another", kg(40), []*float64{kg(40)}},
		{"no load", nil, []*float64{nil}},
	} {
		told = nil
		if visit.LoadKg = tt.load; tt.load != nil {
			visit.Condition = archive.Loaded
		}
		if err := b.ChangeVisit(t.Context(), visit); err != nil {
			t.Fatal(err)
		}
		b.settle()
		if len(told) != len(tt.want) || len(told) > 0 && (told[0] == nil) != (tt.want[0] == nil) ||
			len(told) > 0 && told[0] != nil && *told[0] != *tt.want[0] {
			t.Errorf("%s: the sums were told %v", tt.name, told)
		}
	}
}

// A clip that goes to a day with another load takes the one it is joined with along, and both are measured again.
func TestJoinedClipGoesAlong(t *testing.T) {
	short(t)
	b := newBench(t)
	ids := b.measured("slow.mp4", "fast.mp4")
	if err := b.archive.JoinClips(t.Context(), ids[0], ids[1]); err != nil {
		t.Fatal(err)
	}
	kg := func(x float64) *float64 { return &x }
	height := kg(180)
	for _, id := range ids {
		if _, _, err := b.ChangeClip(t.Context(), id, ClipChange{HeightCm: &height}); err != nil {
			t.Fatal(err)
		}
	}
	var told []*float64
	b.measure = func(info screening.ClipInfo, track *pose.Track, opt screening.Options) (*screening.Analysis, error) {
		told = append(told, opt.LoadKg)
		return fakework.Measure(info, track, opt)
	}
	date, loaded, load := "2026-12-01", archive.Loaded, kg(60)
	change := ClipChange{Date: &date, Condition: &loaded, LoadKg: &load}
	if _, _, err := b.ChangeClip(t.Context(), ids[0], change); err != nil {
		t.Fatal(err)
	}
	b.settle()
	if b.clip(ids[1]).VisitID != b.clip(ids[0]).VisitID {
		t.Error("the joined clip stayed behind")
	}
	if len(told) != 2 || told[0] == nil || told[1] == nil || *told[0] != 60 || *told[1] != 60 {
		t.Errorf("the sums were told %v, want 60 kg for both", told)
	}
}

// What a clip was measured with is a help, not a condition: without it the clip is
// measured again.
func TestLostInputsHeal(t *testing.T) {
	short(t)
	b := newBench(t)
	id := b.measured("slow.mp4")[0]
	height := new(float64)
	*height = 180
	if _, again, err := b.ChangeClip(t.Context(), id, ClipChange{HeightCm: &height}); err != nil || !again {
		t.Fatal(again, err)
	}
	path := func() string {
		return b.archive.FilePath(FileOf(b.clip(id).Result.Files, work.MeasuredWithFile).SHA256)
	}
	if err := os.Remove(path()); err != nil {
		t.Fatal(err)
	}
	b.forget()
	b.resume()
	if _, err := os.Stat(path()); err != nil {
		t.Errorf("it was not written again: %v", err)
	}
}

// After a correction no picture shows the numbers of before, whatever becomes of the job
// that draws the new ones; the next program has them drawn.
func TestStillsFollowTheNumbers(t *testing.T) {
	short(t)
	b := newBench(t)
	id := b.measured("slow.mp4")[0]
	still := func() archive.File { return FileOf(b.clip(id).Result.Files, "frames/rep01_1_bottom_slow.png") }
	if still().Name == "" {
		t.Fatal("there is no picture to begin with")
	}
	b.Limits.Queue = 0 // no room for what is asked for: the stills need none
	b.correct(id, heelMoved)
	if still().Name != "" {
		t.Error("a picture of before the correction is left")
	}
	jobs, err := b.archive.Jobs(t.Context(), 1)
	if err != nil || jobs[0].State != archive.JobWaiting {
		t.Fatal(jobs, err)
	}
	if err := b.Cancel(t.Context(), jobs[0].ID); err != nil {
		t.Fatal(err)
	}
	b.settle()
	b.resume()
	if still().Name == "" {
		t.Error("the picture was never drawn")
	}
}

// A report is made of the clips as they are when its turn comes, with the smallest
// change that the coach chose; of numbers that are others by then none is kept.
func TestReports(t *testing.T) {
	short(t)
	b := newBench(t)
	ids := b.measured("slow.mp4", "fast.mp4")
	c, err := b.Compare(t.Context(), Choice{Clips: ids, SmallestChangeDeg: 3})
	if err != nil {
		t.Fatal(err)
	}
	look := func() Compared {
		t.Helper()
		now, err := b.Comparison(t.Context(), c.ID)
		if err != nil {
			t.Fatal(err)
		}
		return now
	}
	first := look()
	var numbers screening.Comparison
	if err := json.Unmarshal(first.Numbers, &numbers); err != nil || numbers.SmallestChangeDeg != 3 || !first.stored {
		t.Fatalf("%v, %+v", err, first)
	}
	order := b.reportOrder(t.Context(), first, jobOptions{})
	if len(order.Clips) != 2 || order.Athlete != "Sam Example" ||
		order.Comparison != b.archive.FilePath(FileOf(c.Files, ComparisonFile).SHA256) {
		t.Errorf("the order is %+v", order)
	}
	b.correct(ids[0], heelMoved)
	second := look()
	if second.stored || second.key == first.key || bytes.Equal(second.Numbers, first.Numbers) {
		t.Error("a comparison does not follow a correction")
	}
	if kept, err := b.archive.Comparison(t.Context(), c.ID); err != nil || FileOf(kept.Files,
		ComparisonFile) != FileOf(c.Files, ComparisonFile) {
		t.Errorf("looking at a comparison has changed it (%v)", err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "report.html"), []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := b.keepReport(t.Context(), first, false, dir); err != nil {
		t.Fatal(err)
	}
	if f := look().Report("report.html", false); f.Name != "" {
		t.Error("a report of the numbers before is kept")
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); b.Run(ctx) }()
	defer func() { stop(); <-done }()
	if err := b.MakeReport(t.Context(), c.ID, "coach.pdf", true); err != nil {
		t.Fatal(err)
	}
	third := look()
	if !third.stored || third.Report("coach.pdf", true).Name == "" || third.Report("coach.pdf", false).Name != "" {
		t.Errorf("the report is not there: %+v", third.Files)
	}
	for _, name := range []string{"athlete.pdf", "other.html", "overlay/../x.png"} {
		if err := b.MakeReport(t.Context(), c.ID, name, true); err == nil {
			t.Errorf("a report has a file %s", name)
		}
	}
}

// A clip that ends the program once is read again; one that ends it twice is put aside
// with that reason. A reason that the program gives itself is final.
func TestClipThatEndsItsProgram(t *testing.T) {
	short(t)
	const aside = "the program that reads the clip ended before it was done, twice: the clip was put aside"
	for _, tt := range []struct {
		clip   string
		ends   int
		state  archive.JobState
		reason string
	}{
		{"once", 1, archive.JobDone, ""},
		{"crash", 1, archive.JobFailed, aside},
		{"exit", 1, archive.JobFailed, aside},
		{"refused", 0, archive.JobFailed, "nobody was found in the clip"},
		{"good", 0, archive.JobDone, ""},
	} {
		t.Run(tt.clip, func(t *testing.T) {
			t.Parallel()
			b := newBench(t)
			id := b.add(tt.clip + ".mp4").Job
			b.settle()
			j := b.job(id)
			if j.State != tt.state || j.Error != tt.reason || (j.Hint == "") != (tt.reason == "") || j.Ends != tt.ends {
				t.Errorf("the job is %+v", j)
			}
		})
	}
}

// A clip that was added without a job is measured by the next program, or when it is asked for.
func TestClipWithoutAJob(t *testing.T) {
	short(t)
	b := newBench(t)
	ctx := t.Context()
	orphan := func(name string) string {
		file, err := b.archive.Put(ctx, strings.NewReader(name), 1000)
		if err != nil {
			t.Fatal(err)
		}
		visit, err := b.visitFor(ctx, given.Clip{AthleteName: "Sam Example"})
		if err != nil {
			t.Fatal(err)
		}
		clip, _, err := b.archive.AddClip(ctx, archive.Clip{VisitID: visit.ID, AthleteID: visit.AthleteID, Name: name,
			SHA256: file.SHA256})
		if err != nil {
			t.Fatal(err)
		}
		return clip.ID
	}
	waits, cancelled := b.add("fast.mp4"), b.add("jump.mp4")
	if err := b.Cancel(ctx, cancelled.Job); err != nil {
		t.Fatal(err)
	}
	id := orphan("slow.mp4")
	for i, want := range []int{1, 0} {
		if n, err := b.adopt(ctx); n != want || err != nil {
			t.Errorf("%d: %d clips were adopted (%v)", i, n, err)
		}
	}
	other := orphan("slow_2.mp4")
	asked, err := b.Analyze(ctx, other, false)
	again, err2 := b.Analyze(ctx, other, false)
	if errors.Join(err, err2) != nil || asked.ID == "" || asked.ID != again.ID {
		t.Errorf("jobs %q and %q (%v, %v)", asked.ID, again.ID, err, err2)
	}
	if _, err := b.Analyze(ctx, "nothing", false); err == nil {
		t.Error("a clip that is not there is measured")
	}
	b.settle()
	for _, job := range []string{waits.Job, asked.ID} {
		if j := b.job(job); j.State != archive.JobDone {
			t.Errorf("a job is %s: %s", j.State, j.Error)
		}
	}
	if b.clip(id).Result == nil || b.clip(cancelled.Clip.ID).Result != nil {
		t.Error("the adopted clip has no result, or the cancelled one has")
	}
	if _, err := b.Analyze(ctx, other, false); err == nil {
		t.Error("a clip is measured that was measured already")
	}
}

// FuzzComparedFrom: what a comparison was made of is read or called damaged, and what is
// read can be compared anew with and names the reports made of it.
func FuzzComparedFrom(f *testing.F) {
	b := newBench(f)
	for _, s := range []string{
		`{"analyses_sha256":["a","b"],"smallest_change_deg":5,"sides":["fresh","loaded with 60 kg"],` +
			`"dates":["2025-05-02","2025-05-02"]}`,
		`{"smallest_change_deg":-1e300}`, `{"analyses_sha256":[null]}`, `{"smallest_change_deg":1e999}`,
		`{"sides":["\u202e\n"]}`, `null`, `[]`, `{`, ``,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, doc []byte) {
		file, err := b.archive.Put(t.Context(), bytes.NewReader(doc), maxNoteBytes)
		if err != nil {
			return // longer than the archive takes
		}
		file.Name = comparedFile
		from, err := b.comparedFrom(t.Context(), archive.Comparison{Files: []archive.File{file}})
		if err != nil {
			if !errors.Is(err, archive.ErrDamaged) {
				t.Errorf("%q: %v", doc, err)
			}
			return
		}
		c, err := screening.Compare([]*screening.Analysis{fakework.Analysis("slow.mp4"), fakework.Analysis("fast.mp4")},
			screening.CompareOptions{SmallestChangeDeg: from.SmallestChangeDeg})
		if err != nil {
			t.Fatalf("compared anew with %+v: %v", from, err)
		}
		if _, err := json.Marshal(c); err != nil {
			t.Errorf("compared anew with %+v: %v", from, err)
		}
		if key := from.key("Sam Example"); len(key) != 8 || strings.Trim(key, "0123456789abcdef") != "" {
			t.Errorf("its reports are called %q", key)
		}
	})
}

// A clip goes to another athlete with what was said of it; its comparisons and the height of the one before stay
// behind.
func TestClipGoesToAnother(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	slow, fast := b.add("slow.mp4"), b.add("fast.mp4")
	b.settle()
	height, other := 180.0, 165.0
	from, err := b.archive.Athlete(ctx, b.clip(slow.Clip.ID).AthleteID)
	if err != nil {
		t.Fatal(err)
	}
	from.HeightCm = &height
	to, err2 := b.archive.CreateAthlete(ctx, archive.Athlete{Name: "Kim Example", HeightCm: &other})
	given := &height
	if _, _, err3 := b.ChangeClip(ctx, slow.Clip.ID, ClipChange{HeightCm: &given}); errors.Join(err, err2, err3,
		b.archive.UpdateAthlete(ctx, from)) != nil {
		t.Fatal(err, err2, err3)
	}
	c, err := b.Compare(ctx, Choice{Clips: []string{slow.Clip.ID, fast.Clip.ID}})
	if err != nil {
		t.Fatal(err)
	}
	day := "2026-06-07"
	moved, _, err := b.ChangeClip(ctx, slow.Clip.ID, ClipChange{Athlete: &to.ID, Date: &day})
	if err != nil {
		t.Fatal(err)
	}
	v, err := b.archive.Visit(ctx, moved.VisitID)
	if err != nil || moved.AthleteID != to.ID || v.AthleteID != to.ID || v.Date != day || moved.HeightCm == nil ||
		*moved.HeightCm != other {
		t.Errorf("moved, it is %+v at %+v (%v)", moved, v, err)
	}
	if _, err := b.archive.Comparison(ctx, c.ID); !errors.Is(err, archive.ErrNotFound) {
		t.Errorf("the comparison is there: %v", err)
	}
	nobody := "nobody"
	if _, _, err := b.ChangeClip(ctx, slow.Clip.ID, ClipChange{Athlete: &nobody}); err == nil {
		t.Error("a clip went to nobody")
	}
}
