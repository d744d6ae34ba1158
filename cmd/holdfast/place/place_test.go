package place

import (
	"path/filepath"
	"testing"
)

// A folder is named whole: the processes that read clips stand elsewhere.
func TestFolderIsWhole(t *testing.T) {
	t.Setenv("HOLDFAST_DATA", "clips")
	for _, o := range []Options{{Data: "clips"}, {}} {
		want, err := filepath.Abs("clips")
		if err != nil {
			t.Fatal(err)
		}
		if got, err := o.Folder(); got != want || err != nil {
			t.Errorf("%+v: %q, %v; want %q", o, got, err, want)
		}
	}
}
