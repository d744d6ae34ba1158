package users

import (
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"holdfast/archive/folder"
	"holdfast/archive/rows"
	"holdfast/internal/pgtest"
	"holdfast/internal/statements"
)

func TestMain(m *testing.M) {
	code := m.Run()
	pgtest.Stop()
	os.Exit(code)
}

// everywhere runs a test on users of SQLite and of PostgreSQL; tick moves their clock.
func everywhere(t *testing.T, do func(t *testing.T, u *Users, tick func(time.Duration))) {
	for _, kind := range []string{"SQLite", "PostgreSQL"} {
		t.Run(kind, func(t *testing.T) {
			now := time.Date(2026, 5, 2, 12, 0, 0, 0, time.UTC)
			opt := folder.Options{Now: func() time.Time { return now }}
			if kind == "PostgreSQL" {
				if testing.Short() {
					t.Skip("starts a database server")
				}
				opt.Database = pgtest.Database(t)
			}
			f, err := folder.Open(t.Context(), t.TempDir(), opt)
			if err != nil {
				t.Fatal(err)
			}
			do(t, &Users{f.Read, f.Write, f.Stamp}, func(d time.Duration) { now = now.Add(d) })
			if err := f.Close(); err != nil {
				t.Error(err)
			}
		})
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func TestStatements(t *testing.T) {
	everywhere(t, func(t *testing.T, u *Users, _ func(time.Duration)) { statements.Check(t, u.Write, q, queriesText) })
}

// Users are made, found by name and password, and changed; what cannot be meant is refused.
func TestUsers(t *testing.T) {
	everywhere(t, func(t *testing.T, u *Users, _ func(time.Duration)) {
		ctx := t.Context()
		kim := must(u.Add(ctx, "  Kim  Vale ", Admin, "correct horse"))
		must(u.Add(ctx, "Robin", Coach, "battery staple"))
		for _, tt := range []struct {
			name     string
			role     Role
			password string
			want     error
		}{
			{"kim vale", Coach, "another one", ErrTaken},
			{"Short", Coach, "seven 7", rows.ErrInvalid},
			{"Long", Coach, strings.Repeat("x", mostPassword+1), rows.ErrInvalid},
			{"King", "king", "correct horse", rows.ErrInvalid},
			{" ", Coach, "correct horse", rows.ErrInvalid},
			{"a\x00b", Coach, "correct horse", rows.ErrInvalid},
		} {
			if _, err := u.Add(ctx, tt.name, tt.role, tt.password); !errors.Is(err, tt.want) {
				t.Errorf("%q as %s: %v", tt.name, tt.role, err)
			}
		}
		all := must(u.List(ctx))
		if len(all) != 2 || all[0].Name != "Kim Vale" || all[1].Role != Coach || all[0].ID != kim.ID {
			t.Errorf("the users are %+v", all)
		}
		for _, tt := range []struct {
			name, password string
			want           bool
		}{
			{"Kim Vale", "correct horse", true}, {"KIM VALE", "correct horse", true}, {"Kim Vale", "Correct horse", false},
			{"Kim Vale", "", false}, {"Kim Vale", "battery staple", false}, {"Nobody", "correct horse", false},
			{"Nobody", "nobody has this password", false}, {"", "", false},
		} {
			if one, ok, err := u.Check(ctx, tt.name, tt.password); err != nil || ok != tt.want || ok && one.ID != kim.ID {
				t.Errorf("%q with %q: %+v %v %v", tt.name, tt.password, one, ok, err)
			}
		}
		var kept string
		if err := u.Read.QueryRowContext(ctx, "SELECT password FROM users WHERE id = ?", kim.ID).Scan(&kept); err != nil ||
			!strings.HasPrefix(kept, "$argon2id$v=19$m=19456,t=2,p=1$") || strings.Contains(kept, "horse") {
			t.Errorf("kept of a password is %q, %v", kept, err)
		}
		for name, err := range map[string]error{"removed": u.Remove(ctx, "Kim Vale"),
			"made a coach": u.SetRole(ctx, "Kim Vale", Coach)} {
			if !errors.Is(err, ErrLastAdmin) {
				t.Errorf("the only admin was %s: %v", name, err)
			}
		}
		if err := errors.Join(u.SetRole(ctx, "robin", Admin), u.Remove(ctx, "kim vale"),
			u.SetPassword(ctx, "Robin", "a new password")); err != nil {
			t.Error(err)
		}
		if _, ok, err := u.Check(ctx, "Robin", "a new password"); !ok || err != nil {
			t.Errorf("the new password: %v %v", ok, err)
		}
		for _, err := range []error{u.Remove(ctx, "Kim Vale"), u.SetRole(ctx, "Kim Vale", Admin),
			u.SetPassword(ctx, "Kim Vale", "correct horse")} {
			if !errors.Is(err, rows.ErrNotFound) {
				t.Errorf("of a user who is gone: %v", err)
			}
		}
	})
}

// A session is known by its secret until it ends, by itself, by logging out, or with what the user was.
func TestSessions(t *testing.T) {
	everywhere(t, func(t *testing.T, u *Users, tick func(time.Duration)) {
		ctx := t.Context()
		kim, robin := must(u.Add(ctx, "Kim", Admin, "correct horse")), must(u.Add(ctx, "Robin", Coach, "battery staple"))
		is := func(what, secret string, want bool) {
			t.Helper()
			if one, ok, err := u.Session(ctx, secret); ok != want || err != nil || ok && one.Name == "" {
				t.Errorf("%s: %+v %v %v", what, one, ok, err)
			}
		}
		first, second := must(u.Begin(ctx, kim.ID)), must(u.Begin(ctx, kim.ID))
		is("begun", first, true)
		is("no secret", "", false)
		is("its hash", hashOf(first), false)
		if err := u.End(ctx, first); err != nil {
			t.Error(err)
		}
		is("logged out", first, false)
		is("logged in elsewhere", second, true)
		tick(SessionTime)
		is("over", second, false)
		for what, change := range map[string]func() error{
			"another password": func() error { return u.SetPassword(ctx, "Robin", "battery staple") },
			"another role":     func() error { return u.SetRole(ctx, "Robin", Admin) },
		} {
			secret := must(u.Begin(ctx, robin.ID))
			if err := change(); err != nil {
				t.Error(err)
			}
			is(what, secret, false)
		}
		secret := must(u.Begin(ctx, robin.ID))
		if err := u.Remove(ctx, "Robin"); err != nil {
			t.Error(err)
		}
		is("removed", secret, false)
		if _, err := u.Begin(ctx, robin.ID); !errors.Is(err, rows.ErrNotFound) {
			t.Errorf("a session of nobody: %v", err)
		}
		var left int
		if err := u.Read.QueryRowContext(ctx, "SELECT count(*) FROM sessions").Scan(&left); err != nil || left > 0 {
			t.Errorf("%d sessions are left, %v", left, err)
		}
	})
}

// What users did is kept in order and told since a time.
func TestActs(t *testing.T) {
	everywhere(t, func(t *testing.T, u *Users, tick func(time.Duration)) {
		ctx := t.Context()
		begun, _ := u.Stamp()
		for _, act := range []Act{{Who: "Kim", What: LoggedIn}, {Who: "Kim", What: Deleted, Kind: "clip", Thing: "c",
			Athlete: "a"}} {
			tick(time.Minute)
			if err := u.Note(ctx, act); err != nil {
				t.Fatal(err)
			}
		}
		all := must(u.Acts(ctx, time.Time{}, -1))
		if len(all) != 2 || all[0] != (Act{begun.Add(2 * time.Minute), "Kim", Deleted, "clip", "c", "a"}) ||
			all[1].What != LoggedIn {
			t.Errorf("acts are %+v", all)
		}
		if late := must(u.Acts(ctx, begun.Add(90*time.Second), -1)); len(late) != 1 || len(must(u.Acts(ctx, begun, 1))) != 1 {
			t.Errorf("later acts are %+v", late)
		}
	})
}

// What is no hash of ours matches nothing, and nothing panics on it.
func FuzzMatches(f *testing.F) {
	good := must(hashed("correct horse"))
	for _, kept := range []string{good, "", "$", "$argon2id$v=19$m=8,t=1,p=1$$", "$argon2id$v=19$m=4294967295,t=1,p=1$" +
		"AAAAAAAAAAAAAAAAAAAAAA$AA", "$argon2id$v=19$m=19456,t=0,p=0$AAAAAAAAAAAAAAAAAAAAAA$AAAA", good[:len(good)-1]} {
		f.Add(kept)
	}
	f.Fuzz(func(t *testing.T, kept string) {
		if matches(kept, "another password") {
			t.Errorf("%q matches", kept)
		}
	})
}
