package refusal

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/archive/disk"
	"holdfast/internal/pseudo"
	"holdfast/words"
)

// Every code has its text, every parameter of a text is given, and no text is left over.
func TestEveryCodeHasItsText(t *testing.T) {
	var program strings.Builder
	for _, root := range []string{"..", "../../web"} {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
				return err
			}
			text, err := os.ReadFile(path)
			program.Write(text)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	said := program.String()
	texts := words.Section("desk")
	parameter := regexp.MustCompile(`\{\{(?:number )?\.([a-z_]+)[^}]*\}\}`)
	given := regexp.MustCompile(`(?s)(?:Code: |Wrong\(|trouble\([^,]+, |ended\()"([a-z_0-9]+)"` +
		`(,\s*(?:Params: )?words\.Params\{[^}]*\})?`)
	seen := 0
	for _, m := range given.FindAllStringSubmatch(said, -1) {
		if strings.HasSuffix(m[1], "_") { // the rest of it is computed
			continue
		}
		seen++
		forms := texts[m[1]+".text"]
		if forms == nil && texts[m[1]+".hint"] == nil {
			t.Errorf("the catalogue has no desk.%s.text", m[1])
		}
		for _, form := range forms {
			for _, p := range parameter.FindAllStringSubmatch(form, -1) {
				if p[1] != "reference" && !strings.Contains(m[2], `"`+p[1]+`"`) {
					t.Errorf("desk.%s wants %s, which is not given", m[1], p[1])
				}
			}
		}
	}
	if seen < 60 {
		t.Errorf("only %d codes were found", seen)
	}
	for key := range texts {
		code, _, _ := strings.Cut(key, ".")
		if !strings.Contains(said, `"`+code+`"`) && !strings.Contains(said, `"desk.`+key+`"`) &&
			!strings.HasPrefix(code, "no_such_") {
			t.Errorf("nothing says desk.%s", key)
		}
	}
	for _, m := range regexp.MustCompile(`(?:NoSuch|notFound)\("([a-z]+)"`).FindAllStringSubmatch(said, -1) {
		if texts["no_such_"+m[1]+".text"] == nil {
			t.Errorf("the catalogue has no desk.no_such_%s.text", m[1])
		}
	}
}

func TestOf(t *testing.T) {
	full := Wrong("notes_long", words.Params{"most": 20})
	for _, c := range []struct {
		err        error
		kind       Kind
		text, hint string
	}{
		{full, Bad, "the notes are longer than 20 letters", ""},
		{NoSuch("clip", archive.ErrNotFound), Missing, "there is no such clip",
			"it may have been deleted; go back and reload the page"},
		{disk.ErrDiskFull, Full, "the disk is full", "make room and try again; nothing that was kept is lost"},
		{&Error{Kind: Conflict, Text: "said elsewhere"}, Conflict, "said elsewhere", ""},
		{errors.New("secret"), Fault, "something went wrong that should not", ""},
	} {
		if of := Of(c.err); of.Kind != c.kind || of.Text != c.text || of.Hint != c.hint {
			t.Errorf("%v: %d %q %q", c.err, of.Kind, of.Text, of.Hint)
		}
	}
	pseudo.Speak(t)
	if of := Of(full); pseudo.English(of.Text) != nil {
		t.Errorf("in another language: %q", of.Text)
	}
}
