package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/screening"
)

// Corrected is what a change of a clip's corrections came to.
type Corrected struct {
	Clip             archive.Clip
	CanUndo, CanRedo bool
}

// Correct records corrections, the whole document after the change and in words what was
// changed, and measures the clip again with them. What cannot be measured is not recorded:
// the error then wraps screening.ErrBadCorrection or what else was in the way.
//
// base names the corrections that whoever changes them has seen, see BaseOf: when others
// hold by now it is refused, as these would be taken back unseen. Empty: it is not looked at.
func (d *Desk) Correct(
	ctx context.Context, clipID, base string, c screening.Corrections, what string,
) (Corrected, error) {
	return d.recompute(ctx, clipID, base, func(ctx context.Context, clip archive.Clip) error {
		a, err := d.Summary(clip)
		if err != nil {
			return err
		}
		// A page that does not know yet that the clip was filmed at another rate sends its own times.
		factor := a.Clip.SlowMotionFactor
		c = *c.At(factor)
		c.SlowMotionFactor = factor
		if err := c.Validate(a.Clip, a.Clip.Frames); err != nil {
			return err
		}
		doc, err := json.Marshal(c)
		if err != nil {
			return fmt.Errorf("writing the corrections: %w", err)
		}
		return d.again(ctx, clip.ID, doc, func() (int, error) {
			added, err := d.archive.AddCorrection(ctx, clip.ID, doc, what)
			return added.Seq, err
		})
	})
}

// Undo takes the last correction of a clip back and measures it again; base as for Correct.
func (d *Desk) Undo(ctx context.Context, clipID, base string) (Corrected, error) {
	return d.step(ctx, clipID, base, d.archive.UndoCorrection, d.archive.RedoCorrection, "nothing_to_undo")
}

// Redo lets the correction that was taken back last hold again; base as for Correct.
func (d *Desk) Redo(ctx context.Context, clipID, base string) (Corrected, error) {
	return d.step(ctx, clipID, base, d.archive.RedoCorrection, d.archive.UndoCorrection, "nothing_to_redo")
}

// step goes a step in the history of a clip's corrections, and back again when what holds
// then cannot be measured.
func (d *Desk) step(
	ctx context.Context, clipID, base string,
	forth, back func(context.Context, string) (archive.Correction, bool, error), none string,
) (Corrected, error) {
	return d.recompute(ctx, clipID, base, func(ctx context.Context, clip archive.Clip) error {
		now, ok, err := forth(ctx, clip.ID)
		if err != nil {
			return err
		}
		if !ok {
			return &refusal.Error{Kind: refusal.Conflict, Code: none}
		}
		if err := d.again(ctx, clip.ID, now.Doc, func() (int, error) { return now.Seq, nil }); err != nil {
			_, _, failed := back(ctx, clip.ID)
			return errors.Join(err, failed)
		}
		return nil
	})
}

// recompute runs a change of a clip's corrections in the clip's turn. A page that goes away
// does not stop it in the middle.
func (d *Desk) recompute(
	ctx context.Context, clipID, base string, change func(context.Context, archive.Clip) error,
) (Corrected, error) {
	clip, err := d.Clip(ctx, clipID)
	if err != nil {
		return Corrected{}, err
	}
	back, err := d.turns.Take(ctx, clip.ID)
	if err != nil {
		return Corrected{}, err
	}
	defer back()
	ctx = context.WithoutCancel(ctx)
	if clip, err = d.Measured(ctx, clip.ID); err != nil {
		return Corrected{}, err
	}
	if base != "" {
		history, err := d.archive.Corrections(ctx, clip.ID)
		if err != nil {
			return Corrected{}, err
		}
		if base != BaseOf(history) {
			return Corrected{}, errCorrectedElsewhere
		}
	}
	if err := change(ctx, clip); err != nil {
		return Corrected{}, err
	}
	if clip, err = d.Clip(ctx, clip.ID); err != nil {
		return Corrected{}, err
	}
	list, err := d.archive.Corrections(ctx, clip.ID)
	return Corrected{
		Clip: clip, CanUndo: clip.Result.CorrectionSeq > 0,
		CanRedo: slices.ContainsFunc(list, func(c archive.Correction) bool { return c.Undone }),
	}, err
}

// errCorrectedElsewhere: a page corrects what it has not seen.
var errCorrectedElsewhere = &refusal.Error{Kind: refusal.Conflict, Code: "corrected_elsewhere"}

// noBase names the state of a clip without corrections.
const noBase = "none"

// BaseOf names the corrections in force: by the id of the last of them, as numbers are
// given anew after an undo.
func BaseOf(history []archive.Correction) string {
	base := noBase
	for _, c := range history {
		if !c.Undone {
			base = c.ID
		}
	}
	return base
}

// CorrectionsOf returns the corrections in force as a document, {} for none, in the times
// of the clip's analysis: those that were made when it was thought to be filmed at another
// rate are moved. any says whether there are some to undo.
func (d *Desk) CorrectionsOf(ctx context.Context, clip archive.Clip) (doc json.RawMessage, any bool, err error) {
	doc, seq, err := d.archive.CurrentCorrections(ctx, clip.ID)
	if err != nil {
		return nil, false, err
	}
	if len(doc) == 0 || clip.Result == nil {
		if len(doc) == 0 {
			doc = json.RawMessage("{}")
		}
		return doc, seq > 0, nil
	}
	c, err := readCorrections(doc)
	if err != nil {
		return nil, false, err
	}
	a, err := d.Summary(clip)
	if err != nil {
		return nil, false, err
	}
	doc, err = json.Marshal(c.At(a.Clip.SlowMotionFactor))
	return doc, seq > 0, err
}
