//go:build !linux

package work

import (
	"os"
	"syscall"
)

// Systems other than Linux have the process group and the time limit, but neither
// the limit on memory nor the network of its own.

func attributes() []*syscall.SysProcAttr {
	return []*syscall.SysProcAttr{{Setpgid: true}}
}

func groupMemory(int) int64 { return 0 }

// awaitExit cannot wait here without reaping: what a child left behind is found by
// its end of the pipes.
func awaitExit(int) {}

func limitSelf(l orderLimits) error {
	if l.FileBytes <= 0 {
		return nil
	}
	most := uint64(l.FileBytes)
	return syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: most, Max: most})
}

func endGroup() {
	if syscall.Getpgrp() == os.Getpid() {
		_ = syscall.Kill(0, syscall.SIGKILL)
	}
}
