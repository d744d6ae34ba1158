package media

import (
	"syscall"

	"golang.org/x/sys/unix"
)

// pipeBytes is what a pipe holds at most where the system was not told otherwise.
const pipeBytes = 1 << 20

// widen makes a pipe hold more, so that the two programs at its ends take turns less often. Where the system
// refuses, it stays as it is.
func widen(pipe any) {
	if f, ok := pipe.(syscall.Conn); ok {
		if raw, err := f.SyscallConn(); err == nil {
			_ = raw.Control(func(fd uintptr) { _, _ = unix.FcntlInt(fd, unix.F_SETPIPE_SZ, pipeBytes) })
		}
	}
}
