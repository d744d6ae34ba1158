package archive

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"slices"
	"strings"
	"time"

	"holdfast/archive/disk"
	"holdfast/archive/halfsent"
	"holdfast/archive/rows"
	"holdfast/words"
)

// Athlete is a person who is filmed, by name or code.
type Athlete struct {
	ID        string    `json:"id"`
	Name      string    `json:"name"`
	HeightCm  *float64  `json:"height_cm"`
	BirthYear *int      `json:"birth_year"`
	Notes     string    `json:"notes"`
	Team      string    `json:"team"`       // or group; empty: none
	ConsentOn string    `json:"consent_on"` // YYYY-MM-DD, when it was agreed to be filmed and kept; empty: not said
	KeepUntil string    `json:"keep_until"` // YYYY-MM-DD; empty: not said. Deleting stays the coach's act.
	Example   bool      `json:"example"`    // the invented athlete of the demonstration
	CreatedAt time.Time `json:"created_at"`
	Coach     string    `json:"-"` // the user whose athlete it is; empty: the admins' alone
}

// Deleted says what went with a deletion.
type Deleted struct {
	Athlete                                    string
	Visits, Clips, Results, Comparisons, Files int
	Uploads                                    int // that had not come whole
	Bytes                                      int64
}

func scanAthlete(s rows.Scanner) (a Athlete, err error) {
	err = s.Scan(&a.ID, &a.Name, &a.HeightCm, &a.BirthYear, &a.Notes, &a.Team, &a.ConsentOn, &a.KeepUntil, &a.Example,
		rows.Time{To: &a.CreatedAt}, &a.Coach)
	return a, err
}

func (a *Athlete) check() error {
	if a.Name = strings.TrimSpace(a.Name); a.Name == "" {
		return words.Because(ErrInvalid, "why_nameless", nil)
	}
	if err := checkText("name", a.Name, maxName, false); err != nil {
		return err
	}
	if err := checkNumber("height", a.HeightCm, false); err != nil {
		return err
	}
	for _, day := range []string{a.ConsentOn, a.KeepUntil} {
		if _, err := time.Parse(time.DateOnly, day); day != "" && err != nil {
			return words.Because(ErrInvalid, "why_date", nil)
		}
	}
	return errors.Join(checkText("team", a.Team, maxName, false), checkText("notes", a.Notes, maxNotes, true))
}

// PastKeeping says whether the day until which the athlete is to be kept lies before another one.
func (a *Athlete) PastKeeping(today string) bool { return a.KeepUntil != "" && a.KeepUntil < today }

// CreateAthlete stores a new athlete and returns it with its id.
func (a *Archive) CreateAthlete(ctx context.Context, in Athlete) (Athlete, error) {
	return a.AthleteFor(ctx, in, func(Athlete) bool { return false })
}

// AthleteFor returns the first athlete for whom is says yes, and stores in where there is
// none: two who look at the same time find one.
func (a *Archive) AthleteFor(ctx context.Context, in Athlete, is func(Athlete) bool) (Athlete, error) {
	err := in.check()
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			all, err := rows.List(ctx, tx, scanAthlete, q.Athletes, CoachOf(ctx))
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
		return Athlete{}, words.Doing("doing_adding_athlete", err)
	}
	return in, nil
}

func (a *Archive) insertAthlete(ctx context.Context, tx *sql.Tx, in *Athlete) (err error) {
	if in.ID, err = rows.NewID(); err != nil {
		return err
	}
	var now string
	in.CreatedAt, now = a.folder.Stamp()
	in.Coach = CoachOf(ctx)
	_, err = tx.ExecContext(ctx, q.AthleteInsert, in.ID, in.Name, in.HeightCm, in.BirthYear, in.Notes, in.Team,
		in.ConsentOn, in.KeepUntil, in.Example, now, in.Coach)
	return err
}

// UpdateAthlete changes what is said of an athlete.
func (a *Archive) UpdateAthlete(ctx context.Context, in Athlete) error {
	if err := a.reaches(ctx, "athlete", in.ID); err != nil {
		return words.Doing("doing_changing_athlete", err)
	}
	err := in.check()
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			return rows.One(ctx, tx, q.AthleteUpdate, in.Name, in.HeightCm, in.BirthYear, in.Notes, in.Team, in.ConsentOn,
				in.KeepUntil, in.ID)
		})
	}
	if err != nil {
		return words.Doing("doing_changing_athlete", err)
	}
	return nil
}

// Athlete returns one athlete by id.
func (a *Archive) Athlete(ctx context.Context, id string) (Athlete, error) {
	out, err := scanAthlete(a.folder.Read.QueryRowContext(ctx, q.AthleteByID, id, CoachOf(ctx)))
	if err != nil {
		return Athlete{}, words.Doing("doing_looking_athlete", rows.NotFound(err))
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
	found, err := rows.List(ctx, a.folder.Read, scanAthlete, q.Athletes, CoachOf(ctx))
	// SQLite folds the case of ASCII letters alone.
	name := strings.TrimSpace(nameOrID)
	found = slices.DeleteFunc(found, func(who Athlete) bool { return !strings.EqualFold(who.Name, name) })
	switch {
	case err != nil:
	case len(found) == 0:
		err = words.Instead(ErrNotFound, "nobody", words.Params{"name": name})
	case len(found) > 1:
		err = words.Instead(ErrAmbiguous, "ambiguous_name", words.Params{"n": len(found), "name": name})
	default:
		return found[0], nil
	}
	return Athlete{}, words.Doing("doing_looking_athlete", err)
}

// Athletes returns all athletes by name, or those of the context's coach.
func (a *Archive) Athletes(ctx context.Context) ([]Athlete, error) {
	out, err := rows.List(ctx, a.folder.Read, scanAthlete, q.Athletes, CoachOf(ctx))
	if err != nil {
		return nil, words.Doing("doing_listing_athletes", err)
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
		return Deleted{}, words.Doing("doing_deleting_athlete", err)
	}
	// Should this be killed on the way, the next server packs the database.
	mark, err := a.folder.BeginDeletion()
	if err != nil {
		return Deleted{}, words.Doing("doing_deleting_athlete", err)
	}
	defer mark.Close()
	out := Deleted{Athlete: who.Name}
	var visits []Visit
	out.Files, out.Bytes, err = a.folder.Discard(ctx, func(tx *sql.Tx) ([]string, error) {
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
		more, err := a.folder.Abandoned(ctx, tx)
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
		out.Uploads, bytes, err = halfsent.Drop(a.folder.Dir, uploadsOf(who, visits))
		out.Bytes += bytes
	}
	if err == nil {
		err = rows.Pack(ctx, a.folder.Write)
	}
	if err == nil || errors.Is(err, ErrNotFound) {
		err = errors.Join(err, disk.IgnoreMissing(os.Remove(mark.Name())))
	}
	if err != nil {
		return out, words.Doing("doing_deleting_athlete", err)
	}
	return out, nil
}

// uploadsOf returns what picks the uploads of an athlete with these visits.
func uploadsOf(who Athlete, visits []Visit) func(halfsent.Owner) bool {
	oneLine := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	of := map[string]bool{}
	for _, v := range visits {
		of[v.ID] = true
	}
	return func(o halfsent.Owner) bool {
		switch {
		case o.Visit != "":
			return of[o.Visit]
		case o.Athlete != "":
			return o.Athlete == who.ID
		}
		return o.Coach == who.Coach && strings.EqualFold(oneLine(o.AthleteName), oneLine(who.Name))
	}
}
