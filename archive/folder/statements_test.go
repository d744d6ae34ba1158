package folder

import (
	"testing"

	"holdfast/internal/statements"
)

// Every statement fits the migrated schema, and each is used.
func TestStatements(t *testing.T) {
	t.Parallel()
	in, err := Open(t.Context(), t.TempDir(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	statements.Check(t, in.Write, q, queriesText)
	if err := in.Close(); err != nil {
		t.Error(err)
	}
}
