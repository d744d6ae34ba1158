package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"

	"holdfast/screening"
	"holdfast/scripts/internal/accuracy/figures"
	"holdfast/vision/media"
)

const frontFolder = "testdata/front" // clips from the front, with their tracks and truth

// printFronts prints what is measured in clips from the front, from stored tracks.
func printFronts(ctx context.Context, w io.Writer) error {
	names, err := clipNames(nil, frontFolder)
	if err != nil {
		return err
	}
	analyses, truths := map[string]*screening.Analysis{}, map[string]string{}
	for _, name := range names {
		clip, err := media.Open(ctx, filepath.Join(frontFolder, name+".mp4"))
		if err == nil {
			analyses[name], _, err = analysis(ctx, clip, frontFolder, screening.Options{})
		}
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		truths[name] = filepath.Join(frontFolder, name+".json")
	}
	return figures.Fronts(w, names, analyses, truths)
}
