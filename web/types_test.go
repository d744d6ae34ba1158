package web

import (
	"cmp"
	"encoding"
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"holdfast/internal/golden"
	"holdfast/kinematics/stats"
	"holdfast/screening/history"
	"holdfast/web/joblist"
)

// declared writes Go types of answers as the type checker of the page's scripts reads them.
type declared struct {
	text map[string]string // by name; of types written elsewhere empty
}

// of gives the type of a value in an answer, and declares the structs it is made of.
func (d declared) of(t reflect.Type) string {
	switch {
	case t.Implements(reflect.TypeFor[encoding.TextMarshaler]()): // times and names
		return "string"
	case t == reflect.TypeFor[json.RawMessage]():
		return "unknown"
	}
	switch t.Kind() {
	case reflect.String:
		return "string"
	case reflect.Bool:
		return "boolean"
	case reflect.Pointer:
		return d.of(t.Elem()) + " | null"
	case reflect.Slice:
		return d.of(t.Elem()) + "[]"
	case reflect.Array:
		return "[" + strings.Join(slices.Repeat([]string{d.of(t.Elem())}, t.Len()), ", ") + "]"
	case reflect.Map:
		return "Record<string, " + d.of(t.Elem()) + ">"
	case reflect.Struct:
		name := strings.ToUpper(t.Name()[:1]) + t.Name()[1:]
		if _, known := d.text[name]; !known {
			d.text[name] = "" // a type may hold itself
			d.text[name] = "export interface " + name + " {\n" + d.fields(t) + "}\n"
		}
		return name
	default: // some number
		return "number"
	}
}

func (d declared) fields(t reflect.Type) string {
	var lines strings.Builder
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case name == "-":
		case f.Anonymous && name == "":
			lines.WriteString(d.fields(f.Type))
		default:
			optional := ""
			if strings.Contains(options, "omit") {
				optional = "?"
			}
			fmt.Fprintf(&lines, "  %s%s: %s;\n", cmp.Or(name, f.Name), optional, d.of(f.Type))
		}
	}
	return lines.String()
}

// The scripts of the page are checked against what the server answers: against the schemas of the documents, and
// against these types, which are written anew with -update.
func TestPageTypes(t *testing.T) {
	d := declared{map[string]string{}}
	d.text[reflect.TypeFor[stats.Estimate]().Name()] = "" // has a form of its own in JSON
	for _, root := range []reflect.Type{
		reflect.TypeFor[athleteView](), reflect.TypeFor[visitView](), reflect.TypeFor[clipView](),
		reflect.TypeFor[comparisonView](), reflect.TypeFor[correctionView](), reflect.TypeFor[correctedView](),
		reflect.TypeFor[joblist.JobView](), reflect.TypeFor[history.History](),
	} {
		d.of(root)
	}
	var text strings.Builder
	text.WriteString("// Written by TestPageTypes of web: go test ./web -run PageTypes -update\n" +
		"import type { Estimate } from \"./api\";\n")
	names := make([]string, 0, len(d.text))
	for name := range d.text {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if d.text[name] != "" {
			text.WriteString("\n" + d.text[name])
		}
	}
	const path = "../tools/page/views.d.ts"
	if golden.Update() {
		if err := os.WriteFile(path, []byte(text.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(kept) != text.String() {
		t.Errorf("%s says otherwise than the server answers: run this test with -update", path)
	}
}
