package movements

import (
	"errors"
	"go/scanner"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"holdfast/kinematics/movement"
)

// files returns the shipped files.
func files(t *testing.T) fstest.MapFS {
	t.Helper()
	out := fstest.MapFS{}
	names, err := fs.Glob(shipped, "*.toml")
	if err != nil || len(names) == 0 {
		t.Fatalf("%v, %v", names, err)
	}
	for _, name := range names {
		text, err := fs.ReadFile(shipped, name)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = &fstest.MapFile{Data: text}
	}
	return out
}

// Without its file a movement is gone, and no other.
func TestOneFileIsOneMovement(t *testing.T) {
	all := files(t)
	for name := range all {
		rest := maps.Clone(all)
		delete(rest, name)
		s, err := (&Set{}).With(rest)
		if err != nil {
			t.Fatal(err)
		}
		gone := strings.TrimSuffix(name, ".toml")
		if _, known := s.Of(gone); known || len(s.All()) != len(all)-1 {
			t.Errorf("without %s there are %v", name, s.Keys())
		}
	}
	if len(Known().All()) != len(all) {
		t.Errorf("%d files, known are %v", len(all), Known().Keys())
	}
}

// No code of the program asks for a movement by its key.
func TestNoKeyInTheCode(t *testing.T) {
	keys := Known().Keys()
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		name := d.Name()
		switch {
		case err != nil:
			return err
		case d.IsDir() && (strings.HasPrefix(name, ".") && name != ".." || name == "scripts" || name == "internal" ||
			name == "node_modules"):
			return fs.SkipDir
		case d.IsDir() || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go"):
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		var s scanner.Scanner
		file := token.NewFileSet()
		s.Init(file.AddFile(path, -1, len(text)), text, nil, 0)
		for {
			pos, tok, lit := s.Scan()
			if tok == token.EOF {
				return nil
			}
			if said, err := strconv.Unquote(lit); tok == token.STRING && err == nil && slices.Contains(keys, said) {
				t.Errorf("%s names the movement %s", file.Position(pos), said)
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
}

// The documentation lists every movement and every key, and no other.
func TestDocumentationListsEveryKey(t *testing.T) {
	text, err := os.ReadFile("../docs/movements.md")
	if err != nil {
		t.Fatal(err)
	}
	listed := map[string]bool{} // and whether it must be there
	for _, row := range regexp.MustCompile("(?m)^\\| (`.*?) \\|").FindAllStringSubmatch(string(text), -1) {
		for _, key := range regexp.MustCompile("`([a-z_.]+)`").FindAllStringSubmatch(row[1], -1) {
			listed[key[1]] = strings.HasSuffix(row[1], "*")
		}
	}
	for _, s := range slices.Concat(settings, unlikeSettings) {
		if must, ok := listed[s.key]; !ok || must == s.optional {
			t.Errorf("%s: listed %v, as one that must be there %v", s.key, ok, must)
		}
		delete(listed, s.key)
	}
	for _, key := range Known().Keys() {
		if _, ok := listed[key]; !ok {
			t.Errorf("the movement %s is not listed", key)
		}
		delete(listed, key)
	}
	if len(listed) > 0 {
		t.Errorf("no key of a movement: %v", listed)
	}
}

// What is wrong with a file is said in a line with its name.
func TestBadFiles(t *testing.T) {
	good := string(files(t)["squat.toml"].Data)
	with := func(old, new string) string {
		if !strings.Contains(good, old) {
			t.Fatalf("there is no %q", old)
		}
		return strings.Replace(strings.Replace(good, `key = "squat"`, `key = "mine"`, 1), old, new, 1)
	}
	for _, c := range []struct{ name, text, says string }{
		{"no TOML", "key = ", "line 1: "},
		{"its key is taken", good, "its key squat is that of squat.toml"},
		{"a key with a space", strings.Replace(good, `key = "squat"`, `key = "my squat"`, 1), "small letters"},
		{"a key is missing", with("least_s = 0.25\n", ""), "rep.least_s is missing"},
		{"a key that is none", with("least_s", "least_t = 1\nleast_s"), "it has rep.least_t, which is no key"},
		{"a word for a number", with("least_s = 0.25", `least_s = "a while"`), "rep.least_s must be a number from 0 to 60"},
		{"not a number", with("least_s = 0.25", "least_s = nan"), "rep.least_s must be a number"},
		{"an unknown kind", with(`kind = "height"`, `kind = "mood"`), "must be one of angle, distance and height"},
		{"an unknown point", with(`points = ["hip"]`, `points = ["nose"]`), "signal.points must be a list"},
		{"a point twice", with(`points = ["hip"]`, `points = ["hip", "hip"]`), "each once"},
		{"two points for a height", with(`points = ["hip"]`, `points = ["hip", "knee"]`), "needs 1 in signal.points"},
		{"an angle without its name", with("kind = \"height\"\npoints = [\"hip\"]", `kind = "angle"`), "signal.angle goes"},
		{"back beyond leaves", with("back = 0.05", "back = 0.3"), "rep.back must be less"},
		{"less bent than leaves", with("least_bent = 0.12", "least_bent = 0.3"), "rep.least_bent must be more"},
		{"a tempo of nothing", with("fast_s = 0.8", "fast_s = 0"), "must be more than 0"},
		{"a word for yes", with("leave_the_floor = true", "leave_the_floor = 1"), "feet.leave_the_floor must be true"},
		{"what nobody can say", with(`says = "bent_over"`, `says = "odd"`), "unlike.says must be one of"},
		{"one unlike", with("[[unlike]]\nsays = \"legs_apart\"\nfilm = \"film_feet_side_by_side\"\nlook = \"feet_apart\"\n"+
			"above = 0.45\n", ""), ""},
		{"also of nothing", with(`says = "legs_apart"`, "also = true\nsays = \"legs_apart\""), "goes with the one before"},
		{"too long", good + strings.Repeat("# on and on\n", 2000), "more than 16 kB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Known().With(fstest.MapFS{"mine.toml": {Data: []byte(c.text)}})
			if c.says == "" {
				if err != nil {
					t.Error(err)
				}
				return
			}
			if !errors.Is(err, ErrBadFile) || !strings.HasPrefix(err.Error(), "mine.toml: ") ||
				!strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "\n") {
				t.Errorf("%v, want %q", err, c.says)
			}
		})
	}
}

// A coach's own movement is known beside the others, here and in a process that is told of it.
func TestOwn(t *testing.T) {
	text := strings.Replace(string(files(t)["squat.toml"].Data), `key = "squat"`, `key = "deep_squat"`, 1)
	s, err := Known().With(fstest.MapFS{"mine.toml": {Data: []byte(text)}, "notes.txt": {}})
	if err != nil {
		t.Fatal(err)
	}
	again, err := Known().WithOwn(s.Own())
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []*Set{s, again} {
		m, known := s.Of("deep_squat")
		if !known || m.Signal.Kind != movement.Height || len(s.All()) != len(Known().All())+1 || Name(m.Key) != "deep squat" {
			t.Errorf("%+v, %v", m, s.Keys())
		}
		if m, _ := s.Of(""); m == nil || m.Key == "deep_squat" {
			t.Errorf("results of before are of %+v", m)
		}
	}
	if len(Known().Own()) != 0 {
		t.Error("a shipped movement is told of")
	}
}

func FuzzRead(f *testing.F) {
	text, err := fs.ReadFile(shipped, "squat.toml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte("unlike = [1]\n"))
	f.Add([]byte("[signal]\npoints = [[]]\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		if k, err := read(text); err == nil && (k.Key == "" || len(k.Joints) == 0) {
			t.Errorf("%+v is a movement", k)
		}
	})
}
