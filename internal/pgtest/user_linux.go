package pgtest

import (
	"os"
	"os/exec"
	"syscall"
)

// nobody is the user of a server that root starts: PostgreSQL refuses to run as root.
const nobody = 65534

// own gives a folder to the user of the server.
func own(dir string) error {
	if os.Getuid() != 0 {
		return nil
	}
	return os.Chown(dir, nobody, nobody)
}

// unprivileged has a program run as that user.
func unprivileged(cmd *exec.Cmd) {
	if os.Getuid() == 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	}
}
