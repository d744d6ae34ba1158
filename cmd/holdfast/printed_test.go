package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/printable"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// nasty are texts that a file, a clip's tags or a form can hold.
var nasty = []string{
	"\x1b[2J\x1b]0;owned\x07", "line\nholdfast: all is well", "a\rb\tc\vd\fe", "\u009b31mC1 \u0085", "del\x7f\b\b\b",
	"gpj.\u202e4pm\u202c \u2066x\u2069", "zero\u200b\u200d\u2060\ufeff", "ends\u2028here\u2029", "bytes \xff\xc3(",
	"=cmd|' /C calc'!A1", "%s%n%!d(",
}

// printedClean fails when something hidden was printed.
func printedClean(t *testing.T, what, printed string) {
	t.Helper()
	if at := strings.IndexFunc(strings.ReplaceAll(printed, "\n", " "), printable.Hidden); at >= 0 {
		t.Errorf("%s: %q is printed as it is in %q", what, []rune(printed[at:])[0], printed)
	}
}

// nastyApp is a program whose clips hold a text everywhere where one can stand.
func nastyApp(t *testing.T, text string) *testApp {
	ta := newTestApp(t)
	plain := ta.engine.analyze
	ta.engine.analyze = func(ctx context.Context, path string, opt screening.Options) (*screening.Analysis, *pose.Track,
		error) {
		if strings.HasPrefix(filepath.Base(path), "broken") {
			return nil, nil, &media.ClipError{Path: path, Doing: "reading it", Hint: "send it again",
				Err: fmt.Errorf("%w: ffmpeg: %s: Invalid data", media.ErrUnreadable, text)}
		}
		a, track, err := plain(ctx, "fast.mp4", opt)
		if err == nil {
			a.Clip.Name, a.Facing, a.NearSide, a.MassModel, a.Model.Name = filepath.Base(path), text, text, text, text
			a.Warnings = append(a.Warnings, screening.Warning{Message: text})
			a.Reps[0].Quality = joints.Quality{Grade: joints.Grade(text), Advice: notice.Notice{Message: text}}
			a.Reps[0].Tempo, a.Reps[1].PartialWhy = events.Tempo(text), notice.Notice{Message: text}
		}
		return a, track, err
	}
	compare := ta.engine.compare
	ta.engine.compare = func(as []*screening.Analysis, opt screening.CompareOptions) (*screening.Comparison, error) {
		c, err := compare(as, opt)
		if err == nil {
			c.Warnings = append(c.Warnings, screening.Warning{Message: text})
			c.Ladder.Rungs[0].Cells[0].Condition = text
			c.Pairs[0].Joints[body.KneeJoint].Verdict, c.FirstLost[body.AnkleJoint] = stats.Verdict(text), &text
		}
		return c, err
	}
	ta.engine.writeComparison = func(_ context.Context, dir string, c *screening.Comparison,
		_ report.Options) (report.Files, error) {
		return report.Files{Dir: dir, Comparison: filepath.Join(dir, "comparison.json"),
				Warnings: []screening.Warning{{Message: text}}},
			writeSample(t.Context(), dir, "comparison.json", c)
	}
	return ta
}

