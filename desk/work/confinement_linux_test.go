package work

import (
	"os/exec"
	"slices"
	"strings"
	"syscall"
	"testing"

	"holdfast/confine"
)

// A child that is started as Confinement promises sees no network but a loopback of
// its own; where the system refuses that, it is said.
func TestConfinementSaysWhatChildrenGet(t *testing.T) {
	walls := Confinement()
	if slices.ContainsFunc(walls, func(w Wall) bool { return !w.Stands }) {
		t.Fatalf("this test needs a system that gives its user a network namespace, Landlock and seccomp: %+v", walls)
	}
	child := exec.CommandContext(t.Context(), "cat", "/proc/net/dev")
	child.SysProcAttr = attributes()[0]
	table, err := child.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, table)
	}
	for line := range strings.Lines(string(table)) {
		if name, _, is := strings.Cut(line, ":"); is && strings.TrimSpace(name) != "lo" {
			t.Errorf("a child can reach the network %s", name)
		}
	}
	if w := networkWallOf(syscall.EPERM); w.Stands || !strings.Contains(w.Text, "operation not permitted") ||
		w.Remedy == "" {
		t.Errorf("a refusal is told as %+v", w)
	}
	for _, l := range []confine.Level{{}, {Files: 7}, {Calls: true}, {Files: 7, Calls: true}} {
		files, calls := wallsOf(l)[0], wallsOf(l)[1]
		if files.Stands != (l.Files > 0) || calls.Stands != l.Calls || files.Stands == (files.Remedy != "") ||
			calls.Stands == (calls.Remedy != "") {
			t.Errorf("%+v is told as %+v and %+v", l, files, calls)
		}
	}
	// Whatever else went wrong, the wall does not stand.
	if w := networkWallOf(nil); w.Stands {
		t.Errorf("an answer that says nothing is taken for %+v", w)
	}
}
