package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/scripts/internal/accuracy/degraded"
	"holdfast/scripts/internal/accuracy/figures"
	"holdfast/vision/media"
)

const movementFolder = "testdata/movements" // of other movements than squats, with their tracks and truth

// printMovements prints what clips are named, and what is measured of movements other than squats, from stored tracks.
func printMovements(ctx context.Context, w io.Writer, squats map[string]*screening.Analysis) error {
	names, err := clipNames(nil, movementFolder)
	if err != nil {
		return err
	}
	analyses, filtered, truths := map[string]*screening.Analysis{}, map[string]*screening.Analysis{}, map[string]*truth{}
	for _, name := range names {
		path := filepath.Join(movementFolder, name+".mp4")
		clip, err := media.Open(ctx, path)
		if err == nil {
			truths[name], err = readTruth(strings.TrimSuffix(path, ".mp4") + ".json")
		}
		if err != nil {
			return err
		}
		opt := screening.Options{HeightCm: 100 * truths[name].HeightM}
		a, track, err := analysis(ctx, clip, movementFolder, opt)
		if a != nil && a.Plain != nil { // it fits no movement that is shipped
			a, err = nil, screening.ErrNoReps
		}
		analyses[name] = a
		if err == nil {
			opt.Smoother = body.SmootherFilter
			filtered[name], err = screening.Measure(clip, track, opt)
		}
		if err != nil && !errors.Is(err, screening.ErrNoReps) {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	err = figures.Movements(w, squats, analyses)
	names = slices.DeleteFunc(names, func(name string) bool { return len(truths[name].Reps) == 0 })
	printReps(w, names, analyses, truths)
	printAngles(w, figures.OnFeet(names, analyses), analyses, filtered, truths)
	figures.AgainstPoints(w, names, analyses, func(name string, atS float64) figures.Seen {
		t := truths[name]
		return figures.SeenAt(t.nearest(atS).Points, t.Near, t.sign(), t.HeightM/t.Camera.metresPerPx())
	})
	figures.Rises(w, names, analyses, func(name string, i int) (upS float64, steps int) {
		r := &truths[name].Reps[i]
		return r.End - r.UpStart, r.Steps
	})
	figures.Drops(w, names, analyses, func(name string, i int) (boxM, contactS float64) {
		return truths[name].BoxM, *truths[name].Reps[i].Touchdown
	})
	newBody().printJumps(w, names, analyses, truths)
	return errors.Join(err, printDegraded(ctx, w))
}

// printDegraded prints what worse clips are named: those of movements, and squats at 30 frames a second.
func printDegraded(ctx context.Context, w io.Writer) error {
	clips := map[string]string{}
	for _, name := range []string{"slow_30", "fast_30", "jump_30"} {
		clips[filepath.Join(clipFolder, name+".mp4")] = filepath.Join("testdata/tracks", name+".track.json.gz")
	}
	names, err := clipNames(nil, movementFolder)
	for _, name := range names {
		path := filepath.Join(movementFolder, name)
		clips[path+".mp4"] = path + ".track.json.gz"
	}
	return errors.Join(err, degraded.Print(ctx, w, clips, figures.Shows))
}