// Whatever names, tags and messages hold, a command prints as many lines as for plain
// ones and nothing that a terminal obeys, and names no folder after it.
func TestNothingHiddenIsPrinted(t *testing.T) {
	for _, args := range [][]string{
		{"analyze", "CLIP.mp4", "--athlete", "NAME"}, {"analyze", "CLIP.mp4", "--athlete", "NAME", "--json"},
		{"analyze", "CLIP.mp4", "broken CLIP.mp4"}, {"analyze", "broken CLIP.mp4", "--json"},
		{"analyze", "CLIP.mp4", "--out", "out NAME"}, {"analyze", "gone NAME.mp4"}, {"analyze", "slow.mp4", "--out",
			"fast.mp4/NAME"},
		{"analyze", "slow.mp4", "--tempo", "NAME"}, {"analyze", "slow.mp4", "--facing", "NAME"}, {"analyze", "slow.mp4",
			"--model", "NAME"},
		{"analyze", "slow.mp4", "--rep", "NAME"}, {"analyze", "slow.mp4", "--fps=NAME"}, {"analyze", "slow.mp4",
			"--NAME"}, {"analyze", "slow.mp4", "--height-cm", "NAME", "--json"},
		{"compare", "CLIP.mp4", "slow.mp4", "--athlete", "NAME"}, {"compare", "CLIP.mp4", "slow.mp4", "--json", "--out",
			"both NAME"},
		{"compare", "earlier", "slow.mp4"}, {"compare", "gone NAME.json"}, {"compare", "slow.mp4", "--retest",
			"gone NAME.mp4"},
		{"NAME"}, {"serve", "--listen", "NAME"}, {"serve", "--password-file", "NAME"}, {"athletes", "--data",
			"gone NAME"}, {"archive", "restore", "gone NAME", "--data", "new"},
	} {
		t.Run(strings.Join(args, " "), func(t *testing.T) {
			lines := func(text string) (out, err int) {
				ta := nastyApp(t, text)
				name := strings.NewReplacer("/", "_", "\x00", "_").Replace(text) // what a file system takes
				for _, file := range []string{name + ".mp4", "broken " + name + ".mp4"} {
					if err := os.WriteFile(file, []byte("clip"), 0o600); err != nil {
						t.Fatal(err)
					}
				}
				earlier := sampleAnalysis("slow", text)
				earlier.Clip.Name = text
				if err := writeSample(t.Context(), "earlier", "analysis.json", earlier); err != nil {
					t.Fatal(err)
				}
				full := make([]string, len(args))
				for i, arg := range args {
					full[i] = strings.NewReplacer("CLIP", name, "NAME", strings.ReplaceAll(text, "\x00", "")).Replace(arg)
				}
				ta.run(full...)
				what := fmt.Sprintf("%q", full)
				printedClean(t, what+" on standard output", ta.out.String())
				printedClean(t, what+" on standard error", ta.err.String())
				checkFolders(t)
				return strings.Count(ta.out.String(), "\n"), strings.Count(ta.err.String(), "\n")
			}
			out, err := lines("plain")
			for _, text := range nasty {
				if o, e := lines(text); o != out || e != err {
					t.Errorf("%q makes %d and %d lines of %d and %d", text, o, e, out, err)
				}
			}
		})
	}
}

