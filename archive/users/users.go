// Package users keeps who may come in where the page asks for names, what each of them may see, who is logged in, and
// what they did.
//
// A coach sees the athletes that are his or hers, an admin all of them. Passwords are kept as hashes by argon2id,
// sessions as hashes of the secret that the browser holds: neither can be had from the database. What somebody did (an
// [Act]) names athletes, clips and comparisons by their ids alone, so that who is deleted is named nowhere.
package users

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	_ "embed"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"strings"
	"time"
	"unicode"

	"holdfast/archive/rows"
	"holdfast/words"
)

//go:embed queries.sql
var queriesText string

// q holds the statements of queries.sql by their names.
var q = func() (all queries) {
	rows.MustFill(&all, queriesText)
	return all
}()

type queries struct {
	UserInsert, Users, UserByName, UserRole, UserPassword, UserDelete, OtherAdmins, AthletesLeft string
	SessionInsert, SessionUser, SessionEnd, SessionsOver, SessionsOfUser                         string
	ActInsert, Acts                                                                              string
}

// Role says what a user may see.
type Role string

// The roles.
const (
	Coach Role = "coach" // his or her own athletes
	Admin Role = "admin" // all athletes, and how the work goes
)

// User is somebody who may log in.
type User struct {
	ID        string    `json:"id"`
	Name      string    `json:"name"`
	Role      Role      `json:"role"`
	CreatedAt time.Time `json:"created_at"`

	password string // its hash
}

// The errors that callers branch on; both are cases of rows.ErrInvalid.
var (
	// ErrLastAdmin: somebody has to stay who may see all.
	ErrLastAdmin = words.Instead(rows.ErrInvalid, "last_admin", nil)
	// ErrTaken: another user has the name.
	ErrTaken = words.Instead(rows.ErrInvalid, "user_taken", nil)
)

// SessionTime is for how long a log-in holds.
const SessionTime = 12 * time.Hour

// The shortest and the longest password, in bytes, and the longest name. That eight are enough is reckoned where wrong
// ones are counted, in the page's gate.
const (
	LeastPassword = 8
	mostPassword  = 1000
	mostName      = 100
)

// Users are those of an archive. Its methods may be called at the same time.
type Users struct {
	Read, Write *sql.DB
	// Stamp returns what time it is, and how that is stored.
	Stamp func() (time.Time, string)
}

func scanUser(s rows.Scanner) (u User, err error) {
	return u, s.Scan(&u.ID, &u.Name, &u.Role, &u.password, rows.Time{To: &u.CreatedAt})
}

// List returns all users by name.
func (u *Users) List(ctx context.Context) ([]User, error) {
	all, err := rows.List(ctx, u.Read, scanUser, q.Users)
	if err != nil {
		return nil, words.Doing("doing_users", err)
	}
	return all, nil
}

// Find returns the user of a name, without regard to the case of its letters. The error wraps rows.ErrNotFound when
// there is none.
func (u *Users) Find(ctx context.Context, name string) (User, error) {
	one, err := scanUser(u.Read.QueryRowContext(ctx, q.UserByName, strings.TrimSpace(name)))
	if errors.Is(err, sql.ErrNoRows) {
		err = words.Instead(rows.ErrNotFound, "no_user", words.Params{"name": name})
	}
	if err != nil {
		return User{}, words.Doing("doing_users", rows.Damaged(err))
	}
	return one, nil
}

// Add makes a user.
func (u *Users) Add(ctx context.Context, name string, role Role, password string) (User, error) {
	one := User{Name: strings.Join(strings.Fields(name), " "), Role: role}
	err := errors.Join(checkName(one.Name), checkRole(role))
	if err == nil {
		one.password, err = hashed(password)
	}
	if err == nil {
		one.ID, err = rows.NewID()
	}
	if err == nil {
		err = rows.Change(ctx, u.Write, func(tx *sql.Tx) error {
			switch _, err := scanUser(tx.QueryRowContext(ctx, q.UserByName, one.Name)); {
			case err == nil:
				return ErrTaken
			case !errors.Is(err, sql.ErrNoRows):
				return err
			}
			var now string
			one.CreatedAt, now = u.Stamp()
			_, err := tx.ExecContext(ctx, q.UserInsert, one.ID, one.Name, one.Role, one.password, now)
			return err
		})
	}
	if err != nil {
		return User{}, words.Doing("doing_users", err)
	}
	return one, nil
}

func checkName(name string) error {
	if name == "" || len(name) > mostName || strings.ContainsFunc(name, unicode.IsControl) {
		return words.Because(rows.ErrInvalid, "why_user_name", words.Params{"most": mostName})
	}
	return nil
}

