// Package filestest tests what implements files.Files: one suite for all, a server that speaks S3 in the test's own
// process, and files that fail now and then.
package filestest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"

	"holdfast/archive/bucket"
	"holdfast/archive/files"
)

// Keys are what the server of the tests takes for a user.
var Keys = bucket.Keys{ID: "coach", Secret: "squats-and-jumps"}

// Server starts a server that speaks S3 with an empty bucket, and returns the address of files in it. front, where it
// is not nil, stands before it.
func Server(t testing.TB, front func(http.Handler) http.Handler) (address string) {
	t.Helper()
	backend := s3mem.New()
	if err := backend.CreateBucket("clips"); err != nil {
		t.Fatal(err)
	}
	handler := gofakes3.New(backend, gofakes3.WithLogger(gofakes3.DiscardLog())).Server()
	if front != nil {
		handler = front(handler)
	}
	server := httptest.NewServer(handler)
	t.Cleanup(server.Close)
	return bucket.PlainScheme + "://" + strings.TrimPrefix(server.URL, "http://") + "/clips/squad"
}

// Refusing lets a server answer one request in so many that it is too busy, before it looks at it or after it did what
// was asked.
func Refusing(oneIn int) func(http.Handler) http.Handler {
	chance := &dice{oneIn: oneIn, rand: rand.New(rand.NewPCG(1, 2))}
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			fails, after := chance.throw()
			if fails && after {
				next.ServeHTTP(httptest.NewRecorder(), r)
			}
			if fails {
				http.Error(w, "busy", http.StatusServiceUnavailable)
				return
			}
			next.ServeHTTP(w, r)
		})
	}
}

// dice say which call fails, the same in every run.
type dice struct {
	mu    sync.Mutex
	rand  *rand.Rand
	oneIn int
	n     int // calls that failed
}

func (d *dice) throw() (fails, after bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	fails, after = d.rand.IntN(d.oneIn) == 0, d.rand.IntN(2) == 0
	if fails {
		d.n++
	}
	return fails, after
}

// ErrFailed is how Failing fails.
var ErrFailed = errors.New("the store does not answer")

// Failing are files of which one call in so many fails, before it did anything or after it did all.
type Failing struct {
	files.Files
	dice *dice
}

// Fail makes files fail, the same way in every run with the same seed.
func Fail(f files.Files, oneIn int, seed uint64) *Failing {
	return &Failing{f, &dice{oneIn: oneIn, rand: rand.New(rand.NewPCG(seed, seed))}}
}

// Failed returns how many calls failed.
func (f *Failing) Failed() int {
	f.dice.mu.Lock()
	defer f.dice.mu.Unlock()
	return f.dice.n
}

// Heal ends the failing.
func (f *Failing) Heal() {
	f.dice.mu.Lock()
	defer f.dice.mu.Unlock()
	f.dice.oneIn = 1 << 30
}

func (f *Failing) call(do func() error) error {
	fails, after := f.dice.throw()
	if !fails || after {
		if err := do(); err != nil {
			return err
		}
	}
	if fails {
		return ErrFailed
	}
	return nil
}

// Put is Files.Put, now and then.
func (f *Failing) Put(ctx context.Context, sum, from string) error {
	return f.call(func() error { return f.Files.Put(ctx, sum, from) })
}

// Get is Files.Get, now and then.
func (f *Failing) Get(ctx context.Context, sum string) (r io.ReadCloser, err error) {
	err = f.call(func() (err error) {
		r, err = f.Files.Get(ctx, sum)
		return err
	})
	if err != nil && r != nil {
		_ = r.Close() // nobody gets it
	}
	return r, err
}

// Size is Files.Size, now and then.
func (f *Failing) Size(ctx context.Context, sum string) (n int64, err error) {
	err = f.call(func() (err error) {
		n, err = f.Files.Size(ctx, sum)
		return err
	})
	return n, err
}

// Delete is Files.Delete, now and then.
func (f *Failing) Delete(ctx context.Context, sum string) error {
	return f.call(func() error { return f.Files.Delete(ctx, sum) })
}

// Suite tests files that are empty: whatever keeps them, an archive relies on all of this. again does a call until it
// succeeds where calls may fail.
func Suite(t *testing.T, f files.Files, again func(func() error) error) {
	s := suite{t, f, again}
	s.keeps()
	s.misses()
	s.lists()
	s.together()
	s.stops()
}

// Once calls once.
func Once(do func() error) error { return do() }

