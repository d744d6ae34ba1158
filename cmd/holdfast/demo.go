package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"holdfast/report/resultdir"
	"holdfast/testdata/clips"
)

type demoOptions struct {
	out     string
	json    bool
	noVideo bool
}

func newDemoCommand(a *app) *cobra.Command {
	var opts demoOptions
	cmd := &cobra.Command{
		Use:  "demo",
		Args: arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.runDemo(cmd.Context(), opts)
		},
	}
	cmd.Flags().StringVar(&opts.out, "out", "holdfast-demo", "")
	cmd.Flags().BoolVar(&opts.json, "json", false, "")
	cmd.Flags().BoolVar(&opts.noVideo, "no-video", false, "")
	return cmd
}

func (a *app) runDemo(ctx context.Context, opts demoOptions) error {
	paths, err := putDemoClips(filepath.Clean(opts.out) + "-clips")
	if err != nil {
		return err
	}
	return a.runCompare(ctx, compareOptions{
		analysisOptions:   analysisOptions{out: opts.out, athlete: "Demo Athlete", json: opts.json, noVideo: opts.noVideo},
		smallestChangeDeg: 5,
	}, paths)
}

// putDemoClips writes the shipped clips into a folder, where they can be watched and compared again, and
// returns their paths. A file of the same name that holds something else is left alone, and is an error.
func putDemoClips(folder string) ([]string, error) {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
	}
	var paths []string
	for _, name := range clips.Example {
		want, err := clips.FS.ReadFile(name)
		if err != nil {
			return nil, fmt.Errorf("reading a clip that comes with the program: %w", err)
		}
		path := filepath.Join(folder, name)
		paths = append(paths, path)
		got, err := os.ReadFile(path)
		switch {
		case err == nil && bytes.Equal(got, want):
			continue
		case err == nil:
			return nil, fmt.Errorf("%w: %s is another clip than the demo's; move it away or choose another --out",
				resultdir.ErrCannotWrite, path)
		case !errors.Is(err, os.ErrNotExist):
			return nil, fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
		}
		// Under another name first: half a clip would stand in the way of the next run.
		if err := errors.Join(os.WriteFile(path+".part", want, 0o644), os.Rename(path+".part", path)); err != nil {
			return nil, fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
		}
	}
	return paths, nil
}
