package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"holdfast/screening"
)

func newVersionCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version",
		Long:  "Print the program's version and what it was built from.\n\n" + exitHelp,
		Args:  arguments(0, 0, "no arguments"),
		RunE: func(*cobra.Command, []string) error {
			say(a.stdout, "%s\n", versionLine())
			return nil
		},
	}
}

// versionLine names the program, its version, the commit where it is known, and
// the compiler.
func versionLine() string {
	commit := ""
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" && len(s.Value) >= 12 {
				commit = " " + s.Value[:12]
			}
		}
	}
	return fmt.Sprintf("%s%s, %s %s/%s", screening.Program, commit, runtime.Version(), runtime.GOOS, runtime.GOARCH)
}
