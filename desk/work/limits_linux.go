package work

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"syscall"

	"golang.org/x/sys/unix"
)

// workNiceness is how far the work stands back, of 19.
const workNiceness = 10

// attributes lists how a child is to be started, the best way first: in a process
// group of its own, told of its parent's death, and in a network of its own with
// nothing in it. Systems that keep the last from ordinary users get the second.
func attributes() []*syscall.SysProcAttr {
	plain := func() *syscall.SysProcAttr {
		// SIGTERM and not SIGKILL, so that the child can take its own children along.
		return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGTERM}
	}
	apart := plain()
	apart.Cloneflags = syscall.CLONE_NEWUSER | syscall.CLONE_NEWNET
	apart.UidMappings = []syscall.SysProcIDMap{{ContainerID: os.Getuid(), HostID: os.Getuid(), Size: 1}}
	apart.GidMappings = []syscall.SysProcIDMap{{ContainerID: os.Getgid(), HostID: os.Getgid(), Size: 1}}
	return []*syscall.SysProcAttr{apart, plain()}
}

// groupMemory returns the bytes of memory that the processes of a group hold, as
// the kernel counts them; pages that they share count for each.
func groupMemory(group int) int64 {
	list, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		return 0
	}
	var pages int64
	for _, name := range list {
		text, err := os.ReadFile(name)
		if err != nil {
			continue // it ended meanwhile
		}
		if g, rss, ok := parseStat(text); ok && g == group {
			pages += rss
		}
	}
	return pages * int64(os.Getpagesize())
}

// parseStat reads group and resident pages from a line of /proc/PID/stat. The
// second field is the program's name in brackets, which may hold anything.
func parseStat(text []byte) (group int, pages int64, ok bool) {
	end := bytes.LastIndexByte(text, ')')
	if end < 0 {
		return 0, 0, false
	}
	f := bytes.Fields(text[end+1:])
	if len(f) < 22 {
		return 0, 0, false
	}
	group, err1 := strconv.Atoi(string(f[2]))
	pages, err2 := strconv.ParseInt(string(f[21]), 10, 64)
	return group, pages, err1 == nil && err2 == nil
}

// awaitExit returns when a child of this process has ended, and leaves it to be
// waited for.
func awaitExit(pid int) {
	for unix.Waitid(unix.P_PID, pid, nil, unix.WEXITED|unix.WNOWAIT, nil) == unix.EINTR {
	}
}

// limitSelf sets the limits of this process and of all it will start. The limit on
// memory is the one on data, private writable memory: Go and the inference library
// reserve far more addresses than they use, so that a limit on addresses would
// have to be set too high to help.
func limitSelf(l orderLimits) error {
	set := func(what int, most int64) error {
		if most <= 0 {
			return nil
		}
		return unix.Setrlimit(what, &unix.Rlimit{Cur: uint64(most), Max: uint64(most)})
	}
	if err := set(unix.RLIMIT_DATA, l.DataBytes); err != nil {
		return err
	}
	if err := set(unix.RLIMIT_FSIZE, l.FileBytes); err != nil {
		return err
	}
	if err := set(unix.RLIMIT_CPU, l.CPUS); err != nil {
		return err
	}
	// No core file: it would hold pictures of an athlete.
	if err := unix.Setrlimit(unix.RLIMIT_CORE, &unix.Rlimit{}); err != nil {
		return err
	}
	// The page goes before the work. On Linux each thread has a niceness of its own,
	// which the threads and processes that it starts inherit.
	threads, err := filepath.Glob("/proc/self/task/[0-9]*")
	if err != nil {
		return err
	}
	for _, t := range threads {
		if id, err := strconv.Atoi(filepath.Base(t)); err == nil {
			_ = unix.Setpriority(unix.PRIO_PROCESS, id, workNiceness)
		}
	}
	return nil
}

// endGroup kills this process and all of its group, if it leads one.
func endGroup() {
	if unix.Getpgrp() == os.Getpid() {
		_ = unix.Kill(0, unix.SIGKILL)
	}
}
