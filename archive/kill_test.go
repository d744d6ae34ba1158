package archive

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"holdfast/archive/store"
)

const (
	roleVariable = "HOLDFAST_ARCHIVE_TEST"
	dirVariable  = "HOLDFAST_ARCHIVE_TEST_DIR"
	argVariable  = "HOLDFAST_ARCHIVE_TEST_ARG"
)

// self runs this test binary again, in a role.
func self(t *testing.T, role, dir, arg string) *exec.Cmd {
	c := exec.CommandContext(t.Context(), os.Args[0])
	c.Env = append(os.Environ(), roleVariable+"="+role, dirVariable+"="+dir, argVariable+"="+arg)
	return c
}

// child is what the test binary does in a role.
func child(role string) int {
	dir, arg := os.Getenv(dirVariable), os.Getenv(argVariable)
	var err error
	switch role {
	case "write":
		err = writeMany(dir, arg)
	case "steps":
		err = takeSteps(dir, arg)
	case "restore":
		fmt.Println("begin")
		err = restore(context.Background(), arg, dir)
	case "backup", "export":
		fmt.Println("begin")
		err = writeBeside(role, dir, arg)
	default:
		err = fmt.Errorf("there is no role %q", role)
	}
	if err != nil {
		fmt.Println("error", err)
		return 1
	}
	return 0
}

// state is all that an archive holds, as text by id, but for visits.
type state struct {
	Athletes    map[string]string // name
	Clips       map[string]string // athlete and file
	Results     map[string]string // by clip: revision, correction, names and files
	Corrections map[string]string // by clip: the documents, those undone with a minus
	Comparisons map[string]string // athlete, clips, names and files
	Jobs        map[string]string // clip, state, attempts
}

func (s state) tables() []map[string]string {
	return []map[string]string{s.Athletes, s.Clips, s.Results, s.Corrections, s.Comparisons, s.Jobs}
}

func newState() state {
	m := func() map[string]string { return map[string]string{} }
	return state{m(), m(), m(), m(), m(), m()}
}

