package models

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Whoever is told where the library lies finds telemetry turned off, in the
// environment that the library itself looks at.
func TestRuntimeLibraryTurnsTelemetryOff(t *testing.T) {
	t.Setenv(RuntimeEnv, library(t, t.TempDir()))
	for _, users := range []string{"", "0", "false", "1"} {
		t.Setenv(telemetryEnv, users)
		if got := environmentOfC(telemetryEnv); got != users {
			t.Fatalf("C sees %q of %q", got, users)
		}
		if _, err := RuntimeLibrary(); err != nil {
			t.Fatal(err)
		}
		if got := environmentOfC(telemetryEnv); got != "1" {
			t.Errorf("after the user's %q the library would see %q", users, got)
		}
		if got := os.Getenv(telemetryEnv); got != "1" {
			t.Errorf("after the user's %q child processes would see %q", users, got)
		}
	}
	if err := os.Unsetenv(telemetryEnv); err != nil { // the clean-up of Setenv puts it back
		t.Fatal(err)
	}
	if _, err := RuntimeLibrary(); err != nil || environmentOfC(telemetryEnv) != "1" {
		t.Errorf("without the variable: %v, C sees %q", err, environmentOfC(telemetryEnv))
	}
	// Also when there is no library: nobody can load one by another way first.
	t.Setenv(telemetryEnv, "0")
	t.Setenv(RuntimeEnv, filepath.Join(t.TempDir(), "gone"))
	if _, err := RuntimeLibrary(); !errors.Is(err, ErrNoRuntime) || environmentOfC(telemetryEnv) != "1" {
		t.Errorf("without a library: %v, C sees %q", err, environmentOfC(telemetryEnv))
	}
}

func TestTelemetryThatStaysOnIsRefused(t *testing.T) {
	const name = "HOLDFAST_TEST_VARIABLE"
	full := errors.New("no room")
	for _, tt := range []struct {
		what, says string
		set        func(name, value string) error
	}{
		{"it cannot be set", full.Error(), func(string, string) error { return full }},
		{"C does not see it", `"" for the C library`, func(string, string) error { return nil }},
	} {
		err := setForC(name, "1", tt.set)
		if !errors.Is(err, ErrTelemetry) || !strings.Contains(err.Error(), tt.says) || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: got %v", tt.what, err)
		}
	}
}
