package move

import (
	"archive/zip"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/archive/bucket"
	"holdfast/archive/check"
	"holdfast/archive/folder"
	"holdfast/archive/rows"
	"holdfast/internal/filestest"
	"holdfast/internal/pgtest"
)

func TestMain(m *testing.M) {
	code := m.Run()
	pgtest.Stop()
	os.Exit(code)
}

func open(t *testing.T, opt folder.Options) *folder.Folder {
	t.Helper()
	return openAt(t, t.TempDir(), opt)
}

func openAt(t *testing.T, dir string, opt folder.Options) *folder.Folder {
	t.Helper()
	f, err := folder.Open(t.Context(), dir, opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	})
	return f
}

// filled is an archive in a folder with something in every table.
func filled(t *testing.T) *folder.Folder {
	t.Helper()
	f := open(t, folder.Options{})
	sums := []any{}
	for i := range 4 {
		put, err := f.Put(t.Context(), strings.NewReader(fmt.Sprintf("file %d", i)), 100)
		if err != nil {
			t.Fatal(err)
		}
		sums = append(sums, put.SHA256)
	}
	for _, s := range []struct {
		query string
		args  []any
	}{
		{"INSERT INTO athletes (id, name, height_cm, birth_year, example, created_at) VALUES ('a', 'Élodie ''?'' Stone', " +
			"171.5, 1999, 1, 't'), ('b', 'two', NULL, NULL, 0, 't')", nil},
		{"INSERT INTO visits VALUES ('v', 'a', '2026-02-03', 'loaded', 0.1, 'note\nof two lines')", nil},
		{"INSERT INTO clips (id, visit_id, athlete_id, name, sha256, trim_from_s, added_at) " +
			"VALUES ('c', 'v', 'a', 'x.mp4', ?, 1.25, 't')", sums[:1]},
		{"INSERT INTO clips (id, visit_id, athlete_id, name, sha256, added_at) VALUES ('d', 'v', 'a', 'y.mp4', ?, 't')",
			sums[3:]},
		{"INSERT INTO joins VALUES ('c', 'd')", nil},
		{"INSERT INTO marks VALUES ('c', '{\"a\": 1}')", nil},
		{"INSERT INTO results VALUES ('r', 'c', 2, 1, 't')", nil},
		{"INSERT INTO result_files VALUES ('r', 'analysis.json', ?), ('r', 'track', ?)", sums[1:3]},
		{"INSERT INTO corrections VALUES ('k', 'c', 1, '{}', 'moved', 't', 0), ('l', 'c', 2, '{}', 'moved', 't', 1)", nil},
		{"INSERT INTO comparisons VALUES ('x', 'a', 't')", nil},
		{"INSERT INTO comparison_clips VALUES ('x', 0, 'c')", nil},
		{"INSERT INTO comparison_files VALUES ('x', 'report.pdf', ?)", sums[3:]},
		{"INSERT INTO users VALUES ('u', 'Kim', 'coach', '$', 't')", nil},
		{"INSERT INTO sessions VALUES ('h', 'u', 't')", nil},
		{"INSERT INTO acts VALUES ('t', 't', 'Kim', 'saw', 'clip', 'c', 'a')", nil},
		{"INSERT INTO jobs (id, clip_id, comparison_id, kind, state, created_at, started_at, batch, tries) " +
			"VALUES ('j', 'c', NULL, 'analyze', 'done', 't', 's', 1, 0), " +
			"('i', NULL, 'x', 'report', 'waiting', 't', NULL, 0, 2)", nil},
	} {
		if err := rows.Do(t.Context(), f.Write, s.query, s.args...); err != nil {
			t.Fatalf("%s: %v", s.query, err)
		}
	}
	for _, tab := range tables {
		var n int
		err := f.Read.QueryRowContext(t.Context(), "SELECT count(*) FROM "+tab.name).Scan(&n)
		if err != nil || n == 0 {
			t.Errorf("the table %s has %d rows, %v", tab.name, n, err)
		}
	}
	return f
}

// exported lists every row of every table, and every file with what is in it.
func exported(t *testing.T, f *folder.Folder) (lines []string) {
	t.Helper()
	for _, tab := range tables {
		all, err := rows.List(t.Context(), f.Read, func(s rows.Scanner) (string, error) {
			values := make([]any, strings.Count(tab.columns, ",")+1)
			places := slices.Clone(values)
			for i := range values {
				places[i] = &values[i]
			}
			err := s.Scan(places...)
			for i, v := range values {
				if is, ok := v.(bool); ok {
					values[i] = map[bool]int64{true: 1}[is]
				}
			}
			return fmt.Sprintf("%s %q", tab.name, values), err
		}, "SELECT "+tab.columns+" FROM "+tab.name)
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, all...)
	}
	rep, err := check.Folder(t.Context(), f)
	if err != nil || len(rep.Problems) > 0 {
		t.Errorf("the check says %q, %v", rep.Problems, err)
	}
	slices.Sort(lines)
	return append(lines, fmt.Sprint(rep.Files, " whole files"))
}

