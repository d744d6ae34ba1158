package work

import (
	"slices"
	"strings"
	"testing"
)

// Who reads hostile files is told no password.
func TestChildrenAreNotToldThePassword(t *testing.T) {
	for _, name := range withheld {
		t.Setenv(name, "correct horse")
	}
	t.Setenv(PasswordVariable+"_OTHER", "kept")
	env := environment()
	if i := slices.IndexFunc(env, func(v string) bool { return strings.Contains(v, "correct horse") }); i >= 0 {
		t.Errorf("a child is told %s", env[i])
	}
	if !slices.Contains(env, PasswordVariable+"_OTHER=kept") {
		t.Error("more than the password is kept back")
	}
}
