package upload

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/halfsent"
	"holdfast/desk"
	"holdfast/desk/given"
	"holdfast/desk/refusal"
)

// newIntake is an intake of a desk over an empty archive; change may set options before.
func newIntake(t testing.TB, change func(*Options)) *Intake {
	t.Helper()
	dir := t.TempDir()
	a, err := archive.Open(t.Context(), dir, archive.Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	d, err := desk.New(desk.Options{Archive: a, WorkDir: filepath.Join(dir, "tmp", "work")})
	if err != nil {
		t.Fatal(err)
	}
	opt := Options{Desk: d, Dir: filepath.Join(dir, halfsent.Folder), Now: time.Now, Pause: time.Minute, Writing: 4,
		Incoming: 256, Partial: 32}
	if change != nil {
		change(&opt)
	}
	in, err := New(opt)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func noLimit(time.Time) error { return nil }

// movedClock is a clock that a test moves.
type movedClock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *movedClock) read() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *movedClock) add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// Places are full of uploads that come well: one more has to wait, and none is ended.
func TestUploadsThatComeKeepTheirPlace(t *testing.T) {
	clock := &movedClock{now: time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)}
	in := newIntake(t, func(o *Options) { o.Now, o.Incoming = clock.read, 1 })
	p, leave, err := in.enter(t.Context(), http.NoBody, noLimit, nil)
	if err != nil {
		t.Fatal(err)
	}
	for range 10 {
		p.listen()
		clock.add(time.Second)
		if _, _, err := in.enter(t.Context(), http.NoBody, noLimit, nil); refusal.Of(err).Kind != refusal.Busy {
			t.Fatalf("a second upload: %v", err)
		}
		if p.heard(minUploadBytesPerS) {
			t.Fatal("it lost its place")
		}
	}
	leave()
	if _, leave, err = in.enter(t.Context(), http.NoBody, noLimit, nil); err != nil {
		t.Fatal(err)
	}
	leave()
}

// A byte now and then does not keep a place: what counts is how much comes, and not only
// how long it pauses.
func TestUploadRateHasAFloor(t *testing.T) {
	clock := &movedClock{now: time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)}
	in := newIntake(t, func(o *Options) { o.Now = clock.read })
	for _, tt := range []struct {
		bytes, pieces int // until it is ended
	}{{1, 4}, {minUploadBytesPerS * 10, 6}, {minUploadBytesPerS * 20, 0}, {minUploadBytesPerS * 1000, 0}} {
		p, leave, err := in.enter(t.Context(), http.NoBody, noLimit, nil)
		if err != nil {
			t.Fatal(err)
		}
		pieces := 0
		for p.left > 0 && pieces < 1000 {
			p.listen()
			clock.add(20 * time.Second)
			p.heard(tt.bytes)
			pieces++
		}
		if tt.pieces == 0 && p.left != in.opt.Pause || tt.pieces > 0 && pieces != tt.pieces {
			t.Errorf("%d bytes every 20 s: %d pieces, %v left, want %d", tt.bytes, pieces, p.left, tt.pieces)
		}
		leave()
	}
}