// Until calls until it succeeds, or the error says that a file is not there.
func Until(do func() error) error {
	for range 100 {
		if err := do(); err == nil || errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return errors.New("a hundred calls failed")
}

type suite struct {
	*testing.T
	f     files.Files
	again func(func() error) error
}

// sumOf returns the name of a content.
func sumOf(content []byte) string { return fmt.Sprintf("%x", sha256.Sum256(content)) }

func (s suite) put(content []byte) (sum string) {
	s.Helper()
	sum = sumOf(content)
	err := s.again(func() error {
		from := filepath.Join(s.TempDir(), "new") // a file that was put may be gone
		if err := os.WriteFile(from, content, 0o600); err != nil {
			return err
		}
		return s.f.Put(s.Context(), sum, from)
	})
	if err != nil {
		s.Fatal(err)
	}
	return sum
}

func (s suite) get(sum string) (content []byte, err error) {
	s.Helper()
	err = s.again(func() error {
		r, err := s.f.Get(s.Context(), sum)
		if err != nil {
			return err
		}
		content, err = io.ReadAll(r)
		return errors.Join(err, r.Close())
	})
	return content, err
}

func (s suite) keys() (keys []string) {
	s.Helper()
	err := s.again(func() error {
		keys = nil
		return s.f.List(s.Context(), func(key string) error {
			keys = append(keys, key)
			return nil
		})
	})
	if err != nil {
		s.Fatal(err)
	}
	slices.Sort(keys)
	return keys
}

// keeps: what was put comes back as it was, of any size, and a second time does no harm.
func (s suite) keeps() {
	large := bytes.Repeat([]byte("frames of a long clip\n"), 1<<20) // more than one part of a transfer
	for _, content := range [][]byte{nil, []byte("x"), {0, 1, 2, 0xff}, large, []byte("x")} {
		sum := s.put(content)
		if got, err := s.get(sum); err != nil || !bytes.Equal(got, content) {
			s.Errorf("of %d bytes came back %d, %v", len(content), len(got), err)
		}
		err := s.again(func() error {
			n, err := s.f.Size(s.Context(), sum)
			if err == nil && n != int64(len(content)) {
				s.Errorf("%d bytes are said to be %d", len(content), n)
			}
			return err
		})
		if err != nil {
			s.Error(err)
		}
	}
	s.remove(sumOf(nil), sumOf([]byte("x")), sumOf([]byte{0, 1, 2, 0xff}), sumOf(large))
}

func (s suite) remove(sums ...string) {
	s.Helper()
	for _, sum := range sums {
		if err := s.again(func() error { return s.f.Delete(s.Context(), sum) }); err != nil {
			s.Errorf("removing: %v", err)
		}
	}
}

// misses: what is not there is told from what cannot be had, and removing it is no error.
func (s suite) misses() {
	sum := s.put([]byte("gone"))
	s.remove(sum, sum, sumOf([]byte("never there")))
	for _, name := range []string{sum, "", "../../etc/passwd"} {
		if _, err := s.get(name); !errors.Is(err, fs.ErrNotExist) {
			s.Errorf("%q is not there: %v", name, err)
		}
		err := s.again(func() error {
			_, err := s.f.Size(s.Context(), name)
			return err
		})
		if !errors.Is(err, fs.ErrNotExist) {
			s.Errorf("the size of %q: %v", name, err)
		}
	}
	if keys := s.keys(); len(keys) > 0 {
		s.Errorf("nothing is there, and listed is %v", keys)
	}
	from := filepath.Join(s.TempDir(), "none")
	if err := s.f.Put(s.Context(), sum, from); err == nil {
		s.Error("a file that is not there was put")
	}
	if _, err := s.get(sum); !errors.Is(err, fs.ErrNotExist) {
		s.Errorf("something came of it: %v", err)
	}
}

// lists: every key is told once, by the sum of its content, and an error of the listener ends it.
func (s suite) lists() {
	var want []string
	for i := range 30 {
		want = append(want, files.Key(s.put(fmt.Appendf(nil, "clip %d", i))))
	}
	slices.Sort(want)
	if got := s.keys(); !slices.Equal(got, want) {
		s.Errorf("listed are %v, want %v", got, want)
	}
	enough := errors.New("enough")
	err := s.again(func() error {
		if err := s.f.List(s.Context(), func(string) error { return enough }); !errors.Is(err, enough) {
			return fmt.Errorf("the listener's error is lost: %w", err)
		}
		return nil
	})
	if err != nil {
		s.Error(err)
	}
	for _, key := range want {
		s.remove(key[3:])
	}
}

// together: several put the same content at once, and others read it meanwhile; nobody sees half of it.
func (s suite) together() {
	content := bytes.Repeat([]byte("rep "), 1<<16)
	sum := sumOf(content)
	var all sync.WaitGroup
	for range 6 {
		all.Go(func() { s.put(content) })
		all.Go(func() {
			got, err := s.get(sum)
			if err != nil && !errors.Is(err, fs.ErrNotExist) || err == nil && !bytes.Equal(got, content) {
				s.Errorf("read %d bytes of %d, %v", len(got), len(content), err)
			}
		})
	}
	all.Wait()
	if got, err := s.get(sum); err != nil || !bytes.Equal(got, content) {
		s.Errorf("in the end %d bytes, %v", len(got), err)
	}
	s.remove(sum)
}

// stops: a call whose context has ended does nothing.
func (s suite) stops() {
	sum := s.put([]byte("kept"))
	over, cancel := context.WithCancel(s.Context())
	cancel()
	from := filepath.Join(s.TempDir(), "new")
	if err := os.WriteFile(from, []byte("late"), 0o600); err != nil {
		s.Fatal(err)
	}
	late := sumOf([]byte("late"))
	if err := s.f.Put(over, late, from); err == nil {
		s.Error("put after the end")
	}
	if err := s.f.Delete(over, sum); err == nil {
		s.Error("deleted after the end")
	}
	if r, err := s.f.Get(over, sum); err == nil {
		_ = r.Close() // it should not be open
		s.Error("opened after the end")
	}
	if err := s.f.List(over, func(string) error { return nil }); err == nil {
		s.Error("listed after the end")
	}
	if keys := s.keys(); !slices.Equal(keys, []string{files.Key(sum)}) {
		s.Errorf("there are %v", keys)
	}
	s.remove(sum)
}
