package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// keptTrack returns the track of a clip: the one that is kept beside it, in a folder named
// after the network, or else a new one, which is kept there.
func keptTrack(ctx context.Context, clip *media.Clip, folder, network, name string) (*pose.Track, error) {
	kept := filepath.Join(folder, network)
	track, err := readTrack(kept, name)
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return track, err
	}
	fmt.Fprintf(os.Stderr, "accuracy: tracking %s\n", name)
	tracker, err := vision.NewTracker(vision.TrackerOptions{Model: network})
	if err != nil {
		return nil, err
	}
	track, err = tracker.Track(ctx, clip, nil)
	if err = errors.Join(err, tracker.Close()); err != nil {
		return nil, err
	}
	return track, keepTrack(kept, name, track)
}

// keepTrack writes a track to a folder, whole or not at all.
func keepTrack(folder, name string, track *pose.Track) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("keeping a track: %w", err)
	}
	part, err := os.CreateTemp(folder, name)
	if err != nil {
		return fmt.Errorf("keeping a track: %w", err)
	}
	err = pose.WriteTrack(part, track)
	if err = errors.Join(err, part.Close()); err != nil {
		return errors.Join(err, os.Remove(part.Name()))
	}
	return os.Rename(part.Name(), filepath.Join(folder, name+".track.json.gz"))
}
