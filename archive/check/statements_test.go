package check

import (
	"testing"

	"holdfast/archive/folder"
	"holdfast/internal/statements"
)

// Every statement fits the migrated schema, and each is used.
func TestStatements(t *testing.T) {
	t.Parallel()
	in, err := folder.Open(t.Context(), t.TempDir(), folder.Options{})
	if err != nil {
		t.Fatal(err)
	}
	statements.Check(t, in.Write, q, queriesText)
	if err := in.Close(); err != nil {
		t.Error(err)
	}
}
