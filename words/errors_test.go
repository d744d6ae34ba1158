package words

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

func TestBecause(t *testing.T) {
	const folder Error = "unreadable"
	err := Because(folder, "frames_damaged", Params{"damaged": 3, "frames": 9})
	if !errors.Is(err, folder) || errors.Is(err, Error("no_video")) {
		t.Error("an error is of another kind than it was made")
	}
	if got, want := err.Error(), "the clip cannot be read: 3 of its 9 frames are damaged"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	t.Cleanup(Speak(read(t, "[error]\nbecause = \"{{.why}} ({{.kind}})\"\nunreadable = \"kaputt\"\n"+
		"frames_damaged = \"{{.frames}}/{{.damaged}}\"\n")))
	if got, want := err.Error(), "9/3 (kaputt)"; got != want {
		t.Errorf("in another language %q, want %q", got, want)
	}
}

func TestInsteadAndDoing(t *testing.T) {
	const invalid Error = "invalid"
	known := Instead(invalid, "known_clip", nil)
	err := Doing("adding_clip", Instead(known, "not_here", Params{"file": "a.mp4"}))
	t.Cleanup(Speak(read(t, `
[error]
doing = "{{.error}} ({{.doing}})"
invalid = "ungültig"
known_clip = "bekannt"
adding_clip = "beim Ablegen"
not_here = "{{.file}} fehlt"
`)))
	if got, want := err.Error(), "a.mp4 fehlt (beim Ablegen)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if !errors.Is(err, known) || !errors.Is(err, invalid) || errors.Is(err, Error("damaged")) {
		t.Error("an error is of another kind than it was made")
	}
	if Doing("adding_clip", nil) != nil {
		t.Error("nothing went wrong while something was done, and there is an error")
	}
}

// Every error has its text, every parameter of a text is given, and no text is left over.
func TestEveryErrorHasItsText(t *testing.T) {
	var program strings.Builder
	for _, root := range []string{"../vision", "../screening", "../archive", "../models", "../report", "../cmd",
		"../movements"} {
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
	texts := Section("error")
	given := regexp.MustCompile(`(?s)(?:words\.Error\(|(?:Because|Instead)\(\S+, |Doing\(|badCorrection\(|badMovement\(|` +
		`cannot\(|Say\("error\.)"?([a-z_]+)"(,\s*words\.Params\{.*?\}\))?`)
	parameter := regexp.MustCompile("\\{\\{[^}]*?\\.([a-z_]+)[^}]*\\}\\}")
	seen := map[string]bool{"because": true, "doing": true}
	for _, m := range given.FindAllStringSubmatch(said, -1) {
		seen[m[1]] = true
		forms, ok := texts[m[1]]
		if !ok {
			t.Errorf("the catalogue has no error.%s", m[1])
		}
		for _, form := range forms {
			for _, p := range parameter.FindAllStringSubmatch(form, -1) {
				if !strings.Contains(m[2], `"`+p[1]+`"`) {
					t.Errorf("error.%s wants %s, which is not given", m[1], p[1])
				}
			}
		}
	}
	if len(seen) < 50 {
		t.Errorf("only %d errors were found", len(seen))
	}
	for key := range texts {
		if !seen[key] {
			t.Errorf("nothing says error.%s", key)
		}
	}
}
