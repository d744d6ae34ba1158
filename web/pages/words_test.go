package pages

import (
	"fmt"
	"io/fs"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"text/template/parse"

	"holdfast/internal/golden"
	"holdfast/words"
)

var parameter = regexp.MustCompile(`\{\{([^}]*)\}\}`)

// The scripts of the pages are checked against their texts by the type checker: a key that is not
// there, or a parameter that is missing or too much, is an error. What it knows is written anew
// with -update.
func TestCatalogueTypes(t *testing.T) {
	var b strings.Builder
	b.WriteString("// Written by TestCatalogueTypes of web/pages: go test ./web/pages -run CatalogueTypes -update\n\n" +
		"/** The texts of the scripts with their parameters. */\nexport interface Texts {\n")
	kinds := map[string]bool{}
	texts := scriptTexts()
	for _, key := range slices.Sorted(maps.Keys(texts)) {
		if kind, _, dotted := strings.Cut(key, "."); dotted {
			kinds[kind] = true
		}
		all := fmt.Sprint(texts[key])
		params := map[string]bool{}
		if _, forms := texts[key].(map[string]string); forms {
			params["n: number"] = true
		}
		for _, m := range parameter.FindAllStringSubmatch(all, -1) {
			name, ok := strings.CutPrefix(m[1], ".")
			if !ok || strings.Contains(name, " ") {
				t.Errorf("script.%s: scripts do not know %s", key, m[0])
			}
			if name != "n" && name != "turn" && name != "Turn" {
				params[name+": string | number"] = true
			}
		}
		fmt.Fprintf(&b, "  %q: {", key)
		if list := slices.Sorted(maps.Keys(params)); len(list) > 0 {
			b.WriteString(" " + strings.Join(list, "; ") + " ")
		}
		b.WriteString("};\n")
	}
	b.WriteString("}\n\n/** What is given with a key: nothing, or its parameters. */\n" +
		"export type Given<K extends keyof Texts> = {} extends Texts[K] ? [] : [Texts[K]];\n\n" +
		"/** The kinds of things that have names. */\nexport type Kind =\n  | \"" +
		strings.Join(slices.Sorted(maps.Keys(kinds)), "\"\n  | \"") + "\";\n\n" +
		"/** The words of a position. */\nexport interface Position {\n" +
		"  name: string;\n  lost: string;\n  gained: string;\n  less: string;\n  more: string;\n" +
		"  look: { lost: string; gained: string };\n}\n\n" +
		"export const catalogue: {\n  language: string;\n  texts: Record<string, string | Record<string, string>>;\n" +
		"  positions: Record<string, Position>;\n  angles: Record<string, string>;\n};\n")
	const path = "../../tools/page/catalogue.d.ts"
	if golden.Update() {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(kept) != b.String() {
		t.Errorf("%s has not the texts of the catalogue: run this test with -update", path)
	}
}

// Every text of the catalogue that is there for the pages is said by one.
func TestNoTextIsLeftOver(t *testing.T) {
	var templates, scripts, program strings.Builder
	add := func(to *strings.Builder, files fs.FS, pattern string) {
		names, err := fs.Glob(files, pattern)
		if err != nil || len(names) == 0 {
			t.Fatal(pattern, err)
		}
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			text, err := fs.ReadFile(files, name)
			if err != nil {
				t.Fatal(err)
			}
			to.Write(text)
		}
	}
	add(&templates, templateFiles, "templates/*.html")
	add(&scripts, assetFiles, "assets/js/*.js")
	add(&program, os.DirFS("."), "*.go")
	said := templates.String() + program.String()
	for key := range words.Section("page") {
		kind, _, _ := strings.Cut(key, ".")
		if !strings.Contains(said, `"`+key+`"`) && !strings.Contains(said, `"`+kind+`."`) {
			t.Errorf("nothing says page.%s", key)
		}
	}
	for key := range words.Section("script") {
		kind, name, _ := strings.Cut(key, ".")
		if strings.Contains(scripts.String(), `"`+key+`"`) || strings.Contains(scripts.String(), `named("`+kind+`"`) {
			continue
		}
		if before, _, ok := strings.Cut(name, "_"); ok && strings.Contains(scripts.String(), kind+"."+before+"_${") {
			continue
		}
		composed := "`" + kind + `\.\$\{[^` + "`" + `]*"` + strings.Split(name, "_")[0] + `"`
		if !regexp.MustCompile(composed).MatchString(scripts.String()) {
			t.Errorf("nothing says script.%s", key)
		}
	}
}

// What people read in a template is a text of the catalogue: between the elements and in the
// attributes that are shown or read aloud stand no words.
func TestTemplatesHoldNoWords(t *testing.T) {
	seen := 0
	attribute := regexp.MustCompile(`(?:aria-label|title|placeholder|alt)="([^"]*)"`)
	shown := regexp.MustCompile(`(?s)<[^>]*>|(?:aria-label|title|placeholder|alt)="([^"]*)"?`)
	word := regexp.MustCompile(`\p{L}{2,}`)
	for page, set := range pageTemplates() {
		for _, tmpl := range set.Templates() {
			if tmpl.Tree == nil {
				continue
			}
			// What the actions print is not looked at: a mark stands for it, so that elements stay whole.
			var text strings.Builder
			var write func(parse.Node)
			list := func(l *parse.ListNode) {
				if l != nil {
					for _, n := range l.Nodes {
						write(n)
					}
				}
			}
			write = func(n parse.Node) {
				switch v := n.(type) {
				case *parse.TextNode:
					text.Write(v.Text)
				case *parse.IfNode:
					list(v.List)
					list(v.ElseList)
				case *parse.RangeNode:
					list(v.List)
					list(v.ElseList)
				case *parse.WithNode:
					list(v.List)
					list(v.ElseList)
				default:
					text.WriteString("·")
				}
			}
			list(tmpl.Tree.Root)
			for _, m := range attribute.FindAllStringSubmatch(text.String(), -1) {
				seen++
				if word.MatchString(m[1]) {
					t.Errorf("%s, %s: %q is no text of the catalogue", page, tmpl.Name(), m[0])
				}
			}
			bare := shown.ReplaceAllString(text.String(), "\n")
			for _, w := range word.FindAllString(bare, -1) {
				if !slices.Contains([]string{"Holdfast", "kg", "cm", "kbd", "doctype", "html"}, w) {
					t.Errorf("%s, %s: %q is no text of the catalogue", page, tmpl.Name(), w)
				}
			}
		}
	}
	if seen < 30 {
		t.Errorf("only %d attributes were seen", seen)
	}
}
