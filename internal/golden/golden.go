// Package golden compares what the program prints and writes with files that were
// looked at once and kept: testdata/golden of the package under test. They are
// written anew with -update, and the difference is then read like any other change:
//
//	go test ./screening ./report ./cmd/holdfast -run Golden -update
package golden

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files and stored tracks anew")

// folder lies in the package's own folder, where its tests start.
var folder = func() string {
	here, err := os.Getwd()
	if err != nil {
		panic(err)
	}
	return filepath.Join(here, "testdata", "golden")
}()

// Update says whether the test run writes what is kept instead of comparing with it.
func Update() bool { return *update }

// Text compares a text with the golden file of that name.
func Text(t testing.TB, name, got string) {
	t.Helper()
	path := filepath.Join(folder, filepath.FromSlash(name))
	if *update {
		write(t, path, got)
		return
	}
	if diff := cmp.Diff(strings.Split(read(t, path), "\n"), strings.Split(got, "\n")); diff != "" {
		t.Errorf("%s is another one (-kept +now); when that is wanted, run the test with -update:\n%s", name, diff)
	}
}

// HTML compares a page or drawing, one element a line and without embedded pictures:
// their bytes depend on the decoder.
func HTML(t testing.TB, name string, got []byte) {
	t.Helper()
	text := embedded.ReplaceAllString(string(got), "$1…")
	Text(t, name, strings.ReplaceAll(text, "><", ">\n<"))
}

var embedded = regexp.MustCompile(`(data:[a-z]+/[a-z0-9.+-]+;base64,)[A-Za-z0-9+/=&#;]+`)

// JSON compares a document as it is written, digit by digit. A document whose fields
// are others than those of the golden file is written anew only with another schema:
// whoever reads the documents goes by that.
func JSON(t testing.TB, name string, document any) {
	t.Helper()
	raw, err := json.Marshal(document)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(folder, filepath.FromSlash(name))
	if kept, err := os.ReadFile(path); *update && err == nil {
		if err := sameSchema(kept, raw); err != nil {
			t.Fatalf("%s is not written: %v", name, err)
		}
	}
	text, err := laidOut(raw)
	if err != nil {
		t.Fatal(err)
	}
	Text(t, name, text)
}

// laidOut indents a document and keeps each list of numbers on one line.
func laidOut(raw []byte) (string, error) {
	var b bytes.Buffer
	if err := json.Indent(&b, raw, "", " "); err != nil {
		return "", err
	}
	return numbers.ReplaceAllStringFunc(b.String(), func(list string) string {
		return strings.Join(strings.Fields(list), " ")
	}) + "\n", nil
}

var numbers = regexp.MustCompile(`\[\n(?:\s*(?:-?[0-9.eE+-]+|null|true|false),?\n)+\s*\]`)

// sameSchema returns an error when two documents have different fields and the same
// schema.
func sameSchema(before, after []byte) error {
	then, now := map[string]bool{}, map[string]bool{}
	var schemas [2]string
	for i, raw := range [][]byte{before, after} {
		var v any
		if err := json.Unmarshal(raw, &v); err != nil {
			return err
		}
		fields(v, "", []map[string]bool{then, now}[i])
		if m, ok := v.(map[string]any); ok {
			schemas[i], _ = m["schema"].(string)
		}
	}
	if schemas[1] == "" {
		return errors.New("it has no schema")
	}
	var changed []string
	for f := range then {
		if !now[f] {
			changed = append(changed, "-"+f)
		}
	}
	for f := range now {
		if !then[f] {
			changed = append(changed, "+"+f)
		}
	}
	if len(changed) == 0 || schemas[0] != schemas[1] {
		return nil
	}
	slices.Sort(changed)
	return fmt.Errorf("its fields are others, and its schema is still %s: raise its number first (%s)", schemas[1],
		strings.Join(changed, " "))
}

// fields collects the paths of all fields below a value.
func fields(v any, path string, into map[string]bool) {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			into[path+"."+k] = true
			fields(x, path+"."+k, into)
		}
	case []any:
		for _, x := range v {
			fields(x, path+"[]", into)
		}
	}
}

func read(t testing.TB, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		t.Fatalf("there is no golden file yet: run the test with -update (%v)", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func write(t testing.TB, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}
