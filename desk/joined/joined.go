// Package joined keeps clips of one set together that were filmed from the side and from the front: which can be
// joined, with which one a clip is, and which are compared from the front where their sides are.
package joined

import (
	"context"
	"slices"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/kinematics/notice"
	"holdfast/screening"
	"holdfast/screening/sets"
)

// Sets are those of an archive.
type Sets struct {
	Archive *archive.Archive
	// Summary returns a clip's analysis, with or without its series. Nobody changes it.
	Summary func(archive.Clip) (*screening.Analysis, error)
	// Changed is told of each clip that is joined or parted; nil: nobody is.
	Changed func(clipID string)
}

// NotMeasured: the clip has no result yet.
var NotMeasured = &refusal.Error{Kind: refusal.Conflict, Code: "not_measured"}

func (s *Sets) clip(ctx context.Context, id string) (archive.Clip, error) {
	c, err := s.Archive.Clip(ctx, id)
	if err != nil {
		return c, refusal.NoSuch("clip", err)
	}
	return c, nil
}

func (s *Sets) measured(ctx context.Context, id string) (archive.Clip, error) {
	c, err := s.clip(ctx, id)
	if err == nil && c.Result == nil {
		err = NotMeasured
	}
	return c, err
}

// Join says that two measured clips of a visit show one set, one from the side and the other from the front, in either
// order. What was compared of them shows both from then on.
func (s *Sets) Join(ctx context.Context, id, with string) error {
	var clips [2]archive.Clip
	var views [2]*screening.Analysis
	for i, one := range []string{id, with} {
		var err error
		if clips[i], err = s.measured(ctx, one); err == nil {
			views[i], err = s.Summary(clips[i])
		}
		if err != nil {
			return err
		}
	}
	if views[0].View.Front {
		slices.Reverse(clips[:])
		slices.Reverse(views[:])
	}
	if _, err := sets.FitTogether(views[0], views[1]); err != nil {
		return refusal.Wrong("not_one_set", nil)
	}
	switch {
	case clips[0].VisitID != clips[1].VisitID:
		return refusal.Wrong("two_visits", nil)
	case clips[0].JoinedWith != "" || clips[1].JoinedWith != "":
		return refusal.Wrong("joined_already", nil)
	}
	if err := s.Archive.JoinClips(ctx, clips[0].ID, clips[1].ID); err != nil {
		return refusal.NoSuch("clip", err)
	}
	s.changed(clips[:]...)
	return nil
}

// Part says that a clip and the one it is joined with are of two sets; both stay.
func (s *Sets) Part(ctx context.Context, id string) error {
	clip, err := s.clip(ctx, id)
	if err != nil {
		return err
	}
	if err := s.Archive.PartClips(ctx, id); err != nil {
		return refusal.NoSuch("join", err)
	}
	s.changed(clip, archive.Clip{ID: clip.JoinedWith})
	return nil
}

func (s *Sets) changed(clips ...archive.Clip) {
	for _, c := range clips {
		if c.ID != "" && s.Changed != nil {
			s.Changed(c.ID)
		}
	}
}

// Other is the clip that a clip is joined with, as it is measured now.
type Other struct {
	Clip     archive.Clip
	Analysis *screening.Analysis // without its series
	// Told says what does not fit: other numbers of reps.
	Told []screening.Warning
}

// With returns the clip that a measured clip is joined with; nil where it is joined with none, or where the two
// are no side and front by now.
func (s *Sets) With(ctx context.Context, clip archive.Clip) (*Other, error) {
	if clip.JoinedWith == "" || clip.Result == nil {
		return nil, nil
	}
	other, err := s.clip(ctx, clip.JoinedWith)
	if err != nil || other.Result == nil {
		return nil, err
	}
	own, err := s.named(clip)
	if err != nil {
		return nil, err
	}
	theirs, err := s.named(other)
	if err != nil {
		return nil, err
	}
	side, front := own, theirs
	if own.View.Front {
		side, front = theirs, own
	}
	told, err := sets.FitTogether(side, front)
	if err != nil {
		return nil, nil
	}
	return &Other{other, theirs, told}, nil
}

// named is [Sets.Summary] under the name that the clip has in the archive.
func (s *Sets) named(clip archive.Clip) (*screening.Analysis, error) {
	a, err := s.Summary(clip)
	if err != nil {
		return nil, err
	}
	mine := *a
	mine.Clip.Name = clip.Name
	return &mine, nil
}

// Joinable lists the measured clips that a clip can be joined with: of its visit, from the other view, and joined with
// none.
func (s *Sets) Joinable(ctx context.Context, clip archive.Clip) ([]archive.Clip, error) {
	if clip.Result == nil || clip.JoinedWith != "" {
		return nil, nil
	}
	own, err := s.Summary(clip)
	if err != nil {
		return nil, err
	}
	all, err := s.Archive.ClipsOf(ctx, clip.AthleteID)
	if err != nil {
		return nil, err
	}
	var out []archive.Clip
	for _, c := range all {
		if c.VisitID != clip.VisitID || c.JoinedWith != "" || c.Result == nil {
			continue
		}
		if a, err := s.Summary(c); err == nil && a.View.Front != own.View.Front {
			out = append(out, c)
		}
	}
	return out, nil
}

// SidesFirst puts the clip from the side in place of one from the front where the two are joined, each set once.
func (s *Sets) SidesFirst(ctx context.Context, ids []string) ([]string, error) {
	clips := map[string]archive.Clip{}
	for _, id := range ids {
		c, err := s.clip(ctx, id)
		if err != nil {
			return nil, err
		}
		clips[id] = c
	}
	var out []string
	for i, id := range ids {
		other, err := s.With(ctx, clips[id])
		if err != nil {
			return nil, err
		}
		if other == nil {
			out = append(out, id)
			continue
		}
		if other.Analysis.View.Front {
			other = &Other{Clip: clips[id]}
		}
		if into := other.Clip.ID; !slices.Contains(out, into) || !slices.Contains(ids[:i], clips[id].JoinedWith) {
			out = append(out, into)
		}
	}
	return out, nil
}

// FrontsOf returns the clips from the front that those of a comparison are joined with, in their order; nil where not
// all of them are, and what is to be said of that.
func (s *Sets) FrontsOf(ctx context.Context, clips []archive.Clip) (fronts []archive.Clip, told []screening.Warning,
	err error) {
	var joined, alone []string
	for _, c := range clips {
		other, err := s.With(ctx, c)
		if err != nil {
			return nil, nil, err
		}
		if other == nil || !other.Analysis.View.Front {
			alone = append(alone, c.Name)
			continue
		}
		joined = append(joined, c.Name)
		fronts = append(fronts, other.Clip)
	}
	if len(alone) == 0 || len(joined) == 0 {
		return fronts, nil, nil
	}
	return nil, notice.List("some_not_joined", notice.Params{"joined": joined, "alone": alone}), nil
}
