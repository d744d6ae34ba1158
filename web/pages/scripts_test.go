package pages

import (
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// literalOf is a text in a script, with what stands before it.
type literalOf struct {
	before, text string
	line         int
}

var regexpFollows = regexp.MustCompile(`(?:[(,=:?!&|{};+\[]|return|^)\s*$`)

// literals lists the texts of a script: strings, and the parts of templates. Comments, regular
// expressions and imports are left out.
func literals(script string) []literalOf {
	var out []literalOf
	end := func(from int, stop string) int { // of what begins before from, past its end
		for i := from; i < len(script); i++ {
			if script[i] == '\\' {
				i++
			} else if strings.HasPrefix(script[i:], stop) {
				return i
			}
		}
		return len(script)
	}
	add := func(from, to int, begun int) {
		before := script[:begun]
		before = before[strings.LastIndexByte(before, '\n')+1:]
		if strings.TrimSpace(before) == "" { // what stands in the line before
			all := strings.TrimRight(script[:begun], " \n")
			before = all[strings.LastIndexByte(all, '\n')+1:]
		}
		if !strings.HasPrefix(before, "import ") && !strings.HasPrefix(before, "} from ") {
			out = append(out, literalOf{before, script[from:to], strings.Count(script[:from], "\n") + 1})
		}
	}
	var templates []int // depth of braces inside each template that is open
	depth := 0
	template := func(begun, from int) int {
		i := from
		for ; i < len(script); i++ {
			if script[i] == '\\' {
				i++
			} else if script[i] == '`' {
				add(from, i, begun)
				return i
			} else if strings.HasPrefix(script[i:], "${") {
				add(from, i, begun)
				templates = append(templates, depth)
				depth++
				return i + 1
			}
		}
		return i
	}
	for i := 0; i < len(script); i++ {
		switch c := script[i]; {
		case strings.HasPrefix(script[i:], "//"):
			i = end(i, "\n")
		case strings.HasPrefix(script[i:], "/*"):
			i = end(i+2, "*/") + 1
		case c == '/' && regexpFollows.MatchString(script[max(0, i-20):i]):
			for i++; i < len(script) && script[i] != '/'; i++ {
				if script[i] == '\\' {
					i++
				} else if script[i] == '[' {
					i = end(i+1, "]")
				}
			}
		case c == '"' || c == '\'':
			to := end(i+1, string(c))
			add(i+1, to, i)
			i = to
		case c == '`':
			i = template(i, i+1)
		case c == '{':
			depth++
		case c == '}':
			depth--
			if n := len(templates); n > 0 && templates[n-1] == depth {
				templates = templates[:n-1]
				i = template(i, i+1)
			}
		}
	}
	return out
}

var (
	asSentence = regexp.MustCompile(`\p{L}{2,}[,.:;!?]? +\p{L}|^\s*\p{Lu}\p{Ll}|\p{L}[.?!]\s*$|[,:;]\s+\p{L}{2,}`)
	shownAt    = regexp.MustCompile(`(?:textContent = |"aria-(?:label|valuetext)"[:,] |title: |placeholder: |\}, |` +
		`Text\(|toast\(|announce\()$`)
	anyWord = regexp.MustCompile(`\p{L}{2,}`)
	// Where no text is shown: classes, selectors, what is asked of the browser and of the server.
	notShownAt = regexp.MustCompile(`(?:class: |[cC]lass[nN]ame = |[fF]ont[a-zA-Z]* ?[:=] |d: |key === |case |` +
		`matchMedia\(|matches\?\.\(|\$\$?\(|querySelector\(|closest\?\.\(|numberingSystem: |"[A-Z][A-Za-z-]*": |` +
		`setRequestHeader\(|DOMException\(|new Error\(|\.font = .*|\.src = |say\(|class: bad \? )$`)
	notShown = []string{"ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown", "Arrow", "Enter", "Home", "End", "X-Holdfast",
		"Content-Type", "Upload-Offset", "AbortError", "Content-Disposition", "T00:00:00Z", "Files", "Accept"}
)

// What people read in a script is a text of the catalogue: no text of a script is a sentence,
// begins with a capital, or stands where it is shown.
func TestScriptsHoldNoWords(t *testing.T) {
	names, err := fs.Glob(assetFiles, "assets/js/*.js")
	if err != nil || len(names) < 20 {
		t.Fatal(names, err)
	}
	seen := 0
	for _, name := range names {
		text, err := assetFiles.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range literals(string(text)) {
			seen++
			if notShownAt.MatchString(l.before) || slices.Contains(notShown, l.text) {
				continue
			}
			if asSentence.MatchString(l.text) || shownAt.MatchString(l.before) && anyWord.MatchString(l.text) {
				t.Errorf("%s:%d: %q is no text of the catalogue (after %q)", path.Base(name), l.line, l.text, l.before)
			}
		}
	}
	if seen < 1000 {
		t.Errorf("only %d texts were seen", seen)
	}
	for script, want := range map[string][]string{
		"a = \"one\"; // \"two\"\nb = 'th\\'ree' /* \"x\" */ + /\"[/\"]/.test(c);": {"one", "th\\'ree"},
		"x(`a ${b ? `c ${\"d\"}` : {e: 1}.f} g`)":                                  {"a ", "c ", "d", "", " g"},
	} {
		var got []string
		for _, l := range literals(script) {
			got = append(got, l.text)
		}
		if !slices.Equal(got, want) {
			t.Errorf("the texts of %s are %q", script, got)
		}
	}
}
