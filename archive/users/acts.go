package users

import (
	"context"
	"math"
	"time"

	"holdfast/archive/rows"
	"holdfast/words"
)

// Act is something that somebody did: looked at a thing, took it along, added, changed or deleted it.
type Act struct {
	At   time.Time `json:"at"`
	Who  string    `json:"who"`  // the user's name at that time
	What string    `json:"what"` // saw, took, added, changed, deleted, logged_in, refused, logged_out
	Kind string    `json:"kind"` // of the thing: athlete, visit, clip, comparison, job, upload, user; empty: of none
	// Thing is its id, Athlete that of the athlete whose it is; empty: not of one.
	Thing   string `json:"thing"`
	Athlete string `json:"athlete"`
}

// What is done.
const (
	Saw       = "saw"
	Took      = "took" // as a file to keep
	Added     = "added"
	Changed   = "changed"
	Deleted   = "deleted"
	LoggedIn  = "logged_in"
	Refused   = "refused" // a log-in
	LoggedOut = "logged_out"
)

// Note keeps what somebody did, as of now.
func (u *Users) Note(ctx context.Context, act Act) error {
	id, err := rows.NewID()
	if err == nil {
		_, now := u.Stamp()
		err = rows.Do(ctx, u.Write, q.ActInsert, id, now, act.Who, act.What, act.Kind, act.Thing, act.Athlete)
	}
	if err != nil {
		return words.Doing("doing_noting_act", err)
	}
	return nil
}

// Acts returns what was done since a time, the latest first; at most so many, all where limit is negative.
func (u *Users) Acts(ctx context.Context, since time.Time, limit int) ([]Act, error) {
	if limit < 0 {
		limit = math.MaxInt32
	}
	all, err := rows.List(ctx, u.Read, func(s rows.Scanner) (a Act, err error) {
		return a, s.Scan(rows.Time{To: &a.At}, &a.Who, &a.What, &a.Kind, &a.Thing, &a.Athlete)
	}, q.Acts, since.UTC().Format(rows.TimeText), limit)
	if err != nil {
		return nil, words.Doing("doing_acts", err)
	}
	return all, nil
}
