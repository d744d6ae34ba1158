package models

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// library writes an empty file that looks like this system's library and
// returns its path.
func library(t *testing.T, folder string) string {
	t.Helper()
	patterns, _ := runtimeNames(runtime.GOOS)
	path := filepath.Join(folder, strings.ReplaceAll(patterns[len(patterns)-1], "*", "1"))
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestRuntimeLibraryFromEnvironment(t *testing.T) {
	want := library(t, t.TempDir())
	t.Setenv(RuntimeEnv, want)
	if got, err := RuntimeLibrary(); err != nil || got != want {
		t.Errorf("got %q, %v, want %q", got, err, want)
	}
	t.Setenv(RuntimeEnv, want+".gone")
	if _, err := RuntimeLibrary(); !errors.Is(err, ErrNoRuntime) || !strings.Contains(err.Error(), want+".gone") {
		t.Errorf("got the error %v, want ErrNoRuntime with the path", err)
	}
}

func TestRuntimeLibraryAboveWorkingDirectory(t *testing.T) {
	t.Setenv(RuntimeEnv, "")
	root, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	want := library(t, filepath.Join(root, ".runtime", "onnxruntime"))
	deep := filepath.Join(root, "a", "b")
	if err := os.MkdirAll(deep, 0o755); err != nil {
		t.Fatal(err)
	}
	t.Chdir(deep)
	if got, err := RuntimeLibrary(); err != nil || got != want {
		t.Errorf("got %q, %v, want %q", got, err, want)
	}
}

func TestFirstFile(t *testing.T) {
	folder := t.TempDir()
	for _, name := range []string{"libonnxruntime.so.1", "libonnxruntime_providers_shared.so", "other.so"} {
		if err := os.WriteFile(filepath.Join(folder, name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(folder, "libonnxruntime.so"), 0o755); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		goos string
		want string
	}{
		{"linux", "libonnxruntime.so.1"}, // the folder of a better name is passed over
		{"darwin", ""},
		{"windows", ""},
	}
	for _, tt := range tests {
		patterns, _ := runtimeNames(tt.goos)
		want := ""
		if tt.want != "" {
			want = filepath.Join(folder, tt.want)
		}
		if got := firstFile(folder, patterns); got != want {
			t.Errorf("%s: got %q, want %q", tt.goos, got, want)
		}
	}
	if got := firstFile(filepath.Join(folder, "nowhere"), []string{"*"}); got != "" {
		t.Errorf("found %q in a folder that is not there", got)
	}
}

func TestAncestors(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "a")
	all := ancestors(folder)
	if all[0] != folder || all[1] != filepath.Dir(folder) {
		t.Errorf("got %v", all[:2])
	}
	last := all[len(all)-1]
	if filepath.Dir(last) != last {
		t.Errorf("%q is not the root", last)
	}
}
