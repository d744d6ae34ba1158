package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"holdfast/cmd/holdfast/terminal"
	"holdfast/report/measures"
	"holdfast/report/resultdir"
	"holdfast/screening"
	"holdfast/vision/media"
)

type analyzeOptions struct {
	analysisOptions
}

func newAnalyzeCommand(a *app) *cobra.Command {
	var opts analyzeOptions
	cmd := &cobra.Command{
		Use:     "analyze CLIP...",
		Aliases: []string{"analyse"},
		Example: `  holdfast analyze squat.mp4 --athlete "Sam Example"
  holdfast analyze squat.mp4 --rep 3=fast --rep 4=jump
  holdfast analyze slow.mov fast.mov --tempo slow,fast --out friday`,
		Args: arguments(1, 0, "clips"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.runAnalyze(cmd.Context(), opts, args)
		},
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

// runAnalyze analyses clips one after the other and writes the results of each.
// Its error joins those of the clips that failed.
func (a *app) runAnalyze(ctx context.Context, opts analyzeOptions, clips []string) error {
	choices, err := opts.choices(len(clips))
	if err = cmp.Or(err, a.useDevice(opts.device)); err != nil {
		return err
	}
	folders := make([]string, len(clips))
	for i, name := range uniqueNames(clips) {
		switch {
		case opts.out == "":
			folders[i] = a.defaultFolder(choices[i].Athlete, name)
		case len(clips) == 1:
			folders[i] = opts.out
		default:
			folders[i] = filepath.Join(opts.out, name)
		}
	}
	names := labels(clips)
	var failed []error
	for i, clip := range clips {
		err := a.analyzeInto(ctx, clip, names[i], folders[i], choices[i], opts)
		switch {
		case err == nil:
		case ctx.Err() != nil:
			return ctx.Err()
		case len(clips) == 1:
			return err
		default:
			a.printError(err, exitCode(err), opts.json)
			failed = append(failed, err)
		}
	}
	if len(failed) > 0 {
		return shownError{errors.Join(failed...)}
	}
	return nil
}

func (a *app) analyzeInto(ctx context.Context, clip, label, folder string, choice screening.Options,
	opts analyzeOptions) error {
	if err := media.CheckFile(clip); err != nil {
		return err
	}
	if err := checkFolder(folder); err != nil {
		return err
	}
	done, err := a.analyzeClip(ctx, clip, label, choice, opts.shows())
	if err != nil {
		return err
	}
	files, err := done.write(ctx, folder)
	if err != nil {
		return err
	}
	if opts.json {
		return a.printJSON(files.Analysis)
	}
	if opts.csv {
		return a.printTable(func(w io.Writer) error { return measures.Clip(w, done.analysis) })
	}
	terminal.Warnings(a.stderr, done.analysis.Clip.Name, done.analysis.Warnings)
	terminal.Warnings(a.stderr, "", files.Warnings)
	terminal.Analysis(a.stdout, done.analysis)
	a.printFiles(folder, files)
	return nil
}

// printTable prints a table for spreadsheets.
func (a *app) printTable(write func(io.Writer) error) error {
	if err := write(a.stdout); err != nil {
		return fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
	}
	return nil
}

// printJSON writes a file of JSON to standard output as one line.
func (a *app) printJSON(path string) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("reading the result back: %w", err)
	}
	var line bytes.Buffer
	if err := json.Compact(&line, data); err != nil {
		return fmt.Errorf("reading the result back: %w", err)
	}
	return a.jsonBytes(line.Bytes())
}
