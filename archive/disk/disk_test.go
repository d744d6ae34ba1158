package disk

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// names returns what lies in a folder, in order.
func names(t *testing.T, dir string) (out []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

type broken struct{ err error }

func (b broken) Write([]byte) (int, error) { return 0, b.err }
func (b broken) Read([]byte) (int, error)  { return 0, b.err }

// What was there stays until what is new is whole; then nothing else lies beside it.
func TestWriteFile(t *testing.T) {
	t.Parallel()
	failed := errors.New("it broke in the middle")
	for _, tc := range []struct {
		name    string
		before  bool // something is at its place
		content string
		whole   bool
		err     error
		want    error
		lies    []string // name=content
	}{
		{"whole", false, "new", true, nil, nil, []string{"out.zip=new"}},
		{"whole, over an older one", true, "new", true, nil, nil, []string{"out.zip=new"}},
		{"not whole", false, "ne", false, nil, nil, []string{"out.zip=ne"}},
		{"not whole, beside an older one", true, "ne", false, nil, nil, []string{"out-incomplete.zip=ne", "out.zip=old"}},
		{"broken off", true, "n", true, failed, failed, []string{"out.zip=old"}},
		{"a full disk", true, "", true, CannotWrite(failed), ErrCannotWrite, []string{"out.zip=old"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			dir := t.TempDir()
			dst := filepath.Join(dir, "out.zip")
			if tc.before {
				if err := os.WriteFile(dst, []byte("old"), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			place, err := WriteFile(dst, func(w io.Writer) (bool, error) {
				_, err := io.WriteString(w, tc.content)
				return tc.whole, errors.Join(err, tc.err)
			})
			if !errors.Is(err, tc.want) || err != nil && tc.want == nil {
				t.Errorf("%v, want %v", err, tc.want)
			}
			if _, statErr := os.Stat(place); (statErr == nil) != (err == nil) {
				t.Errorf("it says that it is at %q: %v", place, statErr)
			}
			var lies []string
			for _, name := range names(t, dir) {
				b, err := os.ReadFile(filepath.Join(dir, name))
				if err != nil {
					t.Fatal(err)
				}
				lies = append(lies, name+"="+string(b))
			}
			if !slices.Equal(lies, tc.lies) {
				t.Errorf("in the folder lies %q, want %q", lies, tc.lies)
			}
		})
	}
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "taken", "x"), 0o700); err != nil {
		t.Fatal(err)
	}
	for _, dst := range []string{filepath.Join(dir, "taken"), filepath.Join(dir, "none", "x")} {
		_, err := WriteFile(dst, func(io.Writer) (bool, error) { return true, nil })
		if !errors.Is(err, ErrCannotWrite) {
			t.Errorf("at %s: %v", filepath.Base(dst), err)
		}
	}
	if got := names(t, dir); !slices.Equal(got, []string{"taken"}) {
		t.Errorf("left are %q", got)
	}
	_, err := Output{W: broken{failed}}.Write([]byte("x"))
	if !errors.Is(err, ErrCannotWrite) || !errors.Is(err, failed) {
		t.Errorf("writing to what is broken: %v", err)
	}
}

// What somebody has locked is his until he lets go.
func TestLocks(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "lock")
	first, ok, err := TryLock(path)
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	if _, ok, err := TryLock(path); ok || err != nil {
		t.Errorf("locked twice: %v, %v", ok, err)
	}
	if err := Release(first); err != nil {
		t.Fatal(err)
	}
	again, ok, err := TryLock(path)
	if err != nil || !ok {
		t.Fatalf("not free afterwards: %v, %v", ok, err)
	}
	free := func() (out []string) {
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			err := WhenFree(filepath.Join(dir, e.Name()), e, func() error { out = append(out, e.Name()); return nil })
			if err != nil {
				t.Error(err)
			}
		}
		return out
	}
	if err := os.WriteFile(filepath.Join(dir, "other"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if got := free(); !slices.Equal(got, []string{"other"}) {
		t.Errorf("free are %q", got)
	}
	if err := Release(again); err != nil {
		t.Fatal(err)
	}
	if got := free(); !slices.Equal(got, []string{"lock", "other"}) {
		t.Errorf("free are %q after the lock was given up", got)
	}
	if _, err := LockedFile(filepath.Join(dir, "none"), "x-*"); !errors.Is(err, ErrCannotWrite) {
		t.Errorf("a file where no folder is: %v", err)
	}
}

// Errors of reading are kept; an end and a context that has ended are none.
func TestInput(t *testing.T) {
	t.Parallel()
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	failed := errors.New("the line broke")
	for _, tc := range []struct {
		name       string
		ctx        context.Context
		r          io.Reader
		want, kept error
	}{
		{"whole", t.Context(), strings.NewReader("x"), nil, nil},
		{"broken", t.Context(), broken{failed}, failed, failed},
		{"stopped", gone, strings.NewReader("x"), context.Canceled, nil},
	} {
		in := NewInput(tc.ctx, tc.r)
		if _, err := io.Copy(io.Discard, in); !errors.Is(err, tc.want) || err != nil && tc.want == nil {
			t.Errorf("%s: %v, want %v", tc.name, err, tc.want)
		}
		if !errors.Is(in.Err(), tc.kept) || in.Err() != nil && tc.kept == nil {
			t.Errorf("%s: keeps %v, want %v", tc.name, in.Err(), tc.kept)
		}
	}
}

// The sum of "abc" is an example of FIPS 180-4, from memory.
func TestSum(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "x")
	if err := os.WriteFile(path, []byte("abc"), 0o600); err != nil {
		t.Fatal(err)
	}
	const abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	if sum, n, err := Sum(t.Context(), path); sum != abc || n != 3 || err != nil {
		t.Errorf("%s, %d, %v", sum, n, err)
	}
	for text, want := range map[string]bool{abc: true, "": false, abc[1:]: false, abc + "0": false,
		strings.ToUpper(abc): false, "../" + abc[3:]: false, strings.Repeat("g", 64): false} {
		if IsSum(text) != want {
			t.Errorf("%q: %v", text, !want)
		}
	}
}
