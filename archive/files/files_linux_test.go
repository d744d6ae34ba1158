package files_test

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive/files"
)

// What lies on another disk, as /dev/shm is one, is copied to its place.
func TestFolderOnAnotherDisk(t *testing.T) {
	t.Parallel()
	dir, err := os.MkdirTemp("/dev/shm", "holdfast-")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	from, sum := filepath.Join(dir, "x"), strings.Repeat("ab", 32)
	f := files.Folder{Root: filepath.Join(t.TempDir(), "files"), Move: true}
	if err := errors.Join(os.WriteFile(from, []byte("frames"), 0o600), f.Put(t.Context(), sum, from)); err != nil {
		t.Fatal(err)
	}
	r, err := f.Get(t.Context(), sum)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := io.ReadAll(r); string(got) != "frames" || errors.Join(err, r.Close()) != nil {
		t.Errorf("%q, %v", got, err)
	}
}
