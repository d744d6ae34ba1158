package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"holdfast/archive/disk"
	"holdfast/archive/rows"
)

func scanAthlete(s rows.Scanner) (a Athlete, err error) {
	err = s.Scan(&a.ID, &a.Name, &a.HeightCm, &a.BirthYear, &a.Notes, &a.Example, rows.Time{To: &a.CreatedAt})
	return a, err
}

func (a *Athlete) check() error {
	if a.Name = strings.TrimSpace(a.Name); a.Name == "" {
		return fmt.Errorf("%w: an athlete needs a name or a code", ErrInvalid)
	}
	if err := checkText("name", a.Name, maxName, false); err != nil {
		return err
	}
	if err := checkNumber("height", a.HeightCm, false); err != nil {
		return err
	}
	return checkText("notes", a.Notes, maxNotes, true)
}

// CreateAthlete stores a new athlete and returns it with its id.
func (a *Archive) CreateAthlete(ctx context.Context, in Athlete) (Athlete, error) {
	return a.AthleteFor(ctx, in, func(Athlete) bool { return false })
}

// AthleteFor returns the first athlete for whom is says yes, and stores in where there is
// none: two who look at the same time find one.
func (a *Archive) AthleteFor(ctx context.Context, in Athlete, is func(Athlete) bool) (Athlete, error) {
	err := in.check()
	if err == nil {
		err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
			all, err := rows.List(ctx, tx, scanAthlete, q.Athletes)
			if err != nil {
				return err
			}
			if i := slices.IndexFunc(all, is); i >= 0 {
				in = all[i]
				return nil
			}
			return a.insertAthlete(ctx, tx, &in)
		})
	}
	if err != nil {
		return Athlete{}, fmt.Errorf("adding an athlete: %w", err)
	}
	return in, nil
}

func (a *Archive) insertAthlete(ctx context.Context, tx *sql.Tx, in *Athlete) (err error) {
	if in.ID, err = rows.NewID(); err != nil {
		return err
	}
	var now string
	in.CreatedAt, now = a.stamp()
	_, err = tx.ExecContext(ctx, q.AthleteInsert, in.ID, in.Name, in.HeightCm, in.BirthYear, in.Notes, in.Example, now)
	return err
}

// UpdateAthlete changes name, height, birth year and notes.
func (a *Archive) UpdateAthlete(ctx context.Context, in Athlete) error {
	err := in.check()
	if err == nil {
		err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
			return rows.One(ctx, tx, q.AthleteUpdate, in.Name, in.HeightCm, in.BirthYear, in.Notes, in.ID)
		})
	}
	if err != nil {
		return fmt.Errorf("changing an athlete: %w", err)
	}
	return nil
}

// Athlete returns one athlete by id.
func (a *Archive) Athlete(ctx context.Context, id string) (Athlete, error) {
	out, err := scanAthlete(a.read.QueryRowContext(ctx, q.AthleteByID, id))
	if err != nil {
		return Athlete{}, fmt.Errorf("looking for an athlete: %w", rows.NotFound(err))
	}
	return out, nil
}

// FindAthlete returns the athlete with an id or a name, without regard to case. The
// error wraps ErrNotFound when there is none and ErrAmbiguous, a case of ErrInvalid,
// when several have the name.
func (a *Archive) FindAthlete(ctx context.Context, nameOrID string) (Athlete, error) {
	if out, err := a.Athlete(ctx, nameOrID); err == nil {
		return out, nil
	}
	found, err := rows.List(ctx, a.read, scanAthlete, q.Athletes)
	// SQLite folds the case of ASCII letters alone.
	name := strings.TrimSpace(nameOrID)
	found = slices.DeleteFunc(found, func(who Athlete) bool { return !strings.EqualFold(who.Name, name) })
	switch {
	case err != nil:
	case len(found) == 0:
		err = &said{fmt.Sprintf("nobody is called %q; holdfast athletes lists who is there", name), ErrNotFound}
	case len(found) > 1:
		err = &said{fmt.Sprintf("%d athletes are called %q; give the id, which holdfast athletes shows", len(found), name),
			ErrAmbiguous}
	default:
		return found[0], nil
	}
	return Athlete{}, fmt.Errorf("looking for an athlete: %w", err)
}

// Athletes returns all athletes by name.
func (a *Archive) Athletes(ctx context.Context) ([]Athlete, error) {
	out, err := rows.List(ctx, a.read, scanAthlete, q.Athletes)
	if err != nil {
		return nil, fmt.Errorf("listing the athletes: %w", err)
	}
	return out, nil
}

