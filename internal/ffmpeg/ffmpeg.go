// Package ffmpeg makes the files that tests are given.
package ffmpeg

import (
	"os/exec"
	"testing"
)

// Run makes a file; the arguments are those of the program. The test ends when it fails.
func Run(t testing.TB, args ...string) {
	t.Helper()
	cmd := exec.Command("ffmpeg", append([]string{"-v", "error", "-y", "-nostdin"}, args...)...)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("ffmpeg %v: %v\n%s", args, err, out)
	}
}
