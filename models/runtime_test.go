package models

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"slices"
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

// A library in the working directory or above it is somebody else's.
func TestRuntimeLibraryNotFromWorkingDirectory(t *testing.T) {
	root := t.TempDir()
	deep := filepath.Join(root, "a", "b")
	hostile := map[string]bool{}
	for _, folder := range []string{root, filepath.Dir(deep), deep} {
		hostile[library(t, folder)] = true
		hostile[library(t, filepath.Join(folder, ".runtime", "onnxruntime"))] = true
		hostile[library(t, filepath.Join(folder, "bin", ".runtime", "onnxruntime"))] = true
	}
	t.Chdir(deep)
	named := filepath.Base(library(t, deep))
	for _, name := range []string{"", named, "./" + named, "../b/" + named} {
		t.Setenv(RuntimeEnv, name)
		// A system may have a library of its own.
		got, err := RuntimeLibrary()
		if hostile[got] || got != "" && !filepath.IsAbs(got) {
			t.Errorf("with %s=%q: %s is loaded", RuntimeEnv, name, got)
		}
		if name != "" && (!errors.Is(err, ErrNoRuntime) || !strings.Contains(err.Error(), "whole path")) {
			t.Errorf("with %s=%q: got %q, %v", RuntimeEnv, name, got, err)
		}
	}
}

func TestFoldersOfProgram(t *testing.T) {
	for program, want := range map[string][]string{
		"/opt/holdfast/holdfast": {"/opt/holdfast/.runtime/onnxruntime"},
		"/home/sam/holdfast/bin/holdfast": {"/home/sam/holdfast/bin/.runtime/onnxruntime",
			"/home/sam/holdfast/lib/holdfast", "/home/sam/holdfast/.runtime/onnxruntime"},
		"/usr/bin/holdfast":             {"/usr/bin/.runtime/onnxruntime", "/usr/lib/holdfast", "/usr/.runtime/onnxruntime"},
		"/home/sam/holdfast/a/holdfast": {"/home/sam/holdfast/a/.runtime/onnxruntime"},
	} {
		if got := foldersOfProgram(program); !slices.Equal(got, want) {
			t.Errorf("%s: got %v, want %v", program, got, want)
		}
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