func filesText(files []File) string {
	var out []string
	for _, f := range files {
		out = append(out, f.Name+"="+f.SHA256)
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

func stateOf(ctx context.Context, a *Archive) (state, error) {
	s := newState()
	people, err := a.Athletes(ctx)
	if err != nil {
		return s, err
	}
	for _, p := range people {
		s.Athletes[p.ID] = p.Name
		clips, err := a.ClipsOf(ctx, p.ID)
		if err != nil {
			return s, err
		}
		for _, c := range clips {
			s.Clips[c.ID] = p.ID + " " + c.SHA256
			if r := c.Result; r != nil {
				s.Results[c.ID] = fmt.Sprint(r.Revision, " ", r.CorrectionSeq, " ", filesText(r.Files))
			}
			text, _, err := correctionsText(ctx, a, c.ID)
			if err != nil {
				return s, err
			}
			if text != "" {
				s.Corrections[c.ID] = text
			}
		}
		comparisons, err := a.ComparisonsOf(ctx, p.ID)
		if err != nil {
			return s, err
		}
		for _, c := range comparisons {
			s.Comparisons[c.ID] = p.ID + " " + strings.Join(c.ClipIDs, " ") + " " + filesText(c.Files)
		}
	}
	jobs, err := a.Jobs(ctx, 1<<20)
	for _, j := range jobs {
		s.Jobs[j.ID] = fmt.Sprint(j.ClipID, " ", j.State, " ", j.Attempt)
	}
	return s, err
}

func correctionsText(ctx context.Context, a *Archive, clip string) (text string, held []string, err error) {
	all, err := a.Corrections(ctx, clip)
	var words []string
	for _, c := range all {
		if c.Undone {
			words = append(words, "-"+string(c.Doc))
		} else {
			words = append(words, string(c.Doc))
			held = append(held, string(c.Doc))
		}
	}
	return strings.Join(words, " "), held, err
}

// step is one change that a child announces, makes, and acknowledges.
type step struct {
	Op   string // of apply
	ID   string // of what changes; empty until acknowledged when it is new
	Text string // what there is afterwards
}

// apply makes the change in a copy of a state.
func (s state) apply(st step) state {
	out := state{maps.Clone(s.Athletes), maps.Clone(s.Clips), maps.Clone(s.Results), maps.Clone(s.Corrections),
		maps.Clone(s.Comparisons), maps.Clone(s.Jobs)}
	dropClip := func(id string) {
		delete(out.Clips, id)
		delete(out.Results, id)
		delete(out.Corrections, id)
		for _, m := range []map[string]string{out.Comparisons, out.Jobs} {
			maps.DeleteFunc(m, func(_, text string) bool { return strings.Contains(text, id) })
		}
	}
	switch st.Op {
	case "athlete":
		out.Athletes[st.ID] = st.Text
	case "clip":
		out.Clips[st.ID] = st.Text
	case "result":
		out.Results[st.ID] = st.Text
	case "correct":
		out.Corrections[st.ID] = st.Text
	case "compare":
		out.Comparisons[st.ID] = st.Text
	case "job":
		out.Jobs[st.ID] = st.Text
	case "drop clip":
		dropClip(st.ID)
	case "drop athlete":
		delete(out.Athletes, st.ID)
		for id, text := range s.Clips {
			if strings.HasPrefix(text, st.ID) {
				dropClip(id)
			}
		}
		maps.DeleteFunc(out.Comparisons, func(_, text string) bool { return strings.HasPrefix(text, st.ID) })
	}
	return out
}

// takeSteps serves the folder and changes it, one chance step after another, until it
// is killed. It tells each step before it begins and after it is done.
func takeSteps(dir, arg string) error {
	seed, err := strconv.ParseUint(arg, 10, 64)
	if err != nil {
		return err
	}
	ctx := context.Background()
	fmt.Println("opening")
	a, err := Open(ctx, dir, Options{Serving: true})
	if err != nil {
		return err
	}
	chance := rand.New(rand.NewPCG(seed, 1))
	for n := 0; ; n++ {
		now, err := stateOf(ctx, a)
		if err != nil {
			return err
		}
		if err := takeStep(ctx, a, chance, now, fmt.Sprintf("Quillon-%d-%d-Marsk", seed, n)); err != nil {
			return err
		}
	}
}

func tell(what string, s step) error {
	b, err := json.Marshal(s)
	if err != nil {
		return err
	}
	_, err = fmt.Printf("%s %s\n", what, b)
	return err
}

// pick returns a chance key; the same for the same seed, as ids grow with time.
func pick(chance *rand.Rand, m map[string]string) string {
	if len(m) == 0 {
		return ""
	}
	keys := slices.Sorted(maps.Keys(m))
	return keys[chance.IntN(len(keys))]
}

func takeStep(ctx context.Context, a *Archive, chance *rand.Rand, now state, name string) error {
	var s step
	change := func(do func() error) error {
		if err := tell("begin", s); err != nil {
			return err
		}
		if err := do(); err != nil {
			return fmt.Errorf("%+v: %w", s, err)
		}
		return tell("ok", s)
	}
	// Files have a chance size and content; some are the same for all.
	content := func() []byte {
		if chance.IntN(4) == 0 {
			return []byte(fmt.Sprint("shared ", chance.IntN(5)))
		}
		b := bytes.Repeat([]byte(name), 1+chance.IntN(8000))
		return append(b, fmt.Sprint(chance.Uint64())...)
	}
	file := func(name string) (File, []byte) {
		b := content()
		return File{Name: name, SHA256: fmt.Sprintf("%x", sha256.Sum256(b))}, b
	}
	// A line in the middle of a file lets the kill come there.
	put := func(b []byte) error {
		_, err := a.Put(ctx, io.MultiReader(bytes.NewReader(b[:len(b)/2]), &telling{}, bytes.NewReader(b[len(b)/2:])), 1<<30)
		return err
	}
	clip := pick(chance, now.Clips)
	who := pick(chance, now.Athletes)
	if clip != "" && chance.IntN(2) == 0 {
		who, _, _ = strings.Cut(now.Clips[clip], " ")
	}
	op := chance.IntN(27)
	switch {
	case who == "" || op < 3 && len(now.Athletes) < 8:
		s = step{Op: "athlete", Text: name}
		return change(func() error {
			p, err := a.CreateAthlete(ctx, Athlete{Name: name, Notes: "notes of " + name})
			s.ID = p.ID
			return err
		})
	case clip == "" || op < 6 && len(now.Clips) < 15:
		f, b := file(name + ".mp4")
		for _, text := range now.Clips {
			if text == who+" "+f.SHA256 { // it would be recognised
				return nil
			}
		}
		s = step{Op: "clip", Text: who + " " + f.SHA256}
		return change(func() error {
			if err := put(b); err != nil {
				return err
			}
			v, err := a.VisitFor(ctx, Visit{AthleteID: who, Date: "2026-02-03"})
			if err != nil {
				return err
			}
			c, _, err := a.AddClip(ctx, Clip{AthleteID: who, VisitID: v.ID, Name: f.Name, SHA256: f.SHA256})
			s.ID = c.ID
			return err
		})
	case op < 11:
		var files []File
		var bodies [][]byte
		for _, n := range []string{"analysis.json", "track.json.gz", "frames/1.png"}[:1+chance.IntN(3)] {
			f, b := file(n)
			files, bodies = append(files, f), append(bodies, b)
		}
		revision := 1
		if old, ok := now.Results[clip]; ok {
			n, err := strconv.Atoi(strings.Fields(old)[0])
			if err != nil {
				return err
			}
			revision = n + 1
		}
		s = step{Op: "result", ID: clip, Text: fmt.Sprint(revision, " ", 7, " ", filesText(files))}
		return change(func() error {
			for _, b := range bodies {
				if err := put(b); err != nil {
					return err
				}
			}
			_, err := a.SaveResult(ctx, clip, files, 7)
			return err
		})
	case op < 15:
		text, held, err := correctionsText(ctx, a, clip)
		if err != nil {
			return err
		}
		s = step{Op: "correct", ID: clip}
		if len(held) > 0 && chance.IntN(3) == 0 {
			// The last that holds gets its minus.
			words := strings.Fields(text)
			words[len(held)-1] = "-" + words[len(held)-1]
			s.Text = strings.Join(words, " ")
			return change(func() error {
				_, _, err := a.UndoCorrection(ctx, clip)
				return err
			})
		}
		if len(held) > 8 {
			return nil
		}
		doc := fmt.Sprint(chance.IntN(1000))
		s.Text = strings.Join(append(held, doc), " ")
		return change(func() error {
			_, err := a.AddCorrection(ctx, clip, json.RawMessage(doc), "moved")
			return err
		})
	case op < 20:
		// The oldest job that waits starts, one that runs ends, or a new one waits.
		ids := slices.Sorted(maps.Keys(now.Jobs))
		for _, state := range []JobState{JobRunning, JobWaiting} {
			for _, id := range ids {
				words := strings.Fields(now.Jobs[id])
				if words[1] != string(state) {
					continue
				}
				if state == JobRunning {
					s = step{Op: "job", ID: id, Text: fmt.Sprint(words[0], " ", JobDone, " ", words[2])}
					return change(func() error { return a.FinishJob(ctx, id, JobDone, "", "") })
				}
				s = step{Op: "job", ID: id, Text: fmt.Sprint(words[0], " ", JobRunning, " ", 1)}
				return change(func() error {
					_, _, err := a.NextJob(ctx)
					return err
				})
			}
		}
		s = step{Op: "job", Text: fmt.Sprint(clip, " ", JobWaiting, " ", 0)}
		return change(func() error {
			j, err := a.AddJob(ctx, Job{ClipID: clip, Kind: JobAnalyze}, nil)
			s.ID = j.ID
			return err
		})
	case op == 20:
		owner, _, _ := strings.Cut(now.Clips[clip], " ")
		f, b := file("comparison.json")
		s = step{Op: "compare", Text: owner + " " + clip + " " + filesText([]File{f})}
		return change(func() error {
			if err := put(b); err != nil {
				return err
			}
			c, err := a.SaveComparison(ctx, owner, []string{clip}, []File{f})
			s.ID = c.ID
			return err
		})
	case op <= 22:
		s = step{Op: "drop clip", ID: clip}
		return change(func() error { return a.DeleteClip(ctx, clip) })
	case op <= 24:
		s = step{Op: "drop athlete", ID: who}
		return change(func() error {
			_, err := a.DeleteAthlete(ctx, who)
			return err
		})
	default:
		s = step{Op: "backup"}
		return change(func() error { return a.Backup(ctx, backupBeside(a.Dir())) })
	}
}

// telling is an empty reader that tells that it was reached.
type telling struct{}

func (*telling) Read([]byte) (int, error) {
	fmt.Println("half")
	return 0, io.EOF
}

func backupBeside(dir string) string { return dir + "-backup.zip" }

// killed runs a child and kills it a chance while after a chance line that tells that
// something is under way; it returns all lines that came.
func killed(t *testing.T, c *exec.Cmd, chance *rand.Rand, lines, blocks int) []string {
	t.Helper()
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	after, spin := 1+chance.IntN(lines), chance.IntN(blocks)
	r := bufio.NewReader(out)
	var got []string
	for begun := 0; ; {
		line, err := r.ReadString('\n')
		if err != nil {
			break // a line without its end was not told
		}
		got = append(got, strings.TrimSpace(line))
		if strings.HasPrefix(line, "error") {
			t.Error(line)
		}
		if strings.HasPrefix(line, "ok") {
			continue
		}
		if begun++; begun == after {
			b := make([]byte, 1<<15) // work that takes a while, without a clock
			for range spin {
				sum := sha256.Sum256(b)
				copy(b, sum[:])
			}
			_ = c.Process.Kill() // it may have ended
		}
	}
	_ = c.Wait() // says that it was killed
	return got
}

var sums = regexp.MustCompile(`[0-9a-f]{64}`)

// afterKill looks at a folder whose server was killed, given what it held before and
// the lines that came from the server, and returns what it holds now and the names of
// those who were deleted.
func afterKill(t *testing.T, dir string, before state, lines []string, gone []string) (state, []string, string) {
	t.Helper()
	ctx := t.Context()
	var under *step
	for _, line := range lines {
		what, text, _ := strings.Cut(line, " ")
		if what != "begin" && what != "ok" {
			continue
		}
		var s step
		if err := json.Unmarshal([]byte(text), &s); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if under = &s; what == "ok" {
			under = nil
			if s.Op == "drop athlete" {
				gone = append(gone, before.Athletes[s.ID])
			}
			before = before.apply(s)
		}
	}
	where := "between two steps"
	if under != nil {
		where = under.Op
	}

	a, err := Open(ctx, dir, Options{Serving: true})
	if err != nil {
		t.Fatalf("killed in %s: %v", where, err)
	}
	defer func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	}()
	now, err := stateOf(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	if under != nil && cmp.Diff(before, now) != "" {
		if under.ID == "" { // what is new has an id that was not told
			for i, m := range now.tables() {
				for id := range m {
					if _, old := before.tables()[i][id]; !old {
						under.ID = id
					}
				}
			}
		}
		if under.Op == "drop athlete" {
			gone = append(gone, before.Athletes[under.ID])
		}
		before = before.apply(*under)
	}
	if diff := cmp.Diff(before, now); diff != "" {
		t.Fatalf("killed in %s: neither the old nor the new state (- told, + found):\n%s", where, diff)
	}
	rep, err := a.Check(ctx)
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]bool{}
	for _, m := range now.tables() {
		for _, text := range m {
			for _, sum := range sums.FindAllString(text, -1) {
				files[sum] = true
			}
		}
	}
	if len(rep.Problems) > 0 || rep.Files != len(files) {
		t.Fatalf("killed in %s: the check finds %d files of %d and %q", where, rep.Files, len(files), rep.Problems)
	}
	left, err := os.ReadDir(filepath.Join(dir, store.TmpFolder))
	if err != nil || len(left) > 0 {
		t.Errorf("killed in %s: tmp holds %v, %v", where, left, err)
	}
	if n, err := a.folder.Store.CountLost(); err != nil || n > 0 {
		t.Errorf("killed in %s: %d files count as lost, %v", where, n, err)
	}
	all := everything(t, dir)
	for _, name := range gone {
		if bytes.Contains(all, []byte(name)) {
			t.Errorf("killed in %s: %s was deleted and is still there", where, name)
		}
	}
	if z, err := zip.OpenReader(backupBeside(dir)); err == nil {
		z.Close()
	} else if !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("killed in %s: half a backup: %v", where, err)
	}
	return now, gone, where
}

