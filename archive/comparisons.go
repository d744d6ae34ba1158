package archive

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"time"

	"holdfast/archive/rows"
	"holdfast/words"
)

// Comparison is a written comparison of clips of one athlete, the easiest first.
type Comparison struct {
	ID        string    `json:"id"`
	AthleteID string    `json:"athlete_id"`
	ClipIDs   []string  `json:"clip_ids"`
	CreatedAt time.Time `json:"created_at"`
	Files     []File    `json:"files"`
}

func scanComparison(s rows.Scanner) (c Comparison, err error) {
	err = s.Scan(&c.ID, &c.AthleteID, rows.Time{To: &c.CreatedAt})
	return c, err
}

func fillComparison(ctx context.Context, db rows.Querier, c *Comparison) (err error) {
	if c.ClipIDs, err = rows.Texts(ctx, db, q.ComparisonClips, c.ID); err != nil {
		return err
	}
	c.Files, err = rows.List(ctx, db, scanFile, q.ComparisonFiles, c.ID)
	return err
}

// SaveComparison stores a comparison of clips of one athlete, the easiest first. The
// error wraps ErrInvalid when a clip is another athlete's.
func (a *Archive) SaveComparison(ctx context.Context, athleteID string, clipIDs []string,
	files []File) (Comparison, error) {
	c := Comparison{AthleteID: athleteID, ClipIDs: slices.Clone(clipIDs), Files: slices.Clone(files)}
	err := errors.Join(checkFiles(files), a.reaches(ctx, "athlete", athleteID))
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			var err error
			if c.ID, err = rows.NewID(); err != nil {
				return err
			}
			var now string
			c.CreatedAt, now = a.folder.Stamp()
			if _, err := tx.ExecContext(ctx, q.ComparisonInsert, c.ID, athleteID, now); err != nil {
				return err
			}
			for i, id := range clipIDs {
				clip, err := scanClip(tx.QueryRowContext(ctx, q.ClipByID, id))
				if err != nil {
					return rows.NotFound(err)
				}
				if clip.AthleteID != athleteID {
					return words.Because(ErrInvalid, "why_one_athlete", nil)
				}
				if _, err := tx.ExecContext(ctx, q.ComparisonClipInsert, c.ID, i, id); err != nil {
					return err
				}
			}
			for _, f := range files {
				if _, err := tx.ExecContext(ctx, q.ComparisonFileInsert, c.ID, f.Name, f.SHA256); err != nil {
					return err
				}
			}
			return nil
		})
	}
	a.folder.Named(err, files...)
	if err != nil {
		return Comparison{}, words.Doing("doing_saving_comparison", err)
	}
	return c, nil
}

// AddComparisonFile adds a file to a comparison, in place of one of the same name.
func (a *Archive) AddComparisonFile(ctx context.Context, id string, f File) error {
	err := checkFiles([]File{f})
	if err == nil {
		_, _, err = a.folder.Discard(ctx, func(tx *sql.Tx) ([]string, error) {
			maybe, err := rows.Texts(ctx, tx, q.ComparisonFileOld, id, f.Name)
			if err != nil {
				return nil, err
			}
			_, err = tx.ExecContext(ctx, q.ComparisonFileInsert, id, f.Name, f.SHA256)
			return maybe, err
		})
	}
	a.folder.Named(err, f)
	if err != nil {
		return words.Doing("doing_adding_comparison", err)
	}
	return nil
}

// Comparison returns one comparison by id.
func (a *Archive) Comparison(ctx context.Context, id string) (Comparison, error) {
	var c Comparison
	err := rows.View(ctx, a.folder.Read, func(db rows.Querier) (err error) {
		if c, err = scanComparison(db.QueryRowContext(ctx, q.ComparisonByID, id)); err == nil {
			err = fillComparison(ctx, db, &c)
		}
		return err
	})
	if err == nil {
		err = a.sees(ctx, c.AthleteID)
	}
	if err != nil {
		return Comparison{}, words.Doing("doing_looking_comparison", err)
	}
	return c, nil
}

// ComparisonsOf returns an athlete's comparisons, the newest first.
func (a *Archive) ComparisonsOf(ctx context.Context, athleteID string) ([]Comparison, error) {
	var out []Comparison
	err := a.sees(ctx, athleteID)
	if err == nil {
		err = rows.View(ctx, a.folder.Read, func(db rows.Querier) (err error) {
			out, err = comparisonsOf(ctx, db, athleteID)
			return err
		})
	}
	if err != nil {
		return nil, words.Doing("doing_listing_comparisons", err)
	}
	return out, nil
}

func comparisonsOf(ctx context.Context, db rows.Querier, athleteID string) ([]Comparison, error) {
	out, err := rows.List(ctx, db, scanComparison, q.ComparisonsOfAthlete, athleteID)
	for i := range out {
		if err == nil {
			err = fillComparison(ctx, db, &out[i])
		}
	}
	return out, err
}

// DeleteComparison removes a comparison; the clips stay.
func (a *Archive) DeleteComparison(ctx context.Context, id string) error {
	if err := a.reaches(ctx, "comparison", id); err != nil {
		return words.Doing("doing_deleting_comparison", err)
	}
	_, _, err := a.folder.Discard(ctx, func(tx *sql.Tx) ([]string, error) {
		maybe, err := rows.Texts(ctx, tx, q.FilesOfComparison, id)
		if err != nil {
			return nil, err
		}
		return maybe, rows.One(ctx, tx, q.ComparisonDelete, id)
	})
	if err != nil {
		return words.Doing("doing_deleting_comparison", err)
	}
	return nil
}

// ReplaceComparisonFiles makes files that were put into the archive all that a
// comparison has, in one step: what was made of the numbers of before goes. The error
// wraps ErrNotFound when the comparison or a file is not there.
func (a *Archive) ReplaceComparisonFiles(ctx context.Context, id string, files []File) error {
	err := checkFiles(files)
	if err == nil {
		_, _, err = a.folder.Discard(ctx, func(tx *sql.Tx) ([]string, error) {
			if _, err := scanComparison(tx.QueryRowContext(ctx, q.ComparisonByID, id)); err != nil {
				return nil, rows.NotFound(err)
			}
			maybe, err := rows.Texts(ctx, tx, q.FilesOfComparison, id)
			if err != nil {
				return nil, err
			}
			if _, err := tx.ExecContext(ctx, q.ComparisonFilesDelete, id); err != nil {
				return nil, err
			}
			for _, f := range files {
				if _, err := tx.ExecContext(ctx, q.ComparisonFileInsert, id, f.Name, f.SHA256); err != nil {
					return nil, err
				}
			}
			return maybe, nil
		})
	}
	a.folder.Named(err, files...)
	if err != nil {
		return words.Doing("doing_renewing_comparison", err)
	}
	return nil
}
