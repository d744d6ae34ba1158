// Package statements tests the statements of a package that embeds them: each fits the
// database's schema, and each is used.
package statements

import (
	"database/sql"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"holdfast/archive/rows"
)

// Check looks at the statements of the package in whose folder the test runs: all is the
// struct that holds them, text the file they are embedded from.
func Check(t *testing.T, db *sql.DB, all any, text string) {
	t.Helper()
	var source strings.Builder
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		source.Write(b)
	}
	v := reflect.ValueOf(all)
	if v.NumField() < 5 {
		t.Errorf("only %d statements", v.NumField())
	}
	for i := range v.NumField() {
		name := v.Type().Field(i).Name
		s, err := db.PrepareContext(t.Context(), v.Field(i).String())
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if !regexp.MustCompile(`\bq\w*\.` + name + `\b`).MatchString(source.String()) {
			t.Errorf("the statement %s is used nowhere", name)
		}
	}
	for _, text := range []string{"", text + "\n-- name: Unknown\nSELECT 1\n",
		text + "\n-- name: " + v.Type().Field(0).Name + "\nSELECT 1\n"} {
		func() {
			defer func() {
				if recover() == nil {
					t.Error("a list of statements that does not fit was taken")
				}
			}()
			rows.MustFill(reflect.New(v.Type()).Interface(), text)
		}()
	}
}
