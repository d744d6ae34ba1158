package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"holdfast/cmd/holdfast/terminal"
	"holdfast/screening"
)

// revision names the state of the source that a release was built from, as git describe does; scripts/package
// sets it (-ldflags "-X main.revision=..."). Other builds have what go build noted.
var revision string

func newVersionCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:  "version",
		Args: arguments(0, 0, "nothing"),
		RunE: func(*cobra.Command, []string) error {
			terminal.Say(a.stdout, "%s\n", versionLine())
			return nil
		},
	}
}

// versionLine names the program, its version, what it was built from where that is known, and the compiler.
func versionLine() string {
	from := revision
	if from == "" {
		from = revisionOf(debug.ReadBuildInfo())
	}
	if from != "" {
		from = " (" + from + ")"
	}
	return fmt.Sprintf("%s%s, %s %s/%s", screening.Program, from, runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

// revisionOf returns the commit that go build noted, marked where files differed from it; "" when it noted none.
func revisionOf(info *debug.BuildInfo, ok bool) string {
	if !ok {
		return ""
	}
	commit, state := "", ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision" && len(s.Value) >= 7:
			commit = s.Value[:7]
		case s.Key == "vcs.modified" && s.Value == "true":
			state = "-dirty"
		}
	}
	if commit == "" {
		return ""
	}
	return commit + state
}
