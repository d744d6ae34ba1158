package web

import (
	"os"
	"testing"

	"holdfast/internal/fakework"
)

// fakeVariable makes this test binary something else than the tests: the program that works
// on clips, or a server that is to be killed or run out of disk.
const fakeVariable = "HOLDFAST_TEST_WORK"

func TestMain(m *testing.M) {
	switch os.Getenv(fakeVariable) {
	case "":
		os.Exit(m.Run())
	case "work":
		os.Exit(fakework.Do())
	case "tracked":
		os.Exit(fakework.DoTracked())
	case "serve":
		os.Exit(serveUntilKilled())
	case "full disk":
		os.Exit(onFullDisk())
	}
}
