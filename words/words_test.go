package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

func TestSay(t *testing.T) {
	back := Speak(read(t, `
[number]
decimal = ","
minus = "−"
unknown = "–"
[point]
hip = "Hüfte"
knee = "Knie"
[notice]
why = "verdeckt in {{number .at_s 2}} s"
[k]
plain = "nichts weiter"
order = "{{.b}} vor {{.a}}"
numbers = "{{number .x}} und {{number .x 2}} und {{deg .y}}"
reps.one = "{{.n}} Mal"
reps.other = "{{.n}} Male"
way.up = "hinauf"
way.down = "hinab"
points = "die {{list (term 'point' .points) ', ' ' und '}}"
rep = "Nummer {{.rep}}: {{say .why}}"
several = "{{list (say .all) '; '}}"
[terminal.k]
plain = "mit --mehr"
`))
	t.Cleanup(back)
	why := Params{"code": "why", "params": map[string]any{"at_s": 1.234}}
	for _, c := range []struct {
		key    string
		params Params
		want   string
	}{
		{"k.plain", nil, "nichts weiter"},
		{"k.order", Params{"a": "A", "b": "B"}, "B vor A"},
		{"k.numbers", Params{"x": -3.256, "y": 33.6}, "−3 und −3,26 und 34°"},
		{"k.numbers", Params{"x": -0.001, "y": nan}, "0 und 0,00 und –°"},
		{"k.reps", Params{"n": 1}, "1 Mal"},
		{"k.reps", Params{"n": 3.0}, "3 Male"},
		{"k.way", Params{"form": "down"}, "hinab"},
		{"k.points", Params{"points": []string{"hip"}}, "die Hüfte"},
		{"k.points", Params{"points": []any{"hip", "knee", "hip"}}, "die Hüfte, Knie und Hüfte"},
		{"k.rep", Params{"rep": 2, "why": why}, "Nummer 2: verdeckt in 1,23 s"},
		{"k.rep", Params{"rep": 2, "why": Params{"code": "why", "message": "so war es"}}, "Nummer 2: so war es"},
		{"k.several", Params{"all": []any{why, why}}, "verdeckt in 1,23 s; verdeckt in 1,23 s"},
		{"k.order", Params{"a": "A"}, "k.order"}, // a parameter is missing
		{"k.none", nil, "k.none"},
		{"k.way", Params{"form": "away"}, "k.way"},
	} {
		if got := Say(c.key, c.params); got != c.want {
			t.Errorf("%s of %v: %q, want %q", c.key, c.params, got, c.want)
		}
	}
	if got := SayAt("terminal", "k.plain", nil) + SayAt("terminal", "k.order",
		Params{"a": 1, "b": 2}); got != "mit --mehr2 vor 1" {
		t.Errorf("at the terminal: %q", got)
	}
}

func TestReadRefuses(t *testing.T) {
	for _, file := range []string{"k = ", "k = \"a\"\nk = \"b\"\n", "k = 3",
		"one = \"x\"\nother = \"y\"\nthird = \"z\"\n"} {
		if _, err := Read("xx", []byte(file)); err == nil {
			t.Errorf("%q is a catalogue", file)
		}
	}
}

// Every code that the sums and the screening give has its text, and every parameter that the
// text wants is given.
func TestEveryCodeHasItsText(t *testing.T) {
	consts := map[string]string{}
	type said struct {
		code   string
		params *ast.CompositeLit
	}
	calls := map[string][]said{}
	files := token.NewFileSet()
	var parsed []*ast.File
	for _, root := range []string{"../kinematics", "../screening", "../report"} {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
				return err
			}
			f, err := parser.ParseFile(files, path, nil, 0)
			parsed = append(parsed, f)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, f := range parsed {
		ast.Inspect(f, func(n ast.Node) bool {
			if v, ok := n.(*ast.ValueSpec); ok {
				for i, name := range v.Names {
					if i < len(v.Values) {
						if text, ok := literal(v.Values[i]); ok {
							consts[name.Name] = text
						}
					}
				}
			}
			return true
		})
	}
	for _, f := range parsed {
		ast.Inspect(f, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			at := map[string]int{"notice.New": 0, "notice.List": 0, "warn": 0, "note": 0, "why": 0, "refuse": 2, "saw": 1}
			i, ok := at[nameOf(call.Fun)]
			if !ok || i >= len(call.Args) {
				return true
			}
			code, ok := literal(call.Args[i])
			if !ok {
				code, ok = consts[nameOf(call.Args[i])[strings.IndexByte(nameOf(call.Args[i]), '.')+1:]]
			}
			if !ok {
				return true
			}
			var params *ast.CompositeLit
			if i+1 < len(call.Args) {
				params, _ = call.Args[i+1].(*ast.CompositeLit)
			}
			calls[code] = append(calls[code], said{code, params})
			return true
		})
	}
	if len(calls) < 50 {
		t.Fatalf("only %d codes were found: %v", len(calls), slices.Sorted(maps.Keys(calls)))
	}
	wants := regexp.MustCompile(`\.([a-z_0-9]+)`)
	for code, list := range calls {
		texts := Section("notice")
		var of []string
		for key, forms := range texts {
			if key == code || strings.HasPrefix(key, code+".") {
				of = slices.AppendSeq(of, maps.Values(forms))
			}
		}
		if len(of) == 0 {
			t.Errorf("the catalogue has no notice.%s", code)
		}
		for _, s := range list {
			if s.params == nil {
				continue
			}
			given := map[string]bool{}
			form := ""
			for _, e := range s.params.Elts {
				if kv, ok := e.(*ast.KeyValueExpr); ok {
					name, _ := literal(kv.Key)
					given[name] = true
					if name == "form" {
						form, _ = literal(kv.Value)
					}
				}
			}
			for key, forms := range texts {
				if key != code && (form == "" || key != code+"."+form) {
					continue
				}
				for _, text := range forms {
					for _, action := range regexp.MustCompile(`\{\{[^}]*\}\}`).FindAllString(text, -1) {
						for _, m := range wants.FindAllStringSubmatch(action, -1) {
							if !given[m[1]] {
								t.Errorf("notice.%s wants %s, which is not given", key, m[1])
							}
						}
					}
				}
			}
		}
	}
}

func literal(e ast.Expr) (string, bool) {
	if l, ok := e.(*ast.BasicLit); ok && l.Kind == token.STRING {
		s, err := strconv.Unquote(l.Value)
		return s, err == nil
	}
	return "", false
}

func nameOf(e ast.Expr) string {
	switch v := e.(type) {
	case *ast.Ident:
		return v.Name
	case *ast.SelectorExpr:
		return nameOf(v.X) + "." + v.Sel.Name
	}
	return ""
}

var nan = func() float64 { f, _ := strconv.ParseFloat("NaN", 64); return f }()

func read(t *testing.T, file string) *Language {
	t.Helper()
	l, err := Read("de", []byte(strings.ReplaceAll(file, "'", "`")))
	if err != nil {
		t.Fatal(err)
	}
	return l
}
