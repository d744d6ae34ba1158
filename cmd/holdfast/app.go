package main

import (
	"context"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"holdfast/cmd/holdfast/people"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/vision/device"
	"holdfast/vision/pose"
)

// app is what every command needs: where to print, what time it is, and the
// functions that do the work, which tests replace.
type app struct {
	stdout, stderr io.Writer
	stdin          io.Reader
	// stdoutTerminal and stderrTerminal say that a person is watching.
	stdoutTerminal, stderrTerminal bool
	color                          bool
	now                            func() time.Time
	engine                         engine
}

// engine is the work behind the commands.
type engine struct {
	analyze         func(context.Context, string, screening.Options) (*screening.Analysis, *pose.Track, error)
	useDevice       func(string) (string, error)
	load            func(string) (*screening.Analysis, error)
	compare         func([]*screening.Analysis, screening.CompareOptions) (*screening.Comparison, error)
	writeAnalysis   func(context.Context, string, *screening.Analysis, *pose.Track, report.Options) (report.Files, error)
	writeComparison func(context.Context, string, *screening.Comparison, report.Options) (report.Files, error)
}

func newApp(stdout, stderr *os.File) *app {
	dumb := os.Getenv("TERM") == "dumb"
	a := &app{
		stdout: stdout, stderr: stderr, stdin: os.Stdin,
		stdoutTerminal: term.IsTerminal(int(stdout.Fd())) && !dumb,
		stderrTerminal: term.IsTerminal(int(stderr.Fd())) && !dumb,
		now:            time.Now,
		engine: engine{
			analyze:         screening.Analyze,
			useDevice:       device.Use,
			load:            screening.LoadAnalysis,
			compare:         screening.Compare,
			writeAnalysis:   report.WriteAnalysis,
			writeComparison: report.WriteComparison,
		},
	}
	a.color = wantColor(a.stdoutTerminal, os.Getenv("NO_COLOR"))
	return a
}

// wantColor says whether to paint: on a terminal only, and never when NO_COLOR is
// set to anything but nothing (the custom of no-color.org, from memory).
func wantColor(terminal bool, noColor string) bool { return terminal && noColor == "" }

// today is the date that results are filed under.
func (a *app) today() string { return a.now().Format("2006-01-02") }

func newRootCommand(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:           "holdfast",
		SilenceUsage:  true,
		SilenceErrors: true,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cmd.Help()
			}
			if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
				return usagef("no_command_but", "command", args[0], "near", near[0])
			}
			return usagef("no_command", "command", args[0])
		},
		Args: cobra.ArbitraryArgs,
	}
	root.SuggestionsMinimumDistance = 2
	root.Version = versionLine()
	root.SetVersionTemplate("{{.Version}}\n")
	root.CompletionOptions.HiddenDefaultCmd = true
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usagef("flag", "error", err, "command", cmd.CommandPath())
	})
	root.AddCommand(
		newAnalyzeCommand(a),
		newCompareCommand(a),
		newAthletesCommand(a),
		newHistoryCommand(a),
		newArchiveCommand(a),
		newServeCommand(a),
		newWorkCommand(a),
		newSubmitCommand(a),
		newJobsCommand(a),
		people.NewUsers(people.Console{In: a.stdin, Out: a.stdout, Err: a.stderr}),
		people.NewAudit(people.Console{In: a.stdin, Out: a.stdout, Err: a.stderr}),
		newChildCommand(a),
		newDemoCommand(a),
		newDoctorCommand(a),
		newVersionCommand(a),
		newManualCommand(a),
	)
	terminal.SpeakHelp(root)
	return root
}

// arguments refuses a number of arguments outside the limits.
var arguments = terminal.Arguments