// old is the archive that version 0.1 left behind, brought up to date.
func old(t *testing.T) *folder.Folder {
	t.Helper()
	z, err := zip.OpenReader("../../testdata/archive-0.1.zip")
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	dir := filepath.Join(t.TempDir(), "data")
	if err := os.CopyFS(dir, z); err != nil {
		t.Fatal(err)
	}
	return openAt(t, dir, folder.Options{})
}

// An archive goes from a folder to PostgreSQL and a bucket and back, and every row and file is the same in each: one
// with something in every table, and one of the previous version.
func TestThereAndBack(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts a database server")
	}
	for name, first := range map[string]*folder.Folder{"every table": filled(t), "version 0.1": old(t)} {
		b := must(bucket.Open(filestest.Server(t, nil), filestest.Keys))
		far, back := open(t, folder.Options{Database: pgtest.Database(t), Files: b}), open(t, folder.Options{})
		want, kept := exported(t, first), must(folder.Files(t.Context(), first.Read))
		if len(kept) < 4 {
			t.Errorf("%s: only %d files", name, len(kept))
		}
		for _, way := range []struct{ from, to *folder.Folder }{{first, far}, {far, back}} {
			heard := 0
			files, n, err := Copy(t.Context(), way.from, way.to, func(done, total int) {
				if heard++; done != heard || total != len(kept) {
					t.Errorf("%s: %d of %d files, heard %d times", name, done, total, heard)
				}
			})
			if err != nil || files != len(kept) || n != len(want)-1 || heard != files {
				t.Errorf("%s: %d files, %d rows, %v; want %d and %d", name, files, n, err, len(kept), len(want)-1)
			}
			if got := exported(t, way.to); !slices.Equal(got, want) {
				t.Errorf("%s: exported are\n%s\nwant\n%s", name, strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
		}
		if _, _, err := Copy(t.Context(), first, far, func(int, int) {}); !errors.Is(err, ErrNotEmpty) {
			t.Errorf("%s, over what is there: %v", name, err)
		}
	}
}

// A copy that breaks off leaves no row, and another try ends it; a missing file is named and stops it.
func TestBrokenOff(t *testing.T) {
	t.Parallel()
	from := filled(t)
	store := filestest.Fail(must(bucket.Open(filestest.Server(t, nil), filestest.Keys)), 4, 3)
	to := open(t, folder.Options{Files: store})
	want, tries := exported(t, from), 0
	for ; tries < 100; tries++ {
		_, _, err := Copy(t.Context(), from, to, func(int, int) {})
		if err == nil {
			break
		}
		var there int
		if scan := to.Read.QueryRowContext(t.Context(), "SELECT count(*) FROM athletes").Scan(&there); scan != nil ||
			there > 0 || !errors.Is(err, filestest.ErrFailed) {
			t.Fatalf("%d athletes after %v, %v", there, err, scan)
		}
	}
	store.Heal()
	if got := exported(t, to); tries == 0 || !slices.Equal(got, want) {
		t.Errorf("after %d tries exported are\n%s", tries, strings.Join(got, "\n"))
	}
	files := must(folder.Files(t.Context(), from.Read))
	sum := files[0].SHA256
	if err := os.Remove(from.Store.Path(sum)); err != nil {
		t.Fatal(err)
	}
	_, _, err := Copy(t.Context(), from, open(t, folder.Options{}), func(int, int) {})
	if !errors.Is(err, rows.ErrDamaged) || !strings.Contains(err.Error(), sum) {
		t.Errorf("a missing file: %v", err)
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// What is copied is every column of every table that SQLite has, and PostgreSQL has all of them.
func TestTables(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts a database server")
	}
	known := map[string]string{}
	for _, tab := range tables {
		columns := strings.Split(tab.columns, ", ")
		slices.Sort(columns)
		known[tab.name] = strings.Join(columns, " ")
	}
	for name, tc := range map[string]struct {
		opt   folder.Options
		query string
		whole bool
	}{
		"SQLite": {folder.Options{}, "SELECT m.name, c.name FROM sqlite_schema m JOIN pragma_table_info(m.name) c " +
			"WHERE c.name <> 'not_before' AND m.type = 'table' AND m.name NOT LIKE 'sqlite%' AND " +
			"m.name NOT LIKE 'goose%' ORDER BY 1, 2", true},
		"PostgreSQL": {folder.Options{Database: pgtest.Database(t)}, "SELECT table_name, column_name FROM " +
			"information_schema.columns WHERE table_schema = current_schema() AND table_name NOT LIKE 'goose%' " +
			"ORDER BY 1, 2", false},
	} {
		has := map[string][]string{}
		_, err := rows.List(t.Context(), open(t, tc.opt).Read, func(s rows.Scanner) (x sql.NullString, err error) {
			var table, column string
			err = s.Scan(&table, &column)
			has[table] = append(has[table], column)
			return x, err
		}, tc.query)
		if err != nil {
			t.Fatal(err)
		}
		for table, columns := range has {
			if tc.whole && strings.Join(columns, " ") != known[table] {
				t.Errorf("%s: the table %s has %q, copied are %q", name, table, columns, known[table])
			}
		}
		for table, columns := range known {
			for column := range strings.FieldsSeq(columns) {
				if !slices.Contains(has[table], column) {
					t.Errorf("%s: the table %s has no %s", name, table, column)
				}
			}
		}
	}
}
