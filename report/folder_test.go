package report

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
)

func ours(name string) bool { return name == analysisFile || name == "series.csv" }

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

// build writes a result with one file.
func build(dir, content string) error {
	f, err := openFolder(dir, ours)
	if err != nil {
		return err
	}
	defer f.abort()
	if err := f.bytes(analysisFile, []byte(content)); err != nil {
		return err
	}
	return f.commit()
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
			put(t, filepath.Join(dir, analysisFile), "earlier")
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
			before := names(t, parent)
			err := build(dir, "new")
			if !errors.Is(err, tc.want) {
				t.Fatalf("got %v, want %v", err, tc.want)
			}
			if tc.want != nil {
				if got := names(t, parent); !slices.Equal(got, before) {
					t.Errorf("a refused run left %v", got)
				}
				return
			}
			if got := names(t, dir); !slices.Equal(got, []string{analysisFile}) || read(t, filepath.Join(dir, analysisFile)) != "new" {
				t.Errorf("the result holds %v", got)
			}
			if got := names(t, filepath.Dir(dir)); !slices.Equal(got, []string{"out"}) {
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
		put(t, filepath.Join(real, analysisFile), "earlier")
		if err := os.Symlink(real, link); err != nil {
			t.Fatal(err)
		}
		if err := build(link, "new"); err != nil {
			t.Fatal(err)
		}
		if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 || read(t, filepath.Join(real, analysisFile)) != "new" {
			t.Error("the link was replaced, or the result went elsewhere")
		}
	})
}

// TestFolderKeepsForeignFiles: what the coach put beside a result stays there.
func TestFolderKeepsForeignFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	put(t, filepath.Join(dir, analysisFile), "earlier")
	put(t, filepath.Join(dir, "series.csv"), "earlier")
	put(t, filepath.Join(dir, "notes.txt"), "the coach's")
	put(t, filepath.Join(dir, "more", "deep", "a.txt"), "the coach's too")
	if err := os.Symlink("notes.txt", filepath.Join(dir, "link")); err != nil {
		t.Fatal(err)
	}
	if err := build(dir, "new"); err != nil {
		t.Fatal(err)
	}
	if got := names(t, dir); !slices.Equal(got, []string{analysisFile, "link", "more", "notes.txt"}) {
		t.Errorf("the result holds %v", got)
	}
	if read(t, filepath.Join(dir, "more", "deep", "a.txt")) != "the coach's too" || read(t, filepath.Join(dir, "link")) != "the coach's" {
		t.Error("a kept file has another content")
	}
}

func TestFolderFailuresKeepTheEarlierResult(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it draws whole folders of results")
	}
	a, tr, _ := shortAnalysis(t)
	parent := t.TempDir()
	dir := filepath.Join(parent, "out")
	put(t, filepath.Join(dir, analysisFile), "earlier")
	untouched := func(t *testing.T) {
		t.Helper()
		if got := names(t, dir); !slices.Equal(got, []string{analysisFile}) || read(t, filepath.Join(dir, analysisFile)) != "earlier" {
			t.Errorf("the earlier result now holds %v", got)
		}
		if got := names(t, parent); !slices.Equal(got, []string{"out"}) {
			t.Errorf("beside the result stands %v", got)
		}
	}
	for _, full := range []string{analysisFile, "series.csv", "keypoints.json", "frames/rep01_2_bottom_fast.png"} {
		t.Run("disk full at "+full, func(t *testing.T) {
			f, err := openFolder(dir, analysisName)
			if err != nil {
				t.Fatal(err)
			}
			defer f.abort()
			f.create = func(path string) (io.WriteCloser, error) {
				if strings.HasSuffix(filepath.ToSlash(path), full) {
					return os.OpenFile("/dev/full", os.O_WRONLY, 0)
				}
				return os.Create(path)
			}
			_, err = writeAnalysis(t.Context(), f, a, tr, Options{})
			if !errors.Is(err, ErrCannotWrite) || !errors.Is(err, syscall.ENOSPC) {
				t.Errorf("got %v", err)
			}
			f.abort()
			untouched(t)
		})
	}
	t.Run("stopped", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		_, err := WriteAnalysis(ctx, dir, a, tr, Options{Video: true, Progress: func(stage string, done, _ int) {
			if stage == "pictures" && done == 3 {
				cancel()
			}
		}})
		if !errors.Is(err, context.Canceled) {
			t.Errorf("got %v", err)
		}
		untouched(t)
	})
	t.Run("busy", func(t *testing.T) {
		f, err := openFolder(dir, ours)
		if err != nil {
			t.Fatal(err)
		}
		if err := build(dir, "second"); !errors.Is(err, ErrBusy) {
			t.Errorf("the second run got %v", err)
		}
		f.abort()
		f.abort()
		untouched(t)
	})
}

// TestFolderAfterACrash: a run that was killed leaves its lock file, its
// unfinished folder, and at worst the parked earlier result.
func TestFolderAfterACrash(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "out")
	put(t, filepath.Join(parent, ".out.holdfast-lock"), "")
	put(t, filepath.Join(parent, ".out.holdfast-new-123", analysisFile), "half")
	put(t, filepath.Join(parent, ".out.holdfast-old", analysisFile), "earlier")
	f, err := openFolder(dir, ours)
	if err != nil {
		t.Fatal(err)
	}
	f.abort()
	if got := names(t, parent); !slices.Equal(got, []string{"out"}) || read(t, filepath.Join(dir, analysisFile)) != "earlier" {
		t.Errorf("after the crash stands %v", got)
	}
	// The earlier result is whole and a parked one is left over: the parked one goes.
	put(t, filepath.Join(parent, ".out.holdfast-old", analysisFile), "older")
	if err := build(dir, "new"); err != nil {
		t.Fatal(err)
	}
	if got := names(t, parent); !slices.Equal(got, []string{"out"}) || read(t, filepath.Join(dir, analysisFile)) != "new" {
		t.Errorf("after the run stands %v", got)
	}
}
