package main

import (
	"context"
	"log/slog"

	"github.com/spf13/cobra"

	"holdfast/archive"
	"holdfast/cmd/holdfast/farm"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk/work"
)

// newChildCommand is the child process of whoever works on clips: it does one job that it is
// told on standard input. People have no use for it.
func newChildCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:    "child",
		Hidden: true,
		Args:   arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return work.Work(cmd.Context(), a.stdin, a.stdout)
		},
	}
}

func newWorkCommand(a *app) *cobra.Command {
	var in place.Options
	var opts farm.WorkOptions
	var own string
	cmd := &cobra.Command{
		Use:  "work",
		Args: arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := checkMaxMinutes(opts.MaxMinutes); err != nil {
				return err
			}
			if err := checkModel(opts.Model); err != nil {
				return err
			}
			if err := useMovements(own); err != nil {
				return err
			}
			opts.Log = slog.New(slog.NewTextHandler(a.stderr, nil))
			opts.Ready = func() {
				terminal.Tell(a.stdout, "working")
				a.sayWalls()
			}
			return farm.Work(cmd.Context(), in, opts)
		},
	}
	in.AddFlags(cmd.Flags())
	cmd.Flags().StringVar(&opts.Model, "model", defaultModel, "")
	addMaxMinutes(cmd.Flags(), &opts.MaxMinutes)
	addMovements(cmd.Flags(), &own)
	cmd.Flags().StringVar(&opts.Metrics, "metrics", "", "")
	return cmd
}

func newSubmitCommand(a *app) *cobra.Command {
	var in place.Options
	var coach string
	cmd := &cobra.Command{
		Use:  "submit FOLDER",
		Args: arguments(1, 1, "folder"),
		RunE: func(cmd *cobra.Command, args []string) error {
			p := terminal.NewProgress(a.stderr, a.stderrTerminal, a.now, args[0])
			sent, known, err := farm.Submit(cmd.Context(), in, args[0], coach,
				func(done, total int) { p.Report("sending clips", done, total) })
			p.End()
			if err == nil {
				terminal.Tell(a.stdout, "submitted", "sent", terminal.Counted("clips", sent), "known", known)
			}
			return err
		},
	}
	in.AddFlags(cmd.Flags())
	cmd.Flags().StringVar(&coach, "coach", "", "")
	return cmd
}

func newJobsCommand(a *app) *cobra.Command {
	var in place.Options
	var failed, json bool
	cmd := &cobra.Command{
		Use:  "jobs",
		Args: arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error { return a.runJobs(cmd.Context(), in, failed, json) },
	}
	in.AddFlags(cmd.Flags())
	cmd.Flags().BoolVar(&failed, "failed", false, "")
	cmd.Flags().BoolVar(&json, "json", false, "")
	return cmd
}

func (a *app) runJobs(ctx context.Context, in place.Options, failed, json bool) error {
	t, n := terminal.NewTable(a.stdout), 0
	err := farm.Jobs(ctx, in, failed, func(j archive.Job, c archive.Clip, athlete string) error {
		if json {
			return a.jsonLine(j)
		}
		if n++; n == 1 {
			terminal.Row(t, terminal.Text("job.athlete"), terminal.Text("job.clip"), terminal.Text("job.kind"),
				terminal.Text("job.state"), terminal.Text("job.why"))
		}
		terminal.Row(t, oneLine(athlete, 24), oneLine(c.Name, 24), j.Kind, string(j.State), j.Error)
		return nil
	})
	if err == nil && n == 0 && !json {
		terminal.Tell(a.stdout, "no_jobs")
	}
	if err != nil {
		return err
	}
	return t.Flush()
}
