package main

import (
	"bytes"
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/cmd/holdfast/place"
)

func TestServeRefuses(t *testing.T) {
	t.Setenv(passwordVariable, "")
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
		{"all computers, no password", serveOptions{listen: "0.0.0.0:0"}, "give a password"},
		{"all computers, said shortly", serveOptions{listen: ":0"}, "give a password"},
		{"one address", serveOptions{listen: "192.168.1.5:0"}, "give a password"},
		{"a name", serveOptions{listen: "example.com:0"}, "in numbers"},
		{"no port", serveOptions{listen: "127.0.0.1"}, "a port"},
		{"no file", serveOptions{listen: "127.0.0.1:0", passwordFile: "none/none"}, "reading the password"},
		{"empty file", serveOptions{listen: "127.0.0.1:0", passwordFile: file("\nsecond line\n")}, "empty line"},
		{"short password", serveOptions{listen: "0.0.0.0:0", passwordFile: file("1234567\n")}, "shorter than 8"},
		{"no such network", serveOptions{listen: "127.0.0.1:0", model: "lite"}, "--model takes"},
		{"no store", serveOptions{listen: "127.0.0.1:0", Options: place.Options{Data: t.TempDir(), Store: "clips"}},
			"--store takes"},
		{"no folder of a store", serveOptions{listen: "127.0.0.1:0", Options: place.Options{Data: t.TempDir(),
			Store: "file://clips"}}, "whole path"},
		{"no such port", serveOptions{listen: "127.0.0.1:99999"}, "cannot listen"},
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
	here := serveOptions{listen: "127.0.0.1:0", Options: place.Options{Data: t.TempDir()}}
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
	t.Setenv(passwordVariable, "correct horse")
	ctx, stop := context.WithCancel(t.Context())
	out := &stopper{stop: stop}
	a := &app{stdout: out, stderr: &bytes.Buffer{}}
	here := serveOptions{listen: "127.0.0.1:0", Options: place.Options{Data: t.TempDir()}}
	if err := a.runServe(ctx, here); err != nil {
		t.Fatal(err)
	}
	if _, there := os.LookupEnv(passwordVariable); there || !strings.Contains(out.text.String(), "with the password") {
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

func TestWhoCanReach(t *testing.T) {
	for _, tt := range []struct {
		bound       string
		fingerprint string
		password    bool
		want        []string
	}{
		{"127.0.0.1:7070", "", false, []string{"http://127.0.0.1:7070/", "Only this computer can reach it.\n"}},
		{"[::1]:7070", "", true, []string{"http://[::1]:7070/", "with the password"}},
		{"[::]:7070", "AB:CD", true, []string{"http://127.0.0.1:7070/", "fingerprint:\nAB:CD\n", "QR code"}},
		{"192.168.1.5:7070", "AB:CD", true, []string{"http://192.168.1.5:7070/",
			"Everyone on your network who has the password"}},
	} {
		addr, err := net.ResolveTCPAddr("tcp", tt.bound)
		if err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		sayWhoCanReach(&out, pageAddress(addr), tt.fingerprint, tt.password)
		for _, w := range tt.want {
			if !strings.Contains(out.String(), w) {
				t.Errorf("%s: %q lacks %q", tt.bound, out.String(), w)
			}
		}
	}
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
		if err := a.runServe(ctx, serveOptions{listen: "127.0.0.1:0", Options: place.Options{Data: dir}}); err != nil {
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
