package rows

import (
	"database/sql"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"holdfast/words"
)

// open returns a database of athletes and their visits, to write and to read.
func open(t *testing.T) (write, read *sql.DB) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "x.db")
	for i, db := range []**sql.DB{&write, &read} {
		var err error
		if *db, err = Open(path, i == 1); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if err := (*db).Close(); err != nil {
				t.Error(err)
			}
		})
	}
	_, err := write.ExecContext(t.Context(), `
		CREATE TABLE athletes (id TEXT PRIMARY KEY, height REAL CHECK (height > 0)) STRICT;
		CREATE TABLE visits (athlete TEXT NOT NULL REFERENCES athletes (id)) STRICT;
		INSERT INTO athletes VALUES ('one', 1.8)`)
	if err != nil {
		t.Fatal(err)
	}
	return write, read
}

// What SQLite refuses has a kind that callers branch on, and leaves nothing behind.
func TestKinds(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	write, read := open(t)
	for _, tc := range []struct {
		name, statement string
		want            error
	}{
		{"a visit", "INSERT INTO visits VALUES ('one')", nil},
		{"a visit of nobody", "INSERT INTO visits VALUES ('two')", words.Error("not_found")},
		{"an athlete twice", "INSERT INTO athletes VALUES ('one', 1.7)", words.Error("invalid")},
		{"no height", "INSERT INTO athletes VALUES ('three', 0)", words.Error("invalid")},
		{"a height in words", "INSERT INTO athletes VALUES ('three', 'tall')", words.Error("invalid")},
		{"a change of nobody", "UPDATE athletes SET height = 2 WHERE id = 'two'", words.Error("not_found")},
	} {
		err := Change(ctx, write, func(tx *sql.Tx) error {
			if _, err := tx.ExecContext(ctx, "DELETE FROM visits"); err != nil {
				return err
			}
			return One(ctx, tx, tc.statement)
		})
		if !errors.Is(err, tc.want) || err != nil && tc.want == nil {
			t.Errorf("%s: %v, want %v", tc.name, err, tc.want)
		}
	}
	err := View(ctx, read, func(db Querier) error {
		visits, err := Texts(ctx, db, "SELECT athlete FROM visits")
		if len(visits) != 1 {
			t.Errorf("the visits are %q", visits)
		}
		if err != nil {
			return err
		}
		var id string
		return db.QueryRowContext(ctx, "SELECT id FROM athletes WHERE id = 'two'").Scan(&id)
	})
	if !errors.Is(err, words.Error("not_found")) {
		t.Errorf("looking for nobody: %v", err)
	}
	if _, err := read.ExecContext(ctx, "DELETE FROM visits"); err == nil {
		t.Error("written where only reading is allowed")
	}
	if astray, err := BrokenReferences(ctx, read); err != nil || len(astray) > 0 {
		t.Errorf("astray are %q, %v", astray, err)
	}
}

// A time comes back as it was written; none leaves what is there.
func TestTime(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 3, 1, 9, 0, 0, 5, time.UTC)
	for _, tc := range []struct {
		name string
		in   any
		want time.Time
		kind error
	}{
		{"text", at.Format(TimeText), at, nil},
		{"a time", at.In(time.FixedZone("", 3600)), at, nil},
		{"none", nil, time.Time{}, nil},
		{"a word", "yesterday", time.Time{}, words.Error("damaged")},
		{"a number", int64(5), time.Time{}, words.Error("damaged")},
	} {
		var got time.Time
		err := Time{&got}.Scan(tc.in)
		if !errors.Is(err, tc.kind) || err != nil && tc.kind == nil || got != tc.want {
			t.Errorf("%s: %v, %v, want %v, %v", tc.name, got, err, tc.want, tc.kind)
		}
	}
}