// A server is killed at a chance moment, over and over. After each, all that it had
// acknowledged is there, the step under way was done or not begun, nothing is half
// written, and who was deleted is gone. Moments are chosen by a seed, as far as the
// system lets them.
func TestKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it kills programs")
	}
	t.Parallel()
	const rounds, fresh = 50, 10
	chance := rand.New(rand.NewPCG(5, 2))
	where := map[string]int{}
	dir := filepath.Join(t.TempDir(), "data")
	now, gone := newState(), []string(nil)
	for round := range rounds {
		lines := killed(t, self(t, "steps", dir, fmt.Sprint(round)), chance, 15, 80)
		if round%3 == 0 { // a command may come before the next server
			a, err := Open(t.Context(), dir, Options{})
			if err != nil {
				t.Fatal(err)
			}
			rep, err := a.Check(t.Context())
			if err = errors.Join(err, a.Close()); err != nil {
				t.Fatal(err)
			}
			for _, p := range rep.Problems {
				if !strings.HasSuffix(p, "is known to no row") {
					t.Errorf("before the next server: %s", p)
				}
			}
		}
		var at string
		now, gone, at = afterKill(t, dir, now, lines, gone)
		where[at]++
	}
	if err := restore(t.Context(), backupBeside(dir), dir+"-restored"); err != nil {
		t.Error(err)
	}
	t.Logf("killed in: %v; %d athletes were deleted", where, len(gone))
	// A folder whose first server is killed, mostly while it makes the folder.
	for round := range fresh {
		dir := filepath.Join(t.TempDir(), "data")
		lines := killed(t, self(t, "steps", dir, fmt.Sprint(100+round)), chance, 2, 1500)
		afterKill(t, dir, newState(), lines, nil)
	}
}