func checkRole(role Role) error {
	if role != Coach && role != Admin {
		return words.Because(rows.ErrInvalid, "why_role", words.Params{"given": string(role)})
	}
	return nil
}

// change finds a user and changes what is kept of them in one step; their sessions end.
func (u *Users) change(ctx context.Context, name string, change func(tx *sql.Tx, one User) error) error {
	err := rows.Change(ctx, u.Write, func(tx *sql.Tx) error {
		one, err := scanUser(tx.QueryRowContext(ctx, q.UserByName, strings.TrimSpace(name)))
		if errors.Is(err, sql.ErrNoRows) {
			return words.Instead(rows.ErrNotFound, "no_user", words.Params{"name": name})
		}
		if err == nil {
			_, err = tx.ExecContext(ctx, q.SessionsOfUser, one.ID)
		}
		if err != nil {
			return err
		}
		return change(tx, one)
	})
	if err != nil {
		return words.Doing("doing_users", err)
	}
	return nil
}

// lastAdmin refuses to take away the only user who sees all.
func lastAdmin(ctx context.Context, tx *sql.Tx, one User) error {
	var others int
	err := tx.QueryRowContext(ctx, q.OtherAdmins, one.ID).Scan(&others)
	if err == nil && one.Role == Admin && others == 0 {
		err = ErrLastAdmin
	}
	return err
}

// Remove takes a user away. The athletes stay: they are nobody's until an admin gives them to somebody.
func (u *Users) Remove(ctx context.Context, name string) error {
	return u.change(ctx, name, func(tx *sql.Tx, one User) error {
		if err := lastAdmin(ctx, tx, one); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, q.AthletesLeft, one.ID); err != nil {
			return err
		}
		return rows.One(ctx, tx, q.UserDelete, one.ID)
	})
}

// SetRole changes what a user may see.
func (u *Users) SetRole(ctx context.Context, name string, role Role) error {
	if err := checkRole(role); err != nil {
		return words.Doing("doing_users", err)
	}
	return u.change(ctx, name, func(tx *sql.Tx, one User) error {
		if role != Admin {
			if err := lastAdmin(ctx, tx, one); err != nil {
				return err
			}
		}
		return rows.One(ctx, tx, q.UserRole, role, one.ID)
	})
}

// SetPassword gives a user another password.
func (u *Users) SetPassword(ctx context.Context, name, password string) error {
	hash, err := hashed(password)
	if err != nil {
		return words.Doing("doing_users", err)
	}
	return u.change(ctx, name, func(tx *sql.Tx, one User) error {
		return rows.One(ctx, tx, q.UserPassword, hash, one.ID)
	})
}

// Check returns the user of a name and a password; ok is false when they do not go together. That there is no such user
// takes as long to say as that the password is another.
func (u *Users) Check(ctx context.Context, name, password string) (one User, ok bool, err error) {
	one, err = u.Find(ctx, name)
	if errors.Is(err, rows.ErrNotFound) {
		return User{}, matches(nobody(), password) && false, nil
	}
	if err != nil || !matches(one.password, password) {
		return User{}, false, err
	}
	return one, true, nil
}

// Begin begins a session and returns the secret that it is known by.
func (u *Users) Begin(ctx context.Context, userID string) (secret string, err error) {
	b := make([]byte, 32)
	_, _ = rand.Read(b) // never fails, by its documentation
	secret = base64.RawURLEncoding.EncodeToString(b)
	now, stamp := u.Stamp()
	err = rows.Change(ctx, u.Write, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, q.SessionsOver, stamp); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, q.SessionInsert, hashOf(secret), userID, now.Add(SessionTime).Format(rows.TimeText))
		return err
	})
	if err != nil {
		return "", words.Doing("doing_session", err)
	}
	return secret, nil
}

// Session returns whose session a secret is; ok is false when it has ended or is none.
func (u *Users) Session(ctx context.Context, secret string) (one User, ok bool, err error) {
	_, now := u.Stamp()
	one, err = scanUser(u.Read.QueryRowContext(ctx, q.SessionUser, hashOf(secret), now))
	if errors.Is(err, sql.ErrNoRows) {
		return User{}, false, nil
	}
	if err != nil {
		return User{}, false, words.Doing("doing_session", rows.Damaged(err))
	}
	return one, true, nil
}

// End ends a session.
func (u *Users) End(ctx context.Context, secret string) error {
	if err := rows.Do(ctx, u.Write, q.SessionEnd, hashOf(secret)); err != nil {
		return words.Doing("doing_session", err)
	}
	return nil
}

func hashOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}
