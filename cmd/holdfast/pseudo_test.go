package main

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"holdfast/archive"
	"holdfast/cmd/holdfast/door"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/internal/pseudo"
	"holdfast/words"
)

// notSaid is what help shows that is no sentence: names of commands, flags and what they take,
// names of files, and command lines in examples.
var notSaid = regexp.MustCompile(`--?[a-z][a-z-]*|\[(?:flags|command)\]|\b[A-Z_]{2,}\b|(?m)^  holdfast .*$|"[^"]*"|` +
	`\b(?:strings?|floats?|stringArray|float64Slice)\b`)

func english(text string, names ...string) []string {
	for _, name := range append(names, "holdfast") {
		text = regexp.MustCompile(`(^|\W)`+regexp.QuoteMeta(name)+`(\W|$)`).ReplaceAllString(text, "$1 $2")
	}
	return pseudo.English(notSaid.ReplaceAllString(text, " "))
}

// The help of every command in another language holds no English.
func TestHelpInAnotherLanguage(t *testing.T) {
	pseudo.Speak(t)
	var names []string
	var collect func(*cobra.Command)
	collect = func(cmd *cobra.Command) {
		names = append(names, cmd.Name())
		names = append(names, cmd.Aliases...)
		for _, below := range cmd.Commands() {
			collect(below)
		}
	}
	var out bytes.Buffer
	root := newRootCommand(&app{stdout: &out, stderr: &out})
	collect(root)
	commands := 0
	var read func(*cobra.Command)
	read = func(cmd *cobra.Command) {
		commands++
		out.Reset()
		cmd.SetOut(&out)
		if err := cmd.Help(); err != nil {
			t.Fatal(err)
		}
		text := out.String()
		for _, line := range strings.Split(text, "\n") {
			listed := regexp.MustCompile(`^  ([a-z]+) {2,}`).FindString(line) // a command and what it is for
			if cmd.HasExample() && strings.Contains(cmd.Example, strings.TrimSpace(line)) ||
				strings.TrimSpace(line) == cmd.NameAndAliases() {
				continue
			}
			line = strings.Replace(line, cmd.UseLine(), "", 1)
			if found := english(strings.TrimPrefix(line, listed), cmd.CommandPath(), cmd.Name()); len(found) > 0 {
				t.Errorf("%s: %q is English in %q", cmd.CommandPath(), line, found)
			}
		}
		for _, below := range cmd.Commands() {
			read(below)
		}
	}
	read(root)
	if commands < 15 {
		t.Errorf("only %d commands", commands)
	}
}

// Every command and every flag has its help in the catalogue.
func TestEveryCommandHasItsHelp(t *testing.T) {
	var read func(*cobra.Command)
	read = func(cmd *cobra.Command) {
		if strings.HasPrefix(cmd.Short, "help.") || cmd.Short == "" {
			t.Errorf("%s has no help", cmd.CommandPath())
		}
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if strings.HasPrefix(f.Usage, "help.") || f.Usage == "" {
				t.Errorf("--%s of %s has no help", f.Name, cmd.CommandPath())
			}
		})
		for _, below := range cmd.Commands() {
			read(below)
		}
	}
	read(newRootCommand(&app{}))
	if words.Say("help.exit_codes", nil) == "help.exit_codes" {
		t.Error("there are no exit codes")
	}
}

// What is wrong with a command line, and what serve, doctor and archive print, is said in that
// language too.
func TestOutputInAnotherLanguage(t *testing.T) {
	pseudo.Speak(t)
	var out, bad bytes.Buffer
	a := &app{stdout: &out, stderr: &bad, stdin: strings.NewReader("no\n"), now: time.Now}
	looked := func(what string, names ...string) {
		t.Helper()
		for _, line := range strings.Split(out.String()+bad.String(), "\n") {
			if found := english(line, names...); len(found) > 0 {
				t.Errorf("%s: %q is English in %q", what, line, found)
			}
		}
		if out.Len()+bad.Len() == 0 {
			t.Errorf("%s prints nothing", what)
		}
		out.Reset()
		bad.Reset()
	}
	clip := filepath.Join(t.TempDir(), "clp.mp4")
	for _, line := range []string{
		"nonsense", "compar", "compare", "history", "serve x", "analyze " + clip + " --height-cm 3",
		"analyze " + clip + " --capture-fps 0.5", "analyze " + clip + " --load 501",
		"analyze a.mp4 --condition cue=a --condition cue=b",
		"analyze " + clip + " --condition load_kg=501", "analyze " + clip + " --mark-px 5",
		"analyze " + clip + " --support-band 3,2", "analyze " + clip + " --vertical 90", "analyze " + clip + " --rep 1",
		"analyze " + clip + " --rep 1=odd", "analyze " + clip + " --rep 1=slow --rep 1=slow",
		"analyze " + clip + " --tempo slow,fast", "analyze a.mp4 b.mp4 --rep 1=slow", "analyze " + clip + " --facing up",
		"analyze " + clip + " --model none", "analyze " + clip + " --max-minutes -1",
		"compare " + clip + " --smallest-change 0",
		"serve --listen x", "serve --listen name:80", "serve --listen 0.0.0.0:0",
	} {
		if code := run(t.Context(), strings.Fields(line), a); code != exitUsage {
			t.Errorf("%s: exit code %d", line, code)
		}
		looked(line, "nonsense", "compare", "compar", "history", "serve", "analyze", "odd", "slow", "fast", "up", "none",
			"name", "cue", "load", "jump", "heavy+thunder", "full+thunder", "heavy", "full", "thunder", "auto", "left", "right")
	}
	for _, fingerprint := range []string{"", "00:00"} {
		for _, d := range []door.Door{{Local: fingerprint == ""}, {Local: fingerprint == "", Password: "x"}, {Named: true},
			{Named: true, Options: door.Options{Public: "HTTPS://X"}}} {
			d.SayWhoCanReach(&out, "HTTP://X", fingerprint)
			looked("serve")
		}
	}
	if err := a.runDoctor(t.Context(), []check{
		{"a", func(context.Context) (string, error) { return "b", nil }, ""},
		{"a", func(context.Context) (string, error) { return "", errWeaker }, ""},
	}); err != nil {
		t.Error(err)
	}
	looked("doctor", "a", versionLine())
	for _, c := range checks() {
		terminal.Say(&out, "%s %s\n", c.name, c.remedy)
	}
	looked("what doctor looks at", "ffmpeg", "ffprobe", "OpenCV", "detector", "heavy", "full", "thunder", "shoe",
		"libopencv-dev", "ONNX Runtime")
	data := filepath.Join(t.TempDir(), "dt")
	kept, err := archive.Open(t.Context(), data, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	_, err = kept.CreateAthlete(t.Context(), archive.Athlete{Name: "Kim"})
	if err := errors.Join(err, kept.Close()); err != nil {
		t.Fatal(err)
	}
	zip := filepath.Join(t.TempDir(), "x.zp")
	for _, line := range []string{
		"athletes", "history Kim", "archive check", "archive backup " + zip, "archive export Kim " + zip,
		"archive delete Kim --yes",
		"athletes",
	} {
		if code := run(t.Context(), append(strings.Fields(line), "--data", data), a); code != exitOK {
			t.Errorf("%s: exit code %d: %s", line, code, bad.String())
		}
		for _, id := range regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f-]{27}`).FindAllString(out.String(), -1) {
			text := strings.ReplaceAll(out.String(), id, "")
			out.Reset()
			out.WriteString(text)
		}
		looked(line, "Kim", zip, data)
	}
}
