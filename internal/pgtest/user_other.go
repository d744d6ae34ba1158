//go:build !linux

package pgtest

import "os/exec"

func own(string) error { return nil }

func unprivileged(*exec.Cmd) {}
