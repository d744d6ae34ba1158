package main

import (
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"holdfast/report/resultdir"
	"holdfast/screening"
)

// newManualCommand makes the manual pages of a package; it is hidden because nobody else needs it.
func newManualCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:    "manual DIR",
		Hidden: true,
		Args:   arguments(1, 1, "folder"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.runManual(cmd.Root(), args[0])
		},
	}
}

func (a *app) runManual(root *cobra.Command, folder string) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
	}
	setVerbatim(root)
	root.DisableAutoGenTag = true
	// The date is SOURCE_DATE_EPOCH where that is set, so that two builds of one source are alike.
	header := &doc.GenManHeader{Title: "HOLDFAST", Section: "1", Source: screening.Program, Manual: "Holdfast"}
	if err := doc.GenManTree(root, header, folder); err != nil {
		return fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
	}
	return nil
}

// setVerbatim marks the indented lines of every command's long help as text whose lines stay as they are, in the
// way of Markdown: four spaces, and an empty line before and after.
func setVerbatim(cmd *cobra.Command) {
	var lines []string
	inside := false
	for line := range strings.SplitSeq(cmd.Long, "\n") {
		indented := strings.HasPrefix(line, "  ")
		if indented != inside && line != "" {
			lines = append(lines, "")
		}
		if inside = indented; indented {
			line = "  " + line
		}
		lines = append(lines, line)
	}
	cmd.Long = strings.Join(lines, "\n")
	for _, sub := range cmd.Commands() {
		setVerbatim(sub)
	}
}
