package archive

import (
	"context"
	"database/sql"

	"holdfast/archive/rows"
	"holdfast/words"
)

// JoinClips says that two clips of one visit show one set, from the side and from the front. The error wraps ErrInvalid
// where they are of two visits, or one of them is joined already, and ErrNotFound where one is not there.
func (a *Archive) JoinClips(ctx context.Context, sideID, frontID string) error {
	err := a.reaches(ctx, "clip", sideID)
	if err == nil {
		err = a.reaches(ctx, "clip", frontID)
	}
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			side, err := scanClip(tx.QueryRowContext(ctx, q.ClipByID, sideID))
			if err != nil {
				return rows.NotFound(err)
			}
			front, err := scanClip(tx.QueryRowContext(ctx, q.ClipByID, frontID))
			switch {
			case err != nil:
				return rows.NotFound(err)
			case side.VisitID != front.VisitID || sideID == frontID:
				return words.Because(ErrInvalid, "why_two_visits", nil)
			case side.JoinedWith != "" || front.JoinedWith != "":
				return words.Because(ErrInvalid, "why_joined", nil)
			}
			_, err = tx.ExecContext(ctx, q.JoinInsert, sideID, frontID)
			return err
		})
	}
	if err != nil {
		return words.Doing("doing_joining_clips", err)
	}
	return nil
}

// PartClips says that a clip and the one it is joined with are of two sets; both stay. The error wraps ErrNotFound
// where it is joined with none.
func (a *Archive) PartClips(ctx context.Context, clipID string) error {
	err := a.reaches(ctx, "clip", clipID)
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error { return rows.One(ctx, tx, q.JoinDelete, clipID) })
	}
	if err != nil {
		return words.Doing("doing_parting_clips", err)
	}
	return nil
}
