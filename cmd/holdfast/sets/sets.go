// Package sets joins clips of an archive that show one set from the side and from the front, and parts them.
package sets

import (
	"context"
	"io"

	"holdfast/archive"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk"
	"holdfast/desk/joined"
	"holdfast/screening"
	"holdfast/words"
)

// Join joins two clips of an athlete, each called by its name or its id, and says so, and what does not fit.
func Join(ctx context.Context, arc *archive.Archive, athlete, one, other string, stdout, stderr io.Writer) error {
	clips, err := called(ctx, arc, athlete, one, other)
	if err != nil {
		return err
	}
	all := of(ctx, arc)
	if err := all.Join(ctx, clips[0].ID, clips[1].ID); err != nil {
		return err
	}
	terminal.Tell(stdout, "joined", "one", clips[0].Name, "other", clips[1].Name)
	if clips[0], err = arc.Clip(ctx, clips[0].ID); err != nil {
		return err
	}
	with, err := all.With(ctx, clips[0])
	if err == nil && with != nil {
		terminal.Warnings(stderr, "", with.Told)
	}
	return err
}

// Part parts a clip of an athlete from the one it is joined with, and says so; both stay.
func Part(ctx context.Context, arc *archive.Archive, athlete, clip string, stdout io.Writer) error {
	clips, err := called(ctx, arc, athlete, clip)
	if err != nil {
		return err
	}
	if err := of(ctx, arc).Part(ctx, clips[0].ID); err != nil {
		return err
	}
	terminal.Tell(stdout, "parted", "clip", clips[0].Name)
	return nil
}

// of are the joined clips of an archive.
func of(ctx context.Context, arc *archive.Archive) *joined.Sets {
	return &joined.Sets{Archive: arc, Summary: func(c archive.Clip) (*screening.Analysis, error) {
		f := desk.FileOf(c.Result.Files, desk.AnalysisFile)
		if err := arc.Fetch(ctx, f.SHA256); err != nil {
			return nil, err
		}
		return screening.LoadAnalysis(arc.FilePath(f.SHA256))
	}}
}

// called finds clips of an athlete by their names or ids.
func called(ctx context.Context, arc *archive.Archive, athlete string, names ...string) ([]archive.Clip, error) {
	who, err := arc.FindAthlete(ctx, athlete)
	if err != nil {
		return nil, err
	}
	all, err := arc.ClipsOf(ctx, who.ID)
	if err != nil {
		return nil, err
	}
	var out []archive.Clip
	for _, name := range names {
		var found []archive.Clip
		for _, c := range all {
			if c.Name == name || c.ID == name {
				found = append(found, c)
			}
		}
		switch len(found) {
		case 0:
			return nil, words.Because(archive.ErrNotFound, "why_no_clip", words.Params{"clip": name, "athlete": who.Name})
		case 1:
			out = append(out, found[0])
		default:
			return nil, words.Because(archive.ErrInvalid, "why_several_clips", words.Params{"clip": name})
		}
	}
	return out, nil
}
