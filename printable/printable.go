// Package printable makes text from outside safe to print: names of files and people,
// tags of clips, messages of other programs. Such text can hold what a terminal obeys
// (ESC and the other control characters), what begins a line of its own, what turns
// the direction of writing, and what nobody sees. A name of that kind could forge a
// line of a log, hide what a file is called, or work the terminal.
//
// The text stays as it is where it is kept, and is quoted where it is printed: [Line]
// on a terminal and in tables, [Page] for a whole page or picture of text, [JSON] for a
// document, whose values do not change. Quoting twice changes nothing.
package printable

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// Hidden says whether a character is not printed as it is: control characters (C0, C1,
// DEL), line and paragraph ends, marks of direction and of zero width, private ones,
// and what stands for bytes that are not UTF-8. The classes are those of the Unicode
// Standard.
func Hidden(r rune) bool {
	return r == utf8.RuneError || unicode.In(r, unicode.C, unicode.Zl, unicode.Zp,
		unicode.Other_Default_Ignorable_Code_Point)
}

// Line returns a text as one line in which every hidden character is written as Go
// writes it in a string, for instance \n, \x1b or \u202e.
func Line(text string) string { return quoted(text, "", quote) }

// Page returns a text of several lines, for instance of HTML or SVG, in which hidden
// characters other than line ends and tabs are written as [Line] writes them.
func Page(text []byte) []byte { return []byte(quoted(string(text), "\n\t", quote)) }

// JSON returns an encoded JSON document of the same value in which hidden characters
// are written as JSON's escapes. encoding/json leaves C1 controls and marks of direction
// as they are.
func JSON(doc []byte) []byte { return []byte(quoted(string(doc), "\n\t\r", escape)) }

// WriteJSON writes a value as a JSON document for people to look at: indented, letters of
// HTML as they are, hidden characters as [JSON] writes them.
func WriteJSON(w io.Writer, v any) error {
	var doc bytes.Buffer
	e := json.NewEncoder(&doc)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(v); err != nil {
		return err
	}
	_, err := w.Write(JSON(doc.Bytes()))
	return err
}

// quoted writes hidden characters with write, unless they are in keep.
func quoted(text, keep string, write func(raw string, r rune) string) string {
	hides := func(r rune) bool { return Hidden(r) && !strings.ContainsRune(keep, r) }
	if !strings.ContainsFunc(text, hides) {
		return text
	}
	var out strings.Builder
	for at := 0; at < len(text); {
		r, size := utf8.DecodeRuneInString(text[at:])
		if raw := text[at : at+size]; hides(r) {
			out.WriteString(write(raw, r))
		} else {
			out.WriteString(raw)
		}
		at += size
	}
	return out.String()
}

func quote(raw string, r rune) string {
	switch {
	case r == utf8.RuneError && len(raw) == 1:
		return fmt.Sprintf(`\x%02x`, raw[0])
	case r == '\n':
		return `\n`
	case r == '\r':
		return `\r`
	case r == '\t':
		return `\t`
	case r < 0x80:
		return fmt.Sprintf(`\x%02x`, r)
	case r > 0xFFFF:
		return fmt.Sprintf(`\U%08x`, r)
	}
	return fmt.Sprintf(`\u%04x`, r)
}

func escape(_ string, r rune) string {
	if high, low := utf16.EncodeRune(r); high != utf8.RuneError {
		return fmt.Sprintf(`\u%04x\u%04x`, high, low)
	}
	return fmt.Sprintf(`\u%04x`, r)
}
