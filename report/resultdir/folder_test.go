package resultdir

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

func ours(name string) bool { return name == AnalysisFile || name == "series.csv" }

func put(t *testing.T, path, content string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
}

func read(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func entries(t *testing.T, dir string) []string {
	t.Helper()
	found, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range found {
		out = append(out, e.Name())
	}
	return out
}

// build writes a result with one file.
func build(dir, content string) error {
	f, err := Open(dir, ours)
	if err != nil {
		return err
	}
	defer f.Abort()
	if err := f.Bytes(AnalysisFile, []byte(content)); err != nil {
		return err
	}
	return f.Commit()
}

func TestFolderTargets(t *testing.T) {
	for _, tc := range []struct {
		name    string
		prepare func(t *testing.T, dir string)
		want    error
	}{
		{"new", func(*testing.T, string) {}, nil},
		{"new, parents missing", nil, nil},
		{"empty", func(t *testing.T, dir string) {
			if err := os.Mkdir(dir, 0o755); err != nil {
				t.Fatal(err)
			}
		}, nil},
		{"an earlier result", func(t *testing.T, dir string) {
			put(t, filepath.Join(dir, AnalysisFile), "earlier")
			put(t, filepath.Join(dir, "series.csv"), "earlier")
		}, nil},
		{"other files", func(t *testing.T, dir string) { put(t, filepath.Join(dir, "holiday.txt"), "x") }, ErrNotOurs},
		{"a file in its place", func(t *testing.T, dir string) { put(t, dir, "x") }, ErrCannotWrite},
	} {
		t.Run(tc.name, func(t *testing.T) {
			parent := t.TempDir()
			dir := filepath.Join(parent, "out")
			if tc.prepare == nil {
				dir = filepath.Join(parent, "a", "b", "out")
			} else {
				tc.prepare(t, dir)
			}
			before := entries(t, parent)
			err := build(dir, "new")
			if !errors.Is(err, tc.want) {
				t.Fatalf("got %v, want %v", err, tc.want)
			}
			if tc.want != nil {
				if got := entries(t, parent); !slices.Equal(got, before) {
					t.Errorf("a refused run left %v", got)
				}
				return
			}
			if got := entries(t, dir); !slices.Equal(got, []string{AnalysisFile}) ||
				read(t, filepath.Join(dir, AnalysisFile)) != "new" {
				t.Errorf("the result holds %v", got)
			}
			if got := entries(t, filepath.Dir(dir)); !slices.Equal(got, []string{"out"}) {
				t.Errorf("beside the result stands %v", got)
			}
		})
	}
	t.Run("a parent that is a file", func(t *testing.T) {
		file := filepath.Join(t.TempDir(), "file")
		put(t, file, "x")
		if err := build(filepath.Join(file, "out"), "new"); !errors.Is(err, ErrCannotWrite) {
			t.Errorf("got %v", err)
		}
	})
	t.Run("the root folder", func(t *testing.T) {
		if err := build("/", "new"); !errors.Is(err, ErrCannotWrite) {
			t.Errorf("got %v", err)
		}
	})
	t.Run("a link to a folder", func(t *testing.T) {
		real, link := filepath.Join(t.TempDir(), "real"), filepath.Join(t.TempDir(), "link")
		put(t, filepath.Join(real, AnalysisFile), "earlier")
		if err := os.Symlink(real, link); err != nil {
			t.Fatal(err)
		}
		if err := build(link, "new"); err != nil {
			t.Fatal(err)
		}
		if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 ||
			read(t, filepath.Join(real, AnalysisFile)) != "new" {
			t.Error("the link was replaced, or the result went elsewhere")
		}
	})
}

// TestFolderKeepsForeignFiles: what the coach put beside a result stays there.
func TestFolderKeepsForeignFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	put(t, filepath.Join(dir, AnalysisFile), "earlier")
	put(t, filepath.Join(dir, "series.csv"), "earlier")
	put(t, filepath.Join(dir, "notes.txt"), "the coach's")
	put(t, filepath.Join(dir, "more", "deep", "a.txt"), "the coach's too")
	if err := os.Symlink("notes.txt", filepath.Join(dir, "link")); err != nil {
		t.Fatal(err)
	}
	if err := build(dir, "new"); err != nil {
		t.Fatal(err)
	}
	if got := entries(t, dir); !slices.Equal(got, []string{AnalysisFile, "link", "more", "notes.txt"}) {
		t.Errorf("the result holds %v", got)
	}
	if read(t, filepath.Join(dir, "more", "deep", "a.txt")) != "the coach's too" ||
		read(t, filepath.Join(dir, "link")) != "the coach's" {
		t.Error("a kept file has another content")
	}
}

// TestFolderIsBusy: one run at a time writes into a folder.
func TestFolderIsBusy(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "out")
	put(t, filepath.Join(dir, AnalysisFile), "earlier")
	f, err := Open(dir, ours)
	if err != nil {
		t.Fatal(err)
	}
	if err := build(dir, "second"); !errors.Is(err, ErrBusy) {
		t.Errorf("the second run got %v", err)
	}
	f.Abort()
	f.Abort()
	if got := entries(t, dir); !slices.Equal(got, []string{AnalysisFile}) ||
		read(t, filepath.Join(dir, AnalysisFile)) != "earlier" {
		t.Errorf("the earlier result now holds %v", got)
	}
	if got := entries(t, parent); !slices.Equal(got, []string{"out"}) {
		t.Errorf("beside the result stands %v", got)
	}
}

// TestFolderAfterACrash: a run that was killed leaves its lock file, its
// unfinished folder, and at worst the parked earlier result.
func TestFolderAfterACrash(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "out")
	put(t, filepath.Join(parent, ".out.holdfast-lock"), "")
	put(t, filepath.Join(parent, ".out.holdfast-new-123", AnalysisFile), "half")
	put(t, filepath.Join(parent, ".out.holdfast-old", AnalysisFile), "earlier")
	f, err := Open(dir, ours)
	if err != nil {
		t.Fatal(err)
	}
	f.Abort()
	if got := entries(t, parent); !slices.Equal(got, []string{"out"}) ||
		read(t, filepath.Join(dir, AnalysisFile)) != "earlier" {
		t.Errorf("after the crash stands %v", got)
	}
	// The earlier result is whole and a parked one is left over: the parked one goes.
	put(t, filepath.Join(parent, ".out.holdfast-old", AnalysisFile), "older")
	if err := build(dir, "new"); err != nil {
		t.Fatal(err)
	}
	if got := entries(t, parent); !slices.Equal(got, []string{"out"}) ||
		read(t, filepath.Join(dir, AnalysisFile)) != "new" {
		t.Errorf("after the run stands %v", got)
	}
}