// DeleteAthlete removes an athlete with all visits, clips, results and comparisons, the
// clips that have not come whole, and every file that nobody else uses, and says what
// went. Files that were put, got no name and wait for none go too: they may be the
// athlete's. The database is packed afterwards, so that the name is not in its file any
// more.
func (a *Archive) DeleteAthlete(ctx context.Context, id string) (Deleted, error) {
	who, err := a.Athlete(ctx, id)
	if err != nil {
		return Deleted{}, fmt.Errorf("deleting an athlete: %w", err)
	}
	// Should this be killed on the way, the next server packs the database.
	mark, err := disk.LockedFile(a.store.Tmp(), deletingName+"*")
	if err != nil {
		return Deleted{}, fmt.Errorf("deleting an athlete: %w", err)
	}
	defer mark.Close()
	out := Deleted{Athlete: who.Name}
	var visits []Visit
	out.Files, out.Bytes, err = a.discard(ctx, func(tx *sql.Tx) ([]string, error) {
		var maybe []string
		clips, err := rows.List(ctx, tx, scanClip, q.ClipsOfAthlete, id)
		if err != nil {
			return nil, err
		}
		for _, c := range clips {
			files, err := rows.Texts(ctx, tx, q.FilesOfClip, c.ID)
			if err != nil {
				return nil, err
			}
			maybe = append(maybe, files...)
		}
		comparisons, err := rows.List(ctx, tx, scanComparison, q.ComparisonsOfAthlete, id)
		if err != nil {
			return nil, err
		}
		for _, c := range comparisons {
			files, err := rows.Texts(ctx, tx, q.FilesOfComparison, c.ID)
			if err != nil {
				return nil, err
			}
			maybe = append(maybe, files...)
		}
		more, err := a.abandoned(ctx, tx)
		if err != nil {
			return nil, err
		}
		maybe = append(maybe, more...)
		if visits, err = rows.List(ctx, tx, scanVisit, q.VisitsOfAthlete, id); err != nil {
			return nil, err
		}
		out.Visits, out.Clips, out.Comparisons = len(visits), len(clips), len(comparisons)
		if err := tx.QueryRowContext(ctx, q.CountResults, id).Scan(&out.Results); err != nil {
			return nil, err
		}
		return maybe, rows.One(ctx, tx, q.AthleteDelete, id)
	})
	if err == nil {
		// After the rows: an upload that begins now finds nobody to belong to.
		var bytes int64
		out.Uploads, bytes, err = a.dropUploads(uploadsOf(who, visits))
		out.Bytes += bytes
	}
	if err == nil {
		err = rows.Pack(ctx, a.write)
	}
	if err == nil || errors.Is(err, ErrNotFound) {
		err = errors.Join(err, disk.IgnoreMissing(os.Remove(mark.Name())))
	}
	if err != nil {
		return out, fmt.Errorf("deleting an athlete: %w", err)
	}
	return out, nil
}

func scanVisit(s rows.Scanner) (v Visit, err error) {
	err = s.Scan(&v.ID, &v.AthleteID, &v.Date, &v.Condition, &v.LoadKg, &v.Notes)
	return v, err
}

func (v *Visit) check() error {
	if _, err := time.Parse(time.DateOnly, v.Date); err != nil {
		return fmt.Errorf("%w: a date is written as 2025-05-02", ErrInvalid)
	}
	switch v.Condition {
	case "":
		v.Condition = Fresh
	case Fresh, Loaded, Fatigued:
	default:
		return fmt.Errorf("%w: the condition is fresh, loaded or fatigued", ErrInvalid)
	}
	if err := checkNumber("load", v.LoadKg, true); err != nil {
		return err
	}
	return checkText("notes", v.Notes, maxNotes, true)
}

// VisitFor returns the visit of the same athlete, date, condition and load, and makes
// it when there is none.
func (a *Archive) VisitFor(ctx context.Context, in Visit) (Visit, error) {
	err := in.check()
	if err == nil {
		err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
			found, err := rows.List(ctx, tx, scanVisit, q.VisitFind, in.AthleteID, in.Date, in.Condition, in.LoadKg)
			if err != nil {
				return err
			}
			if len(found) > 0 {
				in = found[0]
				return nil
			}
			if in.ID, err = rows.NewID(); err != nil {
				return err
			}
			_, err = tx.ExecContext(ctx, q.VisitInsert, in.ID, in.AthleteID, in.Date, in.Condition, in.LoadKg, in.Notes)
			return err
		})
	}
	if err != nil {
		return Visit{}, fmt.Errorf("adding a visit: %w", err)
	}
	return in, nil
}

// Visit returns one visit by id.
func (a *Archive) Visit(ctx context.Context, id string) (Visit, error) {
	out, err := scanVisit(a.read.QueryRowContext(ctx, q.VisitByID, id))
	if err != nil {
		return Visit{}, fmt.Errorf("looking for a visit: %w", rows.NotFound(err))
	}
	return out, nil
}

// Visits returns an athlete's visits by date.
func (a *Archive) Visits(ctx context.Context, athleteID string) ([]Visit, error) {
	out, err := rows.List(ctx, a.read, scanVisit, q.VisitsOfAthlete, athleteID)
	if err != nil {
		return nil, fmt.Errorf("listing visits: %w", err)
	}
	return out, nil
}

// UpdateVisit changes date, condition, load and notes.
func (a *Archive) UpdateVisit(ctx context.Context, in Visit) error {
	err := in.check()
	if err == nil {
		err = rows.Change(ctx, a.write, func(tx *sql.Tx) error {
			return rows.One(ctx, tx, q.VisitUpdate, in.Date, in.Condition, in.LoadKg, in.Notes, in.ID)
		})
	}
	if err != nil {
		return fmt.Errorf("changing a visit: %w", err)
	}
	return nil
}

// DeleteVisit removes a visit with its clips, also those that have not come whole, and
// their results.
func (a *Archive) DeleteVisit(ctx context.Context, id string) error {
	_, _, err := a.discard(ctx, func(tx *sql.Tx) ([]string, error) {
		clips, err := rows.Texts(ctx, tx, q.ClipIDsOfVisit, id)
		if err != nil {
			return nil, err
		}
		maybe, err := a.abandoned(ctx, tx)
		if err != nil {
			return nil, err
		}
		for _, c := range clips {
			files, err := dropClip(ctx, tx, c)
			if err != nil {
				return nil, err
			}
			maybe = append(maybe, files...)
		}
		return maybe, rows.One(ctx, tx, q.VisitDelete, id)
	})
	if err == nil {
		_, _, err = a.dropUploads(func(o UploadOwner) bool { return o.Visit == id })
	}
	if err != nil {
		return fmt.Errorf("deleting a visit: %w", err)
	}
	return nil
}
