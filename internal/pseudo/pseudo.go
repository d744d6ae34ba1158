// Package pseudo is a language that nobody speaks: the English catalogue with every vowel
// accented, every text longer by two fifths, and parameters in another order. What is shown
// in it and still reads English was not taken from the catalogue, and what breaks in it breaks
// in the next language.
package pseudo

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"unicode"

	"github.com/BurntSushi/toml"

	"holdfast/words"
)

// Speak makes the language that of the process until the test ends. The test must not be a
// parallel one.
func Speak(t testing.TB) {
	t.Helper()
	file, err := catalogue()
	if err != nil {
		t.Fatal(err)
	}
	l, err := words.Read("en-XA", file)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(words.Speak(l))
}

func catalogue() ([]byte, error) {
	var texts map[string]any
	if err := toml.Unmarshal(words.English(), &texts); err != nil {
		return nil, err
	}
	for section, of := range texts {
		if section != "number" { // signs, no words
			texts[section] = changed(of)
		}
	}
	var b bytes.Buffer
	err := toml.NewEncoder(&b).Encode(texts)
	return b.Bytes(), err
}

func changed(of any) any {
	switch v := of.(type) {
	case string:
		return Text(v)
	case map[string]any:
		for key, text := range v {
			v[key] = changed(text)
		}
	}
	return of
}

var (
	action = regexp.MustCompile("\\{\\{[^}]*\\}\\}")
	inside = regexp.MustCompile("(term )?`[^`]*`")
)

// Text returns a text of the catalogue in the language: parameters in the opposite order, and
// two fifths more letters behind it.
func Text(english string) string {
	parts, actions := action.Split(english, -1), action.FindAllString(english, -1)
	letters := 0
	for i, part := range parts {
		for _, r := range part {
			if unicode.IsLetter(r) {
				letters++
			}
		}
		parts[i] = accented.Replace(part)
	}
	var b strings.Builder
	for i, part := range parts {
		b.WriteString(part)
		if i < len(actions) {
			a := actions[len(actions)-1-i]
			b.WriteString(inside.ReplaceAllStringFunc(a, func(s string) string {
				if strings.HasPrefix(s, "term ") { // the name of a kind
					return s
				}
				return accented.Replace(s)
			}))
		}
	}
	out := b.String()
	more := (2*letters + 4) / 5
	if more == 0 {
		return out
	}
	longer := strings.Repeat("ñ", min(more, 7))
	for n := more - 7; n > 0; n -= 7 {
		longer += " " + strings.Repeat("ñ", min(n, 7))
	}
	if end := strings.TrimRight(out, ".?!:"); end != out {
		return end + " " + longer + out[len(end):]
	}
	if strings.HasSuffix(out, " ") {
		return out + longer + " "
	}
	return out + " " + longer
}

var accented = strings.NewReplacer("a", "á", "e", "é", "i", "í", "o", "ó", "u", "ú", "y", "ý",
	"A", "Á", "E", "É", "I", "Í", "O", "Ó", "U", "Ú", "Y", "Ý")

// English returns the words of a text that are not in the language: those with a plain vowel.
// Outside are the names from outside of the program, which stay as they are.
func English(text string, outside ...string) []string {
	for _, name := range outside {
		text = strings.ReplaceAll(text, name, " ")
	}
	var out []string
	for word := range strings.FieldsFuncSeq(text, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsMark(r)
	}) {
		if strings.ContainsAny(word, "aeiouyAEIOUY") {
			out = append(out, word)
		}
	}
	return out
}
