package archive

import (
	"context"
	"database/sql"
	"time"

	"holdfast/archive/halfsent"
	"holdfast/archive/rows"
	"holdfast/words"
)

// The conditions of a visit.
const (
	Fresh    = "fresh"
	Loaded   = "loaded"
	Fatigued = "fatigued"
)

// Visit is one date on which an athlete was filmed in one condition.
type Visit struct {
	ID        string   `json:"id"`
	AthleteID string   `json:"athlete_id"`
	Date      string   `json:"date"` // YYYY-MM-DD
	Condition string   `json:"condition"`
	LoadKg    *float64 `json:"load_kg"`
	Notes     string   `json:"notes"`
}

func scanVisit(s rows.Scanner) (v Visit, err error) {
	err = s.Scan(&v.ID, &v.AthleteID, &v.Date, &v.Condition, &v.LoadKg, &v.Notes)
	return v, err
}

func (v *Visit) check() error {
	if _, err := time.Parse(time.DateOnly, v.Date); err != nil {
		return words.Because(ErrInvalid, "why_date", nil)
	}
	switch v.Condition {
	case "":
		v.Condition = Fresh
	case Fresh, Loaded, Fatigued:
	default:
		return words.Because(ErrInvalid, "why_condition", nil)
	}
	if err := checkNumber("load", v.LoadKg, true); err != nil {
		return err
	}
	return checkText("notes", v.Notes, maxNotes, true)
}

// VisitFor returns the visit of the same athlete, date, condition and load, and makes
// it when there is none.
func (a *Archive) VisitFor(ctx context.Context, in Visit) (Visit, error) {
	if err := a.reaches(ctx, "athlete", in.AthleteID); err != nil {
		return Visit{}, words.Doing("doing_adding_visit", err)
	}
	err := in.check()
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
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
		return Visit{}, words.Doing("doing_adding_visit", err)
	}
	return in, nil
}

// Visit returns one visit by id.
func (a *Archive) Visit(ctx context.Context, id string) (Visit, error) {
	out, err := scanVisit(a.folder.Read.QueryRowContext(ctx, q.VisitByID, id))
	if err == nil {
		err = a.sees(ctx, out.AthleteID)
	}
	if err != nil {
		return Visit{}, words.Doing("doing_looking_visit", rows.NotFound(err))
	}
	return out, nil
}

// Visits returns an athlete's visits by date.
func (a *Archive) Visits(ctx context.Context, athleteID string) ([]Visit, error) {
	var out []Visit
	err := a.sees(ctx, athleteID)
	if err == nil {
		out, err = rows.List(ctx, a.folder.Read, scanVisit, q.VisitsOfAthlete, athleteID)
	}
	if err != nil {
		return nil, words.Doing("doing_listing_visits", err)
	}
	return out, nil
}

// UpdateVisit changes date, condition, load and notes.
func (a *Archive) UpdateVisit(ctx context.Context, in Visit) error {
	if err := a.reaches(ctx, "visit", in.ID); err != nil {
		return words.Doing("doing_changing_visit", err)
	}
	err := in.check()
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			return rows.One(ctx, tx, q.VisitUpdate, in.Date, in.Condition, in.LoadKg, in.Notes, in.ID)
		})
	}
	if err != nil {
		return words.Doing("doing_changing_visit", err)
	}
	return nil
}

// DeleteVisit removes a visit with its clips, also those that have not come whole, and
// their results.
func (a *Archive) DeleteVisit(ctx context.Context, id string) error {
	if err := a.reaches(ctx, "visit", id); err != nil {
		return words.Doing("doing_deleting_visit", err)
	}
	_, _, err := a.folder.Discard(ctx, func(tx *sql.Tx) ([]string, error) {
		clips, err := rows.Texts(ctx, tx, q.ClipIDsOfVisit, id)
		if err != nil {
			return nil, err
		}
		maybe, err := a.folder.Abandoned(ctx, tx)
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
		_, _, err = halfsent.Drop(a.folder.Dir, func(o halfsent.Owner) bool { return o.Visit == id })
	}
	if err != nil {
		return words.Doing("doing_deleting_visit", err)
	}
	return nil
}

// DeleteEmptied removes a visit that has neither clips nor notes, and leaves any other.
func (a *Archive) DeleteEmptied(ctx context.Context, visitID string) error {
	err := rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, q.VisitDeleteEmptied, visitID)
		return err
	})
	if err != nil {
		return words.Doing("doing_deleting_visit", err)
	}
	return nil
}