// checkFolders looks at the folders that are named after athletes and clips.
func checkFolders(t *testing.T) {
	t.Helper()
	err := filepath.WalkDir(resultsFolder, func(path string, _ fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if strings.ContainsFunc(path, printable.Hidden) {
			t.Errorf("a folder is called %q", path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// The archive takes marks of direction and of zero width in names, and anything in notes.
func TestNothingHiddenIsPrintedOfTheArchive(t *testing.T) {
	dir := filledArchive(t)
	const name, shown = "Robin \u202eelaV\u200b", `Robin \u202eelaV\u200b`
	arc, err := archive.Open(t.Context(), dir, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	who, err := arc.CreateAthlete(t.Context(), archive.Athlete{Name: name, Notes: "first\nsecond\u2066"})
	if err != nil {
		t.Fatal(err)
	}
	visit, err := arc.VisitFor(t.Context(), archive.Visit{AthleteID: who.ID, Date: "2025-01-02", Notes: "\u202e"})
	if err != nil {
		t.Fatal(err)
	}
	file, err := arc.Put(t.Context(), strings.NewReader("a clip"), 100)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := arc.AddClip(t.Context(), archive.Clip{AthleteID: who.ID, VisitID: visit.ID, Name: "gpj.\u202e4pm.mp4",
		SHA256: file.SHA256}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(arc.FilePath(file.SHA256), []byte("changed"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := arc.Close(); err != nil {
		t.Fatal(err)
	}
	for _, step := range []struct {
		args  []string
		stdin string
		code  int
		want  string
	}{
		{args: []string{"athletes"}, want: shown},
		{args: []string{"athletes", "--json"}, want: shown},
		{args: []string{"history", name}, want: shown + " has no measured clip yet."},
		{args: []string{"history", name + "\x1b"}, code: exitUsage, want: "nobody is called"},
		{args: []string{"archive", "check"}, code: exitUnreadable, want: "1 problem"},
		{args: []string{"archive", "export", name}, code: exitUnreadable, want: "Robin elaV"},
		{args: []string{"archive", "delete", name}, stdin: "no\n", code: exitUsage, want: "Delete " + shown + " with all"},
		{args: []string{"archive", "delete", name}, stdin: shown + "\n", want: "Deleted " + shown},
	} {
		ta := newTestApp(t)
		ta.app.stdin = strings.NewReader(step.stdin)
		if code := ta.run(append(step.args, "--data", dir)...); code != step.code {
			t.Errorf("%q: exit code %d, want %d: %s", step.args, code, step.code, ta.err)
		}
		printed := ta.out.String() + ta.err.String()
		printedClean(t, fmt.Sprintf("%q", step.args), printed)
		if !strings.Contains(printed, step.want) {
			t.Errorf("%q: %s\nwant %q in it", step.args, printed, step.want)
		}
		if len(step.args) > 1 && step.args[1] == "--json" {
			var back archive.Athlete
			if err := json.Unmarshal([]byte(strings.Split(ta.out.String(), "\n")[0]), &back); err != nil || back.Name != name {
				t.Errorf("the JSON names %q: %v", back.Name, err)
			}
		}
	}
}

// The label of a clip's progress is its file's name.
func TestNothingHiddenIsPrintedOfProgress(t *testing.T) {
	for _, text := range nasty {
		ta := newTestApp(t)
		p := terminal.NewProgress(ta.stderr, ta.stderrTerminal, ta.now, text)
		for done := range 101 {
			p.Report("tracking", done, 100)
		}
		p.End()
		if ta.err.Len() == 0 {
			t.Error("no progress is printed")
		}
		printedClean(t, "progress", ta.err.String())
		ta.stderrTerminal = true
		ta.err.Reset()
		p = terminal.NewProgress(ta.stderr, ta.stderrTerminal, ta.now, text)
		p.Report("tracking", 1, 100)
		p.End()
		bar := strings.NewReplacer("\r", "", "\x1b[2K", "", "\x1b[K", "").Replace(ta.err.String()) // the bar's own
		printedClean(t, "the bar", bar)
	}
}

// What is printed goes through terminal.Say: elsewhere the package fmt prints only words that
// stand in the source.
func TestEverythingIsPrintedBySay(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) < 10 {
		t.Fatal(files, err)
	}
	beneath, err := filepath.Glob("terminal/*.go")
	if err != nil || len(beneath) < 3 {
		t.Fatal(beneath, err)
	}
	for _, name := range append(files, beneath...) {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, decl := range file.Decls {
			if f, ok := decl.(*ast.FuncDecl); ok && f.Name.Name == "Say" {
				continue
			}
			ast.Inspect(decl, func(n ast.Node) bool {
				call, ok := n.(*ast.CallExpr)
				if !ok {
					return true
				}
				if f := types.ExprString(call.Fun); !strings.HasPrefix(f, "fmt.Fprint") && !strings.HasPrefix(f, "fmt.Print") {
					return true
				}
				for _, arg := range call.Args[1:] {
					if _, word := arg.(*ast.BasicLit); !word {
						t.Errorf("%s: print it by terminal.Say", set.Position(call.Pos()))
					}
				}
				return true
			})
		}
	}
}

// FuzzSafeName: whatever an athlete is called, the folder has one plain name.
func FuzzSafeName(f *testing.F) {
	for _, s := range append([]string{"Sam Example", "..", "con", "a/b", "aux.mp4", " . "}, nasty...) {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, name string) {
		got := safeName(name, "x")
		if got == "" || got == "." || got == ".." || len(got) > 121 || strings.ContainsAny(got, `/\:*?"<>|`) ||
			strings.ContainsFunc(got, printable.Hidden) ||
			strings.TrimRight(got, ". ") != got || safeName(got, "x") != got {
			t.Errorf("safeName(%q) = %q", name, got)
		}
	})
}
