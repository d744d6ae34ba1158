package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"holdfast/archive/rows"
)

func scanClip(s rows.Scanner) (c Clip, err error) {
	err = s.Scan(&c.ID, &c.VisitID, &c.AthleteID, &c.Name, &c.SHA256, &c.SizeBytes, &c.Tempo, &c.HeightCm, &c.CaptureFPS,
		rows.Time{To: &c.AddedAt})
	return c, err
}

func (c *Clip) check() error {
	if err := checkText("name of the clip", c.Name, maxName, false); err != nil {
		return err
	}
	switch c.Tempo {
	case "", "slow", "fast", "jump":
	default:
		return fmt.Errorf("%w: the tempo is slow, fast or jump", ErrInvalid)
	}
	return errors.Join(checkNumber("height", c.HeightCm, false), checkNumber("frame rate", c.CaptureFPS, false))
}

// AddClip makes a clip of a file that was put into the archive. When the athlete has
// a clip of this file, that one is returned and known is true. The error wraps
// ErrNotFound when the file or the visit is not there and ErrInvalid when the visit is
// another athlete's.
func (a *Archive) AddClip(ctx context.Context, in Clip) (clip Clip, known bool, err error) {
	put := File{SHA256: in.SHA256}
	if err = in.check(); err == nil {
		err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
			old, err := scanClip(tx.QueryRowContext(ctx, q.ClipByFile, in.AthleteID, in.SHA256))
			if err == nil {
				in, known = old, true
				return nil
			}
			if !errors.Is(err, sql.ErrNoRows) {
				return err
			}
			if err := tx.QueryRowContext(ctx, q.FileSize, in.SHA256).Scan(&in.SizeBytes); err != nil {
				return rows.NotFound(err)
			}
			v, err := scanVisit(tx.QueryRowContext(ctx, q.VisitByID, in.VisitID))
			if err != nil {
				return rows.NotFound(err)
			}
			if v.AthleteID != in.AthleteID {
				return fmt.Errorf("%w: the visit is another athlete's", ErrInvalid)
			}
			if in.ID, err = rows.NewID(); err != nil {
				return err
			}
			var now string
			in.AddedAt, now = a.stamp()
			_, err = tx.ExecContext(ctx, q.ClipInsert, in.ID, in.VisitID, in.AthleteID, in.Name, in.SHA256, in.Tempo,
				in.HeightCm, in.CaptureFPS, now)
			return err
		})
	}
	if err == nil {
		err = rows.View(ctx, a.read, func(db rows.Querier) (err error) {
			in.Result, err = resultOf(ctx, db, in.ID)
			return err
		})
	}
	a.named(err, put)
	if err != nil {
		return Clip{}, false, fmt.Errorf("adding a clip: %w", err)
	}
	return in, known, nil
}

// Clip returns one clip with its current result.
func (a *Archive) Clip(ctx context.Context, id string) (Clip, error) {
	var c Clip
	err := rows.View(ctx, a.read, func(db rows.Querier) (err error) {
		if c, err = scanClip(db.QueryRowContext(ctx, q.ClipByID, id)); err == nil {
			c.Result, err = resultOf(ctx, db, id)
		}
		return err
	})
	if err != nil {
		return Clip{}, fmt.Errorf("looking for a clip: %w", err)
	}
	return c, nil
}

