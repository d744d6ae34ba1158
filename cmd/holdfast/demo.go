package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"holdfast/vision"
)

// demoClips are the shipped clips: an invented, rendered athlete whose true
// angles are known.
var demoClips = []string{"slow.mp4", "fast.mp4", "jump.mp4"}

type demoOptions struct {
	out     string
	json    bool
	noVideo bool
}

func newDemoCommand(a *app) *cobra.Command {
	var opts demoOptions
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Run the whole job on the clips that come with Holdfast",
		Long: `Compare the three shipped clips (a rendered athlete, squatting slowly, fast and
with jumps) and write everything a real comparison writes: annotated videos,
stills, report. It takes a few minutes on two cores.

Results go to holdfast-demo/, or to --out DIR.

` + exitHelp,
		Args: arguments(0, 0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.runDemo(cmd.Context(), opts)
		},
	}
	cmd.Flags().StringVar(&opts.out, "out", "holdfast-demo", "put the results into `DIR`")
	cmd.Flags().BoolVar(&opts.json, "json", false, "print the comparison as JSON on standard output")
	cmd.Flags().BoolVar(&opts.noVideo, "no-video", false, "leave out the annotated videos")
	return cmd
}

func (a *app) runDemo(ctx context.Context, opts demoOptions) error {
	folder, err := findDemoClips()
	if err != nil {
		return err
	}
	var clips []string
	for _, name := range demoClips {
		clips = append(clips, filepath.Join(folder, name))
	}
	return a.runCompare(ctx, compareOptions{
		analysisOptions:   analysisOptions{out: opts.out, athlete: "Demo Athlete", json: opts.json, noVideo: opts.noVideo},
		smallestChangeDeg: 5,
	}, clips)
}

// findDemoClips looks for the shipped clips beside the program and above it, then
// at and above the working folder.
func findDemoClips() (string, error) {
	var starts []string
	if exe, err := os.Executable(); err == nil {
		if real, err := filepath.EvalSymlinks(exe); err == nil {
			exe = real
		}
		starts = append(starts, filepath.Dir(exe))
	}
	if cwd, err := os.Getwd(); err == nil {
		starts = append(starts, cwd)
	}
	for _, dir := range starts {
		for {
			clips := filepath.Join(dir, "testdata", "clips")
			if _, err := os.Stat(filepath.Join(clips, demoClips[0])); err == nil {
				return clips, nil
			}
			up := filepath.Dir(dir)
			if up == dir {
				break
			}
			dir = up
		}
	}
	return "", fmt.Errorf("%w: the demo's clips (testdata/clips) are neither beside the program nor above the working folder; run it inside Holdfast's source folder", vision.ErrUnreadable)
}
