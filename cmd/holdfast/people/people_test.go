package people

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/archive/users"
)

// run runs commands of an archive, one after the other, and returns what they print; in is typed.
func run(t *testing.T, dir, in string, args ...string) (string, error) {
	t.Helper()
	var out bytes.Buffer
	c := Console{In: strings.NewReader(in), Out: &out, Err: &out}
	cmd := NewUsers(c)
	if args[0] == "audit" {
		cmd, args = NewAudit(c), args[1:]
	}
	cmd.SilenceErrors, cmd.SilenceUsage = true, true
	cmd.SetArgs(append(args, "--data", dir))
	err := cmd.ExecuteContext(t.Context())
	return out.String(), err
}

// Users are made and changed by commands, athletes given to them, and all of it is told again.
func TestCommands(t *testing.T) {
	dir := t.TempDir()
	if _, err := run(t, dir, "", "list"); !errors.Is(err, archive.ErrNotArchive) {
		t.Errorf("of no archive: %v", err)
	}
	arc, err := archive.Open(t.Context(), dir, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := arc.Close(); err != nil {
			t.Error(err)
		}
	}()
	gone, err := arc.CreateAthlete(t.Context(), archive.Athlete{Name: "Gone Soon"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := arc.CreateAthlete(t.Context(), archive.Athlete{Name: "Sam Example"}); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(file, []byte("battery staple\r\nnot this\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		line, typed, want, wrong string
	}{
		{"list", "", "Nobody can log in yet", ""},
		{"audit", "", "Nothing was done", ""},
		{"add Kim --role admin", "correct horse\n", "Kim can log in as an admin.", ""},
		{"add Robin --password-file " + file, "", "Robin can log in as a coach.", ""},
		{"add Robin", "correct horse", "", "another user has this name"},
		{"add Alex", "short", "", "8 to 1000 letters"},
		{"add Alex --role king", "correct horse", "", "coach or admin"},
		{"add Alex --password-file none/none", "", "", "reading the password"},
		{"remove Kim", "", "", "the only admin"},
		{"role Robin admin", "", "Done.", ""},
		{"role Robin coach", "", "Done.", ""},
		{"password Kim", "another word\n", "Done.", ""},
		{"password Alex", "another word\n", "", "no user \"Alex\""},
		{"give Robin Gone_Soon", "", "1 athlete given to Robin.", ""},
		{"give Robin --unclaimed", "", "1 athlete given to Robin.", ""},
		{"give Robin", "", "", "takes a user and athletes"},
		{"give Robin Nobody", "", "", "nobody is called"},
		{"give Alex --unclaimed", "", "", "no user \"Alex\""},
		{"list", "", "Robin  coach", ""},
		{"list --json", "", `"name":"Kim","role":"admin"`, ""},
		{"audit", "", "changed an athlete  Gone Soon", ""},
		{"audit --json", "", `"what":"added","kind":"user"`, ""},
		{"audit --since May", "", "", "takes a date"},
		{"audit --since 2999-01-01", "", "Nothing was done", ""},
	} {
		args := strings.Fields(tt.line)
		for i := range args {
			args[i] = strings.ReplaceAll(args[i], "Gone_Soon", "gone soon")
		}
		out, err := run(t, dir, tt.typed, args...)
		if tt.wrong != "" && (err == nil || !strings.Contains(err.Error(), tt.wrong)) || tt.wrong == "" && err != nil ||
			!strings.Contains(out, tt.want) {
			t.Errorf("%s: %q, %v", tt.line, out, err)
		}
	}
	ctx := context.Background()
	for name, password := range map[string]string{"Kim": "another word", "Robin": "battery staple"} {
		if _, ok, err := arc.Users().Check(ctx, name, password); !ok || err != nil {
			t.Errorf("%s cannot log in: %v", name, err)
		}
	}
	robin, err := arc.Users().Find(ctx, "Robin")
	if err != nil || robin.Role != users.Coach {
		t.Fatalf("%+v %v", robin, err)
	}
	if own, err := arc.Athletes(archive.ForCoach(ctx, robin.ID)); len(own) != 2 || err != nil {
		t.Errorf("the coach has %+v, %v", own, err)
	}
	if _, err := arc.DeleteAthlete(ctx, gone.ID); err != nil {
		t.Fatal(err)
	}
	if out, err := run(t, dir, "", "audit"); err != nil || strings.Contains(out, "Gone Soon") ||
		!strings.Contains(out, "(deleted)") {
		t.Errorf("after a deletion the audit says %q, %v", out, err)
	}
	if _, err := run(t, dir, "", "remove", "Robin"); err != nil {
		t.Error(err)
	}
}