// ClipsOf returns an athlete's clips with their results, by date.
func (a *Archive) ClipsOf(ctx context.Context, athleteID string) ([]Clip, error) {
	var clips []Clip
	err := rows.View(ctx, a.read, func(db rows.Querier) (err error) {
		clips, err = clipsOf(ctx, db, athleteID)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("listing clips: %w", err)
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
// removed. The error wraps ErrKnownClip, a case of ErrInvalid, when that athlete has
// the clip.
func (a *Archive) UpdateClip(ctx context.Context, in Clip) error {
	err := in.check()
	if err == nil {
		_, _, err = a.discard(ctx, func(tx *sql.Tx) (maybe []string, err error) {
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
			}
			return maybe, rows.One(ctx, tx, q.ClipUpdate, in.VisitID, v.AthleteID, in.Name, in.Tempo,
				in.HeightCm, in.CaptureFPS, in.ID)
		})
	}
	if err != nil {
		return fmt.Errorf("changing a clip: %w", err)
	}
	return nil
}

// DeleteClip removes a clip, its results and the comparisons that used it.
func (a *Archive) DeleteClip(ctx context.Context, id string) error {
	_, _, err := a.discard(ctx, func(tx *sql.Tx) ([]string, error) {
		maybe, err := a.abandoned(ctx, tx)
		if err != nil {
			return nil, err
		}
		files, err := dropClip(ctx, tx, id)
		return append(maybe, files...), err
	})
	if err != nil {
		return fmt.Errorf("deleting a clip: %w", err)
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

// goodFileName says whether a name stays in its folder when it is exported, on every
// system.
func goodFileName(name string) bool {
	return fs.ValidPath(name) && name != "." && !strings.ContainsAny(name, `\:`) &&
		checkText("file name", name, maxName, false) == nil
}

func checkFiles(files []File) error {
	seen := map[string]bool{}
	for _, f := range files {
		if !goodFileName(f.Name) || seen[f.Name] {
			return fmt.Errorf("%w: a result has the file name %q", ErrInvalid, f.Name)
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
		_, _, err = a.discard(ctx, func(tx *sql.Tx) ([]string, error) {
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
			r.CreatedAt, now = a.stamp()
			if _, err := tx.ExecContext(ctx, q.ResultInsert, r.ID, clipID, r.Revision, correctionSeq, now); err != nil {
				return nil, err
			}
			for _, f := range files {
				if _, err := tx.ExecContext(ctx, q.ResultFileInsert, r.ID, f.Name, f.SHA256); err != nil {
					return nil, err
				}
			}
			return maybe, nil
		})
	}
	a.named(err, files...)
	if err != nil {
		return Result{}, fmt.Errorf("saving a result: %w", err)
	}
	return r, nil
}

// AddResultFile adds a file to a result, in place of one of the same name.
func (a *Archive) AddResultFile(ctx context.Context, resultID string, f File) error {
	err := checkFiles([]File{f})
	if err == nil {
		_, _, err = a.discard(ctx, func(tx *sql.Tx) ([]string, error) {
			maybe, err := rows.Texts(ctx, tx, q.ResultFileOld, resultID, f.Name)
			if err != nil {
				return nil, err
			}
			_, err = tx.ExecContext(ctx, q.ResultFileInsert, resultID, f.Name, f.SHA256)
			return maybe, err
		})
	}
	a.named(err, f)
	if err != nil {
		return fmt.Errorf("adding to a result: %w", err)
	}
	return nil
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
	c := Correction{ClipID: clipID, Doc: doc, What: what}
	err := checkText("description", what, maxName, false)
	if err == nil && (len(doc) > maxDoc || !json.Valid(doc)) {
		err = fmt.Errorf("%w: the correction is too long or no JSON", ErrInvalid)
	}
	if err == nil {
		err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
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
			c.CreatedAt, now = a.stamp()
			_, err = tx.ExecContext(ctx, q.CorrectionInsert, c.ID, clipID, c.Seq, string(doc), what, now)
			return err
		})
	}
	if err != nil {
		return Correction{}, fmt.Errorf("recording a correction: %w", err)
	}
	return c, nil
}

// Corrections returns all changes of a clip in order, those undone among them.
func (a *Archive) Corrections(ctx context.Context, clipID string) ([]Correction, error) {
	out, err := rows.List(ctx, a.read, scanCorrection, q.CorrectionsOfClip, clipID)
	if err != nil {
		return nil, fmt.Errorf("listing corrections: %w", err)
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
	err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
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
		return Correction{}, false, fmt.Errorf("undoing a correction: %w", err)
	}
	return now, ok, nil
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
	err := checkFiles(files)
	if err == nil {
		err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
			var err error
			if c.ID, err = rows.NewID(); err != nil {
				return err
			}
			var now string
			c.CreatedAt, now = a.stamp()
			if _, err := tx.ExecContext(ctx, q.ComparisonInsert, c.ID, athleteID, now); err != nil {
				return err
			}
			for i, id := range clipIDs {
				clip, err := scanClip(tx.QueryRowContext(ctx, q.ClipByID, id))
				if err != nil {
					return rows.NotFound(err)
				}
				if clip.AthleteID != athleteID {
					return fmt.Errorf("%w: the clips of a comparison are of one athlete", ErrInvalid)
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
	a.named(err, files...)
	if err != nil {
		return Comparison{}, fmt.Errorf("saving a comparison: %w", err)
	}
	return c, nil
}

// AddComparisonFile adds a file to a comparison, in place of one of the same name.
func (a *Archive) AddComparisonFile(ctx context.Context, id string, f File) error {
	err := checkFiles([]File{f})
	if err == nil {
		_, _, err = a.discard(ctx, func(tx *sql.Tx) ([]string, error) {
			maybe, err := rows.Texts(ctx, tx, q.ComparisonFileOld, id, f.Name)
			if err != nil {
				return nil, err
			}
			_, err = tx.ExecContext(ctx, q.ComparisonFileInsert, id, f.Name, f.SHA256)
			return maybe, err
		})
	}
	a.named(err, f)
	if err != nil {
		return fmt.Errorf("adding to a comparison: %w", err)
	}
	return nil
}

// Comparison returns one comparison by id.
func (a *Archive) Comparison(ctx context.Context, id string) (Comparison, error) {
	var c Comparison
	err := rows.View(ctx, a.read, func(db rows.Querier) (err error) {
		if c, err = scanComparison(db.QueryRowContext(ctx, q.ComparisonByID, id)); err == nil {
			err = fillComparison(ctx, db, &c)
		}
		return err
	})
	if err != nil {
		return Comparison{}, fmt.Errorf("looking for a comparison: %w", err)
	}
	return c, nil
}

// ComparisonsOf returns an athlete's comparisons, the newest first.
func (a *Archive) ComparisonsOf(ctx context.Context, athleteID string) ([]Comparison, error) {
	var out []Comparison
	err := rows.View(ctx, a.read, func(db rows.Querier) (err error) {
		out, err = comparisonsOf(ctx, db, athleteID)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("listing comparisons: %w", err)
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
	_, _, err := a.discard(ctx, func(tx *sql.Tx) ([]string, error) {
		maybe, err := rows.Texts(ctx, tx, q.FilesOfComparison, id)
		if err != nil {
			return nil, err
		}
		return maybe, rows.One(ctx, tx, q.ComparisonDelete, id)
	})
	if err != nil {
		return fmt.Errorf("deleting a comparison: %w", err)
	}
	return nil
}