// Unfinished uploads of which little comes make room, busy or not; one that comes stays.
func TestSlowUploadsMakeRoom(t *testing.T) {
	clock := &movedClock{now: time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)}
	in := newIntake(t, func(o *Options) { o.Now, o.Partial = clock.read, 3 })
	begin := func(name string, bytes int) (string, error) {
		at, err := in.Begin(t.Context(), About{Name: name, Size: int64(bytes), LastModified: 1,
			Clip: given.Clip{AthleteName: "Sam Example"}})
		return at.ID, err
	}
	const half = minUploadBytesPerS * 100
	var ids []string
	for i := range 3 {
		id, err := begin(fmt.Sprint(i), 2*half)
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, id)
	}
	content := "\x00\x00\x00\x10ftypmp42" + strings.Repeat("x", half)
	if at, _, err := in.Take(t.Context(), ids[0], Piece{Bytes: half,
		Body: io.NopCloser(strings.NewReader(content[:half])), Deadline: noLimit}); err != nil || at.Offset != half {
		t.Fatal(at, err)
	}
	drips, give, err := in.take(t.Context(), ids[2])
	if err != nil {
		t.Fatal(err)
	}
	place, leave, err := in.enter(t.Context(), http.NoBody, noLimit, drips)
	if err != nil {
		t.Fatal(err)
	}
	place.listen()
	place.heard(1)
	for i, room := range []bool{false, true, true, false} {
		if _, err := begin(fmt.Sprint("new ", i), 1000); (err == nil) != room {
			t.Errorf("begun as number %d: %v, want room %v", i, err, room)
		}
		if i == 0 {
			clock.add(emptyUpload + time.Second)
		}
	}
	if !place.lost {
		t.Error("the one that drips was not ended")
	}
	leave()
	give()
	for i, there := range []bool{true, false, false} {
		if _, err := in.State(t.Context(), ids[i]); (err == nil) != there {
			t.Errorf("upload %d: %v, want it there %v", i, err, there)
		}
	}
}

// A deletion does not end an upload that is just being begun by somebody else.
func TestDeletionSparesWhatBegins(t *testing.T) {
	in := newIntake(t, nil)
	in.mu.Lock()
	p := &partial{About: About{ID: "new", Clip: given.Clip{AthleteName: "Another Example"}},
		path: filepath.Join(in.opt.Dir, "new"), busy: true}
	in.partial["new"] = p // its file is not there yet
	in.mu.Unlock()
	in.ForgetDeleted(t.Context())
	if in.partial["new"] != p || p.unwanted {
		t.Error("it was given up")
	}
}

func TestForgottenUploads(t *testing.T) {
	now := time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)
	in := newIntake(t, func(o *Options) { o.Now = func() time.Time { return now } })
	begin := func(name string) (*partial, error) {
		p, give, err := in.begin(About{Name: name, Size: 1000}, "")
		if err == nil {
			give()
		}
		return p, err
	}
	p, err := begin("a.mp4")
	if err != nil {
		t.Fatal(err)
	}
	now = now.Add(partialTime + time.Second)
	if _, err := begin("b.mp4"); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(p.path); !os.IsNotExist(err) || len(in.partial) != 1 {
		t.Errorf("an upload of the day before is still there (%v)", err)
	}
	// One that nobody has added to for an hour makes room when there is none.
	in.opt.Partial = 1
	if _, err := begin("c.mp4"); err == nil || refusal.Of(err).Kind != refusal.Busy {
		t.Errorf("more uploads than allowed: %v", err)
	}
	now = now.Add(idleUpload)
	if _, err := begin("d.mp4"); err != nil {
		t.Errorf("an idle upload makes no room: %v", err)
	}
}

// FuzzUploadNote: a note beside half an upload is read or not, and names no file.
func FuzzUploadNote(f *testing.F) {
	in := newIntake(f, nil)
	dir := in.opt.Dir
	const id = "00000000-0000-7000-8000-000000000000"
	if err := os.WriteFile(filepath.Join(dir, id+halfsent.Part), []byte("half"), 0o600); err != nil {
		f.Fatal(err)
	}
	f.Add([]byte(`{"id":"` + id + `","name":"a.mp4","size":10}`))
	f.Add([]byte(`{"id":"../x","name":"a.mp4","size":10}`))
	f.Fuzz(func(t *testing.T, note []byte) {
		if err := os.WriteFile(filepath.Join(dir, id+halfsent.Note), note, 0o600); err != nil {
			t.Fatal(err)
		}
		if p := in.read(id); p != nil && (p.ID != id || p.offset > p.Size || filepath.Dir(p.path) != dir) {
			t.Errorf("%q is read as %+v", note, p)
		}
	})
}
