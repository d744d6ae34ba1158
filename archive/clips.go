package archive

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"holdfast/archive/folder"
	"holdfast/archive/rows"
	"holdfast/screening/setting"
	"holdfast/words"
)

// Clip is one video file of an athlete.
type Clip struct {
	ID         string   `json:"id"`
	VisitID    string   `json:"visit_id"`
	AthleteID  string   `json:"athlete_id"`
	Name       string   `json:"name"` // to be shown; never a path
	SHA256     string   `json:"sha256"`
	SizeBytes  int64    `json:"size_bytes"`
	Tempo      string   `json:"tempo"` // given by the coach; empty: found
	HeightCm   *float64 `json:"height_cm"`
	CaptureFPS *float64 `json:"capture_fps"`
	// TrimFromS and TrimToS bound what is measured, in seconds of the file; nil: its beginning, its end. The file
	// stays whole.
	TrimFromS *float64 `json:"trim_from_s"`
	TrimToS   *float64 `json:"trim_to_s"`
	// Movement is the key of the one that it shows, given by the coach; empty: found.
	Movement string `json:"movement"`
	// Setting is how the set was done beside tempo and load.
	Setting setting.Setting `json:"setting"`
	// JoinedWith is the clip of the same set from the other view, by its id; empty: none.
	JoinedWith string    `json:"joined_with"`
	AddedAt    time.Time `json:"added_at"`
	Result     *Result   `json:"result"` // nil: not measured yet
}

func scanClip(s rows.Scanner) (c Clip, err error) {
	err = s.Scan(&c.ID, &c.VisitID, &c.AthleteID, &c.Name, &c.SHA256, &c.SizeBytes, &c.Tempo, &c.HeightCm, &c.CaptureFPS,
		&c.TrimFromS, &c.TrimToS, &c.Movement, &c.Setting, rows.Time{To: &c.AddedAt}, &c.JoinedWith)
	return c, err
}

func (c *Clip) check() error {
	if err := checkText("clip_name", c.Name, maxName, false); err != nil {
		return err
	}
	switch c.Tempo {
	case "", "slow", "fast", "jump":
	default:
		return words.Because(ErrInvalid, "why_tempo", nil)
	}
	if err := c.Setting.Check(); err != nil {
		return words.Because(ErrInvalid, "why_setting", words.Params{"why": err.Error()})
	}
	if from, to := c.TrimFromS, c.TrimToS; from != nil && to != nil && !(*from < *to) {
		return words.Because(ErrInvalid, "why_trim", nil)
	}
	return errors.Join(checkText("movement", c.Movement, maxName, true), checkNumber("height", c.HeightCm, false),
		checkNumber("frame_rate", c.CaptureFPS, false),
		checkNumber("trim", c.TrimFromS, true), checkNumber("trim", c.TrimToS, false))
}

// AddClip makes a clip of a file that was put into the archive. When the athlete has
// a clip of this file, that one is returned and known is true. The error wraps
// ErrNotFound when the file or the visit is not there and ErrInvalid when the visit is
// another athlete's.
func (a *Archive) AddClip(ctx context.Context, in Clip) (clip Clip, known bool, err error) {
	put := File{SHA256: in.SHA256}
	if err = in.check(); err == nil {
		err = a.reaches(ctx, "athlete", in.AthleteID)
	}
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			old, err := scanClip(tx.QueryRowContext(ctx, q.ClipByFile, in.AthleteID, in.SHA256))
			if err == nil {
				in, known = old, true
				return nil
			}
			if !errors.Is(err, sql.ErrNoRows) {
				return err
			}
			if in.SizeBytes, err = folder.FileSize(ctx, tx, in.SHA256); err != nil {
				return err
			}
			v, err := scanVisit(tx.QueryRowContext(ctx, q.VisitByID, in.VisitID))
			if err != nil {
				return rows.NotFound(err)
			}
			if v.AthleteID != in.AthleteID {
				return words.Because(ErrInvalid, "why_visit", nil)
			}
			if in.ID, err = rows.NewID(); err != nil {
				return err
			}
			var now string
			in.AddedAt, now = a.folder.Stamp()
			_, err = tx.ExecContext(ctx, q.ClipInsert, in.ID, in.VisitID, in.AthleteID, in.Name, in.SHA256, in.Tempo,
				in.HeightCm, in.CaptureFPS, in.TrimFromS, in.TrimToS, in.Movement, in.Setting, now)
			return err
		})
	}
	if err == nil {
		err = rows.View(ctx, a.folder.Read, func(db rows.Querier) (err error) {
			in.Result, err = resultOf(ctx, db, in.ID)
			return err
		})
	}
	a.folder.Named(err, put)
	if err != nil {
		return Clip{}, false, words.Doing("doing_adding_clip", err)
	}
	return in, known, nil
}

// Clip returns one clip with its current result.
func (a *Archive) Clip(ctx context.Context, id string) (Clip, error) {
	var c Clip
	err := rows.View(ctx, a.folder.Read, func(db rows.Querier) (err error) {
		if c, err = scanClip(db.QueryRowContext(ctx, q.ClipByID, id)); err == nil {
			c.Result, err = resultOf(ctx, db, id)
		}
		return err
	})
	if err == nil {
		err = a.sees(ctx, c.AthleteID)
	}
	if err != nil {
		return Clip{}, words.Doing("doing_looking_clip", err)
	}
	return c, nil
}

