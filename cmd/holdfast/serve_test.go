package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/cmd/holdfast/door"
	"holdfast/cmd/holdfast/place"
)

// at and with are how people come in at an address, without a password and with that of a file.
func at(listen string) door.Options         { return door.Options{Listen: listen} }
func with(listen, file string) door.Options { return door.Options{Listen: listen, PasswordFile: file} }

func TestServeRefuses(t *testing.T) {
	t.Setenv(door.PasswordVariable, "")
	file := func(text string) string {
		path := filepath.Join(t.TempDir(), "password")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	tests := []struct {
		name string
		opts serveOptions
		want string
	}{
		{"all computers, no password", serveOptions{door: at("0.0.0.0:0")}, "give a password"},
		{"all computers, said shortly", serveOptions{door: at(":0")}, "give a password"},
		{"one address", serveOptions{door: at("192.168.1.5:0")}, "give a password"},
		{"a name", serveOptions{door: at("example.com:0")}, "in numbers"},
		{"no port", serveOptions{door: at("127.0.0.1")}, "a port"},
		{"no file", serveOptions{door: with("127.0.0.1:0", "none/none")}, "reading the password"},
		{"empty file", serveOptions{door: with("127.0.0.1:0", file("\nsecond line\n"))}, "empty line"},
		{"short password", serveOptions{door: with("0.0.0.0:0", file("1234567\n"))}, "shorter than 8"},
		{"no such network", serveOptions{door: at("127.0.0.1:0"), model: "lite"}, "--model takes"},
		{"no store", serveOptions{door: at("127.0.0.1:0"), Options: place.Options{Data: t.TempDir(), Store: "clips"}},
			"--store takes"},
		{"no folder of a store", serveOptions{door: at("127.0.0.1:0"), Options: place.Options{Data: t.TempDir(),
			Store: "file://clips"}}, "whole path"},
		{"no such port", serveOptions{door: at("127.0.0.1:99999")}, "cannot listen"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var out, errs bytes.Buffer
			a := &app{stdout: &out, stderr: &errs}
			tt.opts.Data = t.TempDir()
			err := a.runServe(t.Context(), tt.opts)
			if err == nil || !strings.Contains(err.Error(), tt.want) || exitCode(err) != exitUsage {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
}

// The server says where it is, and stops when it is told to.
func TestServeStops(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	out := &stopper{stop: stop}
	a := &app{stdout: out, stderr: &bytes.Buffer{}}
	here := serveOptions{door: at("127.0.0.1:0"), Options: place.Options{Data: t.TempDir()}}
	if err := a.runServe(ctx, here); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(out.text.String(), "Holdfast is at http://127.0.0.1:") ||
		!strings.Contains(out.text.String(), "Only this computer") {
		t.Errorf("it says %q", out.text.String())
	}
}

// The password does not stay where the browser and the processes that read clips
// would inherit it.
func TestServeForgetsThePassword(t *testing.T) {
	t.Setenv(door.PasswordVariable, "correct horse")
	ctx, stop := context.WithCancel(t.Context())
	out := &stopper{stop: stop}
	a := &app{stdout: out, stderr: &bytes.Buffer{}}
	here := serveOptions{door: at("127.0.0.1:0"), Options: place.Options{Data: t.TempDir()}}
	if err := a.runServe(ctx, here); err != nil {
		t.Fatal(err)
	}
	_, there := os.LookupEnv(door.PasswordVariable)
	if there || !strings.Contains(out.text.String(), "with the password") {
		t.Errorf("the password is in the environment: %v; it says %q", there, out.text.String())
	}
}

// stopper stops the server when the last line of its greeting is printed.
type stopper struct {
	text bytes.Buffer
	stop context.CancelFunc
}

func (s *stopper) Write(p []byte) (int, error) {
	if strings.Contains(string(p), "Ctrl+C") {
		s.stop()
	}
	return s.text.Write(p)
}

// A data folder that other users can look into is said at the start, with what to type,
// and left as it is.
func TestServeSaysWhoCanLookIn(t *testing.T) {
	for _, tt := range []struct {
		name string
		mode os.FileMode
		want string
	}{
		{"my data", 0o755, "chmod -R go= '"},
		{"data", 0o750, "chmod -R go= /"},
		{"narrow", 0o700, ""},
	} {
		dir := filepath.Join(t.TempDir(), tt.name)
		if err := errors.Join(os.Mkdir(dir, 0o700), os.Chmod(dir, tt.mode)); err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(t.Context())
		out := &stopper{stop: stop}
		a := &app{stdout: out, stderr: &bytes.Buffer{}}
		if err := a.runServe(ctx, serveOptions{door: at("127.0.0.1:0"), Options: place.Options{Data: dir}}); err != nil {
			t.Fatal(err)
		}
		said := out.text.String()
		if strings.Contains(said, "chmod") != (tt.want != "") || !strings.Contains(said, tt.want) {
			t.Errorf("%s: it says %q, want %q", tt.name, said, tt.want)
		}
		if info, err := os.Stat(dir); err != nil || info.Mode().Perm() != tt.mode {
			t.Errorf("%s: the mode is %v, %v", tt.name, info.Mode(), err)
		}
	}
	for path, want := range map[string]string{"/a/b": "/a/b", "a b": "'a b'", "it's": `'it'\''s'`, "-x": "'./-x'",
		"": "''"} {
		if got := shellQuoted(path); got != want {
			t.Errorf("shellQuoted(%q) = %s, want %s", path, got, want)
		}
	}
}