// A restore that is killed leaves no folder, or a whole one, and can be done again.
func TestKilledRestore(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it kills programs")
	}
	t.Parallel()
	chance := rand.New(rand.NewPCG(7, 2))
	src := filepath.Join(t.TempDir(), "b.zip")
	if err := os.WriteFile(src, goodBackup(t), 0o600); err != nil {
		t.Fatal(err)
	}
	for range 6 {
		dir := filepath.Join(t.TempDir(), "data")
		killed(t, self(t, "restore", dir, src), chance, 1, 1500)
		if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
			if err := restore(t.Context(), src, dir); err != nil {
				t.Error(err)
			}
			onlyThese(t, filepath.Dir(dir), beneath(t, dir)...)
		}
		open(t, dir, Options{}).healthy(2)
	}
}

// beneath returns the names of a folder and of all in it, seen from where it lies.
func beneath(t *testing.T, dir string) (names []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, _ fs.DirEntry, err error) error {
		rel, relErr := filepath.Rel(filepath.Dir(dir), path)
		names = append(names, rel)
		return errors.Join(err, relErr)
	})
	if err != nil {
		t.Fatal(err)
	}
	return names
}

// writeBeside writes a backup or the first athlete's export of an archive to a file.
func writeBeside(what, dir, dst string) (err error) {
	ctx := context.Background()
	a, err := Open(ctx, dir, Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	people, err := a.Athletes(ctx)
	if err != nil {
		return err
	}
	if what == "backup" {
		return a.Backup(ctx, dst)
	}
	return a.ExportFile(ctx, people[0].ID, dst)
}

// A backup or an export that is killed leaves no file, or a whole one, and what it left
// beside its place goes with the next.
func TestKilledBeside(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it kills programs")
	}
	t.Parallel()
	chance := rand.New(rand.NewPCG(11, 2))
	dir := filepath.Join(t.TempDir(), "data")
	d := open(t, dir, Options{})
	v := d.visit(d.athlete("one"), "2026-02-03")
	for i := range 40 {
		d.clip(v, strings.Repeat(fmt.Sprint("the frames of clip ", i), 20000))
	}
	left := 0
	for _, what := range []string{"backup", "export"} {
		for range 6 {
			box := t.TempDir()
			dst := filepath.Join(box, "x.zip")
			killed(t, self(t, what, dir, dst), chance, 1, 300)
			parts, err := os.ReadDir(box)
			d.must(err)
			left += len(parts)
			if z, err := zip.OpenReader(dst); err == nil {
				left--
				d.must(z.Close())
			} else if !errors.Is(err, fs.ErrNotExist) {
				t.Errorf("half a file: %v", err)
			}
			d.must(writeBeside(what, dir, dst))
			onlyThese(t, box, "x.zip")
		}
	}
	t.Logf("%d were killed with something left", left)
	open(t, dir, Options{Serving: true})
	onlyThese(t, filepath.Join(dir, store.TmpFolder))
}
