package archive

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"time"

	"holdfast/archive/folder"
	"holdfast/archive/rows"
	"holdfast/archive/zipped"
	"holdfast/words"
)

// File is a stored file under a name of its own.
type File = folder.File

// Result is what was measured in a clip.
type Result struct {
	ID            string    `json:"id"`
	ClipID        string    `json:"clip_id"`
	Revision      int       `json:"revision"`       // from 1, one more with each new result
	CorrectionSeq int       `json:"correction_seq"` // the correction it was measured with; 0: none
	CreatedAt     time.Time `json:"created_at"`
	Files         []File    `json:"files"`
}

func scanFile(s rows.Scanner) (f File, err error) {
	err = s.Scan(&f.Name, &f.SHA256, &f.SizeBytes)
	return f, err
}

// resultOf returns the result of a clip, nil when there is none.
func resultOf(ctx context.Context, db rows.Querier, clipID string) (*Result, error) {
	var r Result
	err := db.QueryRowContext(ctx, q.ResultOfClip, clipID).Scan(&r.ID, &r.ClipID, &r.Revision, &r.CorrectionSeq,
		rows.Time{To: &r.CreatedAt})
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, rows.Damaged(err)
	}
	r.Files, err = rows.List(ctx, db, scanFile, q.ResultFiles, r.ID)
	return &r, err
}

func checkFiles(files []File) error {
	seen := map[string]bool{}
	for _, f := range files {
		if !zipped.GoodName(f.Name) || seen[f.Name] {
			return words.Because(ErrInvalid, "why_file_name", words.Params{"name": f.Name})
		}
		seen[f.Name] = true
	}
	return nil
}

// SaveResult makes files that were put into the archive the current result of a clip,
// in one step, in place of the result before. The error wraps ErrNotFound when a file
// or the clip is not there.
func (a *Archive) SaveResult(ctx context.Context, clipID string, files []File, correctionSeq int) (Result, error) {
	r := Result{ClipID: clipID, CorrectionSeq: correctionSeq, Files: slices.Clone(files), Revision: 1}
	err := checkFiles(files)
	if err == nil {
		_, _, err = a.folder.Discard(ctx, func(tx *sql.Tx) ([]string, error) {
			old, err := resultOf(ctx, tx, clipID)
			if err != nil {
				return nil, err
			}
			var maybe []string
			if old != nil {
				r.Revision = old.Revision + 1
				if maybe, err = rows.Texts(ctx, tx, q.FilesOfResult, clipID); err != nil {
					return nil, err
				}
				if err := rows.One(ctx, tx, q.ResultDeleteOfClip, clipID); err != nil {
					return nil, err
				}
			}
			if r.ID, err = rows.NewID(); err != nil {
				return nil, err
			}
			var now string
			r.CreatedAt, now = a.folder.Stamp()
			if _, err := tx.ExecContext(ctx, q.ResultInsert, r.ID, clipID, r.Revision, correctionSeq, now); err != nil {
				return nil, err
			}
			var named [][]any
			for _, f := range files {
				named = append(named, []any{r.ID, f.Name, f.SHA256})
			}
			return maybe, rows.InsertAll(ctx, tx, q.ResultFileInsert, named)
		})
	}
	a.folder.Named(err, files...)
	if err != nil {
		return Result{}, words.Doing("doing_saving_result", err)
	}
	return r, nil
}

// AddResultFile adds a file to a result, in place of one of the same name.
func (a *Archive) AddResultFile(ctx context.Context, resultID string, f File) error {
	err := checkFiles([]File{f})
	if err == nil {
		_, _, err = a.folder.Discard(ctx, func(tx *sql.Tx) ([]string, error) {
			maybe, err := rows.Texts(ctx, tx, q.ResultFileOld, resultID, f.Name)
			if err != nil {
				return nil, err
			}
			_, err = tx.ExecContext(ctx, q.ResultFileInsert, resultID, f.Name, f.SHA256)
			return maybe, err
		})
	}
	a.folder.Named(err, f)
	if err != nil {
		return words.Doing("doing_adding_result", err)
	}
	return nil
}
