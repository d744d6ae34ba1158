package zipped

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive/store"
)

const database = "rows.db"

// nameOf returns the name in a backup of a file with this content.
func nameOf(content string) (sum, name string) {
	sum = fmt.Sprintf("%x", sha256.Sum256([]byte(content)))
	return sum, store.FilesFolder + "/" + sum[:2] + "/" + sum
}

// backup writes a zip of these entries, name and content in turn, with this method.
func backup(t *testing.T, method uint16, entries ...string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(entries); i += 2 {
		w, err := z.CreateHeader(&zip.FileHeader{Name: entries[i], Method: method})
		if err == nil {
			_, err = w.Write([]byte(entries[i+1]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(t.TempDir(), "b.zip")
	if err := errors.Join(z.Close(), os.WriteFile(path, b.Bytes(), 0o600)); err != nil {
		t.Fatal(err)
	}
	return path
}

// What is no backup, or not whole, says so; a changed file costs itself alone where that
// is asked for.
func TestUnpack(t *testing.T) {
	t.Parallel()
	_, good := nameOf("frames")
	for _, tc := range []struct {
		name      string
		method    uint16
		entries   []string
		keepWhole bool
		changed   int
		want      error // ErrNotWhole, or ErrChanged too; nil: it is whole
	}{
		{"whole", zip.Store, []string{database, "rows", good, "frames"}, false, 0, nil},
		{"another content", zip.Store, []string{database, "rows", good, "Frames"}, false, 0, ErrChanged},
		{"another content, the rest kept", zip.Store, []string{database, "rows", good, "Frames"}, true, 1, nil},
		{"no database", zip.Store, []string{good, "frames"}, true, 0, ErrNotWhole},
		{"packed", zip.Deflate, []string{database, strings.Repeat("rows", 99)}, true, 0, ErrNotWhole},
		{"twice", zip.Store, []string{database, "rows", database, "rows"}, true, 0, ErrNotWhole},
		{"a name that leads out", zip.Store, []string{database, "rows", "../x", "x"}, true, 0, ErrNotWhole},
		{"a stranger", zip.Store, []string{database, "rows", "x", "x"}, true, 0, ErrNotWhole},
	} {
		t.Run(tc.name, func(t *testing.T) {
			r, err := Open(backup(t, tc.method, tc.entries...))
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			changed, err := r.Unpack(t.Context(), t.TempDir(), database, tc.keepWhole)
			if !errors.Is(err, tc.want) || errors.Is(err, ErrNotWhole) != (tc.want != nil) || len(changed) != tc.changed {
				t.Errorf("%v and %d changed files, want %v and %d", err, len(changed), tc.want, tc.changed)
			}
			if errors.Is(err, ErrChanged) != (tc.want == ErrChanged) {
				t.Errorf("%v blames a file alone", err)
			}
		})
	}
	if _, err := Open(filepath.Join(t.TempDir(), "none")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no file: %v", err)
	}
	text := filepath.Join(t.TempDir(), "x")
	if err := os.WriteFile(text, []byte("a letter"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(text); !errors.Is(err, ErrNotWhole) {
		t.Errorf("a letter: %v", err)
	}
}

// What a Writer wrote can be unpacked again, and errors of reading are told from others.
func TestWriter(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	sum, name := nameOf("frames")
	from := filepath.Join(dir, "f")
	if err := os.WriteFile(from, []byte("frames"), 0o600); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	w := NewWriter(t.Context(), &b)
	if _, _, err := w.File(database, from); err != nil {
		t.Fatal(err)
	}
	if got, unread, err := w.File(name, from); got != sum || unread != nil || err != nil {
		t.Errorf("%s, %v, %v", got, unread, err)
	}
	src := filepath.Join(dir, "b.zip")
	if err := errors.Join(w.Close(), os.WriteFile(src, b.Bytes(), 0o600)); err != nil {
		t.Fatal(err)
	}
	r, err := Open(src)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	into := filepath.Join(dir, "into")
	if changed, err := r.Unpack(t.Context(), into, database, false); len(changed) > 0 || err != nil {
		t.Fatal(changed, err)
	}
	if got, err := os.ReadFile(store.PathIn(into, sum)); string(got) != "frames" || err != nil {
		t.Errorf("it holds %q, %v", got, err)
	}
	if _, unread, err := w.File("x", filepath.Join(dir, "none")); unread == nil || err != nil {
		t.Errorf("a file that is not there: %v, %v", unread, err)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, unread, err := NewWriter(gone, &b).File("x", from); unread != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v, %v", unread, err)
	}
}
