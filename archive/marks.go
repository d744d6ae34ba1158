package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"

	"holdfast/archive/rows"
	"holdfast/words"
)

// maxMarks bounds what is marked by hand on one clip, in bytes of JSON.
const maxMarks = 1 << 20

// Marks returns what a coach marked on the frames of a clip, as JSON; nil where nothing was.
func (a *Archive) Marks(ctx context.Context, clipID string) (json.RawMessage, error) {
	if err := a.reaches(ctx, "clip", clipID); err != nil {
		return nil, words.Doing("doing_looking_clip", err)
	}
	doc, err := marksOf(ctx, a.folder.Read, clipID)
	if err != nil {
		return nil, words.Doing("doing_looking_clip", err)
	}
	return doc, nil
}

func marksOf(ctx context.Context, db rows.Querier, clipID string) (json.RawMessage, error) {
	var doc string
	err := db.QueryRowContext(ctx, q.MarksOfClip, clipID).Scan(&doc)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, rows.Damaged(err)
	}
	return json.RawMessage(doc), nil
}

// SetMarks keeps what a coach marked on the frames of a clip in place of what was marked before; nil takes it away. The
// error wraps ErrNotFound when the clip is not there.
func (a *Archive) SetMarks(ctx context.Context, clipID string, doc json.RawMessage) error {
	if err := a.reaches(ctx, "clip", clipID); err != nil {
		return words.Doing("doing_changing_clip", err)
	}
	var err error
	if len(doc) > maxMarks || doc != nil && !json.Valid(doc) {
		err = words.Because(ErrInvalid, "why_marks", nil)
	}
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			if _, err := scanClip(tx.QueryRowContext(ctx, q.ClipByID, clipID)); err != nil {
				return rows.NotFound(err)
			}
			if doc == nil {
				_, err := tx.ExecContext(ctx, q.MarksDelete, clipID)
				return err
			}
			_, err := tx.ExecContext(ctx, q.MarksSet, clipID, string(doc))
			return err
		})
	}
	if err != nil {
		return words.Doing("doing_changing_clip", err)
	}
	return nil
}
