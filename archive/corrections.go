package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"

	"holdfast/archive/rows"
	"holdfast/words"
)

// Correction is one change by hand: the whole document after it.
type Correction struct {
	ID        string          `json:"id"`
	ClipID    string          `json:"clip_id"`
	Seq       int             `json:"seq"` // from 1
	Doc       json.RawMessage `json:"doc"`
	What      string          `json:"what"` // in words
	CreatedAt time.Time       `json:"created_at"`
	Undone    bool            `json:"undone"`
}

func scanCorrection(s rows.Scanner) (c Correction, err error) {
	var doc string
	err = s.Scan(&c.ID, &c.ClipID, &c.Seq, &doc, &c.What, rows.Time{To: &c.CreatedAt}, &c.Undone)
	c.Doc = json.RawMessage(doc)
	return c, err
}

// AddCorrection records the corrections of a clip as they are after one more change.
// What had been undone is forgotten.
func (a *Archive) AddCorrection(ctx context.Context, clipID string, doc json.RawMessage,
	what string) (Correction, error) {
	if err := a.reaches(ctx, "clip", clipID); err != nil {
		return Correction{}, words.Doing("doing_recording_correction", err)
	}
	c := Correction{ClipID: clipID, Doc: doc, What: what}
	err := checkText("what_changed", what, maxName, false)
	if err == nil && (len(doc) > maxDoc || !json.Valid(doc)) {
		err = words.Because(ErrInvalid, "why_correction", nil)
	}
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			if _, err := tx.ExecContext(ctx, q.CorrectionsDropUndone, clipID); err != nil {
				return err
			}
			if err := tx.QueryRowContext(ctx, q.CorrectionLastSeq, clipID).Scan(&c.Seq); err != nil {
				return err
			}
			c.Seq++
			var err error
			if c.ID, err = rows.NewID(); err != nil {
				return err
			}
			var now string
			c.CreatedAt, now = a.folder.Stamp()
			_, err = tx.ExecContext(ctx, q.CorrectionInsert, c.ID, clipID, c.Seq, string(doc), what, now)
			return err
		})
	}
	if err != nil {
		return Correction{}, words.Doing("doing_recording_correction", err)
	}
	return c, nil
}

// Corrections returns all changes of a clip in order, those undone among them.
func (a *Archive) Corrections(ctx context.Context, clipID string) ([]Correction, error) {
	if err := a.reaches(ctx, "clip", clipID); err != nil {
		return nil, words.Doing("doing_listing_corrections", err)
	}
	out, err := rows.List(ctx, a.folder.Read, scanCorrection, q.CorrectionsOfClip, clipID)
	if err != nil {
		return nil, words.Doing("doing_listing_corrections", err)
	}
	return out, nil
}

// CurrentCorrections returns the corrections that hold now and their number; nil and 0
// when there are none.
func (a *Archive) CurrentCorrections(ctx context.Context, clipID string) (json.RawMessage, int, error) {
	all, err := a.Corrections(ctx, clipID)
	if err != nil {
		return nil, 0, err
	}
	c := current(all)
	return c.Doc, c.Seq, nil
}

func current(all []Correction) (c Correction) {
	for i := range all {
		if !all[i].Undone {
			c = all[i]
		}
	}
	return c
}

// UndoCorrection takes the last change back and returns what then holds; its zero
// value when nothing is left. ok is false when there was nothing to undo.
func (a *Archive) UndoCorrection(ctx context.Context, clipID string) (now Correction, ok bool, err error) {
	return a.stepCorrection(ctx, clipID, true)
}

// RedoCorrection brings back the change that was undone last.
func (a *Archive) RedoCorrection(ctx context.Context, clipID string) (now Correction, ok bool, err error) {
	return a.stepCorrection(ctx, clipID, false)
}

func (a *Archive) stepCorrection(ctx context.Context, clipID string, undo bool) (now Correction, ok bool, err error) {
	if err := a.reaches(ctx, "clip", clipID); err != nil {
		return Correction{}, false, words.Doing("doing_undoing_correction", err)
	}
	err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
		all, err := rows.List(ctx, tx, scanCorrection, q.CorrectionsOfClip, clipID)
		if err != nil {
			return err
		}
		at := -1
		for i := range all {
			// The last that holds is undone; the first that was undone comes back.
			if all[i].Undone != undo && (undo || at < 0) {
				at = i
			}
		}
		if at < 0 {
			now = current(all)
			return nil
		}
		ok = true
		all[at].Undone = undo
		now = current(all)
		return rows.One(ctx, tx, q.CorrectionSetUndone, undo, all[at].ID)
	})
	if err != nil {
		return Correction{}, false, words.Doing("doing_undoing_correction", err)
	}
	return now, ok, nil
}
