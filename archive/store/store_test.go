package store

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"holdfast/archive/files"
)

// clock is a time that a test sets.
type clock struct{ now time.Time }

func open(t *testing.T) (*Store, *clock) {
	t.Helper()
	c := &clock{time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)}
	s, err := Open(t.TempDir(), nil, func() time.Time { return c.now })
	if err != nil {
		t.Fatal(err)
	}
	return s, c
}

// kept receives a text and places it.
func kept(t *testing.T, s *Store, text string) string {
	t.Helper()
	in, err := s.Receive(t.Context(), strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	if err := in.Place(t.Context()); err != nil {
		t.Fatal(err)
	}
	return in.Sum
}

// inTmp returns how many things lie in tmp.
func inTmp(t *testing.T, s *Store) int {
	t.Helper()
	entries, err := os.ReadDir(s.Tmp())
	if err != nil {
		t.Fatal(err)
	}
	return len(entries)
}

// What is received has its content's name once it is placed; what is not leaves nothing.
func TestReceive(t *testing.T) {
	t.Parallel()
	s, _ := open(t)
	refused := errors.New("this is no clip")
	_, err := s.Receive(t.Context(), strings.NewReader("x"), func(io.ReaderAt, int64) error { return refused })
	if !errors.Is(err, refused) {
		t.Errorf("a check that refuses: %v", err)
	}
	in, err := s.Receive(t.Context(), strings.NewReader("given up"))
	if err != nil {
		t.Fatal(err)
	}
	in.Close()
	sum := kept(t, s, "frames")
	if n := inTmp(t, s); n > 0 {
		t.Errorf("%d files are left in tmp", n)
	}
	if b, err := os.ReadFile(s.Path(sum)); err != nil || string(b) != "frames" {
		t.Errorf("it holds %q, %v", b, err)
	}
	for name, tc := range map[string]struct {
		sum   string
		bytes int64
		want  error
	}{"whole": {sum, 6, nil}, "another size": {sum, 7, Changed}, "another sum": {in.Sum, 6, Changed}} {
		if why, err := Spoilt(t.Context(), s.Path(sum), tc.sum, tc.bytes); why != tc.want || err != nil {
			t.Errorf("%s: %v, %v, want %v", name, why, err, tc.want)
		}
	}
	if files, bytes, err := s.Remove(t.Context(), []string{sum, sum}); files != 2 || bytes != 6 || err != nil {
		t.Errorf("removed %d files of %d bytes, %v", files, bytes, err)
	}
	if why, err := Spoilt(t.Context(), s.Path(sum), sum, 6); why != Missing || err != nil {
		t.Errorf("after it went: %v, %v", why, err)
	}
}

// A list is there until its end, and holds sums alone.
func TestUnderway(t *testing.T) {
	t.Parallel()
	s, _ := open(t)
	sum := strings.Repeat("ab", 32)
	for _, durable := range []bool{false, true} {
		end, err := s.Begin([]string{sum, "../../x"}, durable)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := s.Underway(); err != nil || len(got) != 1 || !got[sum] {
			t.Errorf("under way are %v, %v", got, err)
		}
		end()
		if got, err := s.Underway(); err != nil || len(got) > 0 {
			t.Errorf("under way are %v after the end, %v", got, err)
		}
	}
}

// A lost file comes back when a row misses it, if it is what its name says, and goes for
// good after a while.
func TestLost(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name    string
		missed  bool
		changed bool
		days    int
		back    bool
		lost    int // files that still lie there
	}{
		{"missed", true, false, 1, true, 0},
		{"missed, and not what it was", true, true, 1, false, 1},
		{"not missed", false, false, LostDays, false, 1},
		{"not missed for long", false, false, LostDays + 1, false, 0},
	} {
		s, c := open(t)
		sum := kept(t, s, "frames")
		if err := s.Lose(files.Key(sum)); err != nil {
			t.Fatal(err)
		}
		if tc.changed {
			path := filepath.Join(s.dir, LostFolder, sum)
			if err := errors.Join(os.WriteFile(path, []byte("Frames"), 0o600), os.Chtimes(path, c.now, c.now)); err != nil {
				t.Fatal(err)
			}
		}
		c.now = c.now.AddDate(0, 0, tc.days)
		missing := map[string]bool{}
		if tc.missed {
			missing[sum] = true
		}
		if err := s.SortLost(t.Context(), missing); err != nil {
			t.Fatal(err)
		}
		_, err := os.Stat(s.Path(sum))
		if n, lostErr := s.CountLost(); (err == nil) != tc.back || n != tc.lost || lostErr != nil {
			t.Errorf("%s: it is back: %v, %d are lost, %v; want %v, %d", tc.name, err == nil, n, lostErr, tc.back, tc.lost)
		}
	}
}

// A file waits for its name for a while, once for each put.
func TestPuts(t *testing.T) {
	t.Parallel()
	s, c := open(t)
	awaits := func(what string, want bool) {
		t.Helper()
		if s.Awaited("x", c.now) != want {
			t.Errorf("%s: awaited %v", what, !want)
		}
	}
	awaits("before", false)
	s.Await("x")
	s.Await("x")
	s.Named("x", errors.New("no such clip"))
	awaits("one of two failed", true)
	if s.Failed("x") {
		t.Error("it counts as failed while another waits")
	}
	if others := s.GiveUp("x"); !others {
		t.Error("the one whose naming failed takes it from the other")
	}
	s.Named("x", nil)
	awaits("named", false)
	s.Await("x")
	c.now = c.now.Add(NameWithin + time.Second)
	awaits("for too long", false)
	if others := s.GiveUp("x"); others || len(s.puts) > 0 {
		t.Errorf("something is left: %v", s.puts)
	}
}
