package printable

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
)

func TestLine(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"Sam Example", "Sam Example"},
		{"Øyvind 太郎 שלום é", "Øyvind 太郎 שלום é"},
		{"34° – 9\u202f% \u00a0“x”", "34° – 9\u202f% \u00a0“x”"},
		{`C:\new\x1b.mp4`, `C:\new\x1b.mp4`},
		{"two\nlines\r\tand more", `two\nlines\r\tand more`},
		{"\x1b[2J\x1b]0;title\a", `\x1b[2J\x1b]0;title\x07`},
		{"\x00\x7f", `\x00\x7f`},
		{"C1 \u0085 \u009b31m", `C1 \u0085 \u009b31m`},
		{"gpj.\u202e4pm \u2066x\u2069", `gpj.\u202e4pm \u2066x\u2069`},
		{"a\u200bb\u200cc\u200dd\ufeffe\u2060f\u00adg", `a\u200bb\u200cc\u200dd\ufeffe\u2060f\u00adg`},
		{"a\u2028b\u2029c", `a\u2028b\u2029c`},
		{"not UTF-8: \xff\xc3(", `not UTF-8: \xff\xc3(`},
		{"what stood for it: \ufffd", `what stood for it: \ufffd`},
		{"tag \U000e0041, own \ue000, filler \u3164\u115f", `tag \U000e0041, own \ue000, filler \u3164\u115f`},
		{"🏋️ ok", "🏋️ ok"},
	} {
		if got := Line(tt.in); got != tt.want {
			t.Errorf("Line(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}

func TestPageKeepsItsLines(t *testing.T) {
	if got, want := string(Page([]byte("<p>\n\ta\x1bb\u202ec\r</p>\n"))), "<p>\n\ta\\x1bb\\u202ec\\r</p>\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// FuzzPrintable: nothing hidden is left, quoting again changes nothing, and JSON keeps
// its value.
func FuzzPrintable(f *testing.F) {
	for _, s := range []string{"Sam Example", "a\nb\x1b[0m", "\u202e\u2066\u200b\u2028\u0085\x7f", "\xff\xfe",
		"\U000e0041\U0010ffff", `\x1b`, "\ufffd"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		line, page := Line(s), string(Page([]byte(s)))
		if strings.ContainsFunc(line, Hidden) || Line(line) != line {
			t.Errorf("Line(%q) = %q", s, line)
		}
		if strings.ContainsFunc(strings.NewReplacer("\n", "", "\t", "").Replace(page), Hidden) ||
			string(Page([]byte(page))) != page {
			t.Errorf("Page(%q) = %q", s, page)
		}
		doc, err := json.MarshalIndent(map[string]string{s: s}, "", "\t")
		if err != nil {
			t.Fatal(err)
		}
		var want, got map[string]string
		quoted := JSON(doc)
		if err := json.Unmarshal(doc, &want); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(quoted, &got); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%q became %q: %v", doc, quoted, err)
		}
		if strings.ContainsFunc(strings.NewReplacer("\n", "", "\t", "").Replace(string(quoted)), Hidden) {
			t.Errorf("JSON(%q) = %q", doc, quoted)
		}
	})
}
