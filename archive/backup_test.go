package archive

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/archive/backup"
	"holdfast/archive/disk"
	"holdfast/archive/folder"
	"holdfast/archive/store"
)

// goodBackup returns a backup of one athlete with one clip and one result.
func goodBackup(t testing.TB) []byte {
	t.Helper()
	d := open(t, t.TempDir(), Options{})
	who := d.athlete("Imke Sample")
	c := d.clip(d.visit(who, "2026-02-03"), strings.Repeat("the frames of a clip ", 500))
	_, err := d.SaveResult(t.Context(), c.ID, []File{d.put("analysis.json", "{}")}, 0)
	d.must(err)
	path := filepath.Join(t.TempDir(), "b.zip")
	d.must(d.Backup(t.Context(), path))
	b, err := os.ReadFile(path)
	d.must(err)
	return b
}

// entry is one file of a zip that a test makes.
type entry struct {
	name   string
	body   string
	method uint16
	mode   fs.FileMode
}

func entries(t testing.TB, b []byte) []entry {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	var out []entry
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, entry{name: f.Name, body: string(body), mode: 0o644})
	}
	return out
}

func zipOf(t testing.TB, all []entry) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, e := range all {
		h := &zip.FileHeader{Name: e.name, Method: e.method}
		h.SetMode(e.mode)
		w, err := z.CreateHeader(h)
		if err == nil && !strings.HasSuffix(e.name, "/") {
			_, err = io.WriteString(w, e.body)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func storedAs(body string) string {
	sum := sha256.Sum256([]byte(body))
	s := hex.EncodeToString(sum[:])
	return store.FilesFolder + "/" + s[:2] + "/" + s
}

// overlapping makes a zip of many entries that all are the same bytes of it.
func overlapping(good []entry, n, size int) []byte {
	var b bytes.Buffer
	type place struct {
		name       string
		crc        uint32
		size, from uint32
	}
	var dir []place
	le := func(v ...any) {
		for _, x := range v {
			_ = binary.Write(&b, binary.LittleEndian, x) // to memory
		}
	}
	add := func(name, body string) {
		p := place{name, crc32.ChecksumIEEE([]byte(body)), uint32(len(body)), uint32(b.Len())}
		le(uint32(0x04034b50), uint16(20), uint16(0), uint16(0), uint32(0), p.crc, p.size, p.size, uint16(len(name)),
			uint16(0))
		b.WriteString(name + body)
		dir = append(dir, p)
	}
	for _, e := range good {
		add(e.name, e.body)
	}
	add(storedAs("0"), strings.Repeat("\x00", size))
	same := dir[len(dir)-1]
	for i := 1; i < n; i++ {
		same.name = storedAs(fmt.Sprint(i))
		dir = append(dir, same)
	}
	start := b.Len()
	for _, p := range dir {
		le(uint32(0x02014b50), uint16(20), uint16(20), uint16(0), uint16(0), uint32(0), p.crc, p.size, p.size,
			uint16(len(p.name)), uint16(0), uint16(0), uint16(0), uint16(0), uint32(0), p.from)
		b.WriteString(p.name)
	}
	le(uint32(0x06054b50), uint16(0), uint16(0), uint16(len(dir)), uint16(len(dir)), uint32(b.Len()-start), uint32(start),
		uint16(0))
	return b.Bytes()
}

// edited returns a backup whose database was changed by hand.
func edited(t *testing.T, good []entry, statements string) []entry {
	t.Helper()
	dir := t.TempDir()
	all := slices.Clone(good)
	for i, e := range all {
		if e.name == folder.Database {
			path := filepath.Join(dir, folder.Database)
			if err := os.WriteFile(path, []byte(e.body), 0o600); err != nil {
				t.Fatal(err)
			}
			statement(t, dir, statements)
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			all[i].body = string(b)
		}
	}
	return all
}

func TestBackupAndRestore(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{Serving: true})
	who := d.athlete("Imke Sample")
	day := d.visit(who, "2026-02-03")
	c, front := d.clip(day, "frames"), d.clip(day, "frames from the front")
	_, err := d.SaveResult(ctx, c.ID, []File{d.put("analysis.json", "{}"), d.put("frames/a b.png", "p")}, 0)
	d.must(err)
	d.must(d.JoinClips(ctx, c.ID, front.ID))
	d.put("", "named by no row")
	_, err = d.AddCorrection(ctx, c.ID, json.RawMessage(`{"a":1}`), "moved")
	d.must(err)
	c, err = d.Clip(ctx, c.ID)
	d.must(err)

	out := t.TempDir()
	path := filepath.Join(out, "b.zip")
	d.must(os.WriteFile(path, []byte("an older backup"), 0o600))
	stopped, cancel := context.WithCancel(ctx)
	cancel()
	is(t, "stopped", d.Backup(stopped, path), context.Canceled)
	if b, _ := os.ReadFile(path); string(b) != "an older backup" {
		t.Error("a backup that failed destroyed the one before")
	}
	is(t, "no folder", d.Backup(ctx, filepath.Join(out, "none", "b.zip")), fs.ErrNotExist)
	d.must(d.Backup(ctx, path))
	d.must(d.Backup(ctx, path))
	_, err = d.DeleteAthlete(ctx, who.ID)
	d.must(err)

	into := filepath.Join(out, "new", "folder")
	is(t, "stopped", restore(stopped, path, into), context.Canceled)
	for _, dir := range []string{into, filepath.Join(out, "empty")} {
		if dir != into {
			d.must(os.Mkdir(dir, 0o700))
		}
		d.must(restore(ctx, path, dir))
		r := open(t, dir, Options{})
		got, err := r.Clip(ctx, c.ID)
		d.must(err)
		same(t, "the clip", got, c)
		other, err := r.Clip(ctx, front.ID)
		d.must(err)
		same(t, "what it is joined with", []string{got.JoinedWith, other.JoinedWith}, []string{front.ID, c.ID})
		r.healthy(5)
		if doc, _, err := r.CurrentCorrections(ctx, c.ID); string(doc) != `{"a":1}` {
			t.Errorf("the corrections are %s, %v", doc, err)
		}
	}
	is(t, "a folder that holds something", restore(ctx, path, into), backup.ErrNotEmpty)
	is(t, "a folder that holds something", restore(ctx, path, into), ErrInvalid)
	is(t, "no backup", restore(ctx, filepath.Join(out, "none.zip"), filepath.Join(out, "x")), ErrNotFound)
	for _, dir := range []string{out, filepath.Join(out, "new"), filepath.Join(d.Dir(), store.TmpFolder)} {
		found, err := os.ReadDir(dir)
		d.must(err)
		for _, e := range found {
			if strings.Contains(e.Name(), ".part-") || strings.HasPrefix(e.Name(), "backup-") {
				t.Errorf("%s is left behind", e.Name())
			}
		}
	}
	// A backup that is not whole leaves the one before alone.
	last := d.clip(d.visit(d.athlete("two"), "2026-02-03"), "lost")
	d.must(os.Remove(d.FilePath(last.SHA256)))
	is(t, "backup of a damaged archive", d.Backup(ctx, path), ErrDamaged)
	if err := restore(ctx, path, filepath.Join(out, "still")); err != nil {
		t.Error("the backup before is gone:", err)
	}
}

func TestHostileRestore(t *testing.T) {
	t.Parallel()
	good := goodBackup(t)
	all := entries(t, good)
	with := func(more ...entry) []byte { return zipOf(t, append(slices.Clone(all), more...)) }
	big := strings.Repeat("\x00", 1<<20)
	cases := map[string][]byte{
		"nothing":      nil,
		"a text":       []byte("this is no zip"),
		"an empty zip": zipOf(t, nil),
		"no database": zipOf(t, slices.DeleteFunc(slices.Clone(all),
			func(e entry) bool { return e.name == folder.Database })),
		"only the database": zipOf(t, slices.DeleteFunc(slices.Clone(all),
			func(e entry) bool { return e.name != folder.Database })),
		"an empty database":  zipOf(t, []entry{{name: folder.Database}}),
		"another program's":  zipOf(t, edited(t, all, "DROP TABLE goose_db_version")),
		"a text as database": zipOf(t, []entry{{name: folder.Database, body: strings.Repeat("text ", 4000)}}),
		"a folder":           with(entry{name: "files/ab/", mode: fs.ModeDir | 0o755}),
		"a folder of a file": with(entry{name: storedAs("x") + "/", mode: fs.ModeDir | 0o755}),
		"a link": with(entry{name: storedAs("/etc/passwd"), body: "/etc/passwd",
			mode: fs.ModeSymlink | 0o777}),
		"a database link": zipOf(t, []entry{{name: folder.Database, body: "/etc/passwd",
			mode: fs.ModeSymlink | 0o777}}),
		"a pipe":                with(entry{name: storedAs("x"), mode: fs.ModeNamedPipe | 0o600}),
		"a device":              with(entry{name: storedAs("x"), mode: fs.ModeDevice | 0o600}),
		"the database twice":    with(all[0]),
		"a file twice":          with(all[1]),
		"a packed bomb":         with(entry{name: storedAs(big), body: big, method: zip.Deflate}),
		"a packed database":     zipOf(t, []entry{{name: folder.Database, body: big, method: zip.Deflate}}),
		"a bomb that overlaps":  overlapping(all, 2000, 1<<20),
		"a file of another sum": with(entry{name: storedAs("x"), body: "y"}),
		"a file without a row":  with(entry{name: storedAs("x"), body: "x"}),
		"the wrong folder":      with(entry{name: "files/zz/" + storedAs("x")[len("files/ab/"):], body: "x"}),
		"another table":         zipOf(t, edited(t, all, "ALTER TABLE clips RENAME TO klips")),
		"a lost table":          zipOf(t, edited(t, all, "DROP TABLE jobs")),
		"a name that leads out": zipOf(t, edited(t, all, "UPDATE result_files SET name = '../../../x'")),
		"a lost row":            zipOf(t, edited(t, all, "DELETE FROM athletes")),
	}
	for _, name := range []string{
		"../evil", "../../evil", "/evil", "files/../evil", "files/../../evil", "files/ab/../../../evil", `..\evil`,
		`files\ab\evil`, "C:/evil", "evil", "evil\x00",
		"holdfast.db-wal", "holdfast.db-journal", "serving.lock", "tmp/evil", "files", "files/", "files//", "", ".",
		"./holdfast.db", "HOLDFAST.DB", "holdfast.db/evil",
		strings.ToUpper(storedAs("x")), storedAs("x") + "x", "/" + storedAs("x"), "files/./" + storedAs("x")[6:], "files/" +
			storedAs("x"), strings.Repeat("a/", 5000) + "evil",
	} {
		cases["the name "+name[:min(len(name), 80)]] = with(entry{name: name, body: "x"})
	}
	for _, part := range []int{4, 3, 2} { // cut at several places
		cases[fmt.Sprint("cut at ", part)] = good[:len(good)*(part-1)/part]
	}
	cases["cut by a byte"] = good[:len(good)-1]
	for _, e := range []string{"the frames", "SQLite format"} { // the checksum of the zip finds it
		changed := bytes.Clone(good)
		changed[bytes.Index(changed, []byte(e))+2] ^= 1
		cases["changed "+e] = changed
	}
	// Bits that SQLite would not miss: in the middle of the stored database.
	head := bytes.Index(good, []byte("SQLite format"))
	size := len(all[slices.IndexFunc(all, func(e entry) bool { return e.name == folder.Database })].body)
	for part := range 8 {
		changed := bytes.Clone(good)
		changed[head+size*part/8+size/16] ^= 1
		cases[fmt.Sprint("a bit of the database ", part)] = changed
	}
	for name, b := range cases {
		t.Run(name, func(t *testing.T) {
			box := t.TempDir()
			src, dir := filepath.Join(box, "src.zip"), filepath.Join(box, "in", "data")
			if err := os.WriteFile(src, b, 0o600); err != nil {
				t.Fatal(err)
			}
			is(t, "restore", restore(t.Context(), src, dir), ErrDamaged)
			onlyThese(t, box, "src.zip", "in")
			// What is taken when the rest may be left out is files alone.
			var part *PartialError
			if err := restoreWhole(t.Context(), src, dir); !errors.As(err, &part) {
				is(t, "restore what is whole", err, ErrDamaged)
				onlyThese(t, box, "src.zip", "in")
				return
			}
			for _, line := range part.Damage {
				if !strings.HasPrefix(line, "the file ") {
					t.Errorf("it went on with %q", line)
				}
			}
			rep, err := open(t, dir, Options{Serving: true}).Check(t.Context())
			if err != nil || len(rep.Problems) > len(part.Damage) {
				t.Errorf("restored with %q, %v", rep.Problems, err)
			}
		})
	}
	box := t.TempDir()
	newer := filepath.Join(box, "newer.zip")
	if err := os.WriteFile(newer,
		zipOf(t, edited(t, all,
			"INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)")), 0o600); err != nil {
		t.Fatal(err)
	}
	is(t, "a newer schema", restore(t.Context(), newer, filepath.Join(box, "data")), ErrNewerSchema)
	onlyThese(t, box, "newer.zip")
}

// onlyThese says that a folder holds these files and empty folders and no more.
func onlyThese(t testing.TB, dir string, names ...string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, _ fs.DirEntry, err error) error {
		if rel, _ := filepath.Rel(dir, path); rel != "." && !slices.Contains(names, rel) {
			t.Errorf("%s is left behind", rel)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// Whatever the file is: it is refused with nothing left behind, or what it makes is
// whole.
func FuzzRestore(f *testing.F) {
	good := goodBackup(f)
	f.Add(good)
	f.Add(good[:len(good)/2])
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	all := entries(f, good)
	f.Add(overlapping(all, 20, 1000))
	f.Add(zipOf(f, append(slices.Clone(all), entry{name: "../x"})))
	f.Fuzz(func(t *testing.T, b []byte) {
		box := t.TempDir()
		src, dir := filepath.Join(box, "src.zip"), filepath.Join(box, "data")
		if err := os.WriteFile(src, b, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := restore(t.Context(), src, dir); err != nil {
			if !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrNewerSchema) {
				t.Errorf("the error is none that callers know: %v", err)
			}
			onlyThese(t, box, "src.zip")
			return
		}
		a, err := Open(t.Context(), dir, Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer a.Close()
		if rep, err := a.Check(t.Context()); err != nil || len(rep.Problems) > 0 {
			t.Error(rep, err)
		}
	})
}

// damagedArchive has a clip that was lost, one that changed and one that is whole.
func damagedArchive(t *testing.T) (d desk, who Athlete, whole Clip) {
	t.Helper()
	d = open(t, t.TempDir(), Options{})
	who = d.athlete("Imke Sample")
	v := d.visit(who, "2026-02-03")
	lost, changed := d.clip(v, "one that is lost"), d.clip(v, "one that changes")
	whole = d.clip(v, "one that stays")
	d.must(os.Remove(d.FilePath(lost.SHA256)))
	d.must(os.WriteFile(d.FilePath(changed.SHA256), []byte("One that changes"), 0o600))
	return d, who, whole
}

// damage returns what an error says is not whole.
func damage(t *testing.T, what string, err error) PartialError {
	t.Helper()
	var part *PartialError
	if !errors.As(err, &part) || !errors.Is(err, ErrDamaged) {
		t.Fatalf("%s: %v", what, err)
	}
	all := strings.Join(part.Damage, "\n")
	if len(part.Damage) != 2 || !strings.Contains(all, store.Missing.Error()) ||
		!strings.Contains(all, store.Changed.Error()) {
		t.Errorf("%s: the damage is %q", what, part.Damage)
	}
	return *part
}

// A lost and a changed file cost themselves alone: not the backup, nor the export.
func TestDamagedFiles(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	d, who, whole := damagedArchive(t)
	box := t.TempDir()
	path := filepath.Join(box, "b.zip")
	part := damage(t, "backup", d.Backup(ctx, path))
	if part.Path != path || !strings.Contains(part.Damage[0], "Imke Sample: clip.mp4") {
		t.Errorf("the backup says %+v", part)
	}
	into := filepath.Join(box, "data")
	is(t, "restore", restore(ctx, path, into), ErrDamaged)
	onlyThese(t, box, "b.zip")
	part = damage(t, "restore what is whole", restoreWhole(ctx, path, into))
	if part.Path != into {
		t.Errorf("restored into %s", part.Path)
	}
	r := open(t, into, Options{Serving: true, MustExist: true})
	if clips, err := r.ClipsOf(ctx, who.ID); err != nil || len(clips) != 3 {
		t.Errorf("restored the clips %+v, %v", clips, err)
	}
	if b, err := os.ReadFile(r.FilePath(whole.SHA256)); err != nil || string(b) != "one that stays" {
		t.Errorf("restored %q, %v", b, err)
	}
	rep, err := r.Check(ctx)
	d.must(err)
	if len(rep.Problems) != 2 || rep.Files != 1 {
		t.Errorf("restored with %+v", rep)
	}

	// What is there already stays: it may be whole.
	out := filepath.Join(box, "sam.zip")
	for _, p := range []string{path, out} {
		d.must(os.WriteFile(p, []byte("from a better day"), 0o600))
	}
	for range 2 {
		if part := damage(t, "backup", d.Backup(ctx, path)); part.Path != filepath.Join(box, "b-incomplete.zip") {
			t.Errorf("the backup is in %s", part.Path)
		}
		if part := damage(t, "export", d.ExportFile(ctx, who.ID, out)); part.Path != filepath.Join(box,
			"sam-incomplete.zip") {
			t.Errorf("the export is in %s", part.Path)
		}
	}
	for _, p := range []string{path, out} {
		if b, err := os.ReadFile(p); err != nil || string(b) != "from a better day" {
			t.Errorf("%s is %q, %v", p, b, err)
		}
	}
	if err := restoreWhole(ctx, filepath.Join(box, "b-incomplete.zip"), filepath.Join(box, "again")); err == nil {
		t.Error("nothing is said of what was left out")
	}

	// The page writes the export at once; it tells within the zip.
	var page bytes.Buffer
	d.must(d.Export(ctx, who.ID, &page))
	got := map[string]string{}
	for _, e := range entries(t, page.Bytes()) {
		got[e.name] = e.body
	}
	if list := got["LEFT_OUT.txt"]; strings.Count(list, "\n") != 2 || !strings.Contains(list,
		"clips/2026-02-03_01_clip/original.mp4 is missing\n") ||
		got["clips/2026-02-03_03_clip/original.mp4"] != "one that stays" || len(got) != 4+1+1 {
		t.Errorf("the export holds %q", got)
	}
}

// A backup with a bit that flipped in a file is whole but for that file.
func TestRestoreFlippedBit(t *testing.T) {
	t.Parallel()
	good := goodBackup(t)
	good[bytes.Index(good, []byte("the frames"))+2] ^= 1
	box := t.TempDir()
	src, dir := filepath.Join(box, "b.zip"), filepath.Join(box, "data")
	if err := os.WriteFile(src, good, 0o600); err != nil {
		t.Fatal(err)
	}
	err := restore(t.Context(), src, dir)
	if is(t, "restore", err, ErrDamaged); !strings.Contains(err.Error(), "--keep-whole") {
		t.Errorf("it does not say what to do: %v", err)
	}
	var part *PartialError
	if err := restoreWhole(t.Context(), src, dir); !errors.As(err, &part) || len(part.Damage) != 1 ||
		!strings.Contains(part.Damage[0], store.Changed.Error()) {
		t.Fatal(err)
	}
}

// Errors of the place are told from those of the archive.
func TestNoPlace(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	who := d.athlete("one")
	box := t.TempDir()
	taken := filepath.Join(box, "taken")
	d.must(os.MkdirAll(filepath.Join(taken, "x"), 0o700))
	good := filepath.Join(box, "b.zip")
	d.must(d.Backup(ctx, good))
	for name, dst := range map[string]string{"no folder": filepath.Join(box, "none", "x.zip"),
		"a folder in its place": taken, "a file as folder": filepath.Join(good, "x")} {
		is(t, "backup, "+name, d.Backup(ctx, dst), disk.ErrCannotWrite)
		is(t, "export, "+name, d.ExportFile(ctx, who.ID, dst), disk.ErrCannotWrite)
	}
	is(t, "restore", restore(ctx, good, filepath.Join(good, "x")), disk.ErrCannotWrite)
	onlyThese(t, box, "taken", "taken/x", "b.zip")
}

// What was killed while it wrote beside its place is removed by the next to write
// there; what another is writing, and what is not ours, stays.
func TestSweep(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	who := d.athlete("one")
	source := filepath.Join(t.TempDir(), "b.zip")
	d.must(d.Backup(ctx, source))
	for name, write := range map[string]func(dst string) error{
		"backup":  func(dst string) error { return d.Backup(ctx, dst) },
		"export":  func(dst string) error { return d.ExportFile(ctx, who.ID, dst) },
		"restore": func(dst string) error { return restore(ctx, source, dst) },
	} {
		box := t.TempDir()
		dst := filepath.Join(box, "out")
		d.must(os.WriteFile(filepath.Join(box, ".out.part-1"), []byte("half"), 0o600))
		d.must(os.MkdirAll(filepath.Join(box, ".out.part-22", "files", "ab"), 0o700))
		stay := []string{".out.part-", ".out.part-notes", ".output.part-1", "out.part-1"}
		for _, s := range stay {
			d.must(os.WriteFile(filepath.Join(box, s), []byte("not ours"), 0o600))
		}
		file, err := disk.LockedFile(box, ".out.part-*")
		d.must(err)
		folder, err := disk.LockedFolder(box, ".out.part-*")
		d.must(err)
		stay = append(stay, filepath.Base(file.Name()), filepath.Base(folder.Name()))
		d.must(write(dst))
		if name == "restore" {
			d.must(os.RemoveAll(dst))
		} else {
			d.must(os.Remove(dst))
		}
		found, err := os.ReadDir(box)
		d.must(err)
		var names []string
		for _, e := range found {
			names = append(names, e.Name())
		}
		slices.Sort(stay)
		same(t, name, names, stay)
		d.must(errors.Join(file.Close(), folder.Close()))
	}
}

// Every folder of a restored archive is synced before it gets its name, the deepest
// first, and the folder it lies in afterwards.
func TestRestoreSyncs(t *testing.T) {
	t.Parallel()
	box := t.TempDir()
	src, dir := filepath.Join(box, "b.zip"), filepath.Join(box, "data")
	if err := os.WriteFile(src, goodBackup(t), 0o600); err != nil {
		t.Fatal(err)
	}
	var order []string
	opt := backup.Options{Sync: func(folder string) error {
		_, err := os.Stat(dir)
		rel, relErr := filepath.Rel(box, folder)
		if relErr != nil {
			return relErr
		}
		if rel == "." != (err == nil) {
			t.Errorf("%s is synced at the wrong moment", rel)
		}
		_, rel, _ = strings.Cut(rel, string(filepath.Separator))
		if slices.Contains(order, filepath.Dir(rel)) {
			t.Errorf("%s is synced after the folder it lies in", rel)
		}
		order = append(order, rel)
		return disk.SyncFolder(folder)
	}}
	if err := backup.Restore(t.Context(), src, dir, opt); err != nil {
		t.Fatal(err)
	}
	folders := 1 // the one it lies in
	err := filepath.WalkDir(dir, func(_ string, e fs.DirEntry, err error) error {
		if err == nil && e.IsDir() {
			folders++
		}
		return err
	})
	if err != nil || len(order) != folders {
		t.Errorf("%d folders are synced (%q), want %d, %v", len(order), order, folders, err)
	}
}

// An export is of one moment, also when its clips are measured again and deleted while
// it is written.
func TestExportWhileChanged(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{Serving: true})
	who := d.athlete("one")
	v := d.visit(who, "2026-02-03")
	a, b := d.clip(v, "clip a"), d.clip(v, "clip b")
	for _, c := range []Clip{a, b} {
		_, err := d.SaveResult(ctx, c.ID, []File{d.put("analysis.json", "before "+c.ID)}, 0)
		d.must(err)
	}
	var out bytes.Buffer
	w := &meddling{w: &out, do: func() {
		_, err := d.SaveResult(ctx, a.ID, []File{d.put("analysis.json", "after")}, 0)
		d.must(err)
		d.must(d.DeleteClip(ctx, b.ID))
	}}
	d.must(d.Export(ctx, who.ID, w))
	got := map[string]string{}
	for _, e := range entries(t, out.Bytes()) {
		got[e.name] = e.body
	}
	for i, c := range []Clip{a, b} {
		if text := got[fmt.Sprintf("clips/2026-02-03_%02d_clip/analysis.json", i+1)]; text != "before "+c.ID {
			t.Errorf("clip %d was measured as %q", i, text)
		}
	}
	if got["clips/2026-02-03_02_clip/original.mp4"] != "clip b" || got["LEFT_OUT.txt"] != "" {
		t.Errorf("the export holds %q", got)
	}
	d.healthy(2)
}

// meddling does something before the first byte is written.
type meddling struct {
	w  io.Writer
	do func()
}

func (m *meddling) Write(p []byte) (int, error) {
	if m.do != nil {
		do := m.do
		m.do = nil
		do()
	}
	return m.w.Write(p)
}

func TestExport(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	who, other := d.athlete("../../Imke <b>"), d.athlete("not to be seen")
	v := d.visit(who, "2026-02-03")
	hidden := d.clip(d.visit(other, "2026-02-03"), "not to be seen")
	var ids []string
	for i, name := range []string{"slow.mp4", "../../etc/passwd", `C:\x.MOV`, "", "Kniebeuge Größe.mp4", "a.longending",
		"con.mp4", strings.Repeat("n", 300) + ".mp4"} {
		f := d.put("", fmt.Sprint("clip ", i))
		c, _, err := d.AddClip(ctx, Clip{AthleteID: who.ID, VisitID: v.ID, Name: name, SHA256: f.SHA256})
		d.must(err)
		if i > 0 {
			_, err = d.SaveResult(ctx, c.ID, []File{d.put("analysis.json", fmt.Sprint(i)),
				d.put("frames/bottom 1.png", "picture")}, 0)
			d.must(err)
		}
		ids = append(ids, c.ID)
	}
	_, err := d.AddCorrection(ctx, ids[0], json.RawMessage(`{"left_out":[1]}`), "left out a rep")
	d.must(err)
	for i := range 2 {
		_, err = d.SaveComparison(ctx, who.ID, ids[:2], []File{d.put("comparison.json", fmt.Sprint("table ", i))})
		d.must(err)
	}
	var out bytes.Buffer
	d.must(d.Export(ctx, who.ID, &out))
	got := map[string]string{}
	for _, e := range entries(t, out.Bytes()) {
		if _, twice := got[e.name]; twice || !fs.ValidPath(e.name) || strings.ContainsAny(e.name, `\:`) {
			t.Errorf("the entry %q is there twice or leads out", e.name)
		}
		got[e.name] = e.body
	}
	if len(got) != 4+8+7*2+2 {
		t.Errorf("%d entries", len(got))
	}
	for name, want := range map[string]string{
		"clips/2026-02-03_01_slow/original.mp4":                            "clip 0",
		"clips/2026-02-03_02_______etc_passwd/analysis.json":               "1",
		"clips/2026-02-03_03_C__x/original.MOV":                            "clip 2",
		"clips/2026-02-03_04_clip/original":                                "clip 3",
		"clips/2026-02-03_05_Kniebeuge_Gr__e/frames/bottom 1.png":          "picture",
		"clips/2026-02-03_08_" + strings.Repeat("n", 40) + "/original.mp4": "clip 7",
		"comparisons/2026-03-01_01/comparison.json":                        "table 0",
		"comparisons/2026-03-01_02/comparison.json":                        "table 1",
	} {
		if got[name] != want {
			t.Errorf("%s holds %q, want %q", name, got[name], want)
		}
	}
	var person Athlete
	d.must(json.Unmarshal([]byte(got["athlete.json"]), &person))
	same(t, "athlete.json", person, who)
	var listed []exportedClip
	d.must(json.Unmarshal([]byte(got["clips.json"]), &listed))
	if len(listed) != len(ids) || len(listed[0].Corrections) != 1 {
		t.Errorf("clips.json holds %+v", listed)
	}
	for name, body := range got {
		if strings.Contains(body, "not to be seen") || strings.Contains(body, hidden.ID) {
			t.Errorf("%s tells of another athlete", name)
		}
	}
	is(t, "nobody", d.Export(ctx, "x", io.Discard), ErrNotFound)
	full := errors.New("the disk is full")
	is(t, "a disk that is full", d.Export(ctx, who.ID, noRoom{full}), full)

	out.Reset()
	empty := d.athlete("filmed never")
	d.must(d.Export(ctx, empty.ID, &out))
	for _, e := range entries(t, out.Bytes()) {
		if strings.HasSuffix(e.name, ".json") && strings.TrimSpace(e.body) == "null" {
			t.Errorf("%s is null, not an empty list", e.name)
		}
	}
}

type noRoom struct{ err error }

func (n noRoom) Write([]byte) (int, error) { return 0, n.err }

// Names and notes come back as they were given, or are refused, and hurt nothing.
func FuzzTexts(f *testing.F) {
	for _, s := range []string{"Robin Vale", "", " ", "O'Neil; DROP TABLE athletes; --", `"><script>`, "a\x00b",
		"\xff\xfe", "\u202eevil", "é", "é", "..", "../x", "%s%n", "🏋️‍♀️", "a\r\nb", strings.Repeat("x", 500)} {
		f.Add(s, s, s)
	}
	d := open(f, f.TempDir(), Options{})
	f.Fuzz(func(t *testing.T, name, notes, file string) {
		ctx := t.Context()
		who, err := d.CreateAthlete(ctx, Athlete{Name: name, Notes: notes})
		if err != nil {
			is(t, "athlete", err, ErrInvalid)
			return
		}
		defer func() {
			if _, err := d.DeleteAthlete(ctx, who.ID); err != nil {
				t.Error(err)
			}
		}()
		got, err := d.Athlete(ctx, who.ID)
		if err != nil || got.Name != strings.TrimSpace(name) || got.Notes != notes {
			t.Errorf("%q %q came back as %+v, %v", name, notes, got, err)
		}
		if got, err := d.FindAthlete(ctx, name); err != nil || got.ID != who.ID {
			t.Errorf("%q is found as %+v, %v", name, got, err)
		}
		v, err := d.VisitFor(ctx, Visit{AthleteID: who.ID, Date: "2026-02-03", Notes: notes})
		if err != nil {
			t.Fatal(err)
		}
		content, err := d.Put(ctx, strings.NewReader("x"), 1)
		if err != nil {
			t.Fatal(err)
		}
		c, _, err := d.AddClip(ctx, Clip{AthleteID: who.ID, VisitID: v.ID, Name: file, SHA256: content.SHA256})
		if err != nil {
			is(t, "clip", err, ErrInvalid)
			return
		}
		content.Name = file
		if _, err := d.SaveResult(ctx, c.ID, []File{content}, 0); err != nil {
			is(t, "result", err, ErrInvalid)
		}
		if _, err := d.VisitFor(ctx, Visit{AthleteID: who.ID, Date: file}); err != nil {
			is(t, "date", err, ErrInvalid)
		}
		var out bytes.Buffer
		if err := d.Export(ctx, who.ID, &out); err != nil {
			t.Fatal(err)
		}
		for _, e := range entries(t, out.Bytes()) {
			if !fs.ValidPath(e.name) || strings.ContainsAny(e.name, `\:`) {
				t.Errorf("the export has an entry %q", e.name)
			}
		}
	})
}

func restore(ctx context.Context, src, dir string) error {
	return backup.Restore(ctx, src, dir, backup.Options{})
}

func restoreWhole(ctx context.Context, src, dir string) error {
	return backup.Restore(ctx, src, dir, backup.Options{KeepWhole: true})
}
