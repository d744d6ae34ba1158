package web

import (
	"os/exec"
	"strings"
	"syscall"
	"testing"
)

// A child that is started as Confinement promises sees no network but a loopback of
// its own; where the system refuses that, it is said.
func TestConfinementSaysWhatChildrenGet(t *testing.T) {
	walls := Confinement()
	if len(walls) == 0 || !walls[0].Stands {
		t.Fatalf("this test needs a system that gives its user a network namespace: %+v", walls)
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
	if w := networkWallOf(syscall.EPERM); w.Stands || !strings.Contains(w.Text, "operation not permitted") || w.Remedy == "" {
		t.Errorf("a refusal is told as %+v", w)
	}
	// Whatever else went wrong, the wall does not stand.
	if w := networkWallOf(nil); w.Stands {
		t.Errorf("an answer that says nothing is taken for %+v", w)
	}
}
