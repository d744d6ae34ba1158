package main

import (
	"github.com/spf13/cobra"

	"holdfast/desk/work"
)

// newWorkCommand is the child process of holdfast serve: it does one job that it is
// told on standard input. People have no use for it.
func newWorkCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:    "work",
		Hidden: true,
		Args:   arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return work.Work(cmd.Context(), a.stdin, a.stdout)
		},
	}
}
