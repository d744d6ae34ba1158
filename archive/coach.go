package archive

import (
	"context"
	"database/sql"
	"errors"

	"holdfast/archive/rows"
	"holdfast/archive/users"
	"holdfast/words"
)

// coachKey is the key of a context's coach.
type coachKey struct{}

// ForCoach returns a context in which an archive has the athletes of one coach alone, by the id of the user: all that
// is another's is not there (ErrNotFound), and whoever is added is this coach's. In any other context everything is.
func ForCoach(ctx context.Context, userID string) context.Context {
	return context.WithValue(ctx, coachKey{}, userID)
}

// CoachOf returns the coach of a context; empty: it sees everything.
func CoachOf(ctx context.Context) string {
	id, _ := ctx.Value(coachKey{}).(string)
	return id
}

// sees says whether the context's coach may see an athlete: the error is of the kind ErrNotFound when not.
func (a *Archive) sees(ctx context.Context, athleteID string) error {
	if CoachOf(ctx) == "" {
		return nil
	}
	_, err := a.Athlete(ctx, athleteID)
	return err
}

// reaches says whether the context's coach may change a thing, by kind and id, as sees does.
func (a *Archive) reaches(ctx context.Context, kind, id string) error {
	if CoachOf(ctx) == "" {
		return nil
	}
	athlete, err := a.AthleteOf(ctx, kind, id)
	if err == nil && athlete == "" {
		err = ErrNotFound
	}
	return err
}

// seesJob is sees for the athlete of a job.
func (a *Archive) seesJob(ctx context.Context, j Job) (err error) {
	switch {
	case CoachOf(ctx) == "":
	case j.ClipID != "":
		_, err = a.Clip(ctx, j.ClipID)
	default:
		_, err = a.Comparison(ctx, j.ComparisonID)
	}
	return err
}

// Users are those who may log in where the page asks for names.
func (a *Archive) Users() *users.Users {
	return &users.Users{Read: a.folder.Read, Write: a.folder.Write, Stamp: a.folder.Stamp}
}

// GiveAthletes makes athletes a user's, by ids; of nobody's and of everybody's alike.
func (a *Archive) GiveAthletes(ctx context.Context, userID string, athleteIDs ...string) error {
	err := rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
		for _, id := range athleteIDs {
			if err := rows.One(ctx, tx, q.AthleteGive, userID, id); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return words.Doing("doing_changing_athlete", err)
	}
	return nil
}

// AthleteOf returns the athlete whose a thing is, by kind and id; empty when there is no such thing, or not for the
// context's coach.
func (a *Archive) AthleteOf(ctx context.Context, kind, id string) (athleteID string, err error) {
	switch kind {
	case "athlete":
		var who Athlete
		who, err = a.Athlete(ctx, id)
		athleteID = who.ID
	case "visit":
		var v Visit
		v, err = a.Visit(ctx, id)
		athleteID = v.AthleteID
	case "clip":
		var c Clip
		c, err = a.Clip(ctx, id)
		athleteID = c.AthleteID
	case "comparison":
		var c Comparison
		c, err = a.Comparison(ctx, id)
		athleteID = c.AthleteID
	case "job":
		var j Job
		if j, err = a.Job(ctx, id); err == nil && j.ClipID != "" {
			return a.AthleteOf(ctx, "clip", j.ClipID)
		} else if err == nil {
			return a.AthleteOf(ctx, "comparison", j.ComparisonID)
		}
	}
	if errors.Is(err, ErrNotFound) || errors.Is(err, ErrInvalid) {
		return "", nil
	}
	return athleteID, err
}
