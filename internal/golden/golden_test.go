package golden

import (
	"encoding/json"
	"strings"
	"testing"
)

func TestLaidOut(t *testing.T) {
	got, err := laidOut([]byte(`{"a":[1,-2.50,null],"b":["[\n1","x"],"c":[{"d":[]}],"e":[[1,2],[3,4]]}`))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(got, `"a": [ 1, -2.50, null ],`) || !strings.Contains(got, `"[\n1"`) ||
		strings.Count(got, "\n") != 16 {
		t.Errorf("laid out as\n%s", got)
	}
	if !json.Valid([]byte(got)) {
		t.Errorf("no JSON any more:\n%s", got)
	}
}

func TestSameSchema(t *testing.T) {
	const kept = `{"schema":"x/1","a":1,"list":[{"b":2}]}`
	for _, tt := range []struct {
		name, now, says string
	}{
		{"the same", kept, ""},
		{"other values", `{"schema":"x/1","a":2,"list":[{"b":null},{"b":3}]}`, ""},
		{"another field under the old number", `{"schema":"x/1","a":1,"list":[{"b":2,"c":3}]}`, "+.list[].c"},
		{"a field less under the old number", `{"schema":"x/1","list":[{"b":2}]}`, "-.a"},
		{"another field under a new number", `{"schema":"x/2","a":1,"list":[{"c":3}]}`, ""},
		{"no schema", `{"a":1}`, "no schema"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			err := sameSchema([]byte(kept), []byte(tt.now))
			if (err == nil) != (tt.says == "") || err != nil && !strings.Contains(err.Error(), tt.says) {
				t.Errorf("got %v, want %q", err, tt.says)
			}
		})
	}
}

func TestEmbeddedPicturesAreLeftOut(t *testing.T) {
	const page = `<img src="data:image/jpeg;base64,/9j/4AA&#43;x==" alt="a">`
	if got := embedded.ReplaceAllString(page, "$1…"); got != `<img src="data:image/jpeg;base64,…" alt="a">` {
		t.Error(got)
	}
}
