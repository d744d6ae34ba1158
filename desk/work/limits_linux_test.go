package work

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

// groupOf lists handles of all descendants of a process.
func groupOf(t *testing.T, root int) (fds []int) {
	t.Helper()
	parents := map[int]int{}
	list, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range list {
		text, err := os.ReadFile(name)
		if err != nil {
			continue
		}
		f := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
		pid, err1 := strconv.Atoi(filepath.Base(filepath.Dir(name)))
		parent, err2 := strconv.Atoi(f[1])
		if err1 == nil && err2 == nil {
			parents[pid] = parent
		}
	}
	for pid := range parents {
		for p := parents[pid]; p > 1; p = parents[p] {
			if p == root {
				fd, err := unix.PidfdOpen(pid, 0)
				if err != nil {
					t.Fatal(err)
				}
				fds = append(fds, fd)
				break
			}
		}
	}
	return fds
}

// awaitGone waits until a process has ended: its handle becomes readable.
func awaitGone(t *testing.T, fd int) {
	t.Helper()
	defer unix.Close(fd)
	for {
		n, err := unix.Poll([]unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}, 60_000)
		if err == unix.EINTR {
			continue
		}
		if err != nil || n == 0 {
			t.Fatalf("a process outlives its server (%v)", err)
		}
		return
	}
}

func TestParseStat(t *testing.T) {
	rest := " S 1 77 77 0 -1 4194304 1 2 3 4 5 6 7 8 20 0 9 0 100 123456 4242 18446744073709551615"
	tests := []struct {
		line  string
		group int
		pages int64
		ok    bool
	}{
		{"12 (work)" + rest, 77, 4242, true},
		{"12 (a) S 1 2 (b)" + rest, 77, 4242, true}, // a name made to mislead
		{"12 (work) S 1", 0, 0, false},
		{"", 0, 0, false},
	}
	for _, tt := range tests {
		group, pages, ok := parseStat([]byte(tt.line))
		if ok != tt.ok || ok && (group != tt.group || pages != tt.pages) {
			t.Errorf("parseStat(%q) = %d, %d, %v", tt.line, group, pages, ok)
		}
	}
	if used := groupMemory(unix.Getpgrp()); used < 1<<20 {
		t.Errorf("this process group holds %d bytes", used)
	}
}