// ClipsOf returns an athlete's clips with their results, by date.
func (a *Archive) ClipsOf(ctx context.Context, athleteID string) ([]Clip, error) {
	var clips []Clip
	err := a.sees(ctx, athleteID)
	if err == nil {
		err = rows.View(ctx, a.folder.Read, func(db rows.Querier) (err error) {
			clips, err = clipsOf(ctx, db, athleteID)
			return err
		})
	}
	if err != nil {
		return nil, words.Doing("doing_listing_clips", err)
	}
	return clips, nil
}

func clipsOf(ctx context.Context, db rows.Querier, athleteID string) ([]Clip, error) {
	clips, err := rows.List(ctx, db, scanClip, q.ClipsOfAthlete, athleteID)
	for i := range clips {
		if err == nil {
			clips[i].Result, err = resultOf(ctx, db, clips[i].ID)
		}
	}
	return clips, err
}

// UpdateClip changes visit (and with it the athlete), name, tempo, height and rate. A
// clip that goes to another athlete leaves the comparisons that used it: they are
// removed. It leaves the clip it is joined with too; to another visit it takes that along.
// The error wraps ErrKnownClip, a case of ErrInvalid, when that athlete has the clip.
func (a *Archive) UpdateClip(ctx context.Context, in Clip) error {
	if err := a.reaches(ctx, "visit", in.VisitID); err != nil {
		return words.Doing("doing_changing_clip", err)
	}
	if err := a.reaches(ctx, "clip", in.ID); err != nil {
		return words.Doing("doing_changing_clip", err)
	}
	err := in.check()
	if err == nil {
		_, _, err = a.folder.Discard(ctx, func(tx *sql.Tx) (maybe []string, err error) {
			v, err := scanVisit(tx.QueryRowContext(ctx, q.VisitByID, in.VisitID))
			if err != nil {
				return nil, rows.NotFound(err)
			}
			old, err := scanClip(tx.QueryRowContext(ctx, q.ClipByID, in.ID))
			if err != nil {
				return nil, rows.NotFound(err)
			}
			if old.AthleteID != v.AthleteID {
				switch _, err := scanClip(tx.QueryRowContext(ctx, q.ClipByFile, v.AthleteID, old.SHA256)); {
				case err == nil:
					return nil, ErrKnownClip
				case !errors.Is(err, sql.ErrNoRows):
					return nil, err
				}
				if maybe, err = dropComparisons(ctx, tx, in.ID); err != nil {
					return nil, err
				}
				if _, err := tx.ExecContext(ctx, q.JoinDelete, in.ID); err != nil {
					return nil, err
				}
			} else if old.JoinedWith != "" && old.VisitID != in.VisitID { // a set has one day
				if err := rows.One(ctx, tx, q.ClipSetVisit, in.VisitID, old.JoinedWith); err != nil {
					return nil, err
				}
			}
			return maybe, rows.One(ctx, tx, q.ClipUpdate, in.VisitID, v.AthleteID, in.Name, in.Tempo,
				in.HeightCm, in.CaptureFPS, in.TrimFromS, in.TrimToS, in.Movement, in.Setting, in.ID)
		})
	}
	if err != nil {
		return words.Doing("doing_changing_clip", err)
	}
	return nil
}

// DeleteClip removes a clip, its results and the comparisons that used it.
func (a *Archive) DeleteClip(ctx context.Context, id string) error {
	if err := a.reaches(ctx, "clip", id); err != nil {
		return words.Doing("doing_deleting_clip", err)
	}
	_, _, err := a.folder.Discard(ctx, func(tx *sql.Tx) ([]string, error) {
		maybe, err := a.folder.Abandoned(ctx, tx)
		if err != nil {
			return nil, err
		}
		files, err := dropClip(ctx, tx, id)
		return append(maybe, files...), err
	})
	if err != nil {
		return words.Doing("doing_deleting_clip", err)
	}
	return nil
}

// dropClip deletes the rows of a clip and returns the files they referred to.
func dropClip(ctx context.Context, tx *sql.Tx, id string) ([]string, error) {
	maybe, err := rows.Texts(ctx, tx, q.FilesOfClip, id)
	if err != nil {
		return nil, err
	}
	more, err := dropComparisons(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	return append(maybe, more...), rows.One(ctx, tx, q.ClipDelete, id)
}

// dropComparisons deletes the rows of the comparisons that use a clip and returns the
// files they referred to.
func dropComparisons(ctx context.Context, tx *sql.Tx, clipID string) ([]string, error) {
	ids, err := rows.Texts(ctx, tx, q.ComparisonsOfClip, clipID)
	if err != nil {
		return nil, err
	}
	var maybe []string
	for _, id := range ids {
		files, err := rows.Texts(ctx, tx, q.FilesOfComparison, id)
		if err != nil {
			return nil, err
		}
		if err := rows.One(ctx, tx, q.ComparisonDelete, id); err != nil {
			return nil, err
		}
		maybe = append(maybe, files...)
	}
	return maybe, nil
}
