package check

import (
	"os"
	"testing"

	"holdfast/archive/folder"
	"holdfast/internal/pgtest"
	"holdfast/internal/statements"
)

func TestMain(m *testing.M) {
	code := m.Run()
	pgtest.Stop()
	os.Exit(code)
}

// Every statement fits the migrated schema, of SQLite and of PostgreSQL, and each is used.
func TestStatements(t *testing.T) {
	t.Parallel()
	for name, opt := range map[string]folder.Options{"SQLite": {}, "PostgreSQL": {Database: pgtest.Database(t)}} {
		t.Run(name, func(t *testing.T) {
			in, err := folder.Open(t.Context(), t.TempDir(), opt)
			if err != nil {
				t.Fatal(err)
			}
			statements.Check(t, in.Write, q, queriesText)
			if err := in.Close(); err != nil {
				t.Error(err)
			}
		})
	}
}
