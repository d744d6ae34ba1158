package main

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"testing"

	"holdfast/testdata/clips"
)

func TestRevisionOf(t *testing.T) {
	setting := func(key, value string) debug.BuildSetting { return debug.BuildSetting{Key: key, Value: value} }
	commit := setting("vcs.revision", "0123456789abcdef")
	for _, tt := range []struct {
		name     string
		settings []debug.BuildSetting
		known    bool
		want     string
	}{
		{"nothing is known", nil, false, ""},
		{"no history", []debug.BuildSetting{setting("GOOS", "linux")}, true, ""},
		{"a commit", []debug.BuildSetting{commit, setting("vcs.modified", "false")}, true, "0123456"},
		{"a commit and changes", []debug.BuildSetting{setting("vcs.modified", "true"), commit}, true, "0123456-dirty"},
		{"changes alone", []debug.BuildSetting{setting("vcs.modified", "true")}, true, ""},
	} {
		if got := revisionOf(&debug.BuildInfo{Settings: tt.settings}, tt.known); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
}

func TestManualHasAPageForEachCommand(t *testing.T) {
	ta := newTestApp(t)
	if code := ta.run("manual", "man"); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	for _, c := range newRootCommand(ta.app).Commands() {
		page, err := os.ReadFile(filepath.Join("man", "holdfast-"+c.Name()+".1"))
		if c.Hidden || c.Name() == "help" {
			if err == nil {
				t.Errorf("%s has a page", c.Name())
			}
			continue
		}
		// Each line of the exit codes is a line of its own.
		if err != nil || !strings.Contains(string(page), "\n2    the command line is wrong\n") {
			t.Errorf("%s: %v, or its exit codes run together:\n%s", c.Name(), err, page)
		}
	}
	if code := ta.run("manual", "slow.mp4/man"); code != exitCannotWrite {
		t.Errorf("a folder that cannot be made: exit code %d, want %d", code, exitCannotWrite)
	}
}

// The demo needs nothing but the program, wherever it is started.
func TestDemoBringsItsClips(t *testing.T) {
	ta := newTestApp(t)
	for _, when := range []string{"the first time", "again"} {
		if code := ta.run("demo"); code != exitOK {
			t.Fatalf("%s: exit code %d: %s", when, code, ta.err)
		}
	}
	for _, name := range clips.Example {
		want, err := clips.FS.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(filepath.Join("holdfast-demo-clips", name))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s: %v, or it is not the shipped one", name, err)
		}
	}
}

func TestDemoLeavesOtherClipsAlone(t *testing.T) {
	ta := newTestApp(t)
	mine := filepath.Join("tried-clips", clips.Example[1])
	if err := os.Mkdir("tried-clips", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(mine, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	code := ta.run("demo", "--out", "tried")
	if got, err := os.ReadFile(mine); err != nil || string(got) != "mine" {
		t.Errorf("the file is now %q, %v", got, err)
	}
	if code != exitCannotWrite || !strings.Contains(ta.err.String(), mine) {
		t.Errorf("exit code %d, want %d; standard error: %s", code, exitCannotWrite, ta.err)
	}
	if _, err := os.Stat("tried"); err == nil {
		t.Error("results were written")
	}
}
