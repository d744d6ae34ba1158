package files_test

import (
	"path/filepath"
	"testing"

	"holdfast/archive/files"
	"holdfast/internal/filestest"
)

// The careful folder keeps what an archive relies on, also when one call in ten fails.
func TestFolder(t *testing.T) {
	t.Parallel()
	for name, again := range map[string]func(func() error) error{
		"copying": filestest.Once, "moving": filestest.Once, "failing": filestest.Until,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var f files.Files = files.Folder{Root: filepath.Join(t.TempDir(), "files"), Move: name == "moving"}
			if name == "failing" {
				f = filestest.Fail(f, 10, 1)
			}
			filestest.Suite(t, f, again)
		})
	}
}
