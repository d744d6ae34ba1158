package archive

import (
	"fmt"
	"os"
	"os/exec"
	"testing"
)

const (
	roleVariable = "HOLDFAST_ARCHIVE_TEST"
	dirVariable  = "HOLDFAST_ARCHIVE_TEST_DIR"
	argVariable  = "HOLDFAST_ARCHIVE_TEST_ARG"
)

// self runs this test binary again, in a role.
func self(t *testing.T, role, dir, arg string) *exec.Cmd {
	c := exec.CommandContext(t.Context(), os.Args[0])
	c.Env = append(os.Environ(), roleVariable+"="+role, dirVariable+"="+dir, argVariable+"="+arg)
	return c
}

// child is what the test binary does in a role.
func child(role string) int {
	dir, arg := os.Getenv(dirVariable), os.Getenv(argVariable)
	err := fmt.Errorf("there is no role %q", role)
	switch role {
	case "write":
		err = writeMany(dir, arg)
	}
	if err != nil {
		fmt.Println(err)
		return 1
	}
	return 0
}
